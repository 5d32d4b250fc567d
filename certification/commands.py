"""All writes about records handed out."""

from datetime import datetime
from functools import partial

from django.db import transaction

from accounts.models import Person, Project
from certification import queries, tasks
from certification.models import Pack
from foundation.digest import canonical, digest_bytes
from journal.commands import record_change, take_turn


@transaction.atomic
def freeze_record(*, by: Person, at: datetime, project: Project) -> Pack:
    """Freeze the facts of the builder's record as they stand now, and have the file drawn from them."""
    take_turn(project.pk)
    facts = canonical(queries.builder_record(project, at, by.name))
    pack = Pack(
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
