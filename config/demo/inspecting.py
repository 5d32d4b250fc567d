"""What the demo story tells of inspections: hold points, discrepancies, visits by link, closure lists. All invented."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from decimal import Decimal
from math import cos, pi, sin
from secrets import token_urlsafe
from typing import Any

from accounts.models import Person, Project
from buildlog.models import WorkSession
from evidence.models import Photo
from inspections import commands
from inspections.commands import closures, discrepancies, points, since, visits
from inspections.models import Area, Discrepancy, Point, Visit
from inspections.queries import closures as lists
from inspections.queries import visits as visiting
from parts.models import Assembly

HOUR, DAY = timedelta(hours=1), timedelta(days=1)


@dataclass
class Looks:
    """What inspections need of the story so far, and what they have made of it."""

    project: Project
    edda: Person
    jory: Person
    hal: Person
    assemblies: dict[str, Assembly]
    areas: dict[str, Area]
    photos: dict[str, list[Photo]]
    points: dict[str, Point] = field(default_factory=dict)
    found: dict[str, Discrepancy] = field(default_factory=dict)
    visits: dict[str, Visit] = field(default_factory=dict)

    def set_point(self, at: datetime, number: str, assembly: str, kind: str, words: str, **more: Any) -> None:
        self.points[number] = points.add_point(
            by=self.edda,
            at=at,
            project=self.project,
            assembly=self.assemblies[assembly],
            number=number,
            kind=kind,
            words=words,
            **({"role": "inspector"} | more),
        )

    def point(self, number: str) -> Point:
        return Point.objects.select_related("project", "assembly").get(pk=self.points[number].pk)

    def discrepancy(self, key: str) -> Discrepancy:
        return Discrepancy.objects.select_related("project", "assembly").get(pk=self.found[key].pk)

    def find(self, key: str, at: datetime, assembly: str, words: str, severity: str, **more: Any) -> None:
        self.found[key] = discrepancies.find(
            by=self.edda,
            at=at,
            project=self.project,
            assembly=self.assemblies[assembly],
            words=words,
            severity=severity,
            **more,
        )

    def visit(self, key: str) -> Visit:
        return Visit.objects.select_related("project", "person").get(pk=self.visits[key].pk)

    def make_visit(self, key: str, at: datetime, purpose: str, **more: Any) -> None:
        areas = [self.areas[number] for number in more.pop("areas", ())]
        spots = [self.point(number) for number in more.pop("points", ())]
        self.visits[key] = visits.make_visit(
            by=self.edda,
            at=at,
            project=self.project,
            token=token_urlsafe(32),
            purpose=purpose,
            expires_at=at + 7 * DAY,
            areas=areas,
            points=spots,
            **more,
        )


def plan(now: Looks, began: datetime) -> None:
    """What was planned at the start: where work stops, a list of one's own, an area set up from a bundled list."""
    now.set_point(
        began,
        "H-1",
        "21",
        "hold",
        "Root blocks and their bolts",
        step="Before the second web",
        detail="All bolts torqued and striped; glue squeezed out along both caps.",
    )
    now.set_point(
        began,
        "H-3",
        "60",
        "hold",
        "Elevator circuit, whole run",
        step="Before the tunnel is covered",
        detail="Free over the full travel, every bolt safetied.",
    )
    now.set_point(
        began, "W-1", "32", "witness", "Drop test of the elevator bag", step="Bag on, before the cup is mixed"
    )
    box = lists.bundled()["sealed-box"]
    rows = [dict(item) for item in box.offered() if item["kind"] != "measure"]
    closures.add_list(
        by=now.edda,
        at=began,
        project=now.project,
        name="Float compartment",
        kind="access",
        items=rows,
        note="Every compartment of both floats has its own lid and drain.",
        based_on=box.words,
    )
    covering = lists.bundled()["bonded-skin"]
    items = [filled(item) for item in covering.offered()]
    now.areas["23-C1"] = commands.add_area(
        by=now.edda,
        at=began,
        project=now.project,
        assembly=now.assemblies["23"],
        number="23-C1",
        name="Right wing before the lower skin",
        requirements=items,
        closure_list=covering.words,
    )


def morning(at: datetime, days: int) -> datetime:
    """Ten in the morning, so many days later."""
    return (at + days * DAY).replace(hour=10, minute=0, second=0)


def filled(item: dict[str, Any]) -> dict[str, Any]:
    """A line of a list with the limit that this plan gives where the list leaves it to the plan."""
    if item["kind"] == "measure" and item.get("low") is None and item.get("high") is None:
        return item | {"high": Decimal("1.5"), "unit": "mm"}
    return item


def after_keel_shoe(now: Looks, at: datetime) -> None:
    now.find(
        "keel",
        at,
        "12",
        "Dull spot at the forward end of the keel shoe, 20 mm across.",
        "major",
        photos=now.photos["a09"][:1],
    )
    discrepancies.decide(
        by=now.edda,
        at=at + HOUR,
        discrepancy=now.discrepancy("keel"),
        disposition="repair",
        words="Grind out to sound laminate, fill, two patch plies 25 mm past the edge.",
    )


def after_patch(now: Looks, at: datetime) -> None:
    discrepancies.fix(
        by=now.edda,
        at=at,
        discrepancy=now.discrepancy("keel"),
        words="Ground out, filled, two patch plies. Taps clear all over.",
        photos=now.photos["a10"][:1],
    )


def before_second_web(now: Looks, at: datetime) -> None:
    """Hal comes: he releases the hold point, accepts the patch, and finds something small."""
    discrepancies.reinspect(
        by=now.hal, at=at, discrepancy=now.discrepancy("keel"), accepted=True, words="Tapped it, clear."
    )
    points.sign_point(by=now.hal, at=at + timedelta(minutes=5), point=now.point("H-1"))
    now.find(
        "varnish",
        at + timedelta(minutes=6),
        "21",
        "Varnish thin in the upper corner of bay two.",
        "minor",
        blocks=False,
        area=now.areas["21-C1"],
        found_by=now.hal,
    )
    discrepancies.decide(
        by=now.edda,
        at=at + timedelta(minutes=20),
        discrepancy=now.discrepancy("varnish"),
        disposition="use",
        words="Two coats are there by count; the plan asks for two.",
    )
    discrepancies.reinspect(
        by=now.hal, at=at + timedelta(minutes=30), discrepancy=now.discrepancy("varnish"), accepted=True
    )


def invite_to_spar(now: Looks, at: datetime) -> None:
    points.invite(
        by=now.edda,
        at=at,
        point=now.point("H-1"),
        whom="Hal Venning",
        planned_at=morning(at, 2),
        words="Box is varnished; the second web waits.",
    )


def explain_second_web(now: Looks, at: datetime) -> None:
    sessions = list(WorkSession.objects.filter(request_id="demo-a18"))
    since.explain_work(
        by=now.edda,
        at=at,
        area=now.areas["21-C1"],
        sessions=sessions,
        words="Bonding the second web is what closed the box; the inside was not touched.",
    )


def without_a_witness(now: Looks, at: datetime) -> None:
    points.invite(by=now.edda, at=at - 5 * HOUR, point=now.point("W-1"), whom="Hal Venning", words="Tonight at seven.")
    points.go_on(
        by=now.edda,
        at=at - HOUR,
        point=now.point("W-1"),
        words="Hal was on the road; the cup would not wait. Gauge photographed before and after.",
    )


def link_rubs(now: Looks, at: datetime) -> None:
    now.find(
        "link",
        at,
        "40",
        "Retract link rubs on the well over the last third of its travel.",
        "safety",
        area=now.areas["40-C1"],
        photos=now.photos["a42"][:1],
    )
    discrepancies.decide(
        by=now.edda,
        at=at + timedelta(minutes=10),
        discrepancy=now.discrepancy("link"),
        disposition="rework",
        words="Relieve the well 2 mm, seal the edge.",
    )
    discrepancies.fix(
        by=now.edda,
        at=at + DAY,
        discrepancy=now.discrepancy("link"),
        words="Well relieved 2 mm and sealed. 3 mm clear over the whole travel.",
    )


def counselor_comes(now: Looks, at: datetime) -> None:
    """A visitor without an account looks into the fin by a link, says what she saw and draws her signature."""
    newcomer = {
        "name": "Ilse Marrow",
        "certificate_kind": "Technical counselor",
        "certificate_number": "DEMO-TC-12",
    }
    now.make_visit("fin", at, "Look into the fin before the right skin goes on", areas=["31-C1"], newcomer=newcomer)
    later = morning(at, 1)
    visits.opened(visit=now.visit("fin"), at=later, device="Phone")
    for item in now.areas["31-C1"].requirements.filter(dropped_at=None).exclude(kind="signoff"):
        reached = item.position != 3
        visits.look(
            visit=now.visit("fin"),
            at=later + timedelta(minutes=item.position),
            thing=item.subject,
            label=f"Item {item.position}, {item.words}",
            outcome="seen" if reached else "no_access",
            words="" if reached else "Counted before I came.",
        )
    found = visiting.things(now.visit("fin"))
    visits.remark(
        visit=now.visit("fin"),
        at=later + timedelta(minutes=8),
        about=found[0],
        words="Tie the antenna cable once more, near the top rib.",
        severity="minor",
        blocks=False,
    )
    chosen = [(thing, thing.seen) for thing in visiting.things(now.visit("fin"))]
    visits.sign(
        visit=now.visit("fin"),
        at=later + timedelta(minutes=15),
        chosen=chosen,
        accepted=True,
        name="Ilse Marrow",
        capacity="Technical counselor",
        certificate=("Technical counselor", "DEMO-TC-12"),
        extent="Inside of the fin, seen through the open right side, by eye and with a mirror",
        strokes=flourish(),
    )


def flourish() -> list[list[int]]:
    """A drawn line that looks like a hurried signature; x and y by turns in thousandths of the pad's width."""
    loops = [point for n in range(60) for point in (90 + n * 12, round(160 + 70 * sin(n / 60 * 9 * pi) * cos(n / 22)))]
    return [loops, [140, 250, 400, 236, 780, 244]]


def circuit_not_accepted(now: Looks, at: datetime) -> None:
    points.sign_point(
        by=now.hal,
        at=at + 2 * HOUR,
        point=now.point("H-3"),
        accepted=False,
        reason="The cable lies against the conduit clamp at station 5.",
    )


def stiffeners_wait(now: Looks, at: datetime) -> None:
    now.set_point(
        at,
        "H-2",
        "24.1",
        "hold",
        "Deck stiffeners bonded",
        step="Before the deck goes on",
        detail="Squeeze-out along all three, no dull spot when tapped.",
    )


def deck_proud(now: Looks, at: datetime) -> None:
    now.find("deck", at, "13", "Deck 2 mm proud of the flange at frame 5.", "minor", blocks=False, found_by=now.jory)


def wrong_address(now: Looks, at: datetime) -> None:
    now.make_visit("wrong", at, "Float interior before the deck", areas=["24.1-C2"], person=now.hal)
    visits.revoke(by=now.edda, at=at + HOUR, visit=now.visit("wrong"), reason="Sent to an old address.")


def measured_deck(now: Looks, at: datetime) -> None:
    area = now.areas["24.1-C2"]
    gap, tools = (area.requirements.get(kind=kind, dropped_at=None) for kind in ("measure", "count"))
    commands.answer_measure(by=now.edda, at=at, requirement=gap, value=Decimal("1.8"), unit="mm")
    commands.answer_measure(
        by=now.edda, at=at + HOUR, requirement=gap, value=Decimal("1.2"), unit="mm", reason="After trimming the flange"
    )
    commands.answer_count(by=now.edda, at=at + HOUR, requirement=tools, number_in=14, number_out=13)


def hal_is_asked(now: Looks, at: datetime) -> None:
    """A visit that is still to come: its link was made, nobody has opened it."""
    points.invite(
        by=now.edda,
        at=at,
        point=now.point("H-2"),
        whom="Hal Venning",
        planned_at=morning(at, 4),
        words="After the bond.",
    )
    now.make_visit(
        "float",
        at + timedelta(minutes=5),
        "Tip float, left: interior and stiffeners before the deck",
        areas=["24.1-C2"],
        points=["H-2"],
        person=now.hal,
        note="Bring a mirror; the aft bay is narrow.",
    )


# What happens at inspections after a job, by the job's key in the story; and before what follows from the job at gates.
BEFORE: dict[str, Callable[[Looks, datetime], None]] = {"a17": before_second_web}
AFTER: dict[str, Callable[[Looks, datetime], None]] = {
    "a09": after_keel_shoe,
    "a10": after_patch,
    "a16": invite_to_spar,
    "a18": explain_second_web,
    "a28": without_a_witness,
    "a42": link_rubs,
    "a50": counselor_comes,
    "a53": circuit_not_accepted,
    "a58": stiffeners_wait,
    "a59": wrong_address,
    "a65": measured_deck,
    "a66": deck_proud,
    "a68": hal_is_asked,
}
