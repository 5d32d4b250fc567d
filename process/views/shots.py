"""Photos put in place for process records of every kind, and taken away."""

from django.contrib import messages
from django.http import Http404, HttpResponse
from django.shortcuts import get_object_or_404, redirect
from django.utils import timezone
from django.views.decorators.http import require_POST

from accounts.access import SeatedRequest, for_member
from evidence import queries as evidence
from evidence.commands import take_in_many
from foundation.answer import answer, go_back
from foundation.posting import sent
from foundation.refusal import Refusal
from process.commands import shots as commands
from process.forms.shots import ShotForm
from process.models import ProcessRecord, Shot
from process.queries import common
from process.queries import shots as queries
from process.views.common import page_of

PICK = 60


def one_record(request: SeatedRequest, kind: str, key: str) -> ProcessRecord:
    """A record of the project at hand by kind and key, or 404."""
    record = common.record_of(request.seat.project, kind, key)
    if record is None:
        raise Http404
    return record


@for_member("log")
def add(request: SeatedRequest, slug: str, kind: str, key: str) -> HttpResponse:
    """Put photos in place for a record: taken now, sent as files, or chosen among those kept."""
    record, seat = one_record(request, kind, key), request.seat
    form = ShotForm(sent(request), initial=request.GET.dict())
    refused: list[str] = []
    if request.method == "POST" and form.is_valid():
        said = form.cleaned_data
        files = request.FILES.getlist("new_photos")
        taken = take_in_many(
            by=seat.person,
            at=timezone.now(),
            project=seat.project,
            files=files,
            places=[record.part or record.assembly],
            # The form sends one time, so it is the time of one file.
            file_time=said["file_time"] if len(files) == 1 else None,
        )
        chosen = evidence.by_keys(seat.project, request.POST.getlist("photos"))
        refused = list(taken.refused)
        for photo in [*taken.photos, *chosen]:
            try:
                commands.show_shot(
                    by=seat.person,
                    at=timezone.now(),
                    record=record,
                    photo=photo,
                    moment=said["moment"],
                    ply=said["ply"],
                )
            except Refusal as no:
                refused.append(no.message)
            else:
                messages.success(request, f"{photo.label} stands for {record.label}.")
        if not refused and not taken.photos and not chosen:
            refused = ["Choose or take a photo first."]
        if not refused:
            return go_back(request, page_of(record))
    context = {
        "record": record,
        "form": form,
        "refused": refused,
        "shots": queries.shots(record),
        "kept": queries.to_choose(record)[:PICK],
        "back": page_of(record),
    }
    response = answer(request, "process/shots.html", context, forms=(form,))
    if refused:
        response.status_code = 422
    return response


@for_member("log")
@require_POST
def away(request: SeatedRequest, slug: str, kind: str, key: str, shot: str) -> HttpResponse:
    """Take a photo off a record; the photo itself stays."""
    record = one_record(request, kind, key)
    row = get_object_or_404(Shot.objects.select_related("photo"), pk=shot, **{f"{record.KIND}_id": record.pk})
    try:
        commands.take_away_shot(by=request.seat.person, at=timezone.now(), record=record, shot=row)
    except Refusal as no:
        messages.error(request, no.message)
    else:
        messages.success(request, f"{row.photo.label} no longer stands for {record.label}. It stays in the record.")
    return redirect("process:shots_add", slug, kind, key)
