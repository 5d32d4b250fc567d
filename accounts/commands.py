"""All writes about accounts, projects and people."""

import secrets
from datetime import datetime, timedelta
from typing import Any

from django.db import transaction
from django.utils.text import slugify

from accounts import queries, rules
from accounts.models import Person, Project, SignInLink, User
from foundation.digest import digest_bytes
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record

LINK_DAYS = 7
IDENTITY = (
    "name",
    "description",
    "registration",
    "model_designation",
    "serial_number",
    "builder_name",
    "place",
    "authority",
    "units",
    "time_zone",
    "started_on",
)
RESERVED = {
    "accounts",
    "account",
    "in",
    "static",
    "health",
    "projects",
    "settings",
    "admin",
    "k",
    "new",
    "offline",
    "visit",
}


@transaction.atomic
def found_project(*, user: User, at: datetime, builder: str, slug: str = "", **identity: Any) -> tuple[Project, Person]:
    """Open the record of one aircraft; the account becomes its first builder."""
    rules.check_zone(identity.get("time_zone", "UTC"))
    project = Project(slug=free_slug(slug or slugify(identity["name"]) or "project"), **identity)
    project.save(force_insert=True)
    person = Person(project=project, user=user, name=builder, role=rules.BUILDER)
    person.save(force_insert=True)
    record_change(project=project.pk, by=person, at=at, verb="project.founded", subject=project)
    record_change(project=project.pk, by=person, at=at, verb="person.added", subject=person)
    return project, person


def free_slug(wanted: str) -> str:
    """The wanted address, or the next free one with a number behind it."""
    taken = set(Project.objects.filter(slug__startswith=wanted).values_list("slug", flat=True)) | RESERVED
    number, slug = 1, wanted
    while slug in taken:
        number += 1
        slug = f"{wanted}-{number}"
    return slug


@transaction.atomic
def correct_project(*, by: Person, at: datetime, project: Project, reason: str = "", **identity: Any) -> Project:
    """Change the identity or settings; the old values stay readable in the journal."""
    rules.check_zone(identity.get("time_zone", project.time_zone))
    for name in IDENTITY:
        if name in identity:
            setattr(project, name, identity[name])
    project.save(update_fields=IDENTITY)
    record_change(project=project.pk, by=by, at=at, verb="project.corrected", subject=project, reason=reason)
    return project


@transaction.atomic
def add_person(*, by: Person, at: datetime, project: Project, name: str, role: str, **more: Any) -> Person:
    """Put somebody into the record; an account can be given now or later."""
    take_turn(project.pk)
    check_name(project, name)
    person = Person(project=project, name=name, role=role, **more)
    person.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="person.added", subject=person)
    return person


@transaction.atomic
def correct_person(*, by: Person, at: datetime, person: Person, reason: str = "", **more: Any) -> Person:
    """Change name, role or certificate of a person; the old values stay in the journal."""
    take_turn(person.project_id)
    if more.get("role", person.role) != person.role and person.user_id:
        rules.check_last_builder(person.role, queries.builders_with_account(person.project))
    if "name" in more:
        check_name(person.project, more["name"], but=person)
    for name, value in more.items():
        setattr(person, name, value)
    person.save(update_fields=list(more))
    record_change(project=person.project_id, by=by, at=at, verb="person.corrected", subject=person, reason=reason)
    return person


@transaction.atomic
def withdraw_person(*, by: Person, at: datetime, person: Person, reason: str) -> Person:
    """Take a person off the project: no access and not offered any more, but still named in the record."""
    take_turn(person.project_id)
    if person.user_id:
        rules.check_last_builder(person.role, queries.builders_with_account(person.project))
    return withdraw_record(
        project=person.project_id, by=by, at=at, record=person, verb="person.withdrawn", reason=reason
    )


def check_name(project: Project, name: str, but: Person | None = None) -> None:
    """Refuse a name that somebody else on the project has: a signature must tell who it was."""
    same = queries.people(project).filter(name__iexact=name)
    if (same.exclude(pk=but.pk) if but else same).exists():
        raise Refusal("name_taken", f"{name} is already on this project. Add a middle name or initial.", "name")


@transaction.atomic
def give_account(*, by: Person, at: datetime, person: Person, username: str = "") -> tuple[User, str]:
    """Give a person an account, or one that has it a new way in; returns it with the token of a link that works once.

    Each link is in the journal, because whoever holds it can sign in as this person.
    """
    take_turn(person.project_id)
    if person.user is not None:
        user, verb = person.user, "person.given_link"
        rules.check_link(
            owns_installation=user.is_superuser and by.user_id != user.pk,
            stands_elsewhere=by.user_id != user.pk and queries.stands_elsewhere(user, by.user),
        )
    else:
        user, verb = make_account(username), "person.given_account"
        person.user = user
        person.save(update_fields=["user"])
    record_change(project=person.project_id, by=by, at=at, verb=verb, subject=person)
    return user, make_sign_in_link(user=user, at=at)


def make_account(username: str) -> User:
    """A new account that has no password yet."""
    if User.objects.filter(username__iexact=username).exists():
        raise Refusal("username_taken", f"The user name {username} is taken. Choose another.", "username")
    user = User(username=username)
    user.set_unusable_password()
    user.save(force_insert=True)
    return user


@transaction.atomic
def join_account(*, by: Person, at: datetime, person: Person, username: str) -> User:
    """Seat an account that exists already on this person, so that one serves all its projects. Makes no link."""
    take_turn(person.project_id)
    user = User.objects.filter(username__iexact=username, is_active=True).first()
    if user is None:
        raise Refusal("no_such_account", f"There is no account {username} here. Check the spelling.", "username")
    if person.user_id:
        raise Refusal("has_account", f"{person.name} has an account on this project already.")
    if queries.people(person.project).filter(user=user).exists():
        raise Refusal("account_seated", "This account belongs to somebody else on this project.", "username")
    person.user = user
    person.save(update_fields=["user"])
    record_change(project=person.project_id, by=by, at=at, verb="person.given_account", subject=person)
    return user


def choose_password(*, user: User, password: str) -> None:
    """Set the password of an account; the caller has checked that it is good enough."""
    user.set_password(password)
    user.save(update_fields=["password"])


@transaction.atomic
def first_owner(*, at: datetime, username: str = "builder") -> User:
    """The account of an installation that has none yet."""
    user = User.objects.order_by("pk").first()
    if user is None:
        user = User(username=username, is_staff=True, is_superuser=True)
        user.set_unusable_password()
        user.save(force_insert=True)
    return user


def make_sign_in_link(*, user: User, at: datetime) -> str:
    """A token that signs this account in once within a week; only its digest is stored."""
    token = secrets.token_urlsafe(24)
    link = SignInLink(user=user, digest=digest_bytes(token.encode()), expires_at=at + timedelta(days=LINK_DAYS))
    link.save(force_insert=True)
    return token


@transaction.atomic
def use_sign_in_link(*, token: str, at: datetime) -> User:
    """The account that a link belongs to; the link is spent by this."""
    spent = queries.usable_links(token, at).update(used_at=at)
    if not spent:
        raise Refusal("link_spent", "This sign-in link was used before or is too old. Ask for a new one.")
    return SignInLink.objects.select_related("user").get(digest=digest_bytes(token.encode())).user
