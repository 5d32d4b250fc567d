"""What the demo story tells of the certification file: half of it is done, one paper is filed, one says NO for N0."""

from datetime import date, datetime, timedelta
from decimal import Decimal
from io import BytesIO
from typing import Any

from accounts.models import Person, Project
from certification.commands import drafts, equipment, papers, placards
from config.demo.papers import pdf

DAY = timedelta(days=1)
LETTER = """Program letter

Purpose: to find out how the Tarnwader 2 flies and to fly off the first phase.
Hours: 40, or fewer if the operating limitations say so.
Area: [where the lake and the fields around it are, with a map]
With it: three-view drawing, sheet 1.
Aircraft: Tarnwader 2, serial number 001, marks N0-DEMO, built by Edda Norrell
"""
# Name, maker, model, serial number, weight in kg, arm in mm; empty where it is not known yet.
EQUIPMENT = [
    ("Engine", "Brackwater", "B4", "B4-0077", "62", "1850"),
    ("Propeller", "Fenlark", "three blades", "", "7.4", "2320"),
    ("Battery", "", "", "", "3.1", "640"),
    ("Radio", "Lumenfold", "VR-2", "20417", "0.9", ""),
    ("Bilge pump", "", "", "", "", ""),
]


def fill(project: Project, edda: Person, now: datetime) -> None:
    """The file as it stands when the story ends."""
    began = now - 40 * DAY
    known: dict[str, Any] = {"by": edda, "project": project}
    papers.take_profile(**known, at=began)
    identity: dict[str, Any] = {"said_builder": "Edda Norrell", "said_model": "Tarnwader 2", "said_serial": "001"}
    needed = visit_day(now)
    # The certificate has come; its copy is kept with it.
    right = identity | {"said_marks": "N0-DEMO"}
    papers.tell_paper(**known, at=began + DAY, code="8050-1", state_word="filed", filed_on=began.date(), **right)
    file = BytesIO(pdf("CERTIFICATE OF REGISTRATION (demo)", "N0-DEMO", "Edda Norrell", "Tarnwader 2, 001"))
    papers.keep_with_paper(
        **known,
        at=now - 6 * DAY,
        code="registration",
        file=file,
        name="registration.pdf",
        kind="other",
        title="Registration certificate",
        dated_on=(now - 8 * DAY).date(),
    )
    papers.tell_paper(
        **known,
        at=now - 6 * DAY,
        code="registration",
        state_word="ready",
        due_on=needed,
        **right,
    )
    papers.tell_paper(
        **known,
        at=now - 5 * DAY,
        code="8130-12",
        state_word="ready",
        due_on=needed,
        said_marks="NO-DEMO",
        note="Notary on Thursday",
        **identity,
    )
    papers.tell_paper(**known, at=now - 5 * DAY, code="8130-6", state_word="draft", due_on=needed)
    papers.add_paper(**known, at=now - 4 * DAY, title="Consent of the lake's owner", state_word="draft", due_on=needed)
    drafts.write_draft(**known, at=now - 3 * DAY, kind="program_letter", text=LETTER)
    for line in EQUIPMENT:
        equipment.add_equipment(**known, at=now - 3 * DAY, **measured(*line))
    for sign in signs(edda.name):
        placards.add_placard(**known, at=now - 2 * DAY, **sign)


def visit_day(now: datetime) -> date:
    """When the inspector is asked to come."""
    return (now + 75 * DAY).date()


def measured(name: str, maker: str, model: str, serial: str, weight: str, arm: str) -> dict[str, Any]:
    """A line with its quantities as typed and as figures."""
    found: dict[str, Any] = {"name": name, "maker": maker, "model": model, "serial": serial}
    if weight:
        found |= {"weight": f"{weight} kg", "weight_g": Decimal(weight) * 1000}
    if arm:
        found |= {"arm": f"{arm} mm", "arm_mm": Decimal(arm)}
    return found


def signs(builder: str) -> list[dict[str, Any]]:
    """What has to be on the aircraft."""
    two, three = Decimal("50.8"), Decimal("76.2")
    return [
        {"kind": "plate", "words": f"{builder}\nTarnwader 2\n001", "letter_mm": Decimal(4), "place": "Below the tail"},
        {"kind": "marks", "words": "N0-DEMO", "letter_mm": three, "count": 2, "place": "Both sides of the hull"},
        {"kind": "placard", "words": "EXPERIMENTAL", "letter_mm": two, "place": "On the canopy frame"},
        {"kind": "placard", "words": "WATER RUDDER\nUP IN FLIGHT", "letter_mm": Decimal(6), "place": "Panel, left"},
    ]
