"""All writes about records handed out."""

import tempfile
from datetime import date, datetime
from functools import partial
from pathlib import Path

from django.conf import settings
from django.db import transaction

from accounts.models import Person, Project
from certification import queries, tasks
from certification.models import Pack, SignedCopy
from certification.queries.scope import scope
from certification.rules import profiles
from evidence.commands import keep_document
from evidence.models import Document
from foundation.digest import canonical, digest_bytes
from foundation.pdf_signature import Key, sign_pdf
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
    Pack.objects.filter(pk=pack.pk).update(state_word=Pack.WAITING, fault="", sheets=0, sheets_drawn=0)
    transaction.on_commit(partial(tasks.draw_pack.enqueue, pack.pk))


def sign_record(*, by: Person, at: datetime, pack: Pack, key: Key) -> SignedCopy:
    """Keep a copy of the drawn file with a digital signature in it. Signing again makes another copy.

    The file drawn stays as it is. The copy is kept only if the validator finds the signature good.
    """
    source = queries.pack_path(pack)
    if not pack.ready or not source.exists():
        raise Refusal("not_drawn", "The file is not drawn now. Have it drawn, then sign it.")
    with tempfile.TemporaryDirectory(dir=settings.FILE_UPLOAD_TEMP_DIR) as folder:
        target = Path(folder) / "signed.pdf"
        found = sign_pdf(source, target, key, f"{pack} of {pack.project.name}")
        if not found.good:
            raise Refusal("not_good", "The signature was made but does not hold, so nothing was kept. Try another key.")
        # The file first, outside of the turn to write: it may be large.
        with target.open("rb") as file:
            document, _ = keep_document(
                by=by,
                at=at,
                project=pack.project,
                file=file,
                name=f"builders-record-{pack.number}-signed.pdf",
                kind="other",
                title=f"{pack}, signed by {key.holder}"[:160],
                dated_on=at.astimezone(pack.project.zone).date(),
                made_here=True,
            )
    return enter_signed(by=by, at=at, pack=pack, key=key, document=document)


@transaction.atomic
def enter_signed(*, by: Person, at: datetime, pack: Pack, key: Key, document: Document) -> SignedCopy:
    """Write that a kept document is a record signed with this key."""
    take_turn(pack.project_id)
    copy = SignedCopy(
        project=pack.project,
        pack=pack,
        document=document,
        signed_at=at,
        signed_by=by,
        holder=key.holder[:300],
        issuer=key.issuer[:300],
        self_made=key.self_made,
        fingerprint=key.fingerprint,
        valid_until=key.valid_until,
        certificate=key.pem,
    )
    copy.save(force_insert=True)
    record_change(project=pack.project_id, by=by, at=at, verb="record.signed", subject=copy)
    return copy
