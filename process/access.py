"""What apps below are told at start: how what phones capture is taken in, and which tools a document is about."""

from typing import Any

from django.forms import Form
from django.http import QueryDict
from django.urls import reverse

from accounts import rules
from accounts.access import SENTENCES
from buildlog.access import Taker
from buildlog.commands import Capture
from buildlog.models import Receipt
from evidence.models import Document
from evidence.queries import About
from foundation.refusal import Refusal
from process.commands import captured
from process.forms.captured import (
    BondSqueezeForm,
    BondStepForm,
    CureBegunForm,
    CureStopForm,
    PhotoPlaceForm,
    PlyLaidForm,
    PotSpreadForm,
)
from process.forms.mixes import MixForm
from process.models import Bond
from process.queries import cures, mixes
from process.queries.tools import tools_of


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


def refuse_strange(capture: Capture, bond: Bond) -> None:
    """Refuse who may not tell of this bond: the builder tells of any, others of their own, as on its page."""
    own = capture.by.pk in {bond.entered_by_id, bond.done_by_id}
    if not (own or rules.may(capture.by.role, "edit")):
        raise Refusal("not_yours", f"{SENTENCES['edit']} It stays on this phone: tell the builder what was done when.")


def take_step(said: QueryDict, capture: Capture) -> Receipt:
    """A step of a bond that is done."""
    values = good(BondStepForm(said, project=capture.project))
    refuse_strange(capture, values["bond"])
    return captured.receive_step(capture=capture, bond=values["bond"], step=values["step"])


def take_squeeze(said: QueryDict, capture: Capture) -> Receipt:
    """What was seen along the edges of a bond."""
    values = good(BondSqueezeForm(said, project=capture.project))
    refuse_strange(capture, values["bond"])
    return captured.receive_squeeze(capture=capture, bond=values["bond"], squeeze_out=values["squeeze_out"])


def take_cure(said: QueryDict, capture: Capture) -> Receipt:
    """A cure run as its start was filled in on a phone."""
    form = CureBegunForm(said, project=capture.project)
    good(form)
    values = {name: value for name, value in form.values.items() if name != "request_id"}
    return captured.receive_cure(capture=capture, **values)


def take_cure_stop(said: QueryDict, capture: Capture) -> Receipt:
    """The heat is off."""
    return captured.receive_cure_stop(capture=capture, run=good(CureStopForm(said))["run"])


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


def tell_cure(receipt: Receipt) -> dict[str, Any]:
    """Number and page of the run that came."""
    run = cures.named(receipt.project, receipt.pk)
    if run is None:
        return {}
    return {"label": run.label, "run": run.pk, "page": reverse("process:cure", args=[receipt.project.slug, run.pk])}


TAKERS = {
    "mix": Taker(take_mix, tell_mix),
    "mix_spread": Taker(take_spread),
    "ply_laid": Taker(take_ply),
    "shot": Taker(take_shot),
    "bond_step": Taker(take_step),
    "bond_squeeze": Taker(take_squeeze),
    "cure_begun": Taker(take_cure, tell_cure),
    "cure_stop": Taker(take_cure_stop),
}


def on_tools(document: Document) -> list[About]:
    """The tools that a document is about."""
    slug = document.project.slug
    return [
        About("Tool", one.number, one.name, reverse("process:tool", args=[slug, one.pk])) for one in tools_of(document)
    ]
