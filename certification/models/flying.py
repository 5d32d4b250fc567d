"""From the final inspection to the end of the test phase, and each year after."""

from django.db import models
from django.db.models import Q

from accounts.models import Person, Project
from evidence.models import Document
from foundation.telling import Telling
from inspections.models import Discrepancy
from journal.models import Record
from process.models.common import entered

INSPECTIONS = {"final": "Final inspection", "condition": "Condition inspection"}
ANSWERS = {"yes": "In order", "no": "Not in order", "na": "Does not apply"}
OUTCOMES = {"": "Not flown", "good": "As it should be", "again": "To fly again", "bad": "Not as it should be"}
STATEMENTS = {
    "completion": "At completion",
    "phase_end": "End of the test phase",
    "aerobatic": "Aerobatic manoeuvres flown",
    "condition": "Condition inspection",
}
# Where the words of a statement come from: each aircraft's own operating limitations give them (seen in copies).
WORDINGS = {
    "": "Not said",
    "limits": "From this aircraft's own operating limitations",
    "own": "Own words; the operating limitations are not here yet",
}


def words_from() -> models.CharField:
    """Where the words of a statement come from."""
    return models.CharField(max_length=6, choices=list(WORDINGS.items()), blank=True)


class Inspection(Record):
    """A run through a list: before the inspector's visit, or each year. It keeps the list it began with.

    `content` is canonical JSON: {"title", "edition", "source", "groups": [{"title", "lines": [{"code", "words",
    "source", "provenance"}]}]}.
    """

    APART = frozenset({"content"})
    SEALED = (("content", "digest"),)
    TELLING = Telling(
        name="{kind} {number}",
        noun="Inspection",
        verbs={"inspection.begun": "Inspection begun", "inspection.finished": "Inspection finished"},
        silent=frozenset({"digest"}),
        fields={
            "total_hours": "total time in service",
            "wording": "where the words come from",
            "gap_reason": "finished over open lines",
        },
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, choices=list(INSPECTIONS.items()))
    number = models.PositiveIntegerField()
    title = models.CharField(max_length=120)
    edition = models.CharField(max_length=60)
    content = models.TextField()
    digest = models.CharField(max_length=71)
    begun_at = models.DateTimeField()
    begun_by = models.ForeignKey(Person, models.PROTECT, related_name="+")
    done_on = models.DateField(null=True, blank=True)
    done_by = models.CharField(max_length=120, blank=True)
    certificate = models.CharField(max_length=120, blank=True)
    total_hours = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    statement = models.TextField(blank=True)
    wording = words_from()
    gap_reason = models.TextField(blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-number"]
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="inspection_number_stands_once")]

    def __str__(self) -> str:
        return f"{INSPECTIONS.get(self.kind, self.kind)} {self.number}"


LINE_VERBS = {
    "lineanswer.given": "Line answered",
    "lineanswer.changed": "Answer changed",
    "lineanswer.added": "Own line added",
    "lineanswer.tied": "Tied to a discrepancy",
    "lineanswer.withdrawn": "Answer taken back",
}


class LineAnswer(Record):
    """What was found at one line of the list; what is not in order becomes a discrepancy.

    A line that the builder added (`added`) stands here from the moment he adds it, before it is answered.
    """

    TELLING = Telling(name="{code}", noun="Line of an inspection", verbs=LINE_VERBS)

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    inspection = models.ForeignKey(Inspection, models.PROTECT, related_name="answers")
    code = models.CharField(max_length=24)
    added = models.BooleanField(default=False)
    words = models.CharField(max_length=200, blank=True)
    answer = models.CharField(max_length=4, choices=list(ANSWERS.items()), blank=True)
    note = models.TextField(blank=True)
    discrepancy = models.ForeignKey(Discrepancy, models.PROTECT, related_name="+", null=True, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["code", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["inspection", "code"], condition=Q(withdrawn_at__isnull=True), name="line_is_answered_once"
            )
        ]

    def __str__(self) -> str:
        return f"{self.code} {self.answer}"


class TestPhase(Record):
    """How many hours the test phase asks and where that stands; and the words that this aircraft's limitations ask."""

    __test__ = False
    TELLING = Telling(
        name="{hours_asked} h",
        noun="Test phase",
        verbs={"testphase.set": "Test phase set up", "testphase.corrected": "Test phase corrected"},
        fields={"hours_asked": "hours asked", "source": "where that stands", "wording": "words of the limitations"},
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    hours_asked = models.DecimalField(max_digits=6, decimal_places=1)
    source = models.CharField(max_length=200)
    area = models.CharField(max_length=200, blank=True)
    wording = models.TextField(blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-entered_at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["project"], condition=Q(withdrawn_at__isnull=True), name="one_test_phase_stands"
            ),
            models.CheckConstraint(condition=Q(hours_asked__gt=0), name="test_phase_asks_hours"),
        ]

    def __str__(self) -> str:
        return f"{self.hours_asked.normalize():f} h of test flights"


class Flight(Record):
    """A flight of the test phase."""

    TELLING = Telling(name="FL-{number}", noun="Test flight", fields={"flown_on": "flown"})

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    flown_on = models.DateField()
    pilot = models.CharField(max_length=120)
    minutes = models.PositiveIntegerField()
    landings = models.PositiveSmallIntegerField(default=1)
    weight, arm = entered(), entered()
    note = models.TextField(blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["flown_on", "number"]
        constraints = [
            models.UniqueConstraint(fields=["project", "number"], name="flight_number_stands_once"),
            models.CheckConstraint(condition=Q(minutes__gt=0, minutes__lte=1440), name="flight_within_a_day"),
        ]

    def __str__(self) -> str:
        return self.label

    @property
    def label(self) -> str:
        """The number under which it is cited."""
        return f"FL-{self.number}"


class TestPoint(Record):
    """Something to find out in flight, and what was found."""

    __test__ = False
    TELLING = Telling(name="TP-{number} {words}", noun="Test point", fields={"words": "what is to be found"})

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    number = models.PositiveIntegerField()
    words = models.CharField(max_length=200)
    limits = models.CharField(max_length=160, blank=True)
    outcome = models.CharField(max_length=6, choices=list(OUTCOMES.items()), blank=True)
    found = models.CharField(max_length=200, blank=True)
    flight = models.ForeignKey(Flight, models.PROTECT, related_name="+", null=True, blank=True)
    discrepancy = models.ForeignKey(Discrepancy, models.PROTECT, related_name="+", null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["number"]
        constraints = [models.UniqueConstraint(fields=["project", "number"], name="test_point_number_stands_once")]

    def __str__(self) -> str:
        return f"TP-{self.number} {self.words}"


class Statement(Record):
    """A statement the builder signs in his own logbook, with the elements it needs; the signed page is a document."""

    TELLING = Telling(
        name="{kind}",
        noun="Statement",
        verbs={"statement.made": "Statement made"},
        fields={"vso": "Vso", "vx": "Vx", "vy": "Vy", "wording": "where the words come from"},
    )

    project = models.ForeignKey(Project, models.PROTECT, related_name="+")
    kind = models.CharField(max_length=10, choices=list(STATEMENTS.items()))
    text = models.TextField()
    wording = words_from()
    elements = models.JSONField(default=list, blank=True)
    made_on = models.DateField()
    hours = models.DecimalField(max_digits=8, decimal_places=1, null=True, blank=True)
    vso, vx, vy = entered(), entered(), entered()
    weight, arm = entered(), entered()
    document = models.ForeignKey(Document, models.PROTECT, related_name="+", null=True, blank=True)
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, models.PROTECT, related_name="+")

    class Meta:
        ordering = ["-made_on", "id"]

    def __str__(self) -> str:
        return STATEMENTS.get(self.kind, self.kind)
