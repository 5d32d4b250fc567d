"""Accounts, projects and the people of a project."""

from typing import ClassVar, Self
from zoneinfo import ZoneInfo

from django.contrib.auth.models import AbstractUser
from django.db import models
from django.db.models import Q

from accounts import rules
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Record, Standing


class User(Recorded, AbstractUser):
    """An account: one to a person, for as many projects as he works on."""

    RECORD = "access"

    def __str__(self) -> str:
        return self.get_full_name() or self.username


class SignInLink(Recorded, models.Model):
    """A link that signs one account in once. Only its digest is kept."""

    RECORD = "access"

    user = models.ForeignKey(User, models.CASCADE, related_name="links")
    digest = models.CharField(max_length=71, unique=True)
    expires_at = models.DateTimeField()
    used_at = models.DateTimeField(null=True)

    def __str__(self) -> str:
        return f"link for {self.user_id}"


class Project(Record):
    """One aircraft: its identity exactly as registered (rule R52) and the settings of its record."""

    TELLING = Telling(name="{name}", noun="Project", silent=frozenset({"slug"}))

    slug = models.SlugField(max_length=60, unique=True)
    name = models.CharField("Name of the project", max_length=80)
    description = models.CharField(max_length=120, blank=True)
    registration = models.CharField("Registration marks", max_length=20, blank=True)
    model_designation = models.CharField(max_length=80, blank=True)
    serial_number = models.CharField(max_length=40, blank=True)
    builder_name = models.CharField("Builder, as on the plate", max_length=120, blank=True)
    place = models.CharField("Where it is built", max_length=120, blank=True)
    authority = models.CharField(max_length=8, default="other")
    units = models.CharField(max_length=2, default="si", choices=list(rules.UNITS.items()))
    time_zone = models.CharField(max_length=64, default="UTC")
    started_on = models.DateField(null=True, blank=True)

    def __str__(self) -> str:
        return self.name

    @property
    def zone(self) -> ZoneInfo:
        return ZoneInfo(self.time_zone)


class PersonSet(Standing["Person"]):
    """Filters of the people of a project."""

    def workers(self) -> Self:
        """Those whose hours count: builders, helpers, paid help."""
        return self.standing().filter(role__in=rules.WORKERS)


class Person(Record):
    """Somebody who had a part in this aircraft. An account is not needed to stand in the record."""

    TELLING = Telling(
        name="{name}", verbs={"person.given_account": "Account given", "person.given_link": "Sign-in link given"}
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="people")
    user = models.ForeignKey(User, models.PROTECT, related_name="seats", null=True, blank=True)
    name = models.CharField(max_length=120)
    role = models.CharField(max_length=10, choices=list(rules.ROLES.items()))
    certificate_kind = models.CharField(max_length=80, blank=True)
    certificate_number = models.CharField(max_length=60, blank=True)
    note = models.TextField(blank=True)

    objects: ClassVar = PersonSet.as_manager()

    APART = frozenset({"user"})

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "user"],
                condition=Q(withdrawn_at__isnull=True, user__isnull=False),
                name="account_stands_once_in_a_project",
            ),
        ]

    def __str__(self) -> str:
        return self.name

    def may(self, act: str) -> bool:
        return rules.may(self.role, act)

    @property
    def hours_count_as(self) -> str:
        return rules.HOURS[self.role]

    @property
    def certificate(self) -> str:
        return " ".join(part for part in (self.certificate_kind, self.certificate_number) if part)
