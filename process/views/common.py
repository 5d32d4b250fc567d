"""What pages about process records have in common."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import redirect
from django.urls import NoReverseMatch, reverse

from accounts.access import SeatedRequest
from foundation.answer import answer
from foundation.posting import sent, written
from process.forms.common import ReasonForm
from process.models import ProcessRecord
from process.queries import common as queries

# The page of a record, by its kind; kinds without a page of their own share the one for checks.
PAGES = {"layup": "process:layup", "mix": "process:mix", "cure": "process:cure", "bond": "process:bond"}
CHECK = "process:check"


def page_of(record: ProcessRecord) -> str:
    """The address of a record's own page."""
    slug, kind = record.project.slug, record.KIND
    if kind in PAGES:
        return reverse(PAGES[kind], args=[slug, record.pk])
    return reverse(CHECK, args=[slug, kind, record.pk])


def address(name: str, *args: str) -> str:
    """The address of a page that may not be there; empty where it is not."""
    try:
        return reverse(name, args=args)
    except NoReverseMatch:
        return ""


def found[R: ProcessRecord](request: SeatedRequest, model: type[R], key: str) -> R:
    """A record of the project at hand, withdrawn ones too, or 404."""
    record = queries.all_records(model, request.seat.project).filter(pk=key).first()
    if record is None:
        raise Http404
    return record


def may_change(request: SeatedRequest, record: ProcessRecord) -> bool:
    """Whether this member corrects, finishes or withdraws this record: the builder any, others their own."""
    seat = request.seat
    own = seat.person.pk in {record.entered_by_id, record.done_by_id}
    return seat.may("edit") or (seat.may("log") and own)


def saved(request: SeatedRequest, form: Any, write: Callable[..., Any]) -> bool:
    """Whether a good form was written by who asks; if not it has to be shown again."""
    return written(form, write, by=request.seat.person) is not None


def with_reason(
    request: SeatedRequest, record: ProcessRecord, write: Callable[..., Any], heading: str, words: str, button: str
) -> HttpResponse:
    """A page that asks for a reason, then does it and goes back to the record."""
    form = ReasonForm(sent(request))
    if request.method == "POST" and written(form, write, by=request.seat.person) is not None:
        messages.success(request, words)
        return redirect(page_of(record))
    context = {"form": form, "record": record, "heading": heading, "button": button, "back": page_of(record)}
    return answer(request, "process/reason.html", context, forms=(form,))
