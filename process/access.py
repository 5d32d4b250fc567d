"""How what phones capture about layups and mixes is taken in; registered with the outbox's door at start."""

from typing import Any

from django.forms import Form
from django.http import QueryDict
from django.urls import reverse

from buildlog.access import Taker
from buildlog.commands import Capture
from buildlog.models import Receipt
from foundation.refusal import Refusal
from process.commands import captured
from process.forms.captured import PhotoPlaceForm, PlyLaidForm, PotSpreadForm
from process.forms.mixes import MixForm
from process.queries import mixes


def good(form: Form) -> dict[str, Any]:
    """What a form says. Raises Refusal with the first thing that is wrong."""
    if form.is_valid():
        return form.cleaned_data
    name, errors = next(iter(form.errors.items()))
    label = form.fields[name].label if name in form.fields else ""
    raise Refusal("unfit", f"{label}: {errors[0]}" if label else str(errors[0]), name)


def take_mix(said: QueryDict, capture: Capture) -> Receipt:
    """A mix as it was typed on a phone."""
    form = MixForm(said, project=capture.project, late=True)
    good(form)
    values = {name: value for name, value in form.values.items() if name != "request_id"}
    return captured.receive_mix(capture=capture, **values)


def take_spread(said: QueryDict, capture: Capture) -> Receipt:
    """A pot that is finished."""
    return captured.receive_spread(capture=capture, mix=good(PotSpreadForm(said))["mix"])


def take_ply(said: QueryDict, capture: Capture) -> Receipt:
    """A ply that is laid."""
    values = good(PlyLaidForm(said, project=capture.project))
    return captured.receive_ply(capture=capture, layup=values["layup"], position=values["ply"])


def take_shot(said: QueryDict, capture: Capture) -> Receipt:
    """Where a photo belongs."""
    values = good(PhotoPlaceForm(said))
    return captured.receive_shot(
        capture=capture,
        photo_request=values["photo_request"],
        kind=values["record_kind"],
        key=values["record"],
        moment=values["moment"],
        ply=values["ply"],
    )


def tell_mix(receipt: Receipt) -> dict[str, Any]:
    """Number and page of the mix that came."""
    mix = mixes.named(receipt.project, receipt.pk)
    if mix is None:
        return {}
    return {"label": mix.label, "mix": mix.pk, "page": reverse("process:mix", args=[receipt.project.slug, mix.pk])}


TAKERS = {
    "mix": Taker(take_mix, tell_mix),
    "mix_spread": Taker(take_spread),
    "ply_laid": Taker(take_ply),
    "shot": Taker(take_shot),
}
