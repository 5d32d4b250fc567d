"""Discrepancies on paper, to take along to the next visit: what was found, and boxes to sign by hand."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from io import BytesIO

from django.utils import timezone
from PIL import Image
from reportlab import rl_config
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.utils import ImageReader
from reportlab.pdfgen.canvas import Canvas

from accounts.models import Project
from evidence import renditions
from evidence.models import Photo
from foundation import lettering as let
from foundation.drawing import Remarks
from foundation.lettering import BODY, BOLD, LABEL, SMALL, SMALL_BOLD, Style
from inspections.queries.discrepancies import JudgedDiscrepancy, ToldStep
from inspections.rules import discrepancies as rules

# Streams as bytes, not spelled out in letters: a quarter smaller.
rl_config.useA85 = 0

EDGE, INSET, FOOT = 26.0, 14.0, 33.0
FOOT_ROOM = (118.0, 84.0)
BORDER, LINE, FINE = 1.5, 0.75, 0.5
# A picture's frame in points; its pixels are enough for 300 to the inch.
PICTURE, GAP, PIXELS = (160.0, 120.0), 8.0, 660
MOST_PICTURES = 3
NUMBER = Style(let.LETTER, 17, 20)
# High enough to write in by hand.
TICK_ROW, SIGN_ROW = 26.0, 36.0
BOXES = TICK_ROW + SIGN_ROW
TICKS = ("Seen", "Accepted", "Not accepted")
FIELDS = (("Signature", 1.5), ("Printed name", 1.3), ("Certificate kind and number", 1.5), ("Date", 0.8))
NOTE = (
    "Tick and sign by hand, photograph the signed sheet, and enter it with the discrepancy: the paper by itself "
    "changes nothing in the record. The plan, the maker's data, the inspector and the local rules decide."
)


def print_discrepancies(project: Project, rows: Sequence[JudgedDiscrepancy], heading: str, printed: datetime) -> bytes:
    """A PDF file of these discrepancies. It is drawn twice: the first time only counts the sheets."""
    let.load()
    pictures = {photo.pk: picture(photo) for one in rows for photo in shown_photos(one)}
    total = 0
    for _ in range(2):
        canvas = new_canvas(project, f"{heading}, {project.name}")
        pen = Pen(canvas, page_size(project), title_cells(project, heading, printed), total)
        draw(pen, rows, heading, pictures)
        total = pen.end()
    return bytes(canvas.getpdfdata())


def page_size(project: Project) -> tuple[float, float]:
    """Letter where that is the paper in every shop, else A4."""
    return LETTER if project.authority == "US" else A4


def new_canvas(project: Project, title: str) -> Canvas:
    """An empty file that embeds every font it uses."""
    canvas = Canvas(
        "",
        pagesize=page_size(project),
        pageCompression=1,
        invariant=1,
        initialFontName=let.TEXT,
        lang="en-US",
    )
    canvas.setTitle(title)
    canvas.setCreator("Builder's record")
    return canvas


def title_cells(project: Project, heading: str, printed: datetime) -> tuple[str, str, str]:
    """Aircraft, what the sheets are and when they were printed: the cells of the title block, left to right."""
    identity = " · ".join(
        filter(None, (project.name, project.registration, project.model_designation, project.serial_number))
    )
    return identity, heading, f"{printed:%-d %b %Y, %H:%M %Z}"


@dataclass
class Pen:
    """Goes down the sheet and over to the next one; `y` is the upper edge of what comes next."""

    canvas: Canvas
    size: tuple[float, float]
    cells: tuple[str, str, str]
    total: int
    number: int = 0
    y: float = 0.0
    going_on: str = ""
    kind: str = "Discrepancies"

    def __post_init__(self) -> None:
        self.remarks = Remarks()
        self.left, self.right = EDGE + INSET, self.size[0] - EDGE - INSET
        self.head, self.foot = self.size[1] - EDGE - INSET, EDGE + FOOT + 10
        self.room = self.right - self.left
        self.begin()

    def begin(self) -> None:
        """A new sheet; what goes on from the one before is said at its head."""
        self.number, self.y = self.number + 1, self.head
        if self.going_on:
            self.text(f"{self.going_on}, continued", LABEL)
            self.y -= 4

    def turn(self) -> None:
        self.frame()
        self.begin()

    def end(self) -> int:
        """Finish the last sheet and tell how many there are."""
        self.frame()
        return self.number

    def need(self, height: float) -> None:
        """Make sure that this much fits."""
        if self.y - height < self.foot and self.y < self.head - 40:
            self.turn()

    def frame(self) -> None:
        """Border and title block of the sheet, and on to the next."""
        c, (wide, tall) = self.canvas, self.size
        c.setStrokeColor(let.INK)
        c.setLineWidth(BORDER)
        c.rect(EDGE, EDGE, wide - 2 * EDGE, tall - 2 * EDGE)
        c.line(EDGE, EDGE + FOOT, wide - EDGE, EDGE + FOOT)
        inner = wide - 2 * EDGE - sum(FOOT_ROOM)
        whose, what, when = self.cells
        blocks = (
            ("Aircraft", whose, inner * 0.52),
            (self.kind, what, inner * 0.48),
            ("Printed", when, FOOT_ROOM[0]),
            ("Sheet", f"{self.number} of {self.total}", FOOT_ROOM[1]),
        )
        x = EDGE
        for place, (label, value, room) in enumerate(blocks):
            if place:
                c.setLineWidth(LINE)
                c.line(x, EDGE, x, EDGE + FOOT)
            self.at(x + 7, EDGE + FOOT - 12, label, LABEL, room - 12)
            fits = let.width(self.clean(value, BOLD), BOLD) <= room - 12
            self.at(x + 7, EDGE + 8, value, BOLD if fits else BOLD.but(size=8), room - 12)
            x += room
        c.showPage()

    def clean(self, text: str, style: Style) -> str:
        return let.clean(text, style.font, self.remarks)

    def at(self, x: float, base: float, text: str, style: Style, room: float) -> None:
        """One line on a base line, cut with dots where it does not fit."""
        let.draw(self.canvas, x, base, let.cut(self.clean(text, style), style, room), style)

    def lines(self, text: str, style: Style, room: float) -> tuple[str, ...]:
        return let.wrapped(self.clean(text, style), style, room)

    def text(self, text: str, style: Style = BODY, x: float = 0.0, room: float = 0.0) -> None:
        """A text of any length; what does not fit goes on on the next sheet."""
        for line in self.lines(text, style, room or self.room - x):
            self.need(style.leading)
            let.draw(self.canvas, self.left + x, self.y - style.leading / 2 - style.size * 0.34, line, style)
            self.y -= style.leading

    def rule(self, weight: float = FINE) -> None:
        self.canvas.setStrokeColor(let.INK)
        self.canvas.setLineWidth(weight)
        self.canvas.line(self.left, self.y, self.right, self.y)


type Pictures = dict[str, ImageReader | None]


def draw(pen: Pen, rows: Sequence[JudgedDiscrepancy], heading: str, pictures: Pictures) -> None:
    """The heading, then each discrepancy."""
    pen.text(heading, let.HEAD)
    pen.y -= 2
    pen.text(f"{len(rows)} in all, {sum(one.blocking for one in rows)} of them block closing. {NOTE}", SMALL)
    pen.y -= 8
    if not rows:
        pen.rule(LINE)
        pen.y -= 6
        pen.text("None: there is nothing of this kind in the record.", BODY)
    for one in rows:
        draw_one(pen, one, pictures)


def draw_one(pen: Pen, one: JudgedDiscrepancy, pictures: Pictures) -> None:
    """One discrepancy: kept on one sheet where it fits on one, its boxes never apart from its last lines."""
    told = paragraphs(one)
    photos = shown_photos(one)
    tall = sum(len(pen.lines(text, style, pen.room)) * style.leading + 2 for text, style in told)
    tall += 30 + (picture_height(pen, photos) if photos else 0) + BOXES + 16
    pen.going_on = ""
    pen.need(min(tall, pen.head - pen.foot))
    pen.rule(BORDER)
    head(pen, one)
    pen.going_on = one.discrepancy.label
    for text, style in told:
        pen.text(text, style)
        pen.y -= 2
    if photos:
        draw_pictures(pen, photos, pictures)
    boxes(pen, one)
    pen.going_on = ""
    pen.y -= 16


def head(pen: Pen, one: JudgedDiscrepancy) -> None:
    """Number, severity, whether it blocks, and where it stands."""
    found, base = one.discrepancy, pen.y - 20
    pen.at(pen.left, base, found.label, NUMBER, 90)
    x = pen.left + max(let.width(found.label, NUMBER) + 12, 58)
    for words, filled in (
        (found.get_severity_display(), found.severity == "safety"),
        ("Blocks closing" if found.blocks else "Does not block", found.blocks),
    ):
        x = tag(pen, x, base, words, filled) + 6
    pen.at(x + 4, base, one.words, SMALL_BOLD, pen.right - x - 4)
    pen.y -= 30


def tag(pen: Pen, x: float, base: float, words: str, filled: bool) -> float:
    """A word in a box, dark where it matters most; tells where the box ends."""
    style = SMALL_BOLD.but(color=let.PAPER if filled else let.INK)
    wide = let.width(words, style) + 12
    pen.canvas.setStrokeColor(let.INK)
    pen.canvas.setFillColor(let.INK if filled else let.PAPER)
    pen.canvas.setLineWidth(LINE)
    pen.canvas.rect(x, base - 5, wide, 17, stroke=1, fill=1)
    pen.at(x + 6, base, words, style, wide)
    return x + wide


def paragraphs(one: JudgedDiscrepancy) -> list[tuple[str, Style]]:
    """What is told of a discrepancy, each with its style."""
    found = one.discrepancy
    entered = "" if found.entered_by_id == found.found_by_id else f", entered by {found.entered_by.name}"
    visit = f", on visit {found.visit.label}" if found.visit else ""
    rows = [
        (found.words, BOLD),
        (f"Where: {one.where}", BODY),
        (f"Found {day(found.found_at)} by {found.found_by.name}{entered}{visit}", SMALL),
    ]
    rows += [(step_line(step), BODY) for step in one.steps]
    if not one.steps:
        rows.append(("Disposition: none yet", BODY))
    rows += [(f"Changed since it was accepted: {change}", SMALL_BOLD) for change in one.changes]
    return rows


def step_line(told: ToldStep) -> str:
    """A step in one line: what, by whom, when, in which words."""
    step = told.step
    what = {
        rules.DECIDED: f"Disposition: {step.get_disposition_display()}",
        rules.FIXED: "Corrected",
        rules.REINSPECTED: "Inspected again, accepted" if step.accepted else "Inspected again, not accepted",
    }[step.kind]
    own = ", self-inspected" if step.self_inspected else ""
    late = f", told {day(step.at)}" if told.late else ""
    words = f": {step.words}" if step.words else ""
    return f"{what}{own}, {told.name}, {day(step.done_at)}{late}{words}"


def day(at: datetime) -> str:
    """A time on the project's clock."""
    return f"{timezone.localtime(at):%-d %b %Y, %H:%M}"


# ---- pictures ----


def shown_photos(one: JudgedDiscrepancy) -> list[Photo]:
    """The photos that are printed: as found first, then corrected."""
    rows = [*one.found_photos, *one.corrected_photos]
    return [row.photo for row in rows if not row.photo.withdrawn][:MOST_PICTURES]


def picture(photo: Photo) -> ImageReader | None:
    """A photo in greys, its marks drawn in; None where there is no picture of it."""
    drawn = [mark.drawing for mark in photo.marks.all()]
    try:
        with Image.open(renditions.marked_copy(photo.digest, drawn), formats=["JPEG"]) as image:
            grey = image.convert("L")
    except OSError:
        return None
    grey.thumbnail((PIXELS, PIXELS))
    out = BytesIO()
    grey.save(out, "JPEG", quality=80)
    out.seek(0)
    return ImageReader(out)


def photo_words(one: Photo) -> str:
    """What stands below a picture."""
    marks = "; ".join(f"{mark.position} {mark.words}" for mark in one.marks.all() if mark.words)
    return ", ".join(filter(None, (one.label, one.caption, f"marks: {marks}" if marks else "")))


def picture_height(pen: Pen, photos: list[Photo]) -> float:
    lines = max(len(pen.lines(photo_words(photo), SMALL, PICTURE[0])) for photo in photos)
    return PICTURE[1] + 6 + lines * SMALL.leading + 6


def draw_pictures(pen: Pen, photos: list[Photo], pictures: Pictures) -> None:
    """A row of small pictures with their numbers and words."""
    pen.need(picture_height(pen, photos))
    pen.y -= 4
    (wide, tall), top, lowest = PICTURE, pen.y, pen.y
    for place, photo in enumerate(photos):
        x, found = pen.left + place * (wide + GAP), pictures[photo.pk]
        if found:
            scale = min(wide / found.getSize()[0], tall / found.getSize()[1])
            width, height = (side * scale for side in found.getSize())
            pen.canvas.drawImage(found, x, top - height, width, height)
        else:
            width, height = wide, tall
            pen.at(x + 6, top - 16, "No picture yet", SMALL, wide - 12)
        pen.canvas.setStrokeColor(let.INK)
        pen.canvas.setLineWidth(FINE)
        pen.canvas.rect(x, top - height, width, height)
        pen.y = top - tall - 3
        pen.text(photo_words(photo), SMALL, x - pen.left, wide)
        lowest = min(lowest, pen.y)
    pen.y = lowest - 4


# ---- boxes ----


def boxes(pen: Pen, one: JudgedDiscrepancy) -> None:
    """Empty boxes to fill in by hand."""
    pen.need(BOXES + 4)
    pen.y -= 4
    c, top = pen.canvas, pen.y
    c.setStrokeColor(let.INK)
    c.setLineWidth(LINE)
    c.rect(pen.left, top - BOXES, pen.room, BOXES)
    c.line(pen.left, top - TICK_ROW, pen.right, top - TICK_ROW)
    x = pen.left + 8
    for words in TICKS:
        c.setLineWidth(1.1)
        c.rect(x, top - 19.5, 13, 13)
        pen.at(x + 18, top - 17, words, BODY, 90)
        x += 18 + let.width(words, BODY) + 18
    pen.at(x, top - 11, f"Remark on {one.discrepancy.label}", LABEL, pen.right - x - 6)
    c.setLineWidth(LINE)
    c.line(x - 7, top, x - 7, top - TICK_ROW)
    cells(pen, top - TICK_ROW)
    pen.y = top - BOXES


def cells(pen: Pen, top: float) -> None:
    """The row in which somebody signs."""
    unit, x = pen.room / sum(weight for _, weight in FIELDS), pen.left
    for place, (label, weight) in enumerate(FIELDS):
        if place:
            pen.canvas.line(x, top, x, top - SIGN_ROW)
        pen.at(x + 6, top - 11, label, LABEL, unit * weight - 8)
        x += unit * weight
