"""Plates, marks and placards: the list, how their letters stand, and what the authority's list asks for."""

from dataclasses import dataclass
from typing import Any

from django.db.models import QuerySet

from accounts.models import Project
from certification.models import Placard
from certification.queries.file_profiles import profile_of
from certification.queries.papers import own_identity
from certification.rules import placards as rules
from certification.rules.file_profiles import Plate
from certification.rules.identity import FIELDS


def placards(project: Project) -> QuerySet[Placard]:
    """What stands on the list, in its order."""
    return Placard.objects.standing().filter(project=project)


def all_placards(project: Project) -> QuerySet[Placard]:
    """The list with what was withdrawn."""
    return Placard.objects.filter(project=project).select_related("project")


@dataclass(frozen=True)
class Checked:
    """One placard with how its letters stand, and what of the identity it does not show."""

    placard: Placard
    height: rules.Height
    lacks: list[str]

    @property
    def lines(self) -> list[str]:
        return self.placard.words.splitlines()


def checked(project: Project, row: Placard) -> Checked:
    """One placard against the list of the project's authority."""
    return against(row, profile_of(project).list.plates, own_identity(project))


def against(row: Placard, plates: tuple[Plate, ...], own: dict[str, str]) -> Checked:
    lacks = [FIELDS[name][1] for name in rules.lacking(row.kind, row.words, own)]
    return Checked(row, rules.height(row.kind, row.words, row.letter_mm, plates), lacks)


def all_checked(project: Project) -> list[Checked]:
    """The whole list, checked."""
    plates, own = profile_of(project).list.plates, own_identity(project)
    return [against(row, plates, own) for row in placards(project)]


@dataclass(frozen=True)
class Asked:
    """Something that the authority's list asks for, with its words for this aircraft.

    `instead` says that the project has the same thing by another line of the list, such as marks of another height.
    """

    plate: Plate
    words: str
    there: bool
    instead: bool = False


def asked_for(project: Project) -> list[Asked]:
    """What the authority's list asks for, and whether the project has it on its own list."""
    rows, own = list(placards(project)), own_identity(project)
    found = []
    for plate in profile_of(project).list.plates:
        words = plate.words or "\n".join(own[name] for name in plate.facts if own[name])
        same = [row for row in rows if is_one(row, plate)]
        high = [row for row in same if plate.kind != "marks" or row.letter_mm >= rules.least(plate)]
        found.append(Asked(plate, words, bool(high), bool(same) and not high))
    return found


def is_one(row: Placard, plate: Plate) -> bool:
    """Whether a placard is what a line of the list names. A warning's words are the builder's own."""
    if row.kind != plate.kind:
        return False
    if plate.kind != "placard":
        return True
    return rules.applies(plate, row.kind, row.words) if plate.words else plate.code in row.words.casefold()


def suggestion(project: Project, code: str) -> dict[str, Any]:
    """What a new placard begins with when it is taken from the authority's list; nothing where the code is unknown."""
    for one in asked_for(project):
        if one.plate.code == code:
            plate = one.plate
            source = f"{plate.source} ({plate.mark})"
            values = {"kind": plate.kind, "words": one.words, "place": plate.place, "source": source[:200]}
            return values | {"letter_mm": plate.letter_mm}
    return {}


def placards_facts(project: Project) -> list[dict[str, Any]]:
    """The list for the printed record."""
    return [
        {
            "kind": one.placard.get_kind_display(),
            "words": one.placard.words,
            # Where on the aircraft: not one of the places that some readers do not get.
            "where": one.placard.place,
            "letter_mm": rules.plain(one.placard.letter_mm),
            "count": one.placard.count,
            "fitted_on": one.placard.fitted_on.isoformat() if one.placard.fitted_on else "",
            "height": one.height.words,
            "source": one.height.source or one.placard.source,
            "lacks": one.lacks,
        }
        for one in all_checked(project)
    ]
