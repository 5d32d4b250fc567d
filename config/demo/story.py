"""The invented demo project: fourteen months on a two-seat amphibian, told through the same commands that people use.

People, aircraft, numbers, lots and dates are made up. Nothing in it may be used for real work.
"""

from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import cached_property
from io import BytesIO
from itertools import islice
from multiprocessing import get_context
from typing import Any
from zoneinfo import ZoneInfo

from django.db import transaction

from accounts import commands as accounts
from accounts.models import Person, Project, User
from buildlog import commands as buildlog
from buildlog.models import WorkSession
from buildlog.rules import Worked
from config.demo import balance, credit, flying, inspecting, making, papers_file
from config.demo.plan import AREAS, ASSEMBLIES, BINS, LOTS, MARKS, PARTS, WORK, Job
from config.demo.shots import drawn, to_shoot
from evidence import commands as evidence
from evidence.models import Photo, Place
from evidence.queries import marks_token
from inspections import commands as inspections
from inspections.models import Area, Requirement
from parts import commands as parts
from parts.models import Assembly, Lot, Part

SLUG = "tarnwader-2"
ZONE = ZoneInfo("America/Denver")
MONTHS_BACK = 425  # days: fourteen months

IDENTITY = {
    "name": "Tarnwader 2",
    "description": "Two-seat amphibian, wood and composite",
    "registration": "N0-DEMO",
    "model_designation": "Tarnwader 2",
    "serial_number": "001",
    "builder_name": "Edda Norrell",
    "place": "Garage, Fernhollow",
    "authority": "US",
    "units": "si",
    "time_zone": "America/Denver",
}


@dataclass
class Cast:
    """Who is in the story and what has been made so far."""

    project: Project
    edda: Person
    jory: Person
    tam: Person
    hal: Person
    assemblies: dict[str, Assembly] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)
    areas: dict[str, Area] = field(default_factory=dict)
    photos: dict[str, list[Photo]] = field(default_factory=dict)
    stores: dict[str, Place] = field(default_factory=dict)

    @cached_property
    def looks(self) -> inspecting.Looks:
        """What inspections need of the story; the lists are the same, so they see what is made later too."""
        people = (self.edda, self.jory, self.hal)
        return inspecting.Looks(self.project, *people, self.assemblies, self.areas, self.photos)

    @cached_property
    def makes(self) -> making.Makes:
        """What making things needs of the story; again the same lists."""
        known = (self.assemblies, self.parts, self.stores, self.photos)
        return making.Makes(self.project, self.edda, self.jory, *known)

    def person(self, letter: str) -> Person:
        return {"E": self.edda, "J": self.jory, "T": self.tam}[letter]


def tell(*, now: datetime, passphrase: str, progress: Callable[[int, int, str], None]) -> Project:
    """Load the demo project into an empty place; `progress` is told steps done, steps in all, and what goes on."""
    start = now.astimezone(ZONE).date() - timedelta(days=MONTHS_BACK)
    jobs = dated(WORK, start, now)
    painters = ProcessPoolExecutor(max_workers=2, mp_context=get_context("spawn"))
    with painters as pool, transaction.atomic():  # interrupted, it leaves no half a project
        pictures = pool.map(drawn, to_shoot(jobs), chunksize=2)  # drawn ahead while the work is being logged
        cast = open_record(start, passphrase)
        set_up_tree(cast, at(start, time(9, 30)))
        set_up_stores(cast, start)
        inspecting.plan(cast.looks, at(start, time(9, 50)))
        making.plan(cast.makes, at(start, time(9, 55)))
        for done, job in enumerate(jobs, start=1):
            perform(cast, job, dict(islice(pictures, len(job.photos))))
            progress(done, len(jobs), "photos and sessions")
        balance.weigh(cast.makes, now)
        credit.tell(credit.Told(cast.project, cast.edda, cast.assemblies), now)
        papers_file.fill(cast.project, cast.edda, now)
        flying.tell(cast.project, cast.edda, cast.assemblies, now)
        making.on_the_bench(cast.makes, now)
    return cast.project


def at(day: date, clock: time) -> datetime:
    """A wall-clock time in the shop."""
    return datetime.combine(day, clock, ZONE)


def dated(work: list[Job], start: date, now: datetime) -> list[Job]:
    """The jobs in order of when they are entered, with real dates: day numbers count from the start of the story."""
    last = max(job.day for job in work)
    span = MONTHS_BACK - 1
    rows = [job.on(start + timedelta(days=round(job.day / last * span)), ZONE) for job in work]
    return sorted((job for job in rows if job.entered <= now), key=lambda job: job.entered)


def open_record(start: date, passphrase: str) -> Cast:
    """Accounts, project and people."""
    began = at(start, time(9, 0))
    project, edda = accounts.found_project(
        user=account("edda", passphrase), at=began, builder="Edda Norrell", slug=SLUG, started_on=start, **IDENTITY
    )
    known: dict[str, Any] = {"by": edda, "at": began, "project": project}
    jory = accounts.add_person(name="Jory Pask", role="helper", user=account("jory", passphrase), **known)
    tam = accounts.add_person(name="Tam Wray", role="helper", **known)
    hal = accounts.add_person(
        name="Hal Venning",
        role="inspector",
        certificate_kind="A&P mechanic",
        certificate_number="DEMO-0417",
        user=account("hal", passphrase),
        **known,
    )
    return Cast(project, edda, jory, tam, hal)


def account(username: str, passphrase: str) -> User:
    """A demo account; one that is there already is used as it is."""
    user = User.objects.filter(username=username).first()
    return user or User.objects.create_user(username, password=passphrase)


def set_up_tree(cast: Cast, began: datetime) -> None:
    """Assemblies, parts and areas as they were planned at the start."""
    known: dict[str, Any] = {"by": cast.edda, "at": began, "project": cast.project}
    for number, name, parent in ASSEMBLIES:
        cast.assemblies[number] = parts.add_assembly(
            number=number, name=name, parent=cast.assemblies.get(parent), **known
        )
    for assembly, number, name, more in PARTS:
        cast.parts[f"{number}{more.get('side', '')}{more.get('n', '')}"] = parts.add_part(
            assembly=cast.assemblies[assembly], number=number, name=name, **more, **known
        )
    for number, assembly, name, kind, items in AREAS:
        asked = [item | ({"inner": cast.areas[item["inner"]]} if "inner" in item else {}) for item in items]
        cast.areas[number] = inspections.add_area(
            assembly=cast.assemblies[assembly], number=number, name=name, kind=kind, requirements=asked, **known
        )


def set_up_stores(cast: Cast, start: date) -> None:
    """Bins, and the lots that were bought for the start."""
    known: dict[str, Any] = {"by": cast.edda, "at": at(start, time(9, 45)), "project": cast.project}
    for number, name, note in BINS:
        cast.stores[number] = parts.add_bin(number=number, name=name, note=note, **known)
    for number, name, label, made, expires in LOTS:
        days = {
            what: None if day is None else start + timedelta(days=day)
            for what, day in (("made_on", made), ("expires_on", expires))
        }
        facts: dict[str, Any] = {**label, **days, **known}
        cast.stores[number] = parts.add_lot(number=number, name=name, **facts)


def perform(cast: Cast, job: Job, pictures: dict[str, bytes]) -> None:
    """Log one job with its photos and do what follows from it at the gates."""
    photos = [keep(cast, job, number, pictures) for number in range(len(job.photos))]
    cast.photos[job.key] = photos
    if job.people:
        log(cast, job, photos)
    if look := inspecting.BEFORE.get(job.key):
        look(cast.looks, job.entered + timedelta(minutes=20))
    for number, step in enumerate(job.then):
        follow(cast, job, step, job.entered + timedelta(minutes=30 + number))
    if look := inspecting.AFTER.get(job.key):
        look(cast.looks, job.entered + timedelta(minutes=90))
    if make := making.AFTER.get(job.key):
        make(cast.makes, job.entered + timedelta(minutes=100))


def keep(cast: Cast, job: Job, number: int, pictures: dict[str, bytes]) -> Photo:
    """Take one photo in, as it would have come from the phone."""
    scene, words = job.photos[number]
    photo, _ = evidence.take_in(
        by=cast.edda,
        at=job.entered,
        project=cast.project,
        file=BytesIO(pictures[f"{job.key}-{number}"]),
        name=f"IMG_{job.key}_{number}.jpg",
        file_time=job.end,
        caption=words.partition(" [")[0],
        shows={
            "vacuum_gauge": "gauge",
            "scale_cup": "scale",
            "part_scale": "scale",
            "resin_can": "label",
            "receipt": "receipt",
        }.get(scene, ""),
        builder_in_frame=scene == "builder",
        places=[] if job.people or job.loose else [cast.assemblies[job.shares[0][0]]],
    )
    return photo


def log(cast: Cast, job: Job, photos: list[Photo]) -> WorkSession:
    """Log the session of a job, and correct it where the story says so."""
    worked = [
        Worked(
            cast.person(letter).pk,
            cast.person(letter).name,
            job.start + timedelta(minutes=later),
            job.end - timedelta(minutes=earlier),
            job.breaks * 60,
            job.unattended * 60,
        )
        for letter, later, earlier in job.people
    ]
    shares = [(cast.assemblies[number], weight) for number, weight in job.shares]
    words: dict[str, Any] = {"kind": job.kind, "work": job.work, "note": job.note, "place": cast.project.place}
    session, _ = buildlog.log_session(
        by=cast.edda,
        at=job.entered,
        project=cast.project,
        request_id=f"demo-{job.key}",
        worked=worked,
        shares=shares,
        photos=photos,
        **words,
    )
    if job.corrected:
        note, reason = job.corrected
        buildlog.correct_session(
            by=cast.edda,
            at=job.entered + timedelta(minutes=20),
            session=session,
            worked=worked,
            shares=shares,
            reason=reason,
            **(words | {"note": note}),
        )
    return session


def follow(cast: Cast, job: Job, step: tuple[str, ...], later: datetime) -> None:
    """One thing done at a gate or to a record some time after a job was logged."""
    verb, *more = step
    if verb == "show":
        area, position, number = more
        inspections.show_photo(
            by=cast.edda, at=later, requirement=item(cast, area, int(position)), photo=cast.photos[job.key][int(number)]
        )
    elif verb == "answer":
        area, position, answer, *why = more
        inspections.answer_check(
            by=cast.edda, at=later, requirement=item(cast, area, int(position)), answer=answer, reason=" ".join(why)
        )
    elif verb == "record":
        area, position, key = more
        made = cast.makes.made(key).subject
        inspections.show_record(by=cast.edda, at=later, requirement=item(cast, area, int(position)), record=made)
    elif verb == "sign":
        inspections.sign_area(by=cast.hal, at=later + timedelta(hours=1), area=cast.areas[more[0]])
    elif verb == "close":
        inspections.close_area(
            by=cast.edda, at=later + timedelta(hours=2), area=cast.areas[more[0]], reason=" ".join(more[1:])
        )
    elif verb == "reopen":
        inspections.reopen_area(by=cast.edda, at=later, area=cast.areas[more[0]], reason=" ".join(more[1:]))
    elif verb == "caption":
        key, number, words, reason = more
        evidence.describe_photo(
            by=cast.edda, at=later, photo=cast.photos[key][int(number)], caption=words, reason=reason
        )
    elif verb == "mark":
        marks = [evidence.MarkFacts(*row) for row in MARKS[job.key]]
        photo = cast.photos[job.key][int(more[0])]
        evidence.mark_photo(by=cast.edda, at=later, photo=photo, marks=marks, seen=marks_token([]))
    elif verb == "open":
        lot = Lot.objects.get(pk=cast.stores[more[0]].pk)
        parts.correct_lot(by=cast.edda, at=later, lot=lot, opened_on=later.date(), reason=more[1])
    elif verb == "place":
        evidence.place_photo(
            by=cast.edda, at=later, photo=cast.photos[job.key][int(more[0])], places=[cast.stores[more[1]]]
        )
    elif verb == "withdraw":
        session = WorkSession.objects.get(request_id=f"demo-{more[0]}")
        buildlog.withdraw_session(by=cast.edda, at=later, session=session, reason=more[1])


def item(cast: Cast, area: str, position: int) -> Requirement:
    """A gate item by its number."""
    return cast.areas[area].requirements.select_related("area__project").get(position=position, dropped_at__isnull=True)
