"""Photos on a sheet: fitted to their frames with their marks, and under each what is known of it."""

from itertools import zip_longest
from typing import Any

from certification.pages import marks, overlay
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.words import because
from foundation import lettering as let
from foundation.lettering import SMALL, SMALL_BOLD, SMALL_CODE, Style

GAP = 24.0
# A frame is as high as a camera held level fills it; a tall picture is made as high as that.
FRAME = 0.75
# The small pictures of a gate's item.
SMALL_LEFT, SMALL_WIDTH, SMALL_HEIGHT, SMALL_GAP = 26.0, 112.0, 84.0, 9.0


def photo_rows(sheets: Sheets, labels: list[str]) -> None:
    """Photos two by two."""
    for number in range(0, len(labels), 2):
        photo_row(sheets, labels[number : number + 2])


def titled_photos(sheets: Sheets, title: str, labels: list[str]) -> None:
    """Photos two by two under a title, which stays with the first of them."""
    if not labels:
        return
    wide = (sheets.room - GAP) / 2
    sheets.y -= 6
    sheets.need(SMALL_BOLD.leading + 60 + max(framed(sheets, label, wide)[1] for label in labels[:2]))
    sheets.flow(title, SMALL_BOLD)
    photo_rows(sheets, labels)


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
    corrected(sheets, [(x, wide, label) for x, label in columns])


def small_columns(sheets: Sheets, labels: list[str]) -> list[list[tuple[float, str]]]:
    """Small pictures in rows, each with its left edge."""
    each = int((sheets.room - SMALL_LEFT + SMALL_GAP) / (SMALL_WIDTH + SMALL_GAP))
    return [
        [(SMALL_LEFT + n * (SMALL_WIDTH + SMALL_GAP), label) for n, label in enumerate(labels[start : start + each])]
        for start in range(0, len(labels), each)
    ]


def small_caption(sheets: Sheets, label: str) -> str:
    return caption(sheets, label).replace("\n", " ")


def small_height(sheets: Sheets, labels: list[str]) -> float:
    """The room that a row of small pictures takes with what is said below them; of many words only the beginning."""
    lines = max((len(sheets.lines(small_caption(sheets, one), SMALL, SMALL_WIDTH)) for one in labels), default=0)
    return SMALL_HEIGHT + SMALL.leading * min(lines + 1, 16) + 3 if labels else 0


def small_pictures(sheets: Sheets, labels: list[str]) -> None:
    """The photos of an item in rows of small pictures, each with label, caption, when taken and how that is known."""
    for columns in small_columns(sheets, labels):
        sheets.y -= 4
        sheets.need(small_height(sheets, [label for _, label in columns]))
        for x, label in columns:
            frame(sheets, label, sheets.left + x, sheets.y - SMALL_HEIGHT, SMALL_WIDTH, SMALL_HEIGHT)
        sheets.y -= SMALL_HEIGHT + 3
        sheets.row([Cell(x, SMALL_WIDTH, label, SMALL_CODE) for x, label in columns], pad=0, rule=None)
        sheets.row(
            [Cell(x, SMALL_WIDTH, small_caption(sheets, label), SMALL) for x, label in columns], pad=0, rule=None
        )
        corrected(sheets, [(x, SMALL_WIDTH, label) for x, label in columns])


def corrected(sheets: Sheets, columns: list[tuple[float, float, str]]) -> None:
    """What was said of photos before it was corrected, struck through, below each; `columns` are left, width, label."""
    told = [[(x, wide, text, style) for text, style in corrected_words(sheets, label)] for x, wide, label in columns]
    for cells in zip_longest(*told):
        sheets.row([Cell(*cell) for cell in cells if cell], pad=0, rule=None)


def corrected_words(sheets: Sheets, label: str) -> list[tuple[str, Style]]:
    """The corrections of what is said of a photo: when, who and why, then the old words."""
    photo = sheets.facts["photos"].get(label) or {}
    found: list[tuple[str, Style]] = []
    for one in photo.get("corrections", []):
        found.append((f"Corrected {one['at']} by {one['by']}{because(one['reason'])}", SMALL_BOLD))
        for change in one["changes"]:
            found.append((f"{change['field']} before:", SMALL))
            found.append((change["before"], SMALL.but(struck=True, color=let.QUIET)))
    return found


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
