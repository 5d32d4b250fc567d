"""The missing list: every line with the address that supplies it, and whether this person may (rule R21)."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.urls import reverse

from accounts.models import Person
from accounts.rules import INSPECTOR
from inspections.models import Requirement
from inspections.queries.gates import JudgedArea
from inspections.rules import missing as rules
from inspections.rules.missing import Lack, Way

# Where each way leads: the name of the page, and whether it takes the area's key, the item's or the line's own.
PAGES = {
    Way.SAY: ("item_new", "area"),
    Way.CORRECT: ("discrepancy", "own"),
    Way.RELEASE: ("point", "own"),
    Way.TAKE: ("item_photo", "item"),
    Way.SEND: ("item_photo", "item"),
    Way.ANSWER: ("item_answer", "item"),
    Way.SIGN: ("area_sign", "area"),
    Way.REOPEN: ("area_reopen", "area"),
}
TO_DO = {"log": "The builder or a helper supplies it", "edit": "The builder says it", "close": "The builder opens it"}


@dataclass(frozen=True)
class Missing:
    """One line of the missing list for one person."""

    one: JudgedArea
    lack: Lack
    requirement: Requirement | None
    may: bool

    @property
    def url(self) -> str:
        """The page that supplies it, or the place on the gate's page where it is typed."""
        area = self.one.area
        name, of = PAGES.get(self.lack.way, ("area", "area"))
        if self.lack.way is Way.INNER and self.requirement and self.requirement.inner_id:
            return reverse("inspections:area", args=[area.project.slug, self.requirement.inner_id])
        keys = {"area": [area.pk], "item": [area.pk, self.lack.key], "own": [self.lack.key]}[of]
        page = reverse(f"inspections:{name}", args=[area.project.slug, *keys])
        return page if self.lack.way in PAGES else f"{page}#item-{self.lack.position}"

    @property
    def is_photo(self) -> bool:
        """Supplied by the camera, at once."""
        return self.lack.way is Way.TAKE

    @property
    def is_yes(self) -> bool:
        """Supplied by one tap on yes."""
        return self.lack.way is Way.ANSWER

    @property
    def stops(self) -> bool:
        """Not of this gate itself, but of the work below it."""
        return self.lack.way in {Way.CORRECT, Way.RELEASE}

    @property
    def who(self) -> str:
        """Who supplies it, for somebody who may not."""
        if self.lack.way is Way.SIGN:
            signer = "an inspector" if self.lack.role == INSPECTOR else "the builder"
            before = self.one.gate.lacks_before_signing
            return f"To be signed by {signer}{', when all else is in place' if before else ''}"
        return TO_DO.get(self.lack.act, "")


def lines(one: JudgedArea, person: Person) -> list[Missing]:
    """What an area lacks, line by line, for this person; no query for an area that `queries.areas` fetched."""
    by_key = {requirement.pk: requirement for requirement in one.area.asked}
    return [Missing(one, lack, by_key.get(lack.key), may(one, lack, person)) for lack in rules.lacking(one.gate)]


def may(one: JudgedArea, lack: Lack, person: Person) -> bool:
    """Whether this person can supply it now."""
    if lack.way is Way.SIGN and (lack.role != person.role or one.gate.lacks_before_signing):
        return False
    return person.may(lack.act)


@dataclass(frozen=True)
class Listed:
    """An area with what it lacks."""

    one: JudgedArea
    lines: list[Missing]


def listed(rows: Iterable[JudgedArea], person: Person) -> list[Listed]:
    """Areas, each with its missing list."""
    return [Listed(one, lines(one, person)) for one in rows]


def since_closing(one: JudgedArea) -> list[str]:
    """What a closed area lacks now and did not lack when it was closed, by name."""
    return rules.since_closing(one.gate.lacks, one.closing.missing) if one.closing else []
