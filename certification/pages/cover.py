"""The first sheet: what an examiner wants to know within two minutes. No hours here."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from calc.major_portion import EMPTY
from certification.pages import marks
from certification.pages.areas import LOOKED
from certification.pages.hours import PERSONS
from certification.pages.people import HELPERS
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.words import (
    BUILDER_WORDS,
    HELPER_WORDS,
    INSPECTOR_WORDS,
    PAID_WORDS,
    TITLES,
    counted,
    days_in_words,
    joined,
    named,
    of_file,
    sections,
    several,
    short_month,
    signatures,
)
from certification.rules.profiles import EXAMINER
from foundation import lettering as let
from foundation.lettering import BODY, LABEL, SMALL

CLOSED, ADVISED = "closed", "advised"
# The contents stand in so many columns, and what an examiner asks.
COLUMNS, ASKED_COLUMNS, GAP = 3, 2, 22.0
ENTRY = SMALL.but(size=8.5, leading=10.5)
# What an examiner asks, and the places that answer it, the best first: the key of each and the title that it has there.
ASKED: list[tuple[str, list[tuple[str, str]]]] = [
    ("Show me this area before it was closed", [("areas", TITLES["areas"])]),
    ("Who built it, and is that you?", [("people", TITLES["people"]), ("hours-people", PERSONS)]),
    ("When, and in what order?", [("sessions", TITLES["sessions"])]),
    ("What resin, what lot, what cure?", [("process", TITLES["process"])]),
    ("Who else looked, and what did they find?", [("signatures", LOOKED)]),
    ("What was wrong, and what did you do?", [("discrepancies", TITLES["discrepancies"])]),
    ("What did you pay others to do?", [("helpers", HELPERS), ("hours-people", PERSONS)]),
    ("Which drawing, or whose data, did you follow?", [("documents", "Documents"), ("process", TITLES["process"])]),
    ("How was this torqued, and with what?", [("process-Torque", "Torque"), ("process", TITLES["process"])]),
    ("Do all papers say the same name, serial and marks?", [("papers", TITLES["papers"])]),
    ("Do you have it on paper?", [("notes", TITLES["notes"])]),
]
CAUTION = (
    "This is a record of what was recorded, and by whom. It is not a finding about the aircraft. "
    "The plan, the makers' data and the authority decide; where this record differs from them, they are right."
)


@dataclass
class Top:
    """What is told of an assembly at the top of the tree, with everything below it."""

    number: str
    name: str
    state: str
    state_words: str
    sessions: int = 0
    photos: set[str] = field(default_factory=set)
    days: list[str] = field(default_factory=list)
    areas: list[str] = field(default_factory=list)


def draw(sheets: Sheets) -> None:
    """Draw the cover."""
    facts = sheets.facts
    project = facts["project"]
    sheets.start("Cover", "cover")
    sheets.flow("Builder's record", LABEL)
    sheets.flow(project["name"], let.NAME)
    if project["description"]:
        sheets.y -= 3
        sheets.flow(project["description"], BODY.but(size=11.5, leading=15))
    whose_and_what(sheets)
    sheets.y -= 5
    identity(sheets)
    if facts.get("profile", EXAMINER) == EXAMINER:  # records frozen before there were profiles are for an examiner
        asked(sheets)
    assemblies(sheets)
    areas_and_signatures(sheets)
    sheets.y -= 6
    # Before the contents, so that it stands on the first sheet also where those do not fit on it.
    caution(sheets)
    contents(sheets)


def whose_and_what(sheets: Sheets) -> None:
    """For whom this was printed, and which part of the record it is; nothing where it is all of it for an examiner."""
    facts = sheets.facts
    lines = [f"Printed for: {facts['profile_words'].lower()}. {facts['left_out']}"] if facts.get("left_out") else []
    lines += [f"A part of the record: {joined(facts['scope'])}."] if facts.get("scope") else []
    for line in lines:
        sheets.y -= 3
        sheets.flow(line, let.BOLD)


def caution(sheets: Sheets) -> None:
    """What this record is not."""
    lines = sheets.lines(CAUTION, SMALL, sheets.room - 20)
    tall = SMALL.leading * len(lines) + 10
    sheets.need(tall)
    sheets.canvas.setStrokeColor(let.INK)
    sheets.canvas.setLineWidth(1.1)
    sheets.canvas.rect(sheets.left, sheets.y - tall, sheets.room, tall)
    sheets.y -= 5
    sheets.flow(CAUTION, SMALL, x=10, room=sheets.room - 20)
    sheets.y -= 5


def identity(sheets: Sheets) -> None:
    """The aircraft exactly as registered, who built it, when, with whose help."""
    facts, project = sheets.facts, sheets.facts["project"]
    sheets.strip(
        [
            ("Registration", project["registration"] or "not given", 1),
            ("Model", project["model_designation"] or "not given", 1.2),
            ("Serial number", project["serial_number"] or ("left out" if facts.get("left_out") else "not given"), 0.9),
            ("Builder as registered", project["builder_name"] or "not given", 1.5),
        ]
    )
    sheets.y -= 5
    counts = facts["counts"]
    in_frame = f", builder in frame in {counts['builder_in_frame']:,}" if counts["builder_in_frame"] else ""
    printed = f"; {counts['photos_printed']:,} printed here" if counts["photos_printed"] != counts["photos"] else ""
    period = f", {' to '.join(dict.fromkeys(facts['period']))}" if facts["period"] else ""
    rules = f"{project['authority']} (data of edition {days_in_words(project['authority_edition'])})"
    pairs = [
        (
            several_or_one("Builder", facts),
            several(names(facts, BUILDER_WORDS)) or "nobody has this role in the record",
        ),
        ("Built", joined([project["place"], project["started_on"] and f"started {project['started_on']}"])),
        (
            "Recorded",
            f"{counted(counts['sessions'], 'session')}{period}, "
            f"{counted(counts['photos'], 'photo')}{in_frame}{printed}",
        ),
        ("Help received", help_received(facts)),
        *credit_line(facts),
        ("Rules", joined([rules, project["time_zone"] and f"times are those of {project['time_zone']}"], "; ")),
    ]
    # Closer than other tables of facts: the first sheet has to hold much.
    for label, value in pairs:
        sheets.row([Cell(0, 84, label, SMALL), Cell(92, sheets.room - 92, value or "not given")], pad=1)
    sheets.rule()


def credit_line(facts: dict[str, Any]) -> list[tuple[str, str]]:
    """What the credit comes to, where there is a list of tasks."""
    found = of_file(facts, "credit")
    if not found:
        return []
    standing = f"{found['standing_words'][:1].lower()}{found['standing_words'][1:]}"
    share = "" if found["standing"] == EMPTY else f"{found['percent']}, "
    listed = " (not the official list)" if found["caution"] else ""
    return [("Credit", f"{share}{standing} by these entries{listed}; the inspector decides.")]


def names(facts: dict[str, Any], role: str) -> list[str]:
    """Who has a role."""
    return [person["name"] for person in facts["people"] if person["role"] == role]


def several_or_one(word: str, facts: dict[str, Any]) -> str:
    """The label for one builder or several."""
    return word if len(names(facts, BUILDER_WORDS)) < 2 else word + "s"


def help_received(facts: dict[str, Any]) -> str:
    """Who helped; paid help is always said, also that there was none (rule R53)."""
    paid, unpaid = names(facts, PAID_WORDS), names(facts, HELPER_WORDS)
    paid_words = f"Paid help: {several(paid)}." if paid else "Paid help: none recorded."
    unpaid_words = f"Unpaid: {several(unpaid)}." if unpaid else "Unpaid: none recorded."
    return f"{paid_words} {unpaid_words}"


def tops(facts: dict[str, Any]) -> list[Top]:
    """The assemblies at the top of the tree with sessions, photos, days and areas of everything below them."""
    found: list[Top] = []
    top_of: dict[str, Top] = {}
    by_words: dict[str, Top] = {}
    for line in facts["hours"]["assemblies"]:
        if line["depth"] == 0:
            found.append(Top(line["number"], line["name"], line["state"], line["state_words"]))
        top_of[line["number"]] = by_words[f"{line['number']} {line['name']}"] = found[-1]
    for session in facts["sessions"]:
        for number in dict.fromkeys(
            top_of[share["number"]].number for share in session["shares"] if share["number"] in top_of
        ):
            top = top_of[number]
            top.sessions += 1
            top.photos |= set(session["photos"])
            top.days.append(session["iso_date"])
    for area in facts["areas"]:
        if area["assembly"] in by_words:
            by_words[area["assembly"]].areas.append(area["state"])
    return found


def assemblies(sheets: Sheets) -> None:
    """One line for each assembly at the top."""
    lines = tops(sheets.facts)
    sheets.y -= 8
    if not lines:
        sheets.flow("No assemblies yet.", SMALL)
        return
    room = sheets.room
    columns = [
        (0, room - 378),
        (room - 370, 106),
        (room - 258, 110),
        (room - 148, 42),
        (room - 102, 38),
        (room - 60, 60),
    ]
    heads = ["Assembly", "Its own state", "Worked on", "Sessions", "Photos", "Areas closed"]
    sides = ["", "", "", RIGHT, RIGHT, RIGHT]
    sheets.header([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, heads, sides, strict=True)])
    for top in lines:
        days = " to ".join(dict.fromkeys((short_month(min(top.days)), short_month(max(top.days))))) if top.days else ""
        closed = sum(state in {CLOSED, ADVISED} for state in top.areas)
        texts = [
            f"{top.number} {top.name}",
            top.state_words,
            days,
            f"{top.sessions:,}",
            f"{len(top.photos):,}",
            f"{closed} of {len(top.areas)}" if top.areas else "–",
        ]
        cells = [Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, texts, sides, strict=True)]
        cells[0] = Cell(*columns[0], texts[0], let.SMALL_BOLD)
        cells[1] = Cell(columns[1][0] + 40, columns[1][1] - 40, texts[1], SMALL)

        def mark(y: float, tall: float, state: str = top.state) -> None:
            marks.state_line(sheets.canvas, state, sheets.left + columns[1][0], y - tall / 2)

        sheets.row(cells, pad=0.9, mark=mark)
    sheets.rule()


def areas_and_signatures(sheets: Sheets) -> None:
    """How many areas are closed, closed with a reason, open; who signed."""
    facts = sheets.facts
    counts = facts["counts"]
    plainly = counts["areas_closed"] - counts["areas_advised"]
    sheets.y -= 10
    sheets.strip(
        [
            ("Enclosed areas", f"{counts['areas']:,}", 1),
            ("Closed, nothing missing", f"{plainly:,}", 1.3),
            ("Closed with a reason", f"{counts['areas_advised']:,}", 1.3),
            ("Open", f"{counts['areas'] - counts['areas_closed']:,}", 1),
            ("Signatures", f"{counts['signatures']:,}", 1),
        ]
    )
    if "points" in facts:
        outstanding(sheets)
    sheets.y -= 4
    for line in signers(facts):
        sheets.flow(line, SMALL)


def outstanding(sheets: Sheets) -> None:
    """What is open or not as it should be now: how much of each, and which."""
    facts = sheets.facts
    counts = facts["counts"]
    own = sum(signature["self_inspected"] for signature in signatures(facts))
    number = counts["discrepancies_blocking"]
    blocking = f", {number:,} {'blocks' if number == 1 else 'block'}" if number else ""
    sheets.strip(
        [
            ("Hold points not released", f"{counts['holds_open']:,} of {counts['holds']:,}", 1.25),
            ("Open discrepancies", f"{counts['discrepancies_open']:,}{blocking}", 1.3),
            ("Not accepted", f"{counts['not_accepted']:,}", 0.85),
            ("Signed, then changed", f"{counts['changed']:,}", 1.1),
            ("Self-inspected", f"{own:,}", 0.9),
        ]
    )
    made = facts.get("process", [])
    bad = [one["label"] for one in made if one["state"] == "bad"]
    unfinished = [one["label"] for one in made if not one["finished"]]
    sheets.y -= 4
    lists = (
        ("Hold points not released", [one["number"] for one in facts["points"] if one["stops"]]),
        ("Open discrepancies", [one["label"] for one in facts["discrepancies"] if one["open"]]),
        ("Closed areas in which something is not in place now", [a["number"] for a in facts["areas"] if a["lost"]]),
        ("Process records with a bad verdict", bad),
        ("Process records not finished", unfinished),
    )
    if told := [f"{words}: {let.listed(names, 12)}." for words, names in lists if names]:
        sheets.flow(" ".join(told), SMALL)


def signers(facts: dict[str, Any]) -> list[str]:
    """Who signed, how often, and what is to be known about it."""
    found: dict[tuple[str, str, str], list[dict[str, Any]]] = {}
    for signature in signatures(facts):
        found.setdefault((signature["name"], signature["role"], signature["certificate"]), []).append(signature)
    none = "" if facts.get("left_out") else "no certificate given"
    lines = []
    for (name, role, certificate), rows in sorted(found.items()):
        changed = sum(bool(row["changes"]) for row in rows)
        own = sum(row["self_inspected"] for row in rows)
        refused = sum(not row.get("accepted", True) for row in rows)
        about = joined([named(name, role), certificate or (none if role == INSPECTOR_WORDS else "")])
        more = joined(
            [
                f"{own} self-inspected" if own else "",
                f"{changed} signed, then changed" if changed else "",
                f"{refused} not accepting" if refused else "",
            ]
        )
        lines.append(f"{about}: {counted(len(rows), 'signature')}{', of these ' + more if more else ''}.")
    return lines or ["Nobody has signed yet."]


def contents(sheets: Sheets) -> None:
    """The sections and their sheets."""
    entries(sheets, "In this record", [(title, key) for key, title in sections(sheets.facts)], COLUMNS)


def asked(sheets: Sheets) -> None:
    """What an examiner asks, each with the sheet that answers it; a dash where this print has nothing of it."""
    there = sheets.before.sheets
    found = [(words, next((key for key, _ in places if key in there), "")) for words, places in ASKED]
    entries(sheets, "What an examiner asks, and the sheet that answers it", found, ASKED_COLUMNS)


def entries(sheets: Sheets, label: str, found: Sequence[tuple[str, str]], columns: int) -> None:
    """Words with the sheets they lead to, as links, in columns read downwards; those without a key lead nowhere."""
    rows = -(-len(found) // columns)
    wide, number_room = (sheets.room - GAP * (columns - 1)) / columns, 24.0
    sheets.y -= 5
    sheets.need(LABEL.leading + 1 + rows * ENTRY.leading)
    sheets.flow(label, LABEL)
    sheets.y -= 1
    top = sheets.y
    for place, (title, key) in enumerate(found):
        left = sheets.left + place // rows * (wide + GAP)
        right = left + wide
        sheets.y = top - place % rows * ENTRY.leading
        sheets.line(left, title, ENTRY, wide - number_room)
        number = sheets.sheet_of(key) if key else "–"
        sheets.line(right - number_room, number, ENTRY.but(font=let.STRONG, color=let.INK), number_room, RIGHT)
        c = sheets.canvas
        c.saveState()
        c.setStrokeColor(let.QUIET)
        c.setLineWidth(0.5)
        c.setDash([1, 3])
        c.line(left + let.width(title, ENTRY) + 6, sheets.y - 8, right - number_room, sheets.y - 8)
        c.restoreState()
        if key:
            c.linkRect("", key, (left, sheets.y - ENTRY.leading, right, sheets.y), relative=0, thickness=0)
    sheets.y = top - rows * ENTRY.leading
