"""The facts of signatures (rules R24, R30, R31)."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from accounts.models import Project
from accounts.rules import ROLES
from evidence.models import Photo
from foundation.digest import short
from inspections.models import Visit
from inspections.queries.covered import Signed
from journal.models import Signature
from journal.rules import OUTCOMES, SHOWN_BY


@dataclass(frozen=True)
class Known:
    """What a signature points to: pages signed in ink, as photos by digest, and visits by their names."""

    pages: Mapping[str, Photo] = field(default_factory=dict)
    visits: Mapping[str, str] = field(default_factory=dict)


def known(project: Project) -> Known:
    """All that the signatures of a project point to: two queries."""
    visits = {visit.subject: visit.label for visit in Visit.objects.filter(project=project)}
    return Known({photo.digest: photo for photo in ink_pages(project)}, visits)


def ink_pages(project: Project) -> QuerySet[Photo]:
    """The photos of pages that were signed in ink."""
    pages = Signature.objects.filter(project=project.pk).exclude(ink="").values("ink")
    return Photo.objects.filter(project=project, digest__in=pages)


def signature_facts(signed: Signed, beside: Known | None = None) -> dict[str, Any]:
    """One signature with what it covers and what was changed since (rules R30, R31)."""
    signature, beside = signed.signature, beside or Known()
    page = beside.pages.get(signature.ink)
    return {
        "name": signature.name,
        "initials": signature.initials,
        "role": ROLES.get(signature.role, signature.role),
        "capacity": signature.capacity,
        "certificate": " ".join(part for part in (signature.certificate_kind, signature.certificate_number) if part),
        "at": f"{signature.at.astimezone(ZoneInfo(signature.zone)):%-d %b %Y, %H:%M %Z}",
        "day": signature.day,
        "place": signature.place,
        "shown_by": SHOWN_BY.get(signature.shown_by, signature.shown_by),
        "entered_by": signature.entered_by,
        "visit": beside.visits.get(signature.visit, ""),
        "ink": signature.ink and (page.label if page else short(signature.ink)),
        "ink_page": page.label if page and not page.withdrawn else "",
        "strokes": signature.strokes,
        "accepted": signature.accepted,
        "outcome": OUTCOMES.get(signature.outcome, signature.outcome),
        "reason": signature.reason,
        "extent": signature.extent,
        "time_in_service": signature.time_in_service,
        "statement": signature.statement,
        "self_inspected": signed.self_inspected,
        "void": signed.void,
        "covers": [item["label"] for item in signature.covers],
        "digests": [short(item["digest"]) for item in signature.covers],
        "digest": signature.short_digest,
        "whole_digest": signature.covers_digest,
        "changes": list(signed.changes),
    }
