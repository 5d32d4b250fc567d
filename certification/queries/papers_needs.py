"""What a paper needs from the record, and the strings that go on it: each read from the record by its own name.

Another room of the file adds what it knows by its key in `NEEDS` or `STRINGS`.
"""

from collections.abc import Callable
from dataclasses import dataclass

from accounts.models import Person, Project
from accounts.rules import PAID
from buildlog.models import WorkSession
from certification.models import Draft, Equipment, Inspection, Limits, Pack, Placard, Statement, WeighIn
from certification.queries import credit as credits
from certification.queries import flights as flying
from certification.rules.drafts import holes
from certification.rules.flights import Progress
from certification.rules.identity import FIELDS
from evidence.queries import documents, photos
from inspections.queries import judged
from inspections.queries.visits import visits as visits_kept

IN_PLACE, THIN, MISSING = "in-place", "thin", "missing"
NO_PAID_HELP = "None recorded"
DOCUMENTS, HOLDS = "evidence:documents", "inspections:holds"


@dataclass(frozen=True)
class Need:
    """Something that a paper needs, as the record has it now; `page` is the address where it is made."""

    state: str
    words: str
    page: str = ""


@dataclass(frozen=True)
class Said:
    """A string for a box, exactly as the record has it; empty where the record does not say it."""

    text: str
    page: str
    remark: str = ""


def identity(project: Project) -> Need:
    """The four fields of the one identity block."""
    missing = [words for name, words, _ in FIELDS.values() if not getattr(project, name)]
    if missing:
        return Need(MISSING, f"Identity: {', '.join(missing).lower()} not given yet", "accounts:project")
    return Need(IN_PLACE, "Identity is given in full", "accounts:project")


def log(project: Project) -> Need:
    count = WorkSession.objects.counted().filter(project=project).count()
    state = IN_PLACE if count else MISSING
    return Need(state, f"Work sessions: {count}" if count else "No work is logged", "buildlog:sessions")


def pictures(project: Project) -> Need:
    found = photos(project)
    count, framed = found.count(), found.filter(builder_in_frame=True).count()
    if not count:
        return Need(MISSING, "No photo yet", "evidence:photos")
    words = f"Photos: {count}, the builder in {framed}"
    return Need(IN_PLACE if framed else THIN, words, "evidence:photos")


def receipts(project: Project) -> Need:
    count = documents(project).filter(kind="receipt").count()
    return Need(IN_PLACE if count else MISSING, f"Receipts kept: {count}" if count else "No receipt is kept", DOCUMENTS)


def drawings(project: Project) -> Need:
    count = documents(project).filter(kind="drawing").count()
    return Need(IN_PLACE if count else MISSING, f"Drawings kept: {count}" if count else "No drawing is kept", DOCUMENTS)


def paid_help(project: Project) -> Need:
    """Paid help cannot be hidden: who was taken off the project counts too (rule R53)."""
    names = paid_names(project)
    if not names:
        return Need(IN_PLACE, "No paid help is recorded", "accounts:people")
    return Need(IN_PLACE, f"Paid help to be named: {', '.join(names)}", "accounts:people")


def paid_names(project: Project) -> list[str]:
    """Everybody who ever stood in the record as paid help, by name."""
    return list(Person.objects.filter(project=project, role=PAID).order_by("name").values_list("name", flat=True))


def credit(project: Project) -> Need:
    """The running share, as the room of credit tells it."""
    found, page = credits.sheet(project), "certification:credit"
    if not any(line.given for line in found.lines):
        return Need(MISSING, "Credit: no task is credited yet", page)
    state, words = credits.standing_words(found.share)
    left = f", {len(found.untouched)} tasks not told of" if found.untouched else ""
    return Need(state, f"Credit: {credits.percent_words(found.share)}, {words.lower()}{left}", page)


def weigh_in(project: Project) -> Need:
    rows = WeighIn.objects.standing().filter(project=project).order_by("-done_at")
    finished = rows.filter(finished_at__isnull=False).first()
    page = "certification:balance"
    if finished:
        return Need(IN_PLACE, f"Weigh-in finished: {finished.label}", page)
    begun = rows.first()
    return Need(THIN, f"{begun.label} is not finished", page) if begun else Need(MISSING, "Not weighed yet", page)


def limits(project: Project) -> Need:
    there = Limits.objects.standing().filter(project=project).first()
    page = "certification:balance"
    return Need(IN_PLACE, f"Limits: {there}", page) if there else Need(MISSING, "Designer's limits not entered", page)


def equipment(project: Project) -> Need:
    count = Equipment.objects.standing().filter(project=project).count()
    page = "certification:equipment"
    return Need(IN_PLACE, f"Equipment list: {count} lines", page) if count else Need(MISSING, "Equipment list", page)


def placards_of(kind: str, words: str, said: str = "") -> Callable[[Project], Need]:
    """Whether the list of plates and placards has one of a kind."""

    def told(project: Project) -> Need:
        rows = Placard.objects.standing().filter(project=project, kind=kind)
        rows = rows.filter(words__iexact=said) if said else rows
        fitted = rows.filter(fitted_on__isnull=False).exists()
        state = IN_PLACE if fitted else THIN if rows.exists() else MISSING
        how = {IN_PLACE: "fitted", THIN: "listed, not fitted yet", MISSING: "not on the list yet"}[state]
        return Need(state, f"{words}: {how}", "certification:placards")

    return told


def draft(kind: str, words: str) -> Callable[[Project], Need]:
    """Whether a draft is written, and has no place left to fill in."""

    def told(project: Project) -> Need:
        row = Draft.objects.standing().filter(project=project, kind=kind).first()
        if row is None:
            return Need(MISSING, f"{words}: no draft", "certification:drafts")
        left = len(holes(row.text))
        words_left = f"{words}: {left} place{'s' * (left != 1)} to fill in" if left else f"{words}: written"
        return Need(THIN if left else IN_PLACE, words_left, "certification:drafts")

    return told


def inspection(project: Project) -> Need:
    rows = Inspection.objects.standing().filter(project=project)
    page = "certification:inspections"
    if done := rows.filter(finished_at__isnull=False).first():
        return Need(IN_PLACE, f"Inspection finished: {done}", page)
    return Need(THIN, "Inspection begun", page) if rows.exists() else Need(MISSING, "Inspection list not begun", page)


def closings(project: Project) -> Need:
    areas = judged(project)
    closed = sum(one.closing is not None for one in areas)
    state = MISSING if not areas else IN_PLACE if closed == len(areas) else THIN
    return Need(state, f"Enclosed areas: {closed} of {len(areas)} closed" if areas else "No enclosed area", HOLDS)


def visits(project: Project) -> Need:
    count = visits_kept(project).count()
    words = f"Visits: {count}" if count else "No visit is recorded"
    return Need(IN_PLACE if count else MISSING, words, "inspections:visits")


def record(project: Project) -> Need:
    last = Pack.objects.filter(project=project, withdrawn_at=None).first()
    page = "certification:record"
    return Need(IN_PLACE, f"{last} made", page) if last else Need(MISSING, "Builder's record not made yet", page)


def flights(project: Project) -> Need:
    flown, page = flying.progress(project), "certification:flights"
    hours = flown_words(flown)
    if Statement.objects.standing().filter(project=project, kind="phase_end").exists():
        return Need(IN_PLACE, f"Test phase: statement made, {hours}", page)
    return Need(THIN, f"Test flights: {hours}", page) if flown.flights else Need(MISSING, "Not flown yet", page)


def flown_words(flown: Progress) -> str:
    """Hours flown, of how many where that is known."""
    return f"{flown.hours} h" + (f" of {flown.asked.normalize():f} h" if flown.asked else "")


NEEDS: dict[str, Callable[[Project], Need]] = {
    "identity": identity,
    "log": log,
    "photos": pictures,
    "receipts": receipts,
    "drawings": drawings,
    "paid_help": paid_help,
    "credit": credit,
    "weigh_in": weigh_in,
    "limits": limits,
    "equipment": equipment,
    "plate": placards_of("plate", "Plate"),
    "marks": placards_of("marks", "Marks"),
    "experimental": placards_of("placard", "EXPERIMENTAL", "EXPERIMENTAL"),
    "placards": placards_of("placard", "Placards"),
    "program_letter": draft("program_letter", "Program letter"),
    "completion": draft("completion", "Completion entry"),
    "inspection": inspection,
    "closings": closings,
    "visits": visits,
    "record": record,
    "flights": flights,
}


# ---- strings for the boxes of a form ----


def field(name: str) -> Callable[[Project], Said]:
    """A field of the identity block, to the letter."""
    return lambda project: Said(getattr(project, name), "accounts:project")


def builder_and_model(project: Project) -> Said:
    both = [project.builder_name, project.model_designation]
    return Said(" ".join(both) if all(both) else "", "accounts:project", "as two boxes or one, as the form has it")


def engine(project: Project) -> Said:
    """The engine, from the equipment list."""
    row = Equipment.objects.standing().filter(project=project, name__icontains="engine").first()
    if row is None:
        return Said("", "certification:equipment", "enter the engine in the equipment list, with Engine in its name")
    return Said(" ".join(filter(None, (row.maker, row.model, row.serial))), "certification:equipment")


def paid(project: Project) -> Said:
    return Said(", ".join(paid_names(project)) or NO_PAID_HELP, "accounts:people", "all of it, also who has left")


def flight_hours(project: Project) -> Said:
    return Said(f"{flying.progress(project).hours} h", "certification:flights")


def phase_hours(project: Project) -> Said:
    """The hours asked of the test phase, where they are entered."""
    asked = flying.phase(project)
    return Said(f"{asked.hours_asked.normalize():f} h ({asked.source})" if asked else "", "certification:flights")


def phase_area(project: Project) -> Said:
    asked = flying.phase(project)
    return Said(asked.area if asked else "", "certification:flights")


def aircraft(project: Project) -> Said:
    """The identity in one line."""
    parts = [project.model_designation]
    parts += [f"serial number {project.serial_number}"] if project.serial_number else []
    parts += [f"marks {project.registration}"] if project.registration else []
    parts += [f"built by {project.builder_name}"] if project.builder_name else []
    return Said(", ".join(filter(None, parts)), "accounts:project")


def from_need(key: str) -> Callable[[Project], Said]:
    """What the record knows of a need, in its words; nothing where it is missing."""

    def told(project: Project) -> Said:
        need = NEEDS[key](project)
        return Said("" if need.state == MISSING else need.words, need.page)

    return told


STRINGS: dict[str, Callable[[Project], Said]] = {
    **{key: field(name) for key, (name, _, _) in FIELDS.items()},
    "builder_and_model": builder_and_model,
    "description": field("description"),
    "engine": engine,
    "paid_help": paid,
    "flight_hours": flight_hours,
    "phase_hours": phase_hours,
    "phase_area": phase_area,
    "aircraft": aircraft,
    "inspection": from_need("inspection"),
    "three_view": from_need("drawings"),
    "purpose_us": lambda project: Said("Experimental, amateur-built", "", "21.191(g); check the letter in force"),
    "own_words": lambda project: Said("", "", "in your own words; the record does not keep it"),
}
