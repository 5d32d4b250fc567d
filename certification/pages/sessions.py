"""The sheets of sessions: by date, each with people, shares, note, photos and corrections; then those withdrawn."""

from typing import Any

from certification.pages import marks, overlay
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.words import BUILDER_WORDS, PAID_WORDS, TITLES, hours, joined, minutes, month
from foundation import lettering as let
from foundation.lettering import BODY, BOLD, LABEL, SMALL, SMALL_BOLD, SMALL_CODE

GAP = 24.0
# A frame is as high as a camera held level fills it; a tall picture is made as high as that.
FRAME = 0.75


def draw(sheets: Sheets) -> None:
    """Draw the section of sessions."""
    facts = sheets.facts
    sheets.start(TITLES["sessions"], "sessions")
    sheets.title("Sessions by date")
    if not facts["sessions"]:
        sheets.flow("No sessions yet.", BODY)
    last_month = ""
    for place, session in enumerate(facts["sessions"]):
        begin(sheets, session, first=place == 0)
        if (now := month(session["iso_date"])) != last_month:
            sheets.anchor(f"month-{session['iso_date'][:7]}", now, 1, closed=True)
            last_month = now
        draw_session(sheets, session)
    draw_withdrawn(sheets, facts["withdrawn"])


def begin(sheets: Sheets, session: dict[str, Any], first: bool) -> None:
    """Room between two sessions, and enough below for the head of the next."""
    sheets.going_on = ""
    if not first and sheets.y < sheets.head:
        sheets.y -= 20
    sheets.need(110 + 16 * min(len(session["people"]), 12) + (24 if session["late"] else 0))


def key_of(session: dict[str, Any]) -> str:
    return f"session-{session['number']}"


def draw_session(sheets: Sheets, session: dict[str, Any]) -> None:
    """One session."""
    name = f"Session {session['number']}"
    sheets.anchor(key_of(session), joined([f"{session['number']}", session["date"], first_line(session)], "  "), 2)
    sheets.going_on = name
    sheets.on_sheet.append(name)
    head(sheets, session, name)
    people(sheets, session["people"])
    sheets.y -= 4
    shares = "; ".join(f"{s['number']} {s['name']} {hours(s['seconds'], 2)} h" for s in session["shares"])
    sheets.flow(f"Hours go to: {shares or 'no assembly'}", SMALL)
    if session["late"]:
        late(sheets, session["late"])
    if session["note"]:
        sheets.y -= 4
        sheets.flow(session["note"])
    photo_rows(sheets, session["photos"])
    corrections(sheets, session["corrections"])
    sheets.going_on = ""


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
        role = "" if person["role"] == BUILDER_WORDS else f" ({person['role'].lower()})"
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


def photo_rows(sheets: Sheets, labels: list[str]) -> None:
    """Photos two by two."""
    for number in range(0, len(labels), 2):
        photo_row(sheets, labels[number : number + 2])


def photo_row(sheets: Sheets, labels: list[str]) -> None:
    """Two photos side by side, fitted to their frames, with what is known of each below."""
    wide = (sheets.room - GAP) / 2
    tall = max(framed(sheets, label, wide)[1] for label in labels)
    columns = [(number * (wide + GAP), label) for number, label in enumerate(labels)]
    captions = [Cell(x, wide, caption(sheets, label), SMALL) for x, label in columns]
    lines = max(len(sheets.lines(cell.text, cell.style, wide)) for cell in captions)
    sheets.y -= 8
    sheets.need(tall + 4 + 12 * min(lines + 2, 16))
    for x, label in columns:
        frame(sheets, label, sheets.left + x, sheets.y - tall, wide, tall)
    sheets.y -= tall + 4
    sheets.row(
        [
            *(Cell(x, wide * 0.5, label, SMALL_CODE) for x, label in columns),
            *(
                Cell(x + wide * 0.5, wide * 0.5, original(sheets, label), SMALL_CODE.but(color=let.QUIET), RIGHT)
                for x, label in columns
            ),
        ],
        pad=0,
        rule=None,
    )
    sheets.row(captions, pad=0, rule=None)


def framed(sheets: Sheets, label: str, wide: float) -> tuple[float, float]:
    """The size at which a photo stands in a frame of this width."""
    photo = sheets.facts["photos"].get(label)
    picture = sheets.pictures.find(photo["digest"]) if photo else None
    return picture.fitted(wide, wide * FRAME) if picture else (wide, wide * FRAME / 2)


def frame(sheets: Sheets, label: str, x: float, y: float, wide: float, tall: float) -> None:
    """One photo fitted into its frame, standing at its lower left, or the place kept for it."""
    photo = sheets.facts["photos"].get(label)
    picture = sheets.pictures.find(photo["digest"]) if photo else None
    c = sheets.canvas
    if photo and photo.get("clip"):  # records frozen before there were clips do not say it
        clip_note(sheets, photo, x, y, wide, tall)
        return
    if picture is None:
        sheets.remarks.add(f"The picture of photo {label} was not at hand when this was printed; its place is marked.")
        marks.corners(c, x, y, wide, tall, arm=0.2)
        marks.centered(c, x + wide / 2, y + tall / 2 - 3, "Picture not at hand", SMALL.but(color=let.RED), wide - 12)
        return
    w, h = picture.fitted(wide, tall)
    c.picture(picture, x, y, w, h)
    overlay.draw_marks(c, photo.get("marks", []), (x, y, w, h), sheets.remarks)
    c.setStrokeColor(let.INK)
    c.setLineWidth(0.5)
    c.rect(x, y, w, h)


def clip_note(sheets: Sheets, photo: dict[str, Any], x: float, y: float, wide: float, tall: float) -> None:
    """What stands for a video or a voice note, which no paper can show: what it is, and that it is kept."""
    c, middle = sheets.canvas, y + tall / 2
    c.setStrokeColor(let.INK)
    c.setLineWidth(0.5)
    c.rect(x, y, wide, tall)
    lines = ((photo["clip"], SMALL_BOLD), ("Kept in the record, not printed", SMALL), (photo["short"], SMALL_CODE))
    for number, (words, style) in enumerate(lines):
        marks.centered(c, x + wide / 2, middle + 9 - 12 * number, words, style, wide - 12)


def caption(sheets: Sheets, label: str) -> str:
    """What is known of a photo: caption, when taken and how that is known, when received, digest."""
    photo = sheets.facts["photos"].get(label)
    if photo is None:
        return "Nothing is known of this photo."
    taken = f"Taken {photo['taken']}, {photo['known']}." if photo["taken"] != "not known" else "Time taken not known."
    late = ", late" if photo.get("late") else ""  # records frozen before do not say it
    in_frame = " Builder in frame." if photo["in_frame"] else ""
    known = f"{photo['caption'] or 'No caption.'}\n{taken} Received {photo['received']}{late}.{in_frame}"
    # Nor do they have marks, or say on what a photo is placed.
    placed = f"Placed on {'; '.join(photo['placed'])}." if photo.get("placed") else ""
    return "\n".join(filter(None, (known, placed, overlay.in_words(photo.get("marks", [])))))


def original(sheets: Sheets, label: str) -> str:
    """The short digest of the untouched file."""
    photo = sheets.facts["photos"].get(label)
    return photo["short"] if photo else ""


def corrections(sheets: Sheets, rows: list[dict[str, Any]]) -> None:
    """Every correction: when, who, why, the old value struck through beside the new one (rule R32)."""
    for number, correction in enumerate(rows, 1):
        sheets.y -= 6
        sheets.need(40)
        marks.delta(sheets.canvas, sheets.left, sheets.y - 13, number)
        why = f", because: {correction['reason']}" if correction["reason"] else ""
        sheets.flow(f"Corrected {correction['at']} by {correction['by']}{why}", SMALL_BOLD, x=20)
        for change in correction["changes"]:
            sheets.flow(f"{change['field']}, before", LABEL, x=20)
            sheets.flow(change["before"], SMALL.but(struck=True, color=let.QUIET), x=28)
            sheets.flow(f"{change['field']}, after", LABEL, x=20)
            sheets.flow(change["after"], SMALL, x=28)


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
        by = f" by {session['by']}" if session["by"] else ""
        sheets.flow(f"Withdrawn {session['at']}{by}. Reason: {session['reason'] or 'none given'}", SMALL)
        if session["note"]:
            sheets.flow(session["note"], SMALL.but(struck=True, color=let.QUIET))
