"""The smallest valid rows, made through the same commands that the program uses."""

from datetime import UTC, datetime, timedelta
from io import BytesIO
from itertools import count
from typing import Any

import factory
from django.core.files.base import ContentFile
from django.test import Client
from django.utils import timezone
from PIL import Image

from accounts import commands as accounts
from accounts.models import Person, Project, User
from buildlog import commands as buildlog
from buildlog.models import WorkSession
from buildlog.rules import Worked
from evidence import commands as evidence
from evidence.models import Photo
from foundation.fields import new_key
from inspections import commands as inspections
from inspections.models import Area
from parts import commands as parts
from parts.models import Assembly, Bin, Lot, Part

NOW = datetime(2026, 5, 14, 17, 0, tzinfo=UTC)
PASSWORD = "birch ply and glass"
serial = count(1)


class UserFactory(factory.django.DjangoModelFactory):
    """An account with PASSWORD. Accounts are not part of the record, so no command stands before them."""

    class Meta:
        model = User
        skip_postgeneration_save = True

    username = factory.Sequence("user{}".format)
    password = factory.django.Password(PASSWORD)


def make_user(username: str = "") -> User:
    """An account with PASSWORD."""
    return UserFactory(username=username) if username else UserFactory()


def make_project(
    name: str = "Tarnwader 2", *, user: User | None = None, builder: str = "Edda Norrell", **identity: Any
) -> tuple[Project, Person]:
    """A project and its builder, who has an account with PASSWORD."""
    values = {"time_zone": "America/Denver", "authority": "US", "registration": "N0-DEMO"} | identity
    return accounts.found_project(user=user or make_user(), at=NOW, builder=builder, name=name, **values)


def make_person(project: Project, role: str = "helper", *, name: str = "", account: bool = True, **more: Any) -> Person:
    """A further person of a project, by default with an account that has PASSWORD."""
    builder = (
        project.people.get(role="builder", name__gt="")
        if project.people.filter(role="builder").count() == 1
        else project.people.filter(role="builder").first()
    )
    user = make_user() if account else None
    return accounts.add_person(
        by=builder, at=NOW, project=project, name=name or f"Person {next(serial)}", role=role, user=user, **more
    )


def client_for(person: Person) -> Client:
    """A test client signed in as this person."""
    client = Client()
    client.force_login(person.user)
    session = client.session
    session["renewed"] = (
        timezone.now().date().isoformat()
    )  # the day's first request, which writes to the session, is over
    session.save()
    return client


def make_assembly(
    by: Person, number: str = "", name: str = "Tip float, left", parent: Assembly | None = None
) -> Assembly:
    return parts.add_assembly(
        by=by, at=NOW, project=by.project, number=number or f"{next(serial)}", name=name, parent=parent
    )


def make_part(by: Person, assembly: Assembly, number: str = "", **more: Any) -> Part:
    return parts.add_part(
        by=by,
        at=NOW,
        project=by.project,
        assembly=assembly,
        number=number or f"TW2-{next(serial):04d}",
        name=more.pop("name", "Rib"),
        **more,
    )


def make_bin(by: Person, number: str = "", **more: Any) -> Bin:
    values = {"number": number or f"B{next(serial)}", "name": "Bolts and nuts"} | more
    return parts.add_bin(by=by, at=NOW, project=by.project, **values)


def make_lot(by: Person, number: str = "", **more: Any) -> Lot:
    values = {"number": number or f"L-{next(serial):04d}", "name": "Epoxy resin"} | more
    return parts.add_lot(by=by, at=NOW, project=by.project, **values)


def worked(
    person: Person, start: datetime = NOW - timedelta(hours=3), minutes: int = 120, breaks: int = 0, unattended: int = 0
) -> Worked:
    """One person's stretch; breaks and unattended time in minutes."""
    return Worked(person.pk, person.name, start, start + timedelta(minutes=minutes), breaks * 60, unattended * 60)


def make_session(by: Person, assembly: Assembly, *stretches: Worked, at: datetime = NOW, **more: Any) -> WorkSession:
    """A session of the builder on one assembly, two hours unless told otherwise."""
    session, _ = buildlog.log_session(
        by=by,
        at=at,
        project=by.project,
        request_id=more.pop("request_id", new_key()),
        worked=stretches or (worked(by),),
        shares=more.pop("shares", ((assembly, 1),)),
        **more,
    )
    return session


def picture_bytes(
    kind: str = "JPEG",
    *,
    size: tuple[int, int] = (640, 480),
    taken: str = "2026:05:14 09:30:00",
    offset: str = "-06:00",
    orientation: int = 1,
    seed: int = 0,
) -> bytes:
    """A small picture file with camera metadata; another `seed` gives other bytes, and other renditions of them."""
    image = Image.linear_gradient("L").resize(size).convert("RGB")
    image.paste((seed * 41 % 256, seed * 97 % 256, seed // 256 % 256), (0, 0, 16, 16))
    exif = Image.Exif()
    exif[0x010F], exif[0x0110] = "Lumenfold", "LF-7"
    if orientation != 1:
        exif[0x0112] = orientation
    more = exif.get_ifd(0x8769)
    if taken:
        more[0x9003] = taken
    if offset:
        more[0x9011] = offset
    exif[0xC4A5] = f"seed {seed}"
    out = BytesIO()
    image.save(out, kind, exif=exif)
    return out.getvalue()


def make_photo(by: Person, *, data: bytes | None = None, at: datetime = NOW, **more: Any) -> Photo:
    """A photo taken in from bytes; a new picture each time unless `data` is given."""
    data = picture_bytes(seed=next(serial)) if data is None else data
    photo, _ = evidence.take_in(
        by=by, at=at, project=by.project, file=ContentFile(data, name="photo.jpg"), name="photo.jpg", **more
    )
    return photo


def make_area(by: Person, assembly: Assembly, *requirements: dict[str, Any], **more: Any) -> Area:
    """An area with a photo, a check and an inspector's sign-off unless other requirements are given."""
    asked = requirements or (
        {"kind": "photo", "words": "Drain boss, sealed"},
        {"kind": "check", "words": "Interior vacuumed, nothing loose"},
        {"kind": "signoff", "words": "Inspector sign-off", "role": "inspector"},
    )
    values = {"number": f"A{next(serial)}", "name": "Interior before deck bond"} | more
    return inspections.add_area(by=by, at=NOW, project=by.project, assembly=assembly, requirements=asked, **values)
