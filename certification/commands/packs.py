"""All writes about records handed out."""

from datetime import date, datetime
from functools import partial

from django.db import transaction

from accounts.models import Person, Project
from certification import queries, tasks
from certification.models import Pack
from certification.queries.scope import scope
from certification.rules import profiles
from foundation.digest import canonical, digest_bytes
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn
from parts.models import Assembly


@transaction.atomic
def freeze_record(
    *,
    by: Person,
    at: datetime,
    project: Project,
    profile: str = profiles.EXAMINER,
    order: str = "date",
    assembly: Assembly | None = None,
    since: date | None = None,
    until: date | None = None,
) -> Pack:
    """Freeze the facts of the builder's record as they stand now, and have the file drawn from them.

    What the profile leaves out is not in the frozen facts. A newer record of the same part for the same reader
    supersedes the one before, which stays as it is.
    """
    take_turn(project.pk)
    if since and until and since > until:
        raise Refusal("backward", "The last day lies before the first. Check both.", "until")
    if assembly is not None and assembly.project_id != project.pk:
        raise Refusal("elsewhere", "That assembly belongs to another project.", "assembly")
    asked = scope(project, assembly, since, until)
    told = profiles.for_profile(queries.builder_record(project, at, by.name, asked), profile)
    facts = canonical(told | {"order": order})
    same = Pack.objects.standing().filter(project=project, profile=profile, assembly=assembly, since=since, until=until)
    pack = Pack(
        profile=profile,
        order=order,
        assembly=assembly,
        since=since,
        until=until,
        supersedes=same.order_by("number").last(),
        project=project,
        number=queries.next_number(project),
        made_at=at,
        made_by=by,
        facts=facts,
        facts_digest=digest_bytes(facts.encode()),
    )
    pack.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="record.frozen", subject=pack)
    transaction.on_commit(partial(tasks.draw_pack.enqueue, pack.pk))
    return pack


@transaction.atomic
def draw_again(*, pack: Pack) -> None:
    """Have the file of a pack drawn once more from its frozen facts; the record itself does not change."""
    Pack.objects.filter(pk=pack.pk).update(state_word=Pack.WAITING, fault="")
    transaction.on_commit(partial(tasks.draw_pack.enqueue, pack.pk))
