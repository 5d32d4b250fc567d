"""Pages about bins and lots: where things lie and what they are made of."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone

from accounts.access import SeatedRequest, for_member
from foundation.answer import answer
from foundation.refusal import Refusal
from journal.queries.story import told
from parts import commands, queries
from parts.forms import (
    BinForm,
    CorrectBinForm,
    CorrectLotForm,
    FindLotForm,
    LotForm,
    PlainForm,
    WithdrawForm,
    values_of_bin,
    values_of_lot,
)
from parts.models import Bin, Lot

A_PAGE, A_FEW = 60, 12


def saved[Row: Bin | Lot](form: PlainForm, write: Callable[..., Row], **known: Any) -> Row | None:
    """What the command made of a form that was sent; None when it has to be shown, with the refusal if there is one."""
    if not form.is_valid():
        return None
    try:
        return write(at=timezone.now(), **known, **form.cleaned_data)
    except Refusal as no:
        form.refuse(no)
        return None


@for_member("read")
def stores(request: SeatedRequest, slug: str) -> HttpResponse:
    """The first lots and bins; lots past their date, or close to it, come first."""
    project = request.seat.project
    bins, lots = queries.bins(project), queries.find_lots(project, timezone.localdate())
    context = {"bins": bins[:A_FEW], "bin_count": bins.count(), "lots": lots[:A_FEW], "lot_count": lots.count()}
    return render(request, "parts/stores.html", context)


# ---- bins ----


@for_member("read")
def bins(request: SeatedRequest, slug: str) -> HttpResponse:
    """All bins by number."""
    page = Paginator(queries.bins(request.seat.project), A_PAGE).get_page(request.GET.get("page"))
    return render(request, "parts/bins.html", {"page": page})


def any_bin(request: SeatedRequest, key: str) -> Bin:
    """A bin of the project at hand, standing or withdrawn, or 404."""
    return get_object_or_404(Bin.objects.select_related("project"), project=request.seat.project, pk=key)


def one_bin(request: SeatedRequest, key: str) -> Bin:
    """A standing bin of the project at hand, or 404."""
    return get_object_or_404(queries.bins(request.seat.project).select_related("project"), pk=key)


@for_member("read")
def bin(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One bin with its history; a withdrawn one stays readable."""
    shown = any_bin(request, key)
    return render(request, "parts/bin.html", {"bin": shown, "history": told(shown.project_id, shown.subject)})


@for_member("edit")
def bin_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Enter a bin."""
    form = BinForm(request.POST or None)
    if made := saved(form, commands.add_bin, by=request.seat.person, project=request.seat.project):
        messages.success(request, f"{made} is entered. Print its label, and photos can be taken on it.")
        return redirect("parts:bin", slug, made.pk)
    return answer(request, "parts/bin_new.html", {"form": form}, forms=(form,))


@for_member("edit")
def bin_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct number, name or note of a bin."""
    shown = one_bin(request, key)
    form = CorrectBinForm(request.POST or None, initial=values_of_bin(shown))
    if made := saved(form, commands.correct_bin, by=request.seat.person, store=shown):
        messages.success(request, f"{made} is corrected. The old values stay in the history.")
        return redirect("parts:bin", slug, made.pk)
    return answer(request, "parts/bin_edit.html", {"form": form, "bin": one_bin(request, key)}, forms=(form,))


@for_member("edit")
def bin_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a bin out of the lists, with a reason."""
    shown = one_bin(request, key)
    form = WithdrawForm(request.POST or None)
    if saved(form, commands.withdraw_bin, by=request.seat.person, store=shown):
        messages.success(request, f"{shown} is withdrawn. Its photos stay.")
        return redirect("parts:stores", slug)
    return answer(request, "parts/bin_withdraw.html", {"form": form, "bin": shown}, forms=(form,))


# ---- lots ----


@for_member("read")
def lots(request: SeatedRequest, slug: str) -> HttpResponse:
    """All lots, or those looked for; first those past their date or close to it."""
    form = FindLotForm(request.GET)
    found = queries.find_lots(request.seat.project, timezone.localdate(), form.wanted)
    page = Paginator(found, A_PAGE).get_page(request.GET.get("page"))
    return render(request, "parts/lots.html", {"form": form, "page": page, "looking": bool(form.wanted)})


def any_lot(request: SeatedRequest, key: str) -> Lot:
    """A lot of the project at hand, standing or withdrawn, or 404."""
    return get_object_or_404(Lot.objects.select_related("project"), project=request.seat.project, pk=key)


def one_lot(request: SeatedRequest, key: str) -> Lot:
    """A standing lot of the project at hand, or 404."""
    return get_object_or_404(queries.lots(request.seat.project).select_related("project"), pk=key)


@for_member("read")
def lot(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One lot with what its label says and its history; a withdrawn one stays readable."""
    shown = any_lot(request, key)
    return render(request, "parts/lot.html", {"lot": shown, "history": told(shown.project_id, shown.subject)})


@for_member("edit")
def lot_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Enter a lot."""
    form = LotForm(request.POST or None)
    if made := saved(form, commands.add_lot, by=request.seat.person, project=request.seat.project):
        messages.success(request, f"{made} is entered. Photograph its label, so that the record has both.")
        return redirect("parts:lot", slug, made.pk)
    return answer(request, "parts/lot_new.html", {"form": form}, forms=(form,))


@for_member("edit")
def lot_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct what is said of a lot."""
    shown = one_lot(request, key)
    form = CorrectLotForm(request.POST or None, initial=values_of_lot(shown))
    if made := saved(form, commands.correct_lot, by=request.seat.person, lot=shown):
        messages.success(request, f"{made} is corrected. The old values stay in the history.")
        return redirect("parts:lot", slug, made.pk)
    return answer(request, "parts/lot_edit.html", {"form": form, "lot": one_lot(request, key)}, forms=(form,))


@for_member("edit")
def lot_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a lot that was entered by mistake out of the lists, with a reason."""
    shown = one_lot(request, key)
    form = WithdrawForm(request.POST or None)
    if saved(form, commands.withdraw_lot, by=request.seat.person, lot=shown):
        messages.success(request, f"{shown} is withdrawn. Its photos stay.")
        return redirect("parts:stores", slug)
    return answer(request, "parts/lot_withdraw.html", {"form": form, "lot": shown}, forms=(form,))
