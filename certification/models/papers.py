"""The certification file: its papers and their state, what they say of the aircraft, drafts, equipment, placards."""

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from evidence.models import Document
from foundation.fields import KeyField
from foundation.record import Recorded
from foundation.telling import Telling
from journal.models import Record
from process.models.common import entered, figure

PAPER_STATES = {"not_started": "Not started", "draft": "Draft", "ready": "Ready", "filed": "Filed"}
DRAFTS = {"program_letter": "Program letter", "completion": "Completion entry"}
PLACARD_KINDS = {"plate": "Plate", "marks": "Marks", "placard": "Placard"}


class FileProfile(Record):
    """What an authority's file has to hold, as it was taken up, with its edition; the project keeps that edition.

    `content` is canonical JSON: the authority's entry of `certification/data/profiles/`.
    """

    APART = frozenset({"content"})
    SEALED = (("content", "digest"),)
    TELLING = Telling(
        name="{authority}, edition {edition}",
        noun="File profile",
        verbs={"fileprofile.taken": "File profile taken up"},
        silent=frozenset({"digest"}),
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    authority = models.CharField(max_length=8)
    edition = models.CharField(max_length=60)
    source = models.CharField(max_length=300)
    content = models.TextField()
    digest = models.CharField(max_length=71)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-taken_at", "id"]

    def __str__(self) -> str:
        return f"{self.authority}, edition {self.edition}"


class Paper(Record):
    """One paper of the file, once something was said of it. `code` names it in the profile; an added one names itself.

    The four `said_` fields are what stands on that very paper, letter by letter, to be held against the identity of the
    project (rule R52).
    """

    PARTS = ("documents",)
    TELLING = Telling(
        name="{code} {title}",
        noun="Paper",
        verbs={"paper.told": "Paper of the file"},
        fields={
            "said_builder": "builder as it stands there",
            "said_model": "model as it stands there",
            "said_serial": "serial number as it stands there",
            "said_marks": "marks as they stand there",
            "due_on": "due",
            "filed_on": "filed",
        },
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    code = models.CharField(max_length=40)
    added = models.BooleanField(default=False)
    title = models.CharField(max_length=160, blank=True)
    state_word = models.CharField(max_length=12, choices=list(PAPER_STATES.items()), default="not_started")
    due_on = models.DateField(null=True, blank=True)
    filed_on = models.DateField(null=True, blank=True)
    reference = models.CharField(max_length=120, blank=True)
    said_builder = models.CharField(max_length=120, blank=True)
    said_model = models.CharField(max_length=80, blank=True)
    said_serial = models.CharField(max_length=40, blank=True)
    said_marks = models.CharField(max_length=20, blank=True)
    note = models.TextField(blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["code", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "code"], condition=Q(withdrawn_at__isnull=True), name="paper_stands_once"
            ),
            models.CheckConstraint(condition=Q(added=False) | ~Q(title=""), name="added_paper_has_a_title"),
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.title}".strip()


class PaperDocument(Recorded, models.Model):
    """A kept document that is this paper, or belongs to it."""

    RECORD = "part"
    TELLING = Telling(name="document", same="document", line=lambda said: said["document"])

    id = KeyField()
    paper = models.ForeignKey(Paper, models.PROTECT, related_name="documents")
    document = models.ForeignKey(Document, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["document__number", "id"]
        constraints = [models.UniqueConstraint(fields=["paper", "document"], name="document_once_with_a_paper")]

    def __str__(self) -> str:
        return f"{self.document_id} with {self.paper_id}"


class Draft(Record):
    """A text that the builder will put into his own paper: the program letter, the completion entry."""

    TELLING = Telling(name="{kind}", noun="Draft", verbs={"draft.written": "Draft written"})

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    kind = models.CharField(max_length=16, choices=list(DRAFTS.items()))
    text = models.TextField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["kind", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project", "kind"], condition=Q(withdrawn_at__isnull=True), name="one_draft_of_a_kind"
            )
        ]

    def __str__(self) -> str:
        return DRAFTS.get(self.kind, self.kind)


class Equipment(Record):
    """Something installed: a line of the equipment list, with its weight and arm where they are known."""

    TELLING = Telling(name="{name}", noun="Equipment", fields={"installed_on": "installed"})

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    name = models.CharField(max_length=120)
    maker = models.CharField(max_length=80, blank=True)
    model = models.CharField(max_length=80, blank=True)
    serial = models.CharField(max_length=60, blank=True)
    weight, weight_g = entered(), figure()
    arm, arm_mm = entered(), figure()
    installed_on = models.DateField(null=True, blank=True)
    note = models.TextField(blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["name", "id"]
        verbose_name_plural = "equipment"

    def __str__(self) -> str:
        return self.name


class Placard(Record):
    """A plate, marks or a placard that has to be on the aircraft, printed to scale."""

    TELLING = Telling(name="{words}", noun="Placard", fields={"letter_mm": "height of letters, mm"})

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    kind = models.CharField(max_length=8, choices=list(PLACARD_KINDS.items()))
    words = models.TextField()
    place = models.CharField(max_length=160, blank=True)
    letter_mm = models.DecimalField(max_digits=6, decimal_places=1)
    count = models.PositiveSmallIntegerField(default=1)
    source = models.CharField(max_length=200, blank=True)
    fitted_on = models.DateField(null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["kind", "place", "id"]
        constraints = [models.CheckConstraint(condition=Q(letter_mm__gt=0), name="placard_has_letters")]

    def __str__(self) -> str:
        return self.words.splitlines()[0] if self.words else "placard"
