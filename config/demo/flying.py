"""What the demo story tells of inspection lists and test flights: a final inspection half done, points planned.

The aircraft is not finished, so nothing was flown. All invented.
"""

from collections.abc import Mapping
from datetime import datetime, timedelta
from decimal import Decimal

from accounts.models import Person, Project
from certification.commands import flights, inspection_lists
from certification.queries import inspection_lists as lists
from certification.rules import inspection_lists as rules
from parts.models import Assembly

# Group of the list, how its lines stand by now, and what was noted: y in order, n not in order, a does not apply.
FOUND: dict[str, tuple[str, dict[int, str]]] = {
    "Papers": ("y....y..y", {6: "Letter drafted, area east of the lake", 9: "Hal Venning's visits are listed"}),
    "Identity and marks": ("y...", {1: "Plate engraved, not riveted yet"}),
    "Weight and balance": ("y.y", {3: "Weighed again after the primer"}),
    "Fuselage and cabin": ("yyyy.....n", {10: "Left hinge pin of the cabin door works loose"}),
    "Wings and tail": ("yyyyy", {5: "Ten drains, all run clear"}),
    "Composite structure": ("yyyy", {2: "Tip floats and hull bottom tapped"}),
    "Landing gear": ("....a", {5: "Wheels are let down by hand; no lock to cycle on jacks"}),
    "Propeller": ("..a", {3: "Fixed pitch"}),
}
SAID = {"y": rules.YES, "n": rules.NO, "a": rules.NOT_APPLICABLE}
POINTS = """Idle to full power, on the water | rpm in the maker's range, no vibration
Step taxi, both directions | no porpoising up to 30 kt
First takeoff and circuit | trim within reach, no more than light forces
Stall, clean, 1,800 m above the lake | no wing drop over 15°, warning before it
Stall, landing configuration, 1,800 m above the lake | the same; this gives Vso
Climb at 50, 54, 58, 62 and 66 kt | these give Vx and Vy
Water landing, glassy | no skip
Float in the water for an hour | bilges dry"""


def tell(project: Project, edda: Person, assemblies: Mapping[str, Assembly], now: datetime) -> None:
    """Half a final inspection, gone through before the real one, and the points to fly."""
    at = now - timedelta(minutes=45)
    run = inspection_lists.begin(
        by=edda, at=at, project=project, kind=rules.FINAL, content=lists.bundled()[rules.FINAL]
    )
    for number, group in enumerate(lists.judged([run])[0].groups, start=1):
        said, notes = FOUND.get(group.title, ("", {}))
        for place, (line, letter) in enumerate(zip(group.lines, said, strict=False), start=1):
            if letter == ".":
                continue
            at += timedelta(seconds=20)
            given = inspection_lists.give_answer(
                by=edda,
                at=at,
                inspection=run,
                code=line.line.code,
                answer=SAID[letter],
                note=notes.get(place, ""),
            )
            if letter == "n":
                inspection_lists.make_discrepancy(
                    by=edda,
                    at=at,
                    answer=given,
                    assembly=assemblies["70"],
                    words=f"{notes[place]}. Found going through line {number}.{place:02d} of the final inspection.",
                    severity="minor",
                    blocks=False,
                )
    inspection_lists.add_line(by=edda, at=at, inspection=run, words="Bilge plugs: ten out, ten in, counted aloud")
    flights.set_phase(
        by=edda,
        at=at,
        project=project,
        hours_asked=Decimal(40),
        source="Expected only: the operating limitations are not here yet",
        area="Lake Fernhollow and the valley east of it",
    )
    flights.plan_points(by=edda, at=at, project=project, points=POINTS)
