"""The facts of what the record rests on: lots of material, tools with their certificates, documents."""

from datetime import date, datetime
from typing import Any

from django.db.models import Prefetch

from accounts.models import Project
from certification.queries.words import calendar_day, megabytes
from evidence.models import Document, DocumentPlace
from evidence.queries import documents
from foundation.digest import short
from parts import queries as parts
from parts.models import Lot
from process.models import Recheck, Tool, ToolDocument, ToolEvent
from process.queries import tools


def stores_facts(project: Project, at: datetime) -> dict[str, list[dict[str, Any]]]:
    """Lots, tools and documents that stand, by number: a fixed number of queries."""
    today = at.astimezone(project.zone).date()
    places = DocumentPlace.objects.select_related("assembly", "part", "bin", "lot")
    kept = list(documents(project).order_by("number").prefetch_related(Prefetch("document_places", places)))
    papers = ToolDocument.objects.filter(tool__project=project).select_related("document", "tool", "event")
    of_tools: dict[str, list[ToolDocument]] = {}
    for paper in papers:
        of_tools.setdefault(paper.tool_id, []).append(paper)
    rows = list(tools.tools(project).order_by("number").prefetch_related("events"))
    again = [one for one in tools.all_rechecks(project) if not one.withdrawn]
    about_tools: dict[str, list[str]] = {}
    for paper in papers:
        about_tools.setdefault(paper.document_id, []).append(str(paper.tool))
    return {
        "lots": [lot_facts(lot, today, kept) for lot in parts.lots(project).order_by("number")],
        "tools": [
            tool_facts(tool, today, of_tools.get(tool.pk, []))
            | {"rechecks": [recheck_facts(one) for one in again if one.tool_id == tool.pk]}
            for tool in rows
        ],
        "documents": [document_facts(one, about_tools.get(one.pk, [])) for one in kept],
    }


def lot_facts(lot: Lot, today: date, kept: list[Document]) -> dict[str, Any]:
    """One lot: what its label says, how long it keeps, its papers."""
    expires = lot.shelf_life(today).expires
    return {
        "number": lot.number,
        "name": lot.name,
        "maker_lot": lot.maker_lot,
        "supplier": lot.supplier,
        "made": calendar_day(lot.made_on) if lot.made_on else "",
        "opened": calendar_day(lot.opened_on) if lot.opened_on else "",
        "good_until": calendar_day(expires) if expires else "",
        "past": expires is not None and expires < today,
        "status": lot.get_status_display(),
        "papers": [one.label for one in kept if any(place.lot_id == lot.pk for place in one.document_places.all())],
    }


def tool_facts(tool: Tool, today: date, papers: list[ToolDocument]) -> dict[str, Any]:
    """One tool: how it stands today, everything that happened to it, its certificates."""
    standing = tools.standing_of(tool, today)
    return {
        "number": tool.number,
        "name": tool.name,
        "kind": tool.get_kind_display(),
        "standing": standing.verdict.words,
        "usable": standing.usable,
        "events": [event_facts(event, papers) for event in tools.in_order(tool.events.all())],
        "papers": [one.document.label for one in papers if one.event_id is None],
    }


def recheck_facts(one: Recheck) -> dict[str, str]:
    """A record made with a tool found bad that was looked at again."""
    outcome = one.get_outcome_display()
    return {"cited": one.cited, "outcome": outcome, "words": one.words, "on": calendar_day(one.looked_on)}


def event_facts(event: ToolEvent, papers: list[ToolDocument]) -> dict[str, Any]:
    """One thing that happened to a tool."""
    return {
        "on": calendar_day(event.happened_on),
        "kind": event.get_kind_display(),
        "words": event.words,
        "certificate_no": event.certificate,
        "papers": [one.document.label for one in papers if one.event_id == event.pk],
    }


def document_facts(one: Document, of_tools: list[str]) -> dict[str, Any]:
    """One kept document: what it is, and the digest of its file."""
    return {
        "label": one.label,
        "title": one.title,
        "kind": one.get_kind_display(),
        "revision": one.revision,
        "dated": calendar_day(one.dated_on) if one.dated_on else "",
        "file": one.file_name,
        "size": megabytes(one.size),
        "short": short(one.digest),
        "about": [str(place.thing) for place in one.document_places.all()] + of_tools,
    }
