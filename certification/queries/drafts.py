"""Drafts: what a statement has to say, with the facts that the record has of it, and the text as it stands."""

from dataclasses import dataclass
from typing import Any

from accounts.models import Project
from certification.models import Draft
from certification.models.papers import DRAFTS
from certification.queries.file_profiles import profile_of
from certification.queries.papers import address_of
from certification.queries.papers_needs import STRINGS
from certification.rules.drafts import Filled, skeleton
from certification.rules.file_profiles import Element


@dataclass(frozen=True)
class Told:
    """One element of a statement with what the record knows of it."""

    element: Element
    text: str
    address: str


@dataclass(frozen=True)
class Written:
    """A kind of draft: its elements, and the text where it is begun."""

    kind: str
    title: str
    elements: list[Told]
    draft: Draft | None


def draft_of(project: Project, kind: str) -> Draft | None:
    """The draft of a kind that stands."""
    return Draft.objects.standing().filter(project=project, kind=kind).select_related("entered_by").first()


def drafts_ever(project: Project, kind: str) -> list[Draft]:
    """All drafts of a kind, withdrawn ones too."""
    return list(Draft.objects.filter(project=project, kind=kind).order_by("entered_at"))


def written(project: Project, kind: str) -> Written:
    """A draft with the elements of the list that counts for the project."""
    statement = profile_of(project).list.statement(kind)
    told = []
    for one in statement.elements if statement else ():
        said = STRINGS[one.fact](project) if one.fact else None
        told.append(Told(one, said.text if said else "", address_of(said.page, project) if said else ""))
    return Written(kind, statement.title if statement else DRAFTS[kind], told, draft_of(project, kind))


def drafts(project: Project) -> list[Written]:
    """Every kind of draft."""
    return [written(project, kind) for kind in DRAFTS]


def first_text(found: Written) -> str:
    """What a new draft begins with: its elements one by one, with the facts of the record."""
    return skeleton(found.title, [Filled(one.element.words, one.text) for one in found.elements])


def drafts_facts(project: Project) -> list[dict[str, Any]]:
    """The drafts that are written, for the printed record."""
    return [
        {"kind": one.kind, "title": one.title, "text": one.draft.text, "by": one.draft.entered_by.name}
        for one in drafts(project)
        if one.draft
    ]
