"""A small world in which everything about closing, looking and signing has happened once, made through the commands."""

from datetime import timedelta
from decimal import Decimal
from types import SimpleNamespace
from typing import Any

from evidence import commands as evidence
from evidence.commands import MarkFacts
from evidence.models import Photo
from evidence.queries import marks_token
from foundation.digest import short
from inspections import commands as gates
from inspections.commands import discrepancies, points, since, visits
from inspections.queries import discrepancies as found_queries
from inspections.queries import processes
from inspections.queries import visits as visiting
from inspections.queries.processes import ProcessRecord, ProcessSource
from inspections.rules.visits import DECLINED
from tests import factories
from tests.factories import NOW

STROKES = [[0, 200, 120, 20, 260, 260, 400, 40, 560, 240], [600, 120, 980, 118], [990, 60]]
TOKEN = "a-token-that-never-prints-0123456789"
LAYUP = ProcessRecord(
    "layups.layup:2222222222222222", "Layup Y-7 skin bond", "good", NOW, facts={"plies": 3}, page="layups/7/"
)


def layups() -> ProcessSource:
    """A kind of process record with one good record in it."""
    return ProcessSource(
        "layup", "Layup", lambda project, names: [LAYUP] if LAYUP.subject in set(names) else [], lambda *_: [LAYUP]
    )


def hours(number: float) -> Any:
    return NOW + timedelta(hours=number)


def picture(world: SimpleNamespace, caption: str, at: Any = NOW, taken: str = "2026:05:14 09:30:00") -> Photo:
    """A photo with a caption, drawn as it is printed."""
    data = factories.picture_bytes(taken=taken, seed=next(factories.serial))
    photo = factories.make_photo(world.edda, data=data, at=at)
    evidence.describe_photo(by=world.edda, at=at, photo=photo, caption=caption)
    evidence.draw_now(photo)
    return photo


def marked(world: SimpleNamespace, photo: Photo, words: str) -> None:
    marks = [MarkFacts("ring", (2000, 2000, 6000, 6000)), MarkFacts("note", (5000, 7000, 5000, 7000), words)]
    evidence.mark_photo(by=world.edda, at=NOW, photo=photo, marks=marks, seen=marks_token([]))


def people() -> SimpleNamespace:
    """A project with its builder, a helper and an inspector."""
    project, edda = factories.make_project()
    more = {"certificate_kind": "A&P mechanic", "certificate_number": "DEMO-0417"}
    hal = factories.make_person(project, "inspector", name="Hal Venning", **more)
    jory = factories.make_person(project, "helper", name="Jory", account=False)
    return SimpleNamespace(project=project, edda=edda, hal=hal, jory=jory)


def make() -> SimpleNamespace:
    """The whole world; `processes.SOURCES` has to know layups (see `layups`)."""
    assert "layup" in processes.SOURCES
    world = people()
    edda = world.edda
    world.float = factories.make_assembly(edda, "24.1", "Tip float, left")
    world.rib = factories.make_part(edda, world.float, "TW2-0241", name="Bulkhead B")
    factories.make_session(edda, world.float, note="Ribs fitted dry.")
    signed_area(world)
    points_of(world)
    defects(world)
    visits_of(world)
    return world


def signed_area(world: SimpleNamespace) -> None:
    """An area with every kind of item, signed in ink, closed, worked beside afterwards, then changed."""
    by = {"by": world.edda}
    world.inner = factories.make_area(
        world.edda, world.float, {"kind": "check", "words": "Dry inside"}, number="24.1-C0", name="Keel box"
    )
    gates.answer_check(**by, at=NOW, requirement=world.inner.requirements.get(), answer="yes")
    gates.close_area(**by, at=hours(1), area=world.inner)
    world.area = factories.make_area(
        world.edda,
        world.float,
        {"kind": "photo", "words": "Drain boss, sealed", "detail": "Both faces, with a scale"},
        {"kind": "check", "words": "Interior vacuumed"},
        {"kind": "measure", "words": "Skin gap", "low": Decimal("0.2"), "high": Decimal("1.5"), "unit": "mm"},
        {"kind": "count", "words": "Clamps and rollers"},
        {"kind": "process", "words": "Skin bond layup", "process": "layup"},
        {"kind": "inner", "words": "Keel box closed", "inner": world.inner},
        {"kind": "check", "words": "Asked by mistake"},
        {"kind": "signoff", "words": "Inspector sign-off", "role": "inspector"},
        number="24.1-C1",
        closure_list="Sealed box, edition 3",
    )
    item = {one.position: one for one in world.area.requirements.all()}
    world.photo = picture(world, "Drain boss, aft face")
    gates.show_photo(**by, at=NOW, requirement=item[1], photo=world.photo)
    gates.answer_check(**by, at=NOW, requirement=item[2], answer="no", reason="Chips in the corner")
    gates.answer_check(**by, at=hours(1), requirement=item[2], answer="yes")
    gates.answer_measure(**by, at=NOW, requirement=item[3], value=Decimal("1.8"), unit="mm")
    gates.answer_measure(**by, at=hours(1), requirement=item[3], value=Decimal("1.2"), unit="mm")
    gates.answer_count(**by, at=hours(1), requirement=item[4], number_in=12, number_out=12)
    gates.show_record(**by, at=hours(1), requirement=item[5], record=LAYUP.subject)
    gates.answer_check(**by, at=hours(1), requirement=item[7], answer="no")
    gates.drop_requirement(**by, at=hours(1), requirement=item[7], reason="Belongs to the other float")
    gates.correct_area(**by, at=hours(1.5), area=world.area, name="Interior before deck bond, left")
    gates.sign_area(
        by=world.hal,
        at=hours(1.7),
        area=world.area,
        statement=DECLINED,
        accepted=False,
        reason="A chip is left beside the boss",
        capacity="Technical counselor",
    )
    visit = visits.make_visit(
        **by, at=hours(1.8), project=world.project, token="page", purpose="Page", expires_at=hours(9), person=world.hal,
        areas=[world.area],
    )  # fmt: skip
    [thing] = visiting.things(visit)
    world.page = picture(world, "Page signed by Hal Venning", at=hours(2), taken="2026:05:14 12:30:00")
    visits.sign_in_ink(
        **by,
        at=hours(3),
        person=world.hal,
        thing=thing,
        page=world.page,
        number=short(thing.seen),
        signed_on=NOW.date(),
        accepted=True,
        capacity="Technical counselor",
        place="Shop at Lake Tarn",
        extent="Interior and drain, visual",
        time_in_service="0 h, not flown",
    )
    visits.revoke(**by, at=hours(3), visit=visit, reason="He signed on paper")
    gates.close_area(**by, at=hours(4), area=world.area)
    later = factories.make_session(world.edda, world.float, factories.worked(world.edda, hours(5)), at=hours(8))
    since.explain_work(**by, at=hours(8), area=world.area, sessions=[later], words="Outer skin sanded only")
    evidence.describe_photo(
        **by, at=hours(9), photo=world.photo, caption="Drain boss, forward face", reason="Wrong face named"
    )


def points_of(world: SimpleNamespace) -> None:
    """A hold point released and changed since, one that still stops, a witness point gone past, one withdrawn."""
    by, more = {"by": world.edda}, {"project": world.project, "assembly": world.float}
    world.released = points.add_point(
        **by, **more, at=NOW, kind="hold", words="Strut hardpoint bond", role="inspector", part=world.rib,
        step="Before the deck goes on", detail="Squeeze-out all round",
    )  # fmt: skip
    world.squeeze = picture(world, "Squeeze-out at the hardpoint")
    points.show_photo(**by, at=NOW, point=world.released, photo=world.squeeze)
    points.invite(**by, at=NOW, point=world.released, whom="Hal Venning", planned_at=hours(4), words="At ten")
    points.sign_point(by=world.hal, at=hours(4), point=world.released)
    points.correct_point(
        **by, at=hours(6), point=world.released, words="Strut hardpoint bond, both sides", reason="Both were meant"
    )
    world.stops = points.add_point(**by, **more, at=NOW, kind="hold", words="Deck bond dry fit", role="inspector")
    world.passed = points.add_point(**by, **more, at=NOW, kind="witness", words="First ply of tape", role="inspector")
    points.go_on(**by, at=hours(2), point=world.passed, words="The resin would not wait")
    gone = points.add_point(**by, **more, at=NOW, kind="witness", words="Set twice", role="inspector")
    points.withdraw_point(**by, at=hours(1), point=gone, reason="Same as W-1")


def defects(world: SimpleNamespace) -> None:
    """A discrepancy through all its steps, one that blocks, one withdrawn."""
    by, more = {"by": world.edda}, {"project": world.project, "assembly": world.float}
    world.void, world.filled = picture(world, "Void under the tape"), picture(world, "Void filled")
    marked(world, world.void, "40 mm long")
    world.done = discrepancies.find(
        **by, **more, at=hours(30), words="Void under the tape at bulkhead B", severity="major", part=world.rib,
        found_by=world.jory, found_at=NOW, photos=[world.void],
    )  # fmt: skip
    step = {"discrepancy": world.done}
    discrepancies.decide(**by, **step, at=hours(31), disposition="rework", words="Grind out, fill, tape anew")
    discrepancies.fix(**by, **step, at=hours(60), words="Ground out", person=world.jory, done_at=hours(32))
    discrepancies.reinspect(by=world.hal, **step, at=hours(61), accepted=False, words="Still hollow at one end")
    discrepancies.fix(**by, **step, at=hours(62), words="Filled and taped", photos=[world.filled])
    discrepancies.reinspect(by=world.hal, **step, at=hours(63), accepted=True)
    world.open = discrepancies.find(
        **by, **more, at=hours(30), words="Drain hole is 2 mm off the plan", severity="minor", area=world.area
    )
    discrepancies.correct(**by, at=hours(31), discrepancy=world.open, severity="safety", reason="Water stays in")
    gone = discrepancies.find(**by, **more, at=hours(30), words="Entered twice", severity="minor")
    discrepancies.withdraw(**by, at=hours(31), discrepancy=gone, reason="Same as D-2")


def visits_of(world: SimpleNamespace) -> None:
    """A visit by link on which a point was looked at, remarked on, and signed with a drawn signature."""
    world.visit = visits.make_visit(
        by=world.edda,
        at=hours(64),
        project=world.project,
        token=TOKEN,
        purpose="Deck dry fit",
        note="The key hangs behind the door.",
        expires_at=hours(90),
        person=world.hal,
        points=[world.stops, world.passed],
    )
    here = {"visit": world.visit}
    visits.opened(**here, at=hours(65), device="iPhone, Safari")
    passed, stops = sorted(visiting.things(world.visit), key=lambda one: one.number, reverse=True)
    for outcome, words, at in (("no_access", "Light was off", 65.1), ("seen", "", 65.2)):
        visits.look(**here, at=hours(at), thing=stops.subject, label=stops.label, outcome=outcome, words=words)
    words = "Taped over already"
    visits.look(**here, at=hours(65.3), thing=passed.subject, label=passed.label, outcome="no_access", words=words)
    visits.remark(**here, at=hours(65.4), about=stops, words="Edge is dry", severity="minor", blocks=False)
    visits.sign(
        **here,
        at=hours(65.5),
        chosen=[(stops, stops.seen)],
        accepted=False,
        reason="Gap at frame 3 is over 2 mm",
        name="H. Venning",
        certificate=("Technical counselor", "DEMO-77"),
        capacity="Technical counselor",
        strokes=STROKES,
    )
    assert [one.number for one in found_queries.rows(world.project)] == [4, 2, 1]


def more_of_everything(world: SimpleNamespace, number: int) -> None:
    """Another assembly with an area, a point, a discrepancy and a visit on it: each signed and corrected."""
    by, at = {"by": world.edda}, hours(70)
    spot = factories.make_assembly(world.edda, f"{number}", "Rib bay")
    factories.make_session(world.edda, spot, at=at)
    asked = [{"kind": "check", "words": "Dry"}, {"kind": "signoff", "words": "Seen", "role": "inspector"}]
    area = factories.make_area(world.edda, spot, *asked, number=f"{number}-C1")
    item = area.requirements.get(position=1)
    gates.answer_check(**by, at=at, requirement=item, answer="no")
    gates.answer_check(**by, at=hours(70.5), requirement=item, answer="yes")
    gates.correct_area(**by, at=at, area=area, name=f"Bay {number}")
    gates.sign_area(by=world.hal, at=hours(71), area=area)
    point = points.add_point(
        **by, at=at, project=world.project, assembly=spot, kind="hold", words="Look", role="inspector"
    )
    photo = picture(world, "Look here", at)
    points.show_photo(**by, at=at, point=point, photo=photo)
    points.sign_point(by=world.hal, at=at, point=point)
    points.correct_point(**by, at=at, point=point, words="Look again", reason="Unclear")
    where = {"project": world.project, "assembly": spot, "area": area}
    row = discrepancies.find(**by, **where, at=at, words="A run", severity="minor", blocks=False, photos=[photo])
    discrepancies.decide(**by, discrepancy=row, at=at, disposition="use", words="Cosmetic")
    discrepancies.reinspect(by=world.hal, discrepancy=row, at=hours(71), accepted=True)
    visit = visits.make_visit(
        **by, at=at, project=world.project, token=f"t{number}", purpose="Look", expires_at=hours(90), person=world.hal,
        areas=[area], points=[point],
    )  # fmt: skip
    visits.opened(visit=visit, at=at, device="")
