"""All writes about the list of papers and the papers themselves."""

from datetime import datetime
from typing import IO, Any

from django.db import transaction

from accounts.models import Person, Project
from certification.models import FileProfile, Paper, PaperDocument
from certification.queries import papers as queries
from certification.queries.file_profiles import bundled_for, kept_profile
from certification.rules import papers as rules
from evidence.commands import keep_document
from evidence.models import Document
from foundation.refusal import Refusal
from journal.commands import record_change, take_turn, withdraw_record

NO_REASON = "Say why it is changed. The old words stay in the history."


@transaction.atomic
def take_profile(*, by: Person, at: datetime, project: Project, seen: str = "") -> FileProfile:
    """Take up the list that comes with the program; the same again writes nothing.

    `seen` is the digest of the list that was on the page: another one is not taken up unseen.
    """
    take_turn(project.pk)
    offered, kept = bundled_for(project), kept_profile(project)
    if seen and seen != offered.digest:
        raise Refusal("changed", "The list has changed since this page was made. Look at it again, then take it up.")
    if kept is not None and kept.digest == offered.digest:
        return kept
    profile = FileProfile(
        project=project,
        authority=offered.list.authority,
        edition=offered.list.edition_words,
        source=offered.list.source,
        content=offered.content,
        digest=offered.digest,
        taken_at=at,
        taken_by=by,
    )
    profile.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="fileprofile.taken", subject=profile)
    return profile


@transaction.atomic
def tell_paper(*, by: Person, at: datetime, project: Project, code: str, reason: str = "", **said: Any) -> Paper:
    """Say how a paper of the list stands: the first time, or anew. What is filed is corrected with a reason only."""
    take_turn(project.pk)
    item = queries.profile_of(project).list.item(code)
    paper = queries.paper_of(project, code)
    if kept_profile(project) is None:
        raise Refusal("no_list", "Take up the list of your authority first.")
    if item is None and paper is None:
        raise Refusal("unknown", "The list has no such paper.")
    if paper is None:
        paper = Paper(project=project, code=code, title=item.name if item else "", entered_at=at, entered_by=by)
        change(paper, said, at)
        paper.save(force_insert=True)
        record_change(project=project.pk, by=by, at=at, verb="paper.told", subject=paper)
        return paper
    return correct(paper, by=by, at=at, reason=reason, said=said)


@transaction.atomic
def add_paper(*, by: Person, at: datetime, project: Project, title: str, **said: Any) -> Paper:
    """Add a paper that the list does not have."""
    take_turn(project.pk)
    if not title.strip():
        raise Refusal("no_title", "Give the paper a name.", "title")
    code = queries.next_own_code(project)
    paper = Paper(project=project, code=code, added=True, title=title, entered_at=at, entered_by=by)
    change(paper, said, at)
    paper.save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="paper.added", subject=paper)
    return paper


def correct(paper: Paper, *, by: Person, at: datetime, reason: str, said: dict[str, Any]) -> Paper:
    """Write what differs, with one journal entry; nothing where nothing does."""
    was_filed = paper.state_word == rules.FILED
    if not (changed := change(paper, said, at)):
        return paper
    if was_filed and not reason.strip():
        raise Refusal("no_reason", f"It is filed. {NO_REASON}", "reason")
    paper.save(update_fields=changed)
    record_change(project=paper.project_id, by=by, at=at, verb="paper.corrected", subject=paper, reason=reason)
    return paper


def change(paper: Paper, said: dict[str, Any], at: datetime) -> list[str]:
    """Set what is said and name what differs. Raises Refusal where it cannot be."""
    changed = [name for name, value in said.items() if getattr(paper, name) != value]
    for name in changed:
        setattr(paper, name, said[name])
    today = at.astimezone(paper.project.zone).date()
    if wrong := rules.wrong_with(paper.state_word, paper.due_on, paper.filed_on, today):
        raise Refusal(*wrong)
    return changed


@transaction.atomic
def withdraw_paper(*, by: Person, at: datetime, paper: Paper, reason: str) -> Paper:
    """Take back what was said of a paper: one of the list is not started again, an added one leaves the file."""
    take_turn(paper.project_id)
    return withdraw_record(project=paper.project_id, by=by, at=at, record=paper, verb="paper.withdrawn", reason=reason)


@transaction.atomic
def put_document(*, by: Person, at: datetime, project: Project, code: str, document: Document) -> Paper:
    """Put a kept document with a paper; a paper of which nothing was said yet is a draft then. Twice does nothing."""
    take_turn(project.pk)
    if document.project_id != project.pk:
        raise Refusal("elsewhere", "That belongs to another project.", "kept")
    paper = queries.paper_of(project, code)
    if paper is None:
        item = queries.profile_of(project).list.item(code)
        if item is None or kept_profile(project) is None:
            raise Refusal("no_list", "Take up the list of your authority first.")
        known = {"title": item.name, "state_word": rules.DRAFT, "entered_at": at, "entered_by": by}
        paper = Paper(project=project, code=code, **known)
        paper.save(force_insert=True)
    elif paper.documents.filter(document=document).exists():
        return paper
    PaperDocument(paper=paper, document=document).save(force_insert=True)
    record_change(project=project.pk, by=by, at=at, verb="paper.document", subject=paper)
    return paper


def keep_with_paper(
    *, by: Person, at: datetime, project: Project, code: str, file: IO[bytes], name: str, **said: Any
) -> Paper:
    """Keep a file as a document and put it with a paper: two records, and an entry for each."""
    document, _ = keep_document(by=by, at=at, project=project, file=file, name=name, **said)
    return put_document(by=by, at=at, project=project, code=code, document=document)


@transaction.atomic
def take_document_off(*, by: Person, at: datetime, paper: Paper, document: Document) -> Paper:
    """Say that a document does not belong to a paper after all; twice does nothing. The document itself stays."""
    take_turn(paper.project_id)
    gone, _ = paper.documents.filter(document=document).delete()
    if gone:
        record_change(project=paper.project_id, by=by, at=at, verb="paper.document_off", subject=paper)
    return paper
