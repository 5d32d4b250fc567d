"""Photos on a sheet: fitted to their frames with their marks, and under each what is known of it."""

from typing import Any

from certification.pages import marks, overlay
from certification.pages.sheets import Sheets
from certification.pages.words import because
from foundation import lettering as let
from foundation.lettering import SMALL, SMALL_BOLD, SMALL_CODE, Style

GAP = 24.0
# A frame is as high as a camera held level fills it; a tall picture is made as high as that.
FRAME = 0.75
# The small pictures of a gate's item.
SMALL_LEFT, SMALL_WIDTH, SMALL_HEIGHT, SMALL_GAP = 26.0, 112.0, 84.0, 9.0


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
