"""The sheets of sessions: by date, each with people, shares, note, photos and corrections; then those withdrawn."""

from typing import Any

from certification.pages import marks
from certification.pages.beside import photos, row_height
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.struck import STRUCK, corrections, withdrawn_words
from certification.pages.words import BUILDER_WORDS, PAID_WORDS, TITLES, hours, joined, minutes, month
from foundation import lettering as let
from foundation.lettering import BODY, BOLD, LABEL, SMALL, SMALL_BOLD

# A session whose head and first photos take less than this part of a sheet is not torn apart.
MOST_KEPT = 0.62


def draw(sheets: Sheets) -> None:
    """Draw the section of sessions."""
    facts = sheets.facts
    sheets.start(TITLES["sessions"], "sessions")
    sheets.title("Sessions by date")
    if not facts["sessions"]:
        sheets.flow("No sessions yet.", BODY)
    # Sheets stand by date in every print, so that a sheet cited from one is found in the other; the outline goes by the
    # order that was asked for.
    by_date = facts.get("order", "date") == "date"
    if not by_date:
        outline_by_assembly(sheets)
    last_month, begun = "", set[str]()
    for place, session in enumerate(facts["sessions"]):
        begin(sheets, session, first=place == 0)
        if by_date and (now := month(session["iso_date"])) != last_month:
            sheets.anchor(f"month-{session['iso_date'][:7]}", now, 1, closed=True)
            last_month = now
        if not by_date:
            places_by_assembly(sheets, session, begun)
        draw_session(sheets, session, listed=by_date)
    draw_withdrawn(sheets, facts["withdrawn"])


def begin(sheets: Sheets, session: dict[str, Any], first: bool) -> None:
    """Room between two sessions, and enough below for the next one's head with its note and first photos."""
    sheets.going_on = ""
    if not first and sheets.y < sheets.head:
        sheets.y -= 16
    head = 80 + 16 * min(len(session["people"]), 12) + (24 if session["late"] else 0) + (16 if shares(session) else 0)
    lines = len(sheets.lines(session["note"], BODY, sheets.room)) if session["note"] else 0
    whole = head + 4 + BODY.leading * lines + row_height(sheets, session["photos"][:2])
    # What would leave half a sheet empty goes over by itself.
    sheets.need(whole if whole < sheets.body * MOST_KEPT else head + 30)


def key_of(session: dict[str, Any]) -> str:
    return f"session-{session['number']}"


def outline_by_assembly(sheets: Sheets) -> None:
    """The sessions in the reader's outline under each assembly that they gave hours to."""
    for line in sheets.facts["hours"]["assemblies"]:
        rows = [one for one in sheets.facts["sessions"] if line["number"] in {s["number"] for s in one["shares"]}]
        if rows:
            sheets.outline(f"{line['number']} first", f"{line['number']} {line['name']}", 1, closed=True)
        for session in rows:
            sheets.outline(f"{line['number']} {key_of(session)}", in_outline(session), 2)


def places_by_assembly(sheets: Sheets, session: dict[str, Any], begun: set[str]) -> None:
    """The places that the outline by assembly leads to."""
    for number in dict.fromkeys(share["number"] for share in session["shares"]):
        sheets.place(f"{number} {key_of(session)}")
        if number not in begun:
            sheets.place(f"{number} first")
            begun.add(number)


def in_outline(session: dict[str, Any]) -> str:
    return joined([f"{session['number']}", session["date"], first_line(session)], "  ")


def draw_session(sheets: Sheets, session: dict[str, Any], listed: bool = True) -> None:
    """One session."""
    name = f"Session {session['number']}"
    sheets.anchor(key_of(session), in_outline(session), 2, listed=listed)
    sheets.going_on = name
    sheets.on_sheet.append(name)
    head(sheets, session, name)
    people(sheets, session["people"])
    if words := shares(session):
        sheets.y -= 4
        sheets.flow(words, SMALL)
    if session["late"]:
        late(sheets, session["late"])
    if session["note"]:
        sheets.y -= 4
        sheets.flow(session["note"])
    photos(sheets, session["photos"])
    corrections(sheets, session["corrections"])
    sheets.going_on = ""


def shares(session: dict[str, Any]) -> str:
    """To which assemblies the hours go; nothing where all go to the one that the session is headed with."""
    if len(session["shares"]) == 1:
        return ""
    told = "; ".join(f"{s['number']} {s['name']} {hours(s['seconds'], 2)} h" for s in session["shares"])
    return f"Hours go to: {told or 'no assembly'}"


def first_line(session: dict[str, Any]) -> str:
    """The beginning of the note, for the reader's outline."""
    text = session["note"].strip().split("\n")[0]
    return text if len(text) <= 60 else text[:59].rstrip() + "…"


def head(sheets: Sheets, session: dict[str, Any], name: str) -> None:
    """Name and title block of a session."""
    first = session["shares"][0] if session["shares"] else None
    title = f"{first['number']} {first['name']}" if first else "No assembly"
    if len(session["shares"]) > 1:
        title += f" and {len(session['shares']) - 1} more"
    if session["late"]:
        sheets.line(sheets.left, "Entered or received late", SMALL_BOLD, sheets.room, RIGHT)
    sheets.flow(name, LABEL)
    sheets.flow(title, let.SUBHEAD.but(size=13, leading=17))
    sheets.y -= 3
    cells = [
        ("Date", session["date"], 1.15),
        ("Time", f"{session['start']} to {session['end']}", 1.15),
        ("Kind", joined([session["kind"], session["work"]]), 1.5),
        *([("Place", session["place"], 1.2)] if session["place"] else []),
        ("Hours", hours(session["labor"], 2), 0.6),
    ]
    sheets.strip(cells)
    sheets.y -= 3


def people(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Who worked, each with his own times."""
    room = sheets.room
    for number, person in enumerate(rows):
        off = joined(
            [
                f"break {minutes(person['breaks'])}" if person["breaks"] else "",
                f"unattended {minutes(person['unattended'])}" if person["unattended"] else "",
            ]
        )
        known = person["role"] == BUILDER_WORDS or person["name"].startswith(person["role"])
        role = "" if known else f" ({person['role'].lower()})"
        style = BOLD if person["role"] == PAID_WORDS else BODY
        sheets.row(
            [
                Cell(0, room * 0.44, person["name"] + role, style),
                Cell(room * 0.46, room * 0.17, f"{person['start']} to {person['end']}", BODY),
                Cell(room * 0.63, room * 0.25, off, SMALL),
                Cell(room - 60, 60, f"{hours(person['labor'], 2)} h", BODY, RIGHT),
            ],
            pad=1.2,
            rule=let.HAIR if number else None,
        )
    sheets.rule()


def late(sheets: Sheets, words: str) -> None:
    """The mark of a late entry, with both dates (rule R6)."""
    sheets.y -= 3
    lines = sheets.lines(words, SMALL_BOLD, sheets.room - 26)
    tall = 12 * len(lines) + 6
    sheets.need(tall)
    c = sheets.canvas
    marks.hatch(c, "backslant", sheets.left, sheets.y - tall, 10, tall, let.INK, step=4)
    c.setStrokeColor(let.INK)
    c.setLineWidth(0.8)
    c.rect(sheets.left, sheets.y - tall, sheets.room, tall)
    sheets.y -= 3
    for line in lines:
        sheets.line(sheets.left + 18, line, SMALL_BOLD, sheets.room - 22)
        sheets.y -= 12
    sheets.y -= 5


def draw_withdrawn(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Sessions that were withdrawn, with the reason; they are in no total."""
    if not rows:
        return
    sheets.going_on = ""
    sheets.need(90)
    sheets.anchor("withdrawn", "Withdrawn sessions", 1)
    sheets.subtitle("Withdrawn sessions", keep=60)
    sheets.flow("Kept here so that every number is accounted for. They count in no total.", SMALL)
    for session in rows:
        sheets.y -= 6
        sheets.need(44)
        sheets.flow(f"Session {session['number']}, {session['date']}", BOLD.but(struck=True))
        sheets.flow(withdrawn_words(session), SMALL)
        if session["note"]:
            sheets.flow(session["note"], STRUCK)
