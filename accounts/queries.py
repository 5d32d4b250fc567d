"""Reads about accounts, projects and people."""

import json
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from pathlib import Path

from django.db.models import QuerySet
from django.http import Http404

from accounts import rules
from accounts.models import Person, PersonSet, Project, SignInLink, User
from foundation.digest import digest_bytes


@dataclass(frozen=True)
class Seat:
    """A member at work in a project."""

    project: Project
    person: Person

    def may(self, act: str) -> bool:
        return self.person.may(act)


def projects_of(user: User) -> QuerySet[Project]:
    """The projects that an account is a member of."""
    seats = Person.objects.standing().filter(user=user)
    return Project.objects.standing().filter(pk__in=seats.values("project")).order_by("name")


def seats_of(user: User) -> list[Seat]:
    """The account's seats in all its projects, by name of the project: one query."""
    people = (
        Person.objects.standing()
        .select_related("project")
        .filter(user=user, project__withdrawn_at__isnull=True)
        .order_by("project__name", "project")
    )
    return [Seat(person.project, person) for person in people]


def seat(user: User, slug: str) -> Seat:
    """The member's seat in the project, or 404: a stranger does not learn that the project exists."""
    person = (
        Person.objects.standing()
        .select_related("project")
        .filter(user=user, project__slug=slug, project__withdrawn_at__isnull=True)
        .first()
    )
    if person is None:
        raise Http404("No such project.")
    return Seat(person.project, person)


def people(project: Project) -> PersonSet:
    """Everybody who stands in the record of a project."""
    return Person.objects.standing().filter(project=project)


def gone_people(project: Project) -> QuerySet[Person]:
    """Those who were taken off the project; the record still names them."""
    return Person.objects.filter(project=project, withdrawn_at__isnull=False)


def stands_elsewhere(user: User, by: User | None) -> bool:
    """Whether an account is on a project that `by` does not manage."""
    managed = Person.objects.standing().filter(user=by, role=rules.BUILDER) if by else Person.objects.none()
    return Person.objects.standing().filter(user=user).exclude(project__in=managed.values("project")).exists()


def link_stands(token: str, at: datetime) -> bool:
    """Whether a sign-in link can still be used."""
    return usable_links(token, at).exists()


def usable_links(token: str, at: datetime) -> QuerySet[SignInLink]:
    """The link of this token, unless it was used, is too old, or its account is shut.

    Without a join, so that an update of it spends the link for one of two who come at the same moment.
    """
    digest, open_accounts = digest_bytes(token.encode()), User.objects.filter(is_active=True)
    return SignInLink.objects.filter(digest=digest, used_at__isnull=True, expires_at__gt=at, user__in=open_accounts)


def builders_with_account(project: Project) -> int:
    """How many members may manage the project."""
    return people(project).filter(role="builder", user__isnull=False).count()


@dataclass(frozen=True)
class Authority:
    """What the rules of one country mean for the record, from a data file with an edition."""

    code: str
    name: str
    closing: str
    source: str
    edition: str
    # Whether who did the work may not be the one who accepts it (rule R24); elsewhere it is marked as self-inspected.
    independent: bool = False

    @property
    def closing_words(self) -> str:
        return rules.CLOSING[self.closing]


@cache
def authorities() -> dict[str, Authority]:
    """The authority profiles by code."""
    data = json.loads((Path(__file__).parent / "data" / "authorities.json").read_text())
    return {row["code"]: Authority(**row, edition=f"{data['edition']}, {data['date']}") for row in data["authorities"]}


def authority_of(project: Project) -> Authority:
    """The authority profile of a project."""
    return authorities().get(project.authority, authorities()["other"])


def authority_names() -> dict[str, dict[str, str]]:
    """What the authority of a project is called in its history, where its code is kept."""
    return {"authority": {code: one.name for code, one in authorities().items()}}
