"""Pure decisions of the archive: kinds of record, what a check looks at, what its faults mean, and sizes in words."""

from dataclasses import dataclass
from datetime import datetime, timedelta

# Kinds by which the journal can be filtered.
KINDS = {
    "buildlog.worksession": "Sessions",
    "buildlog.otherversion": "Second versions",
    "evidence.photo": "Photos",
    "evidence.document": "Documents",
    "inspections.area": "Areas",
    "inspections.point": "Hold and witness points",
    "inspections.discrepancy": "Discrepancies",
    "inspections.visit": "Visits",
    "inspections.closurelist": "Closure lists",
    "journal.signature": "Signatures",
    "parts.assembly": "Assemblies",
    "parts.part": "Parts",
    "parts.bin": "Bins",
    "parts.lot": "Lots of material",
    "process.layup": "Layups",
    "process.mix": "Mixes",
    "process.curerun": "Cure runs",
    "process.bond": "Bonds",
    "process.fasteners": "Fastener rows",
    "process.torque": "Torque",
    "process.weighing": "Weighings",
    "process.coupon": "Coupons",
    "process.hardness": "Hardness",
    "process.tapmap": "Tap maps",
    "process.functiontest": "Function tests",
    "process.tool": "Tools",
    "process.recheck": "Looked at again",
    "process.housevalue": "Own values",
    "accounts.person": "People",
    "accounts.project": "Project",
    "certification.pack": "Printed records",
    "certification.signedcopy": "Digital signatures",
    "certification.tasklist": "Lists of tasks",
    "certification.credit": "Credit for tasks",
    "certification.fileprofile": "File profiles",
    "certification.paper": "Papers of the file",
    "certification.draft": "Drafts",
    "certification.equipment": "Equipment",
    "certification.placard": "Plates and placards",
    "certification.weighin": "Weighings of the aircraft",
    "certification.loaditem": "Loaded items",
    "certification.limits": "Limits of weight and balance",
    "certification.loadingcase": "Loading cases",
    "certification.inspection": "Inspection lists",
    "certification.lineanswer": "Lines of inspections",
    "certification.flight": "Test flights",
    "certification.testphase": "Test phase",
    "certification.testpoint": "Test points",
    "certification.statement": "Statements",
}


def size_words(size: int) -> str:
    """A number of bytes as a person reads it, in powers of a thousand."""
    value = float(size)
    for unit in ("bytes", "kB", "MB", "GB"):
        if value < 1000:
            return f"{value:.0f} {unit}" if unit == "bytes" else f"{value:.1f} {unit}"
        value /= 1000
    return f"{value:.1f} TB"


# ---- checking the record ----

# What a check holds against what, in the order in which it does.
CHAPTERS = {
    "database": "The database, and its guards over the journal",
    "journal": "Every journal entry against the one before it",
    "rows": "Every row against the last journal entry that tells of it",
    "signatures": "Every signature against what it lists",
    "originals": "Every original file against its size and digest",
}


@dataclass(frozen=True)
class Advice:
    """What a kind of fault is called, what it means, and what to do about it."""

    name: str
    means: str
    do: str


KEEP = "Keep a copy of the data folder as it is before you change anything."
ADVICE = {
    "guard": Advice(
        "Guards missing",
        "The database would no longer refuse to change or erase what was recorded. Nothing need have been changed yet.",
        "Run manage.py migrate, which puts the guards back, then check again.",
    ),
    "database": Advice(
        "The database damaged",
        "The database itself is damaged or was cut: the disk, a copy made while it was being written, or another "
        "program.",
        f"{KEEP} Look after the disk. Go back to the newest copy of which a check finds nothing.",
    ),
    "entry": Advice(
        "The journal altered",
        "A journal entry is not what was written, or one is missing. What it told is lost here; the entries before it "
        "still hold.",
        f"{KEEP} Compare with a record that was printed or copied before: an entry with the same number and digest "
        "is the true one.",
    ),
    "row": Advice(
        "Records changed",
        "What the pages show is not what was recorded: somebody changed it with another program, or the disk did. The "
        "journal entry named still tells what it was.",
        f"{KEEP} Read that entry, or the history of the record. If the new value is the right one, enter it again as "
        "a correction, with your reason; else put back what the entry tells.",
    ),
    "gone": Advice(
        "Records gone",
        "The record is in the journal but no longer in its table: somebody erased it with another program. All that it "
        "said is still in its journal entries.",
        f"{KEEP} Read its history in the journal, and enter it again from there or go back to an older copy.",
    ),
    "stranger": Advice(
        "Not entered through the program",
        "This is in the tables, but nobody entered it through the program: there is no time, no person and no reason "
        "for it.",
        f"{KEEP} Find out who put it there. Do not rely on it.",
    ),
    "signature": Advice(
        "Signatures that do not fit",
        "What a signature lists does not fit the digests given with it, so it does not prove what was signed.",
        f"{KEEP} Have it signed again; the old signature stays where it is.",
    ),
    "original": Advice(
        "Original files",
        "The file is not the one that came from the camera, or was kept as a document, or it is not there. The digest "
        "of the true one is known.",
        f"{KEEP} Look for the file on the camera, on the phone, where the document came from or in an older copy: the "
        "true one has the same digest.",
    ),
}
# How far a run came.
WAITING, RUNNING, DONE, BROKEN_OFF = "waiting", "running", "done", "broken_off"
# Faults that a run keeps word for word; all are counted.
MOST_KEPT = 500
# A check older than this says little about today.
STALE = timedelta(days=31)
# A run that has told nothing for so long was stopped without being able to say so.
SILENT = timedelta(minutes=5)


@dataclass(frozen=True)
class Fault:
    """One thing that is not as it was recorded: found in which chapter, of which kind, as one sentence."""

    chapter: str
    kind: str
    words: str


def sentence(words: str) -> str:
    """Words on one line, with a capital in front and a full stop behind; what a record is called may have several."""
    line = " ".join(words.split())
    return f"{line[:1].upper()}{line[1:]}."


def count_words(number: int, one: str, many: str = "") -> str:
    """A number of things: "1 fault", "3 entries"."""
    return f"{number:,} {one if number == 1 else many or one + 's'}"


def lasting(seconds: float) -> str:
    """How long something took, as a person says it."""
    if seconds < 1:
        return "less than a second"
    return count_words(round(seconds), "second") if seconds < 120 else count_words(round(seconds / 60), "minute")


def is_stale(ended_at: datetime | None, now: datetime) -> bool:
    """Whether the last complete check is too long ago, or never was."""
    return ended_at is None or now - ended_at > STALE


def is_silent(heard_at: datetime, now: datetime) -> bool:
    """Whether a run has told nothing for so long that nobody works on it any more."""
    return now - heard_at > SILENT
