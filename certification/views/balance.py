"""Pages about weight and balance: the loading page, weighings, loaded items, limits, cases, the report."""

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from accounts.access import SeatedRequest, for_member
from certification.commands import balance as commands
from certification.forms import balance as forms
from certification.models import WeighIn
from certification.pages import balance as paper
from certification.pages.balance_plot import NARROW, WIDE, plot
from certification.queries import balance as queries
from certification.queries.balance_report import report_facts
from certification.rules.balance import AIRCRAFT_IN, SCALES
from foundation.answer import answer
from foundation.posting import sent, written
from foundation.refusal import Refusal
from journal.queries.story import told

HOME = "certification:balance"


@require_safe
@for_member()
def balance(request: SeatedRequest, slug: str) -> HttpResponse:
    """The empty aircraft, the cases against the limits, the plot, the forecast."""
    facts = queries.balance_facts(request.seat.project)
    plots = [one for size in (WIDE, NARROW) if (one := plot(facts["figure"], size))]
    return answer(request, "certification/balance.html", {"facts": facts, "plots": plots, "here": "balance"})


@require_safe
@for_member()
def balance_report(request: SeatedRequest, slug: str) -> HttpResponse:
    """The report as a PDF, as everything stands now."""
    seat = request.seat
    file = paper.report(report_facts(seat.project, timezone.now(), seat.person.name))
    response = HttpResponse(file, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="weight-and-balance-{slug}.pdf"'
    response["Cache-Control"] = "private, no-store"
    return response


# ---- weighings ----


@for_member("edit")
def weighin_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Begin a weighing."""
    project, person = request.seat.project, request.seat.person
    last = queries.weigh_ins(project).first()
    form = weighin_form(request, forms.weighin_fresh(person, timezone.now(), last), project=project)
    if saving(request):
        kept = queries.sent_before(project, request.POST.get("request_id", ""))
        made = written(form, commands.record_weighin, by=request.seat.person, project=project)
        if kept is not None and made == kept:
            return sent_again(request, form, kept)
        if made is not None:
            messages.success(request, f"{made.label} is kept as a draft. Finish it when everything is said.")
            return redirect("certification:weighin", slug, made.pk)
    return show_weighin_form(request, form)


@require_safe
@for_member()
def weighin(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """One weighing with every step to the empty weight."""
    row = get_object_or_404(queries.all_weigh_ins(request.seat.project), pk=key)
    counts = queries.newest(queries.weigh_ins(request.seat.project))
    facts = queries.balance_facts(request.seat.project)
    context = {
        "row": row,
        "facts": queries.weigh_in_facts(row),
        "rules": facts["rules"][:2],
        "counts": row == counts,
        "least": SCALES,
        "history": told(row.project_id, row.subject),
    }
    return answer(request, "certification/balance_weighin.html", context)


@for_member("edit")
def weighin_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Go on with a draft, or correct a finished weighing with a reason."""
    project = request.seat.project
    row = get_object_or_404(queries.weigh_ins(project), pk=key)
    form = weighin_form(request, forms.weighin_initial(row), project=project, record=row)
    if saving(request) and written(form, commands.correct_weighin, by=request.seat.person, weighin=row):
        messages.success(request, f"{row.label} is kept.")
        return redirect("certification:weighin", slug, row.pk)
    return show_weighin_form(request, form, row)


def sent_again(request: SeatedRequest, form: forms.WeighInForm, kept: WeighIn) -> HttpResponse:
    """A form that comes twice is what is kept already; what was typed in between becomes a correction."""
    if kept.withdrawn or form.says_the_same(kept):
        messages.success(request, f"{kept.label} is kept already.")
        return redirect("certification:weighin", request.seat.project.slug, kept.pk)
    again = forms.WeighInForm(request.POST, project=kept.project, record=kept, initial=forms.weighin_initial(kept))
    return show_weighin_form(request, again, kept, conflict=True)


def weighin_form(request: HttpRequest, initial: dict[str, Any], **more: Any) -> forms.WeighInForm:
    """The form as it was sent, as it stands, or with one more row and everything typed still there."""
    row = request.POST.get("more", "")
    if row:
        return forms.WeighInForm(None, initial=request.POST.dict(), more=row, **more)
    return forms.WeighInForm(sent(request), initial=initial, **more)


def show_weighin_form(
    request: SeatedRequest, form: forms.WeighInForm, row: WeighIn | None = None, *, conflict: bool = False
) -> HttpResponse:
    units = AIRCRAFT_IN[form.project.units], queries.shown(form.project).length
    context = {"form": form, "row": row, "mass": units[0], "length": units[1], "conflict": conflict}
    response = answer(request, "certification/balance_weighin_form.html", context, forms=(form,))
    response.status_code = 422 if conflict else response.status_code
    return response


@require_POST
@for_member("edit")
def weighin_finish(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Say that a weighing is complete."""
    row = get_object_or_404(queries.weigh_ins(request.seat.project), pk=key)
    try:
        commands.finish_weighin(weighin=row, by=request.seat.person, at=timezone.now())
    except Refusal as no:
        messages.error(request, no.message)
    else:
        messages.success(request, f"{row.label} is finished. From now on a correction needs a reason.")
    return redirect("certification:weighin", slug, row.pk)


@for_member("edit")
def weighin_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a weighing that was entered by mistake out of what counts."""
    row = get_object_or_404(queries.weigh_ins(request.seat.project), pk=key)
    back = reverse("certification:weighin", args=[slug, key])
    return withdraw(request, row.label, back, lambda **values: commands.withdraw_weighin(weighin=row, **values))


# ---- what is loaded ----


@for_member("edit")
def item_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Enter a seat, a tank, a locker."""
    project = request.seat.project
    form = forms.ItemForm(sent(request), project=project)
    if saving(request):
        made = written(form, commands.add_item, by=request.seat.person, project=project)
        if made is not None:
            messages.success(request, f"{made.name} is kept.")
            return redirect(HOME, slug)
    return answer(request, "certification/balance_item.html", {"form": form}, forms=(form,))


@for_member("edit")
def item_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct a loaded item."""
    project = request.seat.project
    row = get_object_or_404(queries.load_items(project), pk=key)
    initial = {name: getattr(row, name) for name in ("kind", "name", "arm", "least", "most", "source")}
    form = forms.ItemForm(sent(request), project=project, record=row, initial=initial)
    if saving(request) and written(form, commands.correct_item, by=request.seat.person, item=row):
        messages.success(request, f"{row.name} is corrected.")
        return redirect(HOME, slug)
    context = {"form": form, "row": row, "history": told(row.project_id, row.subject)}
    return answer(request, "certification/balance_item.html", context, forms=(form,))


@for_member("edit")
def item_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take an item out of the lists."""
    row = get_object_or_404(queries.load_items(request.seat.project), pk=key)
    back = reverse("certification:balance_item", args=[slug, key])
    return withdraw(request, row.name, back, lambda **values: commands.withdraw_item(item=row, **values))


# ---- limits ----


@for_member("edit")
def limits_edit(request: SeatedRequest, slug: str) -> HttpResponse:
    """Enter the designer's limits, or correct them."""
    project = request.seat.project
    row = queries.limits_of(project)
    initial, side = (forms.limits_initial(row) if row else {}), request.POST.get("more", "")
    if side:
        form = forms.LimitsForm(None, project=project, record=row, initial=request.POST.dict(), more=side)
    else:
        form = forms.LimitsForm(sent(request), project=project, record=row, initial=initial)
    if saving(request) and written(form, commands.set_limits, by=request.seat.person, project=project):
        messages.success(request, "The limits are kept.")
        return redirect(HOME, slug)
    context = {"form": form, "row": row, "history": told(project.pk, row.subject) if row else []}
    return answer(request, "certification/balance_limits.html", context, forms=(form,))


@for_member("edit")
def limits_withdraw(request: SeatedRequest, slug: str) -> HttpResponse:
    """Take limits that were entered by mistake away."""
    row = queries.limits_of(request.seat.project)
    if row is None:
        raise Http404
    back = reverse("certification:balance_limits", args=[slug])
    return withdraw(request, "the limits", back, lambda **values: commands.withdraw_limits(limits=row, **values))


# ---- cases ----


@for_member("edit")
def case_new(request: SeatedRequest, slug: str) -> HttpResponse:
    """Enter a loading case."""
    project = request.seat.project
    form = forms.CaseForm(sent(request), project=project, items=queries.load_items(project))
    if saving(request):
        made = written(form, commands.add_case, by=request.seat.person, project=project)
        if made is not None:
            messages.success(request, f"{made.name} is kept.")
            return redirect(HOME, slug)
    return answer(request, "certification/balance_case.html", {"form": form}, forms=(form,))


@for_member("edit")
def case_edit(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Correct a loading case."""
    project = request.seat.project
    row = get_object_or_404(queries.cases(project), pk=key)
    items = queries.load_items(project)
    form = forms.CaseForm(sent(request), project=project, items=items, record=row, initial=forms.case_initial(row))
    if saving(request) and written(form, commands.correct_case, by=request.seat.person, case=row):
        messages.success(request, f"{row.name} is corrected.")
        return redirect(HOME, slug)
    context = {"form": form, "row": row, "history": told(row.project_id, row.subject)}
    return answer(request, "certification/balance_case.html", context, forms=(form,))


@for_member("edit")
def case_withdraw(request: SeatedRequest, slug: str, key: str) -> HttpResponse:
    """Take a case away."""
    row = get_object_or_404(queries.cases(request.seat.project), pk=key)
    back = reverse("certification:balance_case", args=[slug, key])
    return withdraw(request, row.name, back, lambda **values: commands.withdraw_case(case=row, **values))


# ---- in common ----


def saving(request: HttpRequest) -> bool:
    """Whether a form was sent to be kept, and not only for one more row."""
    return request.method == "POST" and not request.POST.get("more")


def withdraw(request: SeatedRequest, name: str, back: str, write: Callable[..., Any]) -> HttpResponse:
    """Ask for a reason, withdraw, and go back to the loading page."""
    form = forms.WithdrawForm(sent(request))
    if saving(request) and written(form, write, by=request.seat.person) is not None:
        messages.success(request, f"{name[:1].upper()}{name[1:]}: withdrawn. It stays in the history.")
        return redirect(HOME, request.seat.project.slug)
    context = {"form": form, "name": name, "back": back}
    return answer(request, "certification/balance_withdraw.html", context, forms=(form,))
