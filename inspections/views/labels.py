"""Labels for assemblies, parts, bins and lots, and part cards: what to print and how, and the file."""

from typing import Any

from django.http import HttpResponse
from django.urls import reverse

from accounts.access import SeatedRequest, for_member
from foundation.answer import answer
from inspections.forms.labels import TICKED, USES, LabelForm, Things
from inspections.pages import SHEETS, Label, NoRoom, label_of, larger, print_sheets
from inspections.rules import address_caution

# What is labelled unless something else is chosen; a label on every single part is seldom wanted.
USUAL = ["assembly", "mold", "plug", "template", "bin", "lot"]


@for_member()
def labels(request: SeatedRequest, slug: str) -> HttpResponse:
    """Choose what to print on which paper; a POST gives the file. `?on=` names one thing that is wanted."""
    project = request.seat.project
    form = LabelForm(Things(project), request.POST or None, initial=initial(request))
    no_room: NoRoom | None = None
    if request.method == "POST" and form.is_valid():
        cards = form.paper.use == "cards"
        title = f"{'Part cards' if cards else 'Labels'}, {project.name}"
        try:
            content = print_sheets(to_print(form, slug, project.registration), form.job, title)
        except NoRoom as no:
            no_room = no
            form.add_error("sheet", "The code does not fit these labels. Choose a larger grid.")
        else:
            keep(request, form)
            return pdf(content, f"{'cards' if cards else 'labels'}-{slug}.pdf")
    base = str(form["base"].value() or "")
    context = {
        "form": form,
        "groups": [(words, [sheet for sheet in SHEETS.values() if sheet.use == use]) for use, words in USES.items()],
        "picked": form["sheet"].value(),
        "ticked": [str(form.things.by_key[key]) for key in form["ticked"].value() or [] if key in form.things.by_key],
        "caution": address_caution(base),
        "no_room": no_room,
        "larger": larger(no_room.sheet) if no_room else [],
    }
    return answer(request, "inspections/labels.html", context, forms=(form,))


def initial(request: SeatedRequest) -> dict[str, Any]:
    """The choices of the last print of this project, else the usual ones; the address at which the page is open."""
    us = request.seat.project.authority == "US"
    kept = request.session.get("labels", {}).get(request.seat.project.pk, {})
    usual = {
        "sheet": "letter-3x10" if us else "a4-3x8",
        "base": request.build_absolute_uri("/").rstrip("/"),
        "kinds": USUAL,
    }
    on = request.GET.get("on", "")
    return usual | kept | ({"which": TICKED, "ticked": [on]} if on else {})


def keep(request: SeatedRequest, form: LabelForm) -> None:
    """Remember the choices for the next print of this project, as long as the sign-in lasts."""
    kept = request.session.get("labels", {})
    request.session["labels"] = kept | {request.seat.project.pk: form.kept}


def to_print(form: LabelForm, slug: str, registration: str) -> list[Label]:
    """One label for each copy of each chosen thing."""
    base = form.cleaned_data["base"]
    found = []
    for thing in form.chosen:
        address = base + reverse("buildlog:capture_on", args=[slug, thing.pk])
        found += [label_of(thing, address, registration)] * form.cleaned_data["copies"]
    return found


def pdf(content: bytes, name: str) -> HttpResponse:
    """A file to print."""
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'attachment; filename="{name}"'
    response["Cache-Control"] = "no-store"
    return response
