"""Honest histories: people doing things at random, each through the command that the program has for it.

To have a new command take part, write a function here and mark it with `@act`. It takes the history, picks what it
needs with `history.any(...)`, which ends the act where there is nothing yet, and calls the command. Whatever the
program refuses counts as done: nothing was written.
"""

from collections import Counter
from collections.abc import Callable, Iterable
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal
from functools import cache
from io import BytesIO
from random import Random
from unittest.mock import patch

from django.db import IntegrityError, transaction

from accounts import commands as accounts
from accounts.models import Person, Project
from archive.queries import whole
from buildlog import commands as buildlog
from buildlog.models import WorkSession
from calc.major_portion import COLUMNS
from certification.commands import (
    balance,
    credit,
    drafts,
    equipment,
    flights,
    inspection_lists,
    packs,
    papers,
    placards,
    statements,
)
from certification.models import (
    Credit,
    Draft,
    Equipment,
    Limits,
    LoadingCase,
    LoadItem,
    Pack,
    Paper,
    Placard,
    TaskList,
    WeighIn,
)
from certification.models.flying import Flight, Inspection, LineAnswer, Statement, TestPoint
from certification.queries import credit as credit_queries
from certification.queries import inspection_lists as inspection_queries
from certification.queries import next_number
from certification.rules.credit import Listed, Section, Split
from certification.rules.statements import ELEMENTS
from evidence import commands as evidence
from evidence.models import Document, Photo
from evidence.queries import marks_token
from foundation.digest import canonical, digest_bytes
from foundation.fields import new_key
from foundation.pdf_signature import Key, make_key, open_key
from foundation.refusal import Refusal
from inspections import commands as areas
from inspections.commands import closures, discrepancies, points, since, visits
from inspections.models import (
    Area,
    Closing,
    ClosureList,
    Discrepancy,
    Exhibit,
    FoundPhoto,
    Point,
    PointPhoto,
    Requirement,
    Visit,
)
from inspections.queries.visits import things
from journal.commands import record_change, take_turn
from parts import commands as parts
from parts.models import Assembly, Bin, Lot, Part
from process.commands import bonds, checks, common, cures, layups, mixes, own, shots, tools
from process.models import KINDS, Bond, CureRun, Layup, ProcessRecord, Recheck, TapMap, Tool, ToolDocument, ToolEvent
from process.queries import tools as tool_queries
from process.rules.cures import Material
from tests import factories

type Act = Callable[["History"], object]

# What people do, and how often: most things alike, some seldom because little can be done after them.
ACTS: dict[Act, int] = {}
WORDS = (
    "Bonded the strut block",
    "Faired and sanded, 180 grit",
    "Zażółć gęślą jaźń ✓",
    'Said "again"\nand again\t—',
    "Ends with blanks  ",
    "12 x AN3-5A \\ washer",
    "é",
    "0",
)


# Kinds that need a phone without signal.
NEVER_THERE = {"buildlog.OtherVersion"}


class NothingThere(Exception):
    """What an act needs is not there yet."""


def act(do: Act) -> Act:
    """Have this take part in every history."""
    ACTS[do] = 4
    return do


def seldom(do: Act) -> Act:
    """Have this take part now and then."""
    ACTS[do] = 1
    return do


@cache
def picture(number: int) -> bytes:
    return factories.picture_bytes(size=(64, 48), seed=70_000 + number, offset="" if number % 3 else "-06:00")


class History:
    """One project and what happens to it."""

    def __init__(self, chance: Random, project: Project | None = None) -> None:
        self.chance = chance
        self.clock = factories.NOW
        self.done: Counter[str] = Counter()
        if project is None:
            project, self.edda = factories.make_project(f"Hull {new_key()}")
        else:
            self.edda = project.people.filter(role="builder", withdrawn_at=None, user__isnull=False).first()
        self.project = project

    def live(self, steps: int) -> "History":
        """Let so many things happen, after a few without which little else can. The same chance, the same history."""
        keys = Random(self.chance.random())
        with patch("foundation.fields.secrets.choice", keys.choice):
            self.let_happen(steps)
        return self

    def live_it_all(self) -> "History":
        """Let things happen until there is some of every kind of record."""
        wanted = {*whole.root_models(), *whole.part_models()}
        for _ in range(60):
            self.live(60)
            missing = {model._meta.label for model in wanted if not model._base_manager.exists()}
            if missing <= NEVER_THERE:
                return self
        raise AssertionError(f"no history made any of {missing - NEVER_THERE}")

    def let_happen(self, steps: int) -> None:
        first = [add_assembly, add_assembly, add_person, take_photo, add_area, log_session]
        for do in [*first, *self.chance.choices(list(ACTS), list(ACTS.values()), k=steps)]:
            self.clock += timedelta(
                minutes=self.chance.randint(1, 900), microseconds=self.chance.choice([0, 1, 250_000])
            )
            try:
                with transaction.atomic():
                    do(self)
            except (NothingThere, Refusal):
                continue
            except IntegrityError:  # the database's own refusal of what no form lets through
                continue
            self.done[do.__name__] += 1

    def rows(self, model):  # noqa: ANN001, ANN201
        """All records of a kind, withdrawn ones too now and then."""
        rows = model.objects.filter(project=self.project).order_by("pk")
        return rows if self.chance.random() < 0.1 else rows.filter(withdrawn_at=None)

    def any(self, rows: Iterable, *, most: int = 0):  # noqa: ANN201
        """One of these, or with `most` up to so many."""
        found = list(rows)
        if most:
            return self.chance.sample(found, min(len(found), self.chance.randint(0, most)))
        if not found:
            raise NothingThere
        return self.chance.choice(found)

    def maybe(self, rows: Iterable):  # noqa: ANN201
        """One of these or none."""
        return next(iter(self.any(rows, most=1)), None)

    @property
    def words(self) -> str:
        return f"{self.chance.choice(WORDS)} {self.chance.randint(0, 999)}"

    @property
    def number(self) -> str:
        return str(self.chance.randint(1, 99))

    @property
    def weight(self) -> Decimal | None:
        return self.chance.choice(
            [None, Decimal("2"), Decimal("0.0001"), Decimal(self.chance.randint(1, 10**7)) / 10**4, Decimal("123.4567")]
        )

    @property
    def by(self) -> dict:
        """Who does it, and when."""
        return {"by": self.edda, "at": self.clock}

    @property
    def person(self) -> Person:
        return self.any(self.rows(Person))

    def item(self, kind: str) -> Requirement:
        """Something that a gate asks for, mostly one that can be answered."""
        asked = Requirement.objects.filter(area__project=self.project, kind=kind).select_related("area__project")
        closed = Closing.objects.filter(reopened_at=None).values("area")
        open_ones = asked.filter(dropped_at=None, area__withdrawn_at=None).exclude(area__in=closed)
        return self.any((asked if self.chance.random() < 0.1 else open_ones).order_by("pk"))

    def stretch(self):  # noqa: ANN201
        start = self.clock.replace(microsecond=0) - timedelta(minutes=self.chance.randint(60, 3000))
        return factories.worked(self.person, start, self.chance.randint(1, 59), self.chance.choice([0, 0, 1]))


# ---- the project and its people ----


@seldom
def correct_project(h: History) -> object:
    return accounts.correct_project(
        **h.by, project=h.project, description=h.words[:120], started_on=h.maybe([date(2025, 1, 31)]), reason=h.words
    )


@act
def add_person(h: History) -> object:
    role = h.chance.choice(["helper", "paid", "inspector", "reader"])
    kind = h.chance.choice(["", "A&P mechanic"])
    return accounts.add_person(**h.by, project=h.project, name=f"Person {new_key()}", role=role, certificate_kind=kind)


@seldom
def correct_person(h: History) -> object:
    return accounts.correct_person(**h.by, person=h.any(h.rows(Person)), note=h.words, reason=h.words)


@seldom
def withdraw_person(h: History) -> object:
    person = h.any(h.rows(Person).exclude(pk=h.edda.pk))
    return accounts.withdraw_person(**h.by, person=person, reason=h.words)


# ---- assemblies, parts, stores ----


@act
def add_assembly(h: History) -> object:
    return parts.add_assembly(
        **h.by, project=h.project, number=h.number, name=h.words, parent=h.maybe(h.rows(Assembly)), note=h.words
    )


@act
def correct_assembly(h: History) -> object:
    return parts.correct_assembly(
        **h.by, assembly=h.any(h.rows(Assembly)), number=h.number, name=h.words, reason=h.words
    )


@act
def move_assembly(h: History) -> object:
    return parts.move_assembly(**h.by, assembly=h.any(h.rows(Assembly)), parent=h.maybe(h.rows(Assembly)))


@seldom
def withdraw_assembly(h: History) -> object:
    return parts.withdraw_assembly(**h.by, assembly=h.any(h.rows(Assembly)), reason=h.words)


@act
def add_part(h: History) -> object:
    return parts.add_part(
        **h.by,
        project=h.project,
        assembly=h.any(h.rows(Assembly)),
        number=h.number,
        name=h.words,
        weight=h.weight,
        weight_unit=h.chance.choice(["g", "lb", "oz", "kg"]),
        estimate=h.weight,
    )


@act
def correct_part(h: History) -> object:
    return parts.correct_part(**h.by, part=h.any(h.rows(Part)), weight=h.weight, note=h.words, reason=h.words)


@seldom
def withdraw_part(h: History) -> object:
    return parts.withdraw_part(**h.by, part=h.any(h.rows(Part)), reason=h.words)


@act
def add_bin(h: History) -> object:
    return parts.add_bin(**h.by, project=h.project, number=h.number, name=h.words)


@seldom
def correct_bin(h: History) -> object:
    return parts.correct_bin(**h.by, store=h.any(h.rows(Bin)), number=h.number, name=h.words)


@act
def add_lot(h: History) -> object:
    return parts.add_lot(
        **h.by, project=h.project, number=h.number, name=h.words, made_on=date(2025, 2, 1), quantity=h.words[:60]
    )


@seldom
def correct_lot(h: History) -> object:
    return parts.correct_lot(**h.by, lot=h.any(h.rows(Lot)), expires_on=date(2027, 12, 31), reason=h.words)


@seldom
def withdraw_store(h: History) -> object:
    if h.chance.random() < 0.5:
        return parts.withdraw_bin(**h.by, store=h.any(h.rows(Bin)), reason=h.words)
    return parts.withdraw_lot(**h.by, lot=h.any(h.rows(Lot)), reason=h.words)


# ---- photos ----


@act
def take_photo(h: History) -> object:
    places = [h.any(h.rows(model)) for model in (Assembly, Part, Bin, Lot) if h.rows(model).exists()]
    return factories.make_photo(
        h.edda, data=picture(h.chance.randint(0, 60)), at=h.clock, places=h.any(places, most=2), caption=h.words
    )


@act
def place_photo(h: History) -> object:
    return evidence.place_photo(**h.by, photo=h.any(h.rows(Photo)), places=[h.any(h.rows(Assembly))])


@seldom
def unplace_photo(h: History) -> object:
    photo = h.any(h.rows(Photo))
    return evidence.unplace_photo(**h.by, photo=photo, placement=h.any(photo.placements.all()))


@act
def describe_photo(h: History) -> object:
    return evidence.describe_photo(
        **h.by, photo=h.any(h.rows(Photo)), caption=h.words, builder_in_frame=h.chance.random() < 0.5, reason=h.words
    )


@act
def type_the_time(h: History) -> object:
    typed = h.clock - timedelta(hours=h.chance.randint(1, 99))
    return evidence.correct_taken(**h.by, photo=h.any(h.rows(Photo)), typed=typed, reason=h.words)


@act
def mark_photo(h: History) -> object:
    photo, corner = h.any(h.rows(Photo)), lambda: h.chance.randint(0, 9) * 1000
    marks = [
        evidence.MarkFacts(kind, (corner(), corner(), corner(), corner()), "Gap")
        for kind in h.any(["arrow", "ring", "note"], most=3)
    ]
    return evidence.mark_photo(**h.by, photo=photo, marks=marks, seen=marks_token(photo.marks.all()))


@seldom
def withdraw_photo(h: History) -> object:
    return evidence.withdraw_photo(**h.by, photo=h.any(h.rows(Photo)), reason=h.words)


@act
def restore_photo(h: History) -> object:
    return evidence.restore_photo(**h.by, photo=h.any(Photo.objects.filter(project=h.project)))


# ---- work ----


@act
def log_session(h: History) -> object:
    people = {one.person: one for one in (h.stretch() for _ in range(h.chance.randint(1, 3)))}
    shares = {h.any(h.rows(Assembly)): h.chance.randint(1, 3) for _ in range(h.chance.randint(1, 3))}
    return buildlog.log_session(
        **h.by,
        project=h.project,
        request_id=new_key(),
        worked=list(people.values()),
        shares=list(shares.items()),
        photos=h.any(h.rows(Photo), most=2),
        note=h.words,
        kind=h.chance.choice(["labor", "supervised"]),
        place=h.words,
    )


@act
def correct_session(h: History) -> object:
    session = h.any(h.rows(WorkSession).exclude(ended_at=None))
    return buildlog.correct_session(
        **h.by,
        session=session,
        worked=[h.stretch()],
        shares=[(h.any(h.rows(Assembly)), h.chance.randint(1, 5))],
        photos=h.any(h.rows(Photo), most=2),
        note=h.words,
        reason=h.words,
    )


@seldom
def withdraw_session(h: History) -> object:
    return buildlog.withdraw_session(**h.by, session=h.any(h.rows(WorkSession)), reason=h.words)


@act
def attach_photos(h: History) -> object:
    session = h.any(h.rows(WorkSession))
    return buildlog.attach_photos(**h.by, session=session, photos=h.any(h.rows(Photo), most=3))


@act
def start_timer(h: History) -> object:
    return buildlog.start_timer(**h.by, project=h.project, assembly=h.any(h.rows(Assembly)), people=[h.person])


@act
def work_a_timer(h: History) -> object:
    session = h.any(WorkSession.objects.running().filter(project=h.project))
    do = h.chance.choice([buildlog.take_break, buildlog.end_break, buildlog.stop_timer])
    if h.chance.random() < 0.3:
        return buildlog.join_timer(**h.by, session=session, person=h.person)
    if h.chance.random() < 0.3:
        return buildlog.leave_timer(**h.by, session=session, person=h.person)
    return do(**h.by, session=session)


# ---- areas and their gates ----


@act
def add_area(h: History) -> object:
    asked = (
        {"kind": "photo", "words": h.words, "count": h.chance.randint(1, 2)},
        {"kind": "check", "words": h.words},
        {"kind": "measure", "words": h.words, "low": Decimal("0.5"), "high": Decimal("2.25"), "unit": "mm"},
        {"kind": "count", "words": h.words},
        {"kind": "process", "words": h.words, "process": "function"},
    )
    roles = h.chance.sample(["builder", "inspector"], h.chance.randint(1, 2))
    return areas.add_area(
        **h.by,
        project=h.project,
        assembly=h.any(h.rows(Assembly)),
        number=h.number,
        name=h.words,
        kind=h.chance.choice(["permanent", "access"]),
        requirements=[
            *h.any(asked, most=2),
            *({"kind": "signoff", "words": f"{role} signs", "role": role} for role in roles),
        ],
    )


@act
def correct_area(h: History) -> object:
    return areas.correct_area(**h.by, area=h.any(h.rows(Area)), name=h.words, reason=h.words)


@act
def drop_requirement(h: History) -> object:
    return areas.drop_requirement(**h.by, requirement=h.item("check"), reason=h.words)


@act
def ask_for(h: History) -> object:
    return areas.ask_for(**h.by, area=h.any(h.rows(Area)), kind="check", words=h.words)


@act
def show_photo(h: History) -> object:
    return areas.show_photo(**h.by, requirement=h.item("photo"), photo=h.any(h.rows(Photo)))


@seldom
def take_away_photo(h: History) -> object:
    shown = Exhibit.objects.filter(requirement__area__project=h.project)
    return areas.take_away_photo(**h.by, exhibit=h.any(shown) if shown.exists() else show_photo(h))


@act
def answer_check(h: History) -> object:
    return areas.answer_check(
        **h.by, requirement=h.item("check"), answer=h.chance.choice(["yes", "yes", "no", "na"]), reason=h.words
    )


@act
def answer_measure(h: History) -> object:
    value = Decimal(h.chance.randint(1, 40000)) / 10000
    return areas.answer_measure(**h.by, requirement=h.item("measure"), value=value, unit="mm", reason=h.words)


@act
def answer_count(h: History) -> object:
    return areas.answer_count(**h.by, requirement=h.item("count"), number_in=12, number_out=h.chance.randint(11, 12))


@act
def sign_area(h: History) -> object:
    return areas.sign_area(**h.by, area=h.any(h.rows(Area)), accepted=h.chance.random() < 0.5, reason=h.words)


@act
def close_area(h: History) -> object:
    return areas.close_area(**h.by, area=h.any(h.rows(Area)), reason=h.words)


@act
def reopen_area(h: History) -> object:
    return areas.reopen_area(**h.by, area=h.any(h.rows(Area).exclude(closings=None)), reason=h.words)


@seldom
def withdraw_area(h: History) -> object:
    return areas.withdraw_area(**h.by, area=h.any(h.rows(Area)), reason=h.words)


@act
def explain_work(h: History) -> object:
    """An area is closed for good, somebody works on its assembly after that, and says why."""
    area = h.any(h.rows(Area).filter(kind="permanent").select_related("assembly"))
    if not area.closings.filter(reopened_at=None).exists():
        areas.close_area(**h.by, area=area, reason=h.words)
    h.clock += timedelta(days=3)
    session, _ = buildlog.log_session(
        **h.by,
        project=h.project,
        request_id=new_key(),
        worked=[factories.worked(h.edda, h.clock.replace(microsecond=0) - timedelta(hours=2), 60)],
        shares=[(area.assembly, 1)],
    )
    return since.explain_work(**h.by, area=area, sessions=[session], words=h.words)


# ---- closure lists ----


@act
def add_list(h: History) -> object:
    items = [{"kind": "check", "words": h.words}, {"kind": "signoff", "words": h.words, "role": "inspector"}]
    return closures.add_list(**h.by, project=h.project, name=h.words, kind="permanent", items=items)


@act
def correct_list(h: History) -> object:
    one = h.any(h.rows(ClosureList))
    items = [{"kind": "check", "words": h.words} for _ in range(h.chance.randint(1, 3))]
    return closures.correct_list(**h.by, closure_list=one, name=one.name, kind="access", items=items, reason=h.words)


@seldom
def withdraw_list(h: History) -> object:
    return closures.withdraw_list(**h.by, closure_list=h.any(h.rows(ClosureList)), reason=h.words)


# ---- points ----


@act
def add_point(h: History) -> object:
    return points.add_point(
        **h.by,
        project=h.project,
        assembly=h.any(h.rows(Assembly)),
        kind=h.chance.choice(["hold", "witness"]),
        words=h.words,
        role=h.chance.choice(["inspector", "builder"]),
        step=h.words,
    )


@act
def correct_point(h: History) -> object:
    return points.correct_point(**h.by, point=h.any(h.rows(Point)), words=h.words, detail=h.words, reason=h.words)


@act
def show_point_photo(h: History) -> object:
    return points.show_photo(**h.by, point=h.any(h.rows(Point)), photo=h.any(h.rows(Photo)))


@seldom
def take_away_point_photo(h: History) -> object:
    shown = h.any(PointPhoto.objects.filter(point__project=h.project))
    return points.take_away_photo(**h.by, shown=shown, reason=h.words)


@act
def invite(h: History) -> object:
    planned = h.maybe([h.clock + timedelta(days=3)])
    return points.invite(**h.by, point=h.any(h.rows(Point)), whom="Hal Venning", planned_at=planned, words=h.words)


@act
def go_on(h: History) -> object:
    return points.go_on(**h.by, point=h.any(h.rows(Point)), words=h.words)


@act
def sign_point(h: History) -> object:
    return points.sign_point(**h.by, point=h.any(h.rows(Point)), accepted=h.chance.random() < 0.5, reason=h.words)


@seldom
def withdraw_point(h: History) -> object:
    return points.withdraw_point(**h.by, point=h.any(h.rows(Point)), reason=h.words)


# ---- discrepancies ----


@act
def find(h: History) -> object:
    return discrepancies.find(
        **h.by,
        project=h.project,
        assembly=h.any(h.rows(Assembly)),
        words=h.words,
        severity=h.chance.choice(["minor", "major", "safety"]),
        blocks=h.chance.random() < 0.5,
        photos=h.any(h.rows(Photo), most=2),
    )


@act
def correct_discrepancy(h: History) -> object:
    return discrepancies.correct(**h.by, discrepancy=h.any(h.rows(Discrepancy)), words=h.words, reason=h.words)


@act
def decide(h: History) -> object:
    chosen = h.chance.choice(["use", "rework", "repair", "scrap", "defer"])
    return discrepancies.decide(**h.by, discrepancy=h.any(h.rows(Discrepancy)), disposition=chosen, words=h.words)


@act
def fix(h: History) -> object:
    photos = h.any(h.rows(Photo), most=1)
    return discrepancies.fix(**h.by, discrepancy=h.any(h.rows(Discrepancy)), words=h.words, photos=photos)


@act
def reinspect(h: History) -> object:
    one = h.any(h.rows(Discrepancy))
    return discrepancies.reinspect(**h.by, discrepancy=one, accepted=h.chance.random() < 0.7, words=h.words)


@seldom
def take_away_found_photo(h: History) -> object:
    found = h.any(FoundPhoto.objects.filter(discrepancy__project=h.project))
    return discrepancies.take_away_photo(**h.by, found_photo=found)


@seldom
def withdraw_discrepancy(h: History) -> object:
    return discrepancies.withdraw(**h.by, discrepancy=h.any(h.rows(Discrepancy)), reason=h.words)


# ---- visits ----


@act
def make_visit(h: History) -> object:
    return visits.make_visit(
        **h.by,
        project=h.project,
        token=new_key() + new_key(),
        purpose=h.words,
        expires_at=h.clock + timedelta(days=20),
        newcomer={"name": f"Visitor {new_key()}"},
        areas=[h.any(h.rows(Area))],
        points=h.any(h.rows(Point), most=2),
        note=h.words,
    )


def a_visit(h: History) -> tuple[Visit, dict]:
    """A visit whose link opens still, made now where there is none; and when."""
    open_now = h.rows(Visit).filter(ended_at=None, revoked_at=None, expires_at__gt=h.clock)
    return (h.any(open_now) if open_now.exists() else make_visit(h)), {"at": h.clock}


@act
def open_visit(h: History) -> object:
    visit, at = a_visit(h)
    return visits.opened(visit=visit, **at, device=h.words[:120])


@act
def look(h: History) -> object:
    visit, at = a_visit(h)
    thing = h.any(things(visit))
    outcome = h.chance.choice(["seen", "no_access"])
    return visits.look(visit=visit, **at, thing=thing.subject, label=thing.label, outcome=outcome, words=h.words)


@act
def remark(h: History) -> object:
    visit, at = a_visit(h)
    return visits.remark(visit=visit, **at, about=h.any(things(visit)), words=h.words, severity="minor", blocks=True)


@act
def sign_on_visit(h: History) -> object:
    visit, at = a_visit(h)
    return visits.sign(
        visit=visit,
        **at,
        chosen=[(h.any(things(visit)), None)],
        accepted=h.chance.random() < 0.5,
        reason=h.words,
        capacity="Inspector",
        strokes=[[1, 2, 300, 400], [5, 6]],
    )


@seldom
def end_visit(h: History) -> object:
    visit, at = a_visit(h)
    if h.chance.random() < 0.5:
        return visits.revoke(**h.by, visit=visit, reason=h.words)
    return visits.end_visit(visit=visit, **at)


# ---- documents, and where parts come from ----


@act
def keep_document(h: History) -> object:
    places = [h.any(h.rows(model)) for model in (Assembly, Part, Lot) if h.rows(model).exists()]
    data = f"what,quantity\n{h.chance.randint(0, 40)},1\n".encode()
    known = {"kind": h.chance.choice(["receipt", "sheet"]), "title": h.words, "places": h.any(places, most=2)}
    return evidence.keep_document(**h.by, project=h.project, file=BytesIO(data), name="a receipt.csv", **known)


@seldom
def correct_document(h: History) -> object:
    document = h.any(h.rows(Document))
    if h.chance.random() < 0.3:
        return evidence.withdraw_document(**h.by, document=document, reason=h.words)
    return evidence.correct_document(**h.by, document=document, title=h.words, note=h.words, reason=h.words)


@act
def trace_part(h: History) -> object:
    part = h.any(h.rows(Part))
    if h.chance.random() < 0.5:
        return parts.add_made_of(**h.by, part=part, lot=h.any(h.rows(Lot)), words=h.words)
    return parts.add_origin(**h.by, part=part, kind="cut_from", source=h.any(h.rows(Part).exclude(pk=part.pk)))


# ---- how things are made ----


@act
def add_tool(h: History) -> object:
    kind = h.chance.choice(["scale", "torque", "other"])
    step = {"scale": "0.1 g", "torque": "5 in-lb"}.get(kind, "")
    known = {"number": f"T{h.number}", "name": h.words, "kind": kind, "resolution": step, "interval_months": 12}
    return tools.add_tool(**h.by, project=h.project, **known)


@act
def tool_event(h: History) -> object:
    kind, day = h.chance.choice(["calibrated", "dropped", "bad", "good"]), h.clock.date() - timedelta(days=1)
    tool = h.any(h.rows(Tool))
    return tools.record_event(**h.by, tool=tool, kind=kind, happened_on=day, words=h.words, certificate="DEMO-1")


@act
def tool_paper(h: History) -> object:
    tool = h.any(h.rows(Tool))
    if h.chance.random() < 0.3:
        return tools.take_paper_off(**h.by, paper=h.any(ToolDocument.objects.filter(tool__project=h.project)))
    event = h.maybe(ToolEvent.objects.filter(tool=tool))
    return tools.put_paper(**h.by, tool=tool, document=h.any(h.rows(Document)), event=event)


@act
def look_again(h: History) -> object:
    if h.chance.random() < 0.3:
        return look_otherwise(h)
    event = h.any(ToolEvent.objects.filter(tool__project=h.project, kind="bad"))
    day, outcome = h.clock.date(), h.chance.choice(["good", "redone", "accepted"])
    made = h.any([one.record for one in tool_queries.made_with(event.tool)])
    return tools.look_again(**h.by, event=event, record=made, outcome=outcome, looked_on=day, words=h.words)


def look_otherwise(h: History) -> object:
    """A look that is corrected or withdrawn."""
    recheck = h.any(h.rows(Recheck))
    if h.chance.random() < 0.5:
        return tools.withdraw_recheck(**h.by, recheck=recheck, reason=h.words)
    said = {"outcome": "good", "looked_on": recheck.looked_on, "words": h.words}
    return tools.correct_recheck(**h.by, recheck=recheck, reason=h.words, **said)


@seldom
def correct_tool(h: History) -> object:
    tool = h.any(h.rows(Tool))
    if h.chance.random() < 0.3:
        return tools.withdraw_tool(**h.by, tool=tool, reason=h.words)
    return tools.correct_tool(**h.by, tool=tool, name=h.words, reason=h.words)


def in_place(h: History) -> dict:
    """Who begins a record, when, and on which assembly."""
    return {**h.by, "project": h.project, "assembly": h.any(h.rows(Assembly)), "request_id": new_key()}


@act
def start_layup(h: History) -> object:
    plies = [{"kind": "cloth", "cloth": "Glass", "orientation": one} for one in ("±45", "0/90")]
    plies[0]["lot"] = h.maybe(h.rows(Lot))
    return layups.start_layup(**in_place(h), part=h.maybe(h.rows(Part)), title=h.words, plies=plies)


@act
def go_on_with_layup(h: History) -> object:
    layup = h.any(h.rows(Layup))
    if h.chance.random() < 0.5:
        return layups.lay_ply(layup, **h.by, position=h.chance.choice([1, 2]))
    told = {"room_temp": "21.5 °C", "room_temp_degc": Decimal("21.5"), "room_rh": h.chance.choice([None, Decimal(48)])}
    return layups.tell_moment(layup, **h.by, reason=h.words, **told)


@act
def record_mix(h: History) -> object:
    grams = Decimal(h.chance.randint(100, 90000)) / 100
    amounts = {"resin": f"{grams} g", "resin_g": grams, "hardener": "3 g", "hardener_g": Decimal(3)}
    into = h.maybe([*h.rows(Layup), *h.rows(Bond), *h.rows(Part)])
    known = {"used_in": into, "scale": h.maybe(h.rows(Tool)), "resin_lot": h.maybe(h.rows(Lot))}
    ratio = {"parts_resin": Decimal(100), "parts_hardener": Decimal("27.5")}
    return mixes.record_mix(**in_place(h), **ratio, **amounts, **known)


@act
def start_cure(h: History) -> object:
    began = h.clock - timedelta(hours=9)
    lay = h.any([*h.rows(Layup), *h.rows(Bond), *h.rows(Part)], most=2)
    asked = {"heat": "oven", "low": Decimal(36), "high": Decimal(42), "soak_min": Decimal(60)}
    stack = [Material("Foam", Decimal(80), "sheet")] if h.chance.random() < 0.5 else []
    return cures.start_run(**in_place(h), started_at=began, cured=lay, stack=stack, **asked)


@act
def type_points(h: History) -> object:
    run = h.any(h.rows(CureRun))
    rows = [(0, 21), (60, h.chance.randint(30, 45)), (200, 39)]
    points = [cures.typed_point("TC1", run.started_at + timedelta(minutes=m), f"{t} °C", "C") for m, t in rows]
    return cures.type_points(run, **h.by, points=points, reason=h.words)


@act
def start_bond(h: History) -> object:
    joined = h.any(h.rows(Part), most=2)
    known = {"title": h.words, "kind": "secondary", "had_peel_ply": "no", "wiped_at": h.clock - timedelta(hours=1)}
    return bonds.start_bond(**in_place(h), joined=joined, **known)


CHECKS = {
    "fasteners": {"place": "Row 1", "count": 12, "spec": "Screw"},
    "torque": {"place": "Bolt 1", "shown": "85 in-lb", "shown_inlb": Decimal(85)},
    "coupon": {"test": "Bending", "value": "62 MPa", "value_si": Decimal(62_000_000)},
    "hardness": {"readings": ["41", "42.5"], "least": Decimal(40)},
    "tapmap": {"place": "Skin", "sandwich": True},
    "function": {"what": "Pump", "value": Decimal("31.5"), "low": Decimal(28), "unit": "l/min"},
}


@act
def record_check(h: History) -> object:
    never = [kind for kind in sorted(CHECKS) if not h.rows(KINDS[kind]).exists()]
    kind = h.chance.choice(never or sorted(CHECKS))
    return checks.record_check(kind, **in_place(h), part=h.maybe(h.rows(Part)), note=h.words, **CHECKS[kind])


@act
def weigh_it(h: History) -> object:
    scales = [{"place": one, "shown": "120 kg", "shown_g": Decimal(120_000)} for one in ("left", "right", "nose")]
    known = {"what": h.words, "whole_aircraft": True, "scale": h.maybe(h.rows(Tool))}
    return checks.record_check("weighing", **in_place(h), scales=scales, **known)


@act
def mark_taps(h: History) -> object:
    taps = [{"x": h.chance.randint(0, 10000), "y": 5000, "sound": "dull", "words": h.words[:100]}]
    tapmap, photo = h.any(h.rows(TapMap)), h.any(h.rows(Photo))
    return checks.mark_taps(tapmap, **h.by, photo=photo, taps=taps, accepted="no", reason=h.words)


@seldom
def set_value(h: History) -> object:
    value = Decimal(h.chance.randint(10, 30))
    return own.set_value(**h.by, project=h.project, key="room_low_degc", value=value, source=h.words, reason=h.words)


def a_record(h: History) -> ProcessRecord:
    """A process record of any kind."""
    return h.any(h.rows(h.chance.choice(list(KINDS.values()))))


@act
def show_shot(h: History) -> object:
    return shots.show_shot(**h.by, record=a_record(h), photo=h.any(h.rows(Photo)), moment=h.chance.choice(["", "wet"]))


@act
def go_on_with_record(h: History) -> object:
    record, chance = a_record(h), h.chance.random()
    if chance < 0.6:
        return common.finish(record, **h.by)
    if chance < 0.7:
        return common.reopen(record, **h.by, reason=h.words)
    if chance < 0.8:
        return common.withdraw(record, **h.by, reason=h.words)
    return common.correct_fields(record, **h.by, reason=h.words, title=h.words[:120], note=h.words)


@act
def show_record(h: History) -> object:
    """A pump that runs well, shown at a gate that asks for a function test."""
    item = h.item("process")
    record = checks.record_check("function", **in_place(h), **CHECKS["function"])
    checks.finish_check(record, **h.by)
    return areas.show_record(**h.by, requirement=item, record=record.subject)


# ---- credit for tasks ----


@seldom
def take_up_list(h: History) -> object:
    """A list of some tasks, now and then another edition; seldom withdrawn."""
    standing = list(TaskList.objects.standing().filter(project=h.project))
    if standing and h.chance.random() < 0.2:
        return credit.withdraw_list(**h.by, task_list=h.any(standing), reason=h.words)
    tasks = tuple(Listed(f"F{n}", h.words, "memory") for n in range(1, h.chance.randint(3, 9)))
    sections = [Section("F", "Fuselage", tasks)]
    return credit.take_up_list(
        **h.by, project=h.project, title=h.words[:120], edition=h.number, source=h.words, sections=sections
    )


@act
def give_credit(h: History) -> object:
    if not TaskList.objects.standing().filter(project=h.project).exists():
        take_up_list(h)
    split = {name: h.chance.randint(0, 4) for name in COLUMNS}
    places = [*h.any(h.rows(Assembly), most=2), *h.any(h.rows(Part), most=1)]
    said = {"tenths": split, "reason": h.words, "places": places}
    if h.chance.random() < 0.2:
        return credit.add_task(**h.by, project=h.project, section="F", words=h.words, **said)
    return credit.give_credit(**h.by, project=h.project, code=f"F{h.chance.randint(1, 6)}", why=h.words, **said)


@seldom
def give_many(h: History) -> object:
    found = credit_queries.sheet(h.project)
    lines = h.any(found.lines, most=3)
    changes = {one.code: (one.split, Split(tuple(h.chance.randint(0, 2) for _ in COLUMNS))) for one in lines}
    return credit.give_all(**h.by, project=h.project, changes=changes, reason=h.words)


@seldom
def withdraw_credit(h: History) -> object:
    return credit.withdraw_credit(**h.by, credit=h.any(h.rows(Credit)), reason=h.words)


# ---- records handed out ----


@act
def freeze_record(h: History) -> object:
    """As `certification.commands.freeze_record` does, with small facts and without drawing the file."""
    take_turn(h.project.pk)
    facts = canonical({"words": h.words})
    pack = Pack(
        project=h.project,
        number=next_number(h.project),
        made_at=h.clock,
        made_by=h.edda,
        facts=facts,
        facts_digest=digest_bytes(facts.encode()),
    )
    pack.save(force_insert=True)
    record_change(project=h.project.pk, **h.by, verb="record.frozen", subject=pack)
    return pack


@cache
def signing_key() -> Key:
    words, now = "rib spar keel strake", datetime.now(UTC)
    return open_key(make_key("Edda Norrell", words, now), words, now)


@act
def sign_record(h: History) -> object:
    pack, document = h.any(h.rows(Pack)), h.any(h.rows(Document))
    return packs.enter_signed(**h.by, pack=pack, key=signing_key(), document=document)


# ---- weight and balance ----


def entered(name: str, figure: str, text: str, size: int) -> dict:
    return {name: text, f"{name}_{figure}": Decimal(size)}


def on_scales(h: History) -> list[dict]:
    scales = [one for one in h.rows(Tool) if one.kind == "scale"]
    return [
        {"name": name, "tool": h.maybe(scales), **entered("reading", "g", f"{kilos} kg", kilos * 1000)}
        | entered("arm", "mm", f"{arm} mm", arm)
        for name, kilos, arm in (("left", h.chance.randint(100, 200), 2600), ("right", 150, 2600), ("nose", 70, 700))
    ]


@act
def weigh_aircraft(h: History) -> object:
    known = {"datum": h.words, "level": h.words, "condition": h.maybe([h.words]) or "", "scales": on_scales(h)}
    poured = {"name": "Fuel", "adds": h.chance.random() < 0.5, **entered("weight", "g", "6 kg", 6000)}
    fluids = h.maybe([[poured | entered("arm", "mm", "2450 mm", 2450)]]) or []
    return balance.record_weighin(**h.by, project=h.project, fluids=fluids, **known)


@act
def correct_weighing(h: History) -> object:
    weighin = h.any(h.rows(WeighIn))
    return balance.correct_weighin(**h.by, weighin=weighin, reason=h.words, condition=h.words, scales=on_scales(h))


@act
def finish_weighing(h: History) -> object:
    return balance.finish_weighin(**h.by, weighin=h.any(h.rows(WeighIn)))


@seldom
def withdraw_weighing(h: History) -> object:
    return balance.withdraw_weighin(**h.by, weighin=h.any(h.rows(WeighIn)), reason=h.words)


@act
def add_load_item(h: History) -> object:
    sizes = entered("arm", "mm", "2000 mm", 2000) | entered("most", "g", "200 kg", 200_000)
    return balance.add_item(**h.by, project=h.project, kind="crew", name=f"{h.words[:60]} {h.number}", **sizes)


@seldom
def correct_load_item(h: History) -> object:
    return balance.correct_item(**h.by, item=h.any(h.rows(LoadItem)), source=h.words, reason=h.words)


@seldom
def withdraw_load_item(h: History) -> object:
    return balance.withdraw_item(**h.by, item=h.any(h.rows(LoadItem)), reason=h.words)


@act
def set_limits(h: History) -> object:
    corners = [
        {"side": side, **entered("weight", "g", f"{kilos} kg", kilos * 1000), **entered("arm", "mm", f"{arm} mm", arm)}
        for side, arm in (("forward", h.chance.randint(1500, 2000)), ("aft", 2500))
        for kilos in (300, 700)
    ]
    most = entered("most", "g", "600 kg", 600_000)
    return balance.set_limits(**h.by, project=h.project, corners=corners, source=h.words, reason=h.words, **most)


@seldom
def withdraw_limits(h: History) -> object:
    return balance.withdraw_limits(**h.by, limits=h.any(h.rows(Limits)), reason=h.words)


@act
def add_loading_case(h: History) -> object:
    loads = {
        h.any(h.rows(LoadItem)).pk: (f"{kilos} kg", Decimal(kilos * 1000)) for kilos in (h.chance.randint(50, 90),)
    }
    return balance.add_case(**h.by, project=h.project, name=f"{h.words[:60]} {h.number}", loads=loads)


@seldom
def correct_loading_case(h: History) -> object:
    return balance.correct_case(**h.by, case=h.any(h.rows(LoadingCase)), note=h.words, reason=h.words)


@seldom
def withdraw_loading_case(h: History) -> object:
    return balance.withdraw_case(**h.by, case=h.any(h.rows(LoadingCase)), reason=h.words)


# ---- papers of the file ----


@act
def take_file_list(h: History) -> object:
    return papers.take_profile(**h.by, project=h.project)


@act
def tell_paper(h: History) -> object:
    papers.take_profile(**h.by, project=h.project)
    said = {"state_word": h.chance.choice(["draft", "ready"]), "said_marks": h.words[:20], "note": h.words}
    known = {"project": h.project, "reason": h.words, "due_on": h.maybe([date(2026, 9, 30)])}
    return papers.tell_paper(**h.by, code=h.chance.choice(["8130-6", "8130-12", "registration"]), **known, **said)


@act
def paper_of_our_own(h: History) -> object:
    if h.chance.random() < 0.4:
        return papers.withdraw_paper(**h.by, paper=h.any(h.rows(Paper)), reason=h.words)
    return papers.add_paper(**h.by, project=h.project, title=h.words)


@act
def paper_document(h: History) -> object:
    paper, document = h.any(h.rows(Paper)), h.any(h.rows(Document))
    if h.chance.random() < 0.3:
        return papers.take_document_off(**h.by, paper=paper, document=document)
    return papers.put_document(**h.by, project=h.project, code=paper.code, document=document)


@act
def write_draft(h: History) -> object:
    if h.chance.random() < 0.2:
        return drafts.withdraw_draft(**h.by, draft=h.any(h.rows(Draft)), reason=h.words)
    kind = h.chance.choice(["completion", "program_letter"])
    return drafts.write_draft(**h.by, project=h.project, kind=kind, text=h.words)


@act
def list_equipment(h: History) -> object:
    values = {"name": h.words, "weight": "1.25 kg", "weight_g": Decimal(1250)}
    values |= {"installed_on": h.maybe([date(2026, 4, 1)])}
    if h.chance.random() < 0.5:
        return equipment.add_equipment(**h.by, project=h.project, **values)
    row = h.any(h.rows(Equipment))
    if h.chance.random() < 0.3:
        return equipment.withdraw_equipment(**h.by, row=row, reason=h.words)
    return equipment.correct_equipment(**h.by, row=row, reason=h.words, **values)


@act
def list_placard(h: History) -> object:
    values = {"kind": h.chance.choice(["plate", "marks", "placard"]), "words": h.words, "letter_mm": Decimal("50.8")}
    if h.chance.random() < 0.5:
        return placards.add_placard(**h.by, project=h.project, **values)
    row = h.any(h.rows(Placard))
    if h.chance.random() < 0.3:
        return placards.withdraw_placard(**h.by, row=row, reason=h.words)
    return placards.correct_placard(**h.by, row=row, reason=h.words, **values)


# ---- inspection lists, test flights, statements ----


@act
def begin_inspection(h: History) -> object:
    groups = [{"title": "Hull", "lines": [{"words": "Drain plugs"}, {"words": h.words}]}]
    content = inspection_queries.rules.content(h.words, h.number, "own", groups)
    kind = h.chance.choice(["final", "condition"])
    return inspection_lists.begin(**h.by, project=h.project, kind=kind, content=content)


@act
def answer_line(h: History) -> object:
    code, said = h.chance.choice(["1.01", "1.02"]), h.chance.choice(["yes", "no", "na"])
    inspection = h.any(h.rows(Inspection))
    return inspection_lists.give_answer(
        **h.by, inspection=inspection, code=code, answer=said, note=h.words, reason=h.words
    )


@act
def go_on_with_inspection(h: History) -> object:
    inspection, chance = h.any(h.rows(Inspection)), h.chance.random()
    if chance < 0.2:
        return inspection_lists.add_line(**h.by, inspection=inspection, words=h.words)
    if chance < 0.3:
        return inspection_lists.reopen(**h.by, inspection=inspection, reason=h.words)
    if chance < 0.4:
        return inspection_lists.withdraw_inspection(**h.by, inspection=inspection, reason=h.words)
    if chance < 0.7:
        said = {"done_by": h.words, "statement": h.words, "wording": "own", "certificate": h.words}
        hours, day = Decimal(h.chance.randint(0, 900)) / 10, h.clock.date()
        return inspection_lists.finish(
            **h.by, inspection=inspection, done_on=day, total_hours=hours, gap_reason=h.words, **said
        )
    answer = h.any(h.rows(LineAnswer))
    if chance < 0.8:
        return inspection_lists.take_back(**h.by, answer=answer, reason=h.words)
    if chance < 0.9:
        return inspection_lists.tie(**h.by, answer=answer, discrepancy=h.any(h.rows(Discrepancy)))
    place = h.any(h.rows(Assembly))
    return inspection_lists.make_discrepancy(
        **h.by, answer=answer, assembly=place, words=h.words, severity="minor", blocks=False
    )


@act
def ask_hours(h: History) -> object:
    hours = Decimal(h.chance.randint(1, 400)) / 10
    return flights.set_phase(**h.by, project=h.project, hours_asked=hours, source=h.words, reason=h.words)


@act
def fly(h: History) -> object:
    said = {"pilot": h.words, "minutes": h.chance.randint(1, 300), "landings": h.chance.randint(0, 9), "note": h.words}
    said |= {"weight": h.chance.choice(["", "612 kg"]), "arm": h.chance.choice(["", "2210 mm", "-3 in"])}
    said |= {"flown_on": (h.clock - timedelta(days=1)).date()}
    if h.chance.random() < 0.6:
        return flights.log_flight(**h.by, project=h.project, **said)
    flight = h.any(h.rows(Flight))
    if h.chance.random() < 0.3:
        return flights.withdraw_flight(**h.by, flight=flight, reason=h.words)
    return flights.correct_flight(**h.by, flight=flight, reason=h.words, **said)


@act
def test_point(h: History) -> object:
    if h.chance.random() < 0.4:
        return flights.plan_points(**h.by, project=h.project, points="Stall | no drop\nClimb at 60 kt")
    point, chance = h.any(h.rows(TestPoint)), h.chance.random()
    if chance < 0.1:
        return flights.withdraw_point(**h.by, point=point, reason=h.words)
    if chance < 0.2:
        return flights.correct_point(**h.by, point=point, words=h.words, limits=h.words, reason=h.words)
    if chance < 0.4:
        return flights.point_discrepancy(**h.by, point=point, assembly=h.any(h.rows(Assembly)))
    outcome, flight = h.chance.choice(["", "good", "again", "bad"]), h.maybe(h.rows(Flight))
    return flights.tell_point(**h.by, point=point, outcome=outcome, found=h.words, flight=flight, reason=h.words)


@act
def make_statement(h: History) -> object:
    if h.chance.random() < 0.3:
        return statements.withdraw_statement(**h.by, statement=h.any(h.rows(Statement)), reason=h.words)
    kind = h.chance.choice(["completion", "condition", "aerobatic"])
    ticked = [element.key for element in ELEMENTS[kind] if element.tick]
    return statements.make_statement(
        **h.by,
        project=h.project,
        kind=kind,
        text=h.words,
        wording="own",
        made_on=h.clock.date(),
        elements=ticked,
        hours=Decimal("12.3"),
        document=h.maybe(h.rows(Document)),
    )
