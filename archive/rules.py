"""Pure decisions of the archive: kinds of record, and sizes in words."""

# Kinds by which the journal can be filtered.
KINDS = {
    "buildlog.worksession": "Sessions",
    "buildlog.otherversion": "Second versions",
    "evidence.photo": "Photos",
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
    "accounts.person": "People",
    "accounts.project": "Project",
    "certification.pack": "Printed records",
}


def size_words(size: int) -> str:
    """A number of bytes as a person reads it, in powers of a thousand."""
    value = float(size)
    for unit in ("bytes", "kB", "MB", "GB"):
        if value < 1000:
            return f"{value:.0f} {unit}" if unit == "bytes" else f"{value:.1f} {unit}"
        value /= 1000
    return f"{value:.1f} TB"
