"""Credit for tasks in the demo: the task list of the plans, who did what, and where it can be seen. All invented."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from accounts.models import Person, Project
from calc.major_portion import COLUMNS
from certification.commands import credit as commands
from certification.rules.credit import Listed, Section
from parts.models import Assembly

TITLE, EDITION = "Tarnwader 2, tasks by section", "plans C"
SOURCE = "Plans of the Tarnwader 2, appendix 4. Invented for the demo, and not the official form."

# Number, words, tenths (maker, paid help, assembled, fabricated), where its evidence stands, and why it is split so.
type Row = tuple[str, str, str, str, str]
TASKS: dict[tuple[str, str], list[Row]] = {
    ("F", "Fuselage and hull"): [
        ("F1", "Fabricate longitudinal members", "2 0 0 8", "11", "Chine logs came cut; scarfed and planed here."),
        ("F2", "Fabricate composite shells and skins", "0 0 0 10", "12", "Planing bottom laid up in our own mold."),
        ("F3", "Fabricate bulkheads and cross members", "3 0 0 7", "10", "Three of ten blanks came routed."),
        ("F4", "Assemble hull basic structure", "0 0 10 0", "10", "On the strongback, Jory helped without pay."),
        ("F11", "Fabricate deck and cabin top", "2 0 2 6", "13", "Glass on foam; the hatch frames were bought."),
        ("F13", "Fabricate windshield and windows", "8 0 0 2", "", "Blown by the maker, trimmed by us."),
        ("F15", "Fabricate canopy frame", "10 0 0 0", "", "Bought welded."),
    ],
    ("W", "Wings"): [
        ("W1", "Fabricate wing spars", "2 0 0 8", "21", "Root blocks and cap stock came sawn."),
        ("W2", "Fabricate wing ribs", "0 0 0 10", "22", "All ribs, one scrapped and made again."),
        ("W6", "Fabricate wing tips", "", "", "This wing ends in a tip rib and carries floats; it has no tips."),
        ("W7", "Fabricate wing skins", "4 0 2 4", "23", "Leading edge ply came scarfed and formed."),
        ("W10", "Assemble wing basic structure", "0 0 10 0", "21 22", "Spar and ribs, on the bench."),
        ("W18", "Assemble wing to hull", "0 0 0 0", "", ""),
        ("W19", "Fabricate ailerons", "2 0 1 7", "25", "Hinge brackets were bought."),
        ("W26", "Assemble ailerons to wing", "0 0 6 0", "25", "Left one hung; the right one is still to do."),
    ],
    ("E", "Empennage"): [
        ("E12", "Fabricate elevator", "3 0 0 7", "32", "Horns and hinges were bought."),
        ("E23", "Fabricate fin", "0 0 1 9", "31", "Spruce post, glass skins."),
        ("E46", "Assemble rudder to fin", "0 0 10 0", "31", "Hinges reamed in place."),
    ],
    ("L", "Landing gear"): [
        ("L1", "Fabricate gear legs", "10 0 0 0", "", "Came with the kit."),
        ("L4", "Fabricate retraction system", "3 4 0 3", "40", "The retract link was welded for pay; rods are ours."),
        ("L10", "Assemble landing gear to hull", "0 0 10 0", "40", "Swung by hand, rubs relieved."),
    ],
    ("P", "Propulsion"): [
        ("P1", "Fabricate engine mount", "10 0 0 0", "", "Bought welded and painted."),
        ("P8", "Fabricate fuel tank", "6 0 0 4", "", "Bought shell; baffles and fittings are ours."),
        ("P10", "Fabricate cowling", "9 0 0 1", "", "Bought; vents cut."),
        ("P12", "Assemble engine to mount", "0 0 0 0", "", ""),
        ("P22", "Fabricate propeller", "10 0 0 0", "", "Bought."),
    ],
    ("C", "Cockpit"): [
        ("C1", "Fabricate instrument panel", "6 0 0 4", "70", "Blank bought, cut out here."),
        ("C9", "Fabricate seats and brackets", "10 0 0 0", "", "Bought."),
        ("C13", "Fabricate wiring and switches", "4 0 2 4", "80", "Two harnesses came made up."),
    ],
}  # fmt: skip
ADDED = ("W", "Fabricate tip floats", "1 0 1 8", "24", "The list has no floats. Drain bosses were bought.")


@dataclass(frozen=True)
class Told:
    """What credit needs of the story."""

    project: Project
    edda: Person
    assemblies: Mapping[str, Assembly]


def tenths(text: str) -> dict[str, int]:
    """The four columns from four figures."""
    return dict(zip(COLUMNS, map(int, text.split()), strict=True)) if text else dict.fromkeys(COLUMNS, 0)


def tell(story: Told, now: datetime) -> None:
    """Take the list of the plans up and credit what was done; two tasks are still open."""
    at = now - timedelta(minutes=50)
    by: dict[str, object] = {"by": story.edda, "at": at, "project": story.project}
    sections = [
        Section(code, title, tuple(Listed(row[0], row[1], "invented") for row in rows))
        for (code, title), rows in TASKS.items()
    ]
    commands.take_up_list(**by, title=TITLE, edition=EDITION, source=SOURCE, sections=sections)  # type: ignore[arg-type]
    for rows in TASKS.values():
        for code, _, split, places, reason in rows:
            if reason:
                commands.give_credit(
                    **by,  # type: ignore[arg-type]
                    code=code,
                    tenths=tenths(split),
                    applies=bool(split),
                    reason=reason,
                    places=[story.assemblies[number] for number in places.split()],
                )
    section, words, split, places, reason = ADDED
    commands.add_task(
        **by,  # type: ignore[arg-type]
        section=section,
        words=words,
        tenths=tenths(split),
        reason=reason,
        places=[story.assemblies[number] for number in places.split()],
    )
