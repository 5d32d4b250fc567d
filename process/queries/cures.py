"""Reads about cure runs."""

from django.db.models import Prefetch, QuerySet

from accounts.models import Project
from evidence.models import Document
from evidence.queries import document_path
from foundation.refusal import Refusal
from process.models import Bond, Coupon, Cured, CurePoint, CureRun, Layup, StackMaterial
from process.queries.common import all_records, records

ROWS = ("log", "equipment", "logger", "session")


def whole(rows: QuerySet[CureRun]) -> QuerySet[CureRun]:
    """Runs with all that their verdict needs at hand."""
    lay = Cured.objects.select_related("layup", "bond", "part", "coupon")
    return rows.select_related(*ROWS).prefetch_related(Prefetch("cured", lay), "points", "stack")


def runs(project: Project) -> QuerySet[CureRun]:
    """The runs that stand, newest first."""
    return whole(records(CureRun, project))


def all_runs(project: Project) -> QuerySet[CureRun]:
    """The runs of a project, withdrawn ones too."""
    return whole(all_records(CureRun, project))


def named(project: Project, name: str) -> CureRun | None:
    """The run with this key or request id, withdrawn ones too."""
    rows = all_runs(project)
    return rows.filter(pk=name).first() or rows.filter(request_id=name).first()


def points(run: CureRun) -> QuerySet[CurePoint]:
    """The points that were typed, in order of time."""
    return run.points.all()


def stack(run: CureRun) -> QuerySet[StackMaterial]:
    """The materials in the heated stack."""
    return run.stack.all()


def layups_in(run: CureRun) -> list[Layup]:
    """The layups that lay in a run."""
    return [row.layup for row in run.cured.all() if row.layup is not None]


def runs_of(thing: Layup | Bond | Coupon) -> QuerySet[CureRun]:
    """The runs that stand in which a layup, a bond or a coupon lay, newest first."""
    return runs(thing.project).filter(**{f"cured__{thing.KIND}": thing}).distinct()


def going_on(project: Project) -> QuerySet[CureRun]:
    """Runs that were started and not stopped yet."""
    return runs(project).filter(stopped_at=None, finished_at=None)


def remembered(project: Project, header: str) -> dict | None:
    """How the last log with these columns was read; None where none was."""
    if not header:
        return None
    rows = CureRun.objects.filter(project=project, mapping__header=header).exclude(log=None)
    return rows.order_by("-number").values_list("mapping", flat=True).first()


def documents(project: Project) -> QuerySet[Document]:
    """The logger files of a project, newest first."""
    return Document.objects.standing().filter(project=project, kind="log").order_by("-number")


def log_bytes(document: Document) -> bytes:
    """A kept logger file exactly as it came."""
    try:
        return document_path(document).read_bytes()
    except FileNotFoundError:
        sentence = f"{document.label} is not on the server's disk. Check the health of the record."
        raise Refusal("gone", sentence, "log") from None
