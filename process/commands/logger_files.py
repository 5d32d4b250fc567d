"""A logger's file kept as a document, exactly as it came."""

from datetime import datetime
from pathlib import Path
from typing import IO

from accounts.models import Person, Project
from evidence.commands import keep_document
from evidence.models import Document
from foundation.digest import digest_file
from foundation.refusal import Refusal
from process.rules import log_cells


def keep_log(*, by: Person, at: datetime, project: Project, file: IO[bytes], name: str) -> Document:
    """Keep a logger's file; the same bytes in the same project are one document. What is no text is refused first."""
    file.seek(0)
    log_cells.decode(file.read(log_cells.MOST_BYTES + 1))
    digest, _ = digest_file(file)
    known = Document.objects.withdrawn().filter(project=project, digest=digest).first()
    if known is not None:
        raise Refusal("withdrawn", f"{known.label} is this file, and it was withdrawn.", "log")
    title = Path(name).name[:160] or "Log"
    document, _ = keep_document(by=by, at=at, project=project, file=file, name=name, kind="log", title=title)
    return document
