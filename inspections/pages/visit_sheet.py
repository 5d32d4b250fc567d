"""A page to be signed in ink: what is signed, its record number, and boxes to fill in."""

from datetime import datetime

from accounts.models import Project
from evidence.models import Photo
from foundation import lettering as let
from foundation.digest import short
from foundation.lettering import BODY, BOLD, LABEL, SMALL, Style
from inspections.pages.discrepancies import BORDER, LINE, Pen, new_canvas, page_size, title_cells
from inspections.queries.visits import Thing

ROW, TALL_ROW, TICK = 38.0, 64.0, 14.0
NUMBER = Style(let.CODE, 20, 26)
NOTE = (
    "Sign by hand, then photograph this page and enter it with the record. It is good for the record number above and "
    "no other: what was changed since it was printed needs a new page. The plan, the maker's data, the inspector and "
    "the local rules decide."
)
# Rows of boxes, each with its label and its share of the width.
ROWS = (
    ((("Printed name", 1.2), ("Signing as (inspector, counselor, mechanic ...)", 1.0)), ROW),
    ((("Kind of certificate", 1.2), ("Number of certificate", 1.0)), ROW),
    ((("Type and extent of the inspection", 1.5), ("Total time in service, if any", 0.7)), ROW),
    ((("Signature", 1.5), ("Date", 0.7)), TALL_ROW),
)


def draw(*, project: Project, thing: Thing, accepted: str, declined: str, printed: datetime) -> bytes:
    """The PDF file. It is drawn twice: the first time only counts the sheets."""
    let.load()
    heading, total = f"To be signed: {thing.number}", 0
    for _ in range(2):
        canvas = new_canvas(project, f"{heading}, {project.name}")
        pen = Pen(canvas, page_size(project), title_cells(project, heading, printed), total, kind="Page to sign")
        draw_all(pen, thing, accepted, declined)
        total = pen.end()
    return bytes(canvas.getpdfdata())


def draw_all(pen: Pen, thing: Thing, accepted: str, declined: str) -> None:
    """What is signed, then the boxes, all of them on one sheet."""
    pen.text(thing.label, let.HEAD)
    pen.text(str(thing.row.assembly), SMALL)
    pen.y -= 6
    pen.text("Record number", LABEL)
    pen.text(short(thing.seen), NUMBER)
    pen.text(NOTE, SMALL)
    pen.y -= 8
    pen.rule(LINE)
    pen.y -= 4
    pen.text("What the signature covers", BOLD)
    pen.going_on = thing.label
    for words in covered(thing):
        pen.text(words, BODY)
    if thing.lacks:
        pen.y -= 4
        pen.text(f"Missing before it can be accepted: {', '.join(thing.lacks)}.", BOLD)
    pen.y -= 10
    texts = [f"Accepted. {accepted}", f"Not accepted. {declined}"]
    lines = sum(len(pen.lines(words, BODY, pen.room - 24)) for words in texts)
    pen.need(lines * BODY.leading + 60 + ROW + sum(height for _, height in ROWS))
    pen.rule(BORDER)
    pen.y -= 8
    for words in texts:
        choice(pen, words)
    boxes(pen, (("If not accepted, why", 1.0),), ROW)
    for labels, height in ROWS:
        boxes(pen, labels, height)
    pen.going_on = ""


def covered(thing: Thing) -> list[str]:
    """Each thing that is signed, in a line, with what stands there."""
    lines = [f"{thing.label}."]
    for row in thing.rows:
        line = row["line"]
        one, answer = line.requirement, line.answer
        said = [one.detail, line.item.why]
        if answer and answer.answer:
            said.append(": ".join(filter(None, (answer.get_answer_display(), answer.reason))))
        elif answer and answer.value is not None:
            said.append(f"{answer.value.normalize():f} {answer.unit}".strip())
        elif answer:
            said.append(f"{answer.number_in} went in, {answer.number_out} came out")
        said += [photo_line(photo) for photo in row["photos"]]
        lines.append(f"{one.position}  {one.words}. {'; '.join(filter(None, said))}".rstrip())
    if not thing.rows:
        lines += [thing.row.detail, *(photo_line(photo) for photo in thing.photos)]
    return [line for line in lines if line]


def photo_line(photo: Photo) -> str:
    """A photo as it is cited on paper."""
    return ", ".join(filter(None, (photo.label, photo.caption, photo.short_digest)))


def choice(pen: Pen, words: str) -> None:
    """A box to cross, with what it says."""
    top = pen.y
    pen.canvas.setLineWidth(1.1)
    pen.canvas.rect(pen.left, top - TICK - 2, TICK, TICK)
    pen.text(words, BODY, 24)
    pen.y = min(pen.y, top - TICK - 2) - 8


def boxes(pen: Pen, labels: tuple[tuple[str, float], ...], height: float) -> None:
    """A row of empty boxes to write in."""
    canvas, unit, x = pen.canvas, pen.room / sum(weight for _, weight in labels), pen.left
    canvas.setLineWidth(LINE)
    for label, weight in labels:
        canvas.rect(x, pen.y - height, unit * weight, height)
        pen.at(x + 6, pen.y - 11, label, LABEL, unit * weight - 8)
        x += unit * weight
    pen.y -= height
