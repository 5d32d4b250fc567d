"""The sheets of who built it: everybody's hours, days, places and tasks; paid help session by session (rule R53)."""

from typing import Any

from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.words import PAID_WORDS, TITLES, counted, joined, of_file, on_day, stretch
from foundation.lettering import SMALL, SMALL_BOLD

# Photos beyond so many are only counted: the sessions have them all.
MOST = 12
HELPERS = "Builders, helpers and paid help"


def draw(sheets: Sheets) -> None:
    """Draw the section of everybody's part."""
    found = of_file(sheets.facts, "people")
    if not found:
        return
    sheets.start(TITLES["people"], "people")
    sheets.title(TITLES["people"])
    for words in (*found["cautions"], f"What is asked: {found['source']}", *found["not_known"]):
        sheets.flow(words, SMALL)
    if found["started_on"]:
        sheets.flow(f"The project was started on {on_day(found['started_on'])}.", SMALL)
    table(sheets, found)
    for one in found["people"]:
        person(sheets, one)
    sheets.going_on = ""


def table(sheets: Sheets, found: dict[str, Any]) -> None:
    """Everybody on a line, and the sum of each role."""
    room = sheets.room
    columns = [
        (0, room - 382),
        (room - 376, 78),
        (room - 296, 42),
        (room - 250, 46),
        (room - 200, 34),
        (room - 152, 152),
    ]
    sides = ["", "", RIGHT, RIGHT, RIGHT, ""]
    sheets.subtitle(HELPERS)
    sheets.anchor("helpers", HELPERS, 1, listed=False)
    heads = ["Person", "Role", "Hours", "Sessions", "Days", "First to last"]
    sheets.header([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(columns, heads, sides, strict=True)])
    for one in found["people"]:
        texts = [
            joined([one["name"], one["certificate"]]),
            one["role"],
            one["hours"],
            f"{one['sessions']:,}",
            f"{one['days']:,}",
            stretch(one["first"], one["last"]),
        ]
        style = SMALL_BOLD if one["paid"] else SMALL
        sheets.row([Cell(x, w, t, style, s) for (x, w), t, s in zip(columns, texts, sides, strict=True)], pad=1.6)
    sheets.rule()
    sheets.y -= 4
    sums = {one["role"]: one["hours"] for one in found["by_role"]}
    sheets.flow(f"Hours by role: {joined([f'{role} {told}' for role, told in sums.items()], '; ')}.", SMALL)
    if not any(one["paid"] for one in found["people"]):
        sheets.flow(f"{PAID_WORDS}: none recorded.", SMALL_BOLD)


def person(sheets: Sheets, one: dict[str, Any]) -> None:
    """What one person worked on, and how it shows."""
    if not one["sessions"]:
        return
    sheets.going_on = ""
    sheets.y -= 8
    sheets.need(64)
    came = f"entered in the record {on_day(one['entered'])}" if one["entered"] else ""
    went = f"taken out again {on_day(one['left'])}" if one["left"] else ""
    sheets.flow(joined([one["name"], one["role"].lower(), came, went]), SMALL_BOLD)
    sheets.going_on = f"{TITLES['people']}: {one['name']}"
    lines = [
        ("Kinds of time", hours_by(one["kinds"])),
        ("Work", hours_by(one["works"])),
        ("Assemblies", hours_by(one["assemblies"])),
        ("Tasks of the list", hours_by([row | {"words": row["code"]} for row in one["tasks"]])),
        ("Builder in frame", photos_of(one["photos"])),
    ]
    for label, text in lines:
        if text:
            sheets.row([Cell(14, 84, label, SMALL), Cell(104, sheets.room - 104, text, SMALL)], pad=1, rule=None)
    for did in one["did"]:
        words = joined([f"Session {did['session']}", on_day(did["day"]), f"{did['hours']} h", did["work"].lower()])
        sheets.flow(f"{joined([words, *did['assemblies']])}. {did['note']}".rstrip(), SMALL, x=14)


def photos_of(labels: list[str]) -> str:
    """The photos of somebody's sessions that have the builder in them."""
    more = f" and {len(labels) - MOST} more" if len(labels) > MOST else ""
    return f"{counted(len(labels), 'photo')} of these sessions: {joined(labels[:MOST])}{more}" if labels else ""


def hours_by(rows: list[dict[str, Any]]) -> str:
    """Hours of several things in a line."""
    return joined([f"{one['words']} {one['hours']} h" for one in rows], "; ")
