"""The sheets of credit: the share with its rule, each task with who did how much of it, and what shows it."""

from collections.abc import Sequence
from typing import Any

from accounts.rules import PAID, ROLES
from calc.major_portion import COLUMNS, EMPTY, FULL
from certification.pages.sheets import RIGHT, Cell, Sheets
from certification.pages.words import TITLES, counted, hours, joined, of_file, on_day, stretch
from certification.rules.coverage import NONE, STRONG, THIN, WORDS
from foundation import lettering as let
from foundation.lettering import SMALL, SMALL_BOLD, Style

MEANING = (
    "A task counts ten tenths, split over the maker of the kit, paid help, and the builders' assembly and fabrication. "
    "Tasks are counted, never hours."
)
HEADS = ("Task", "Maker", "Paid", "Assembly", "Fabrication", "Evidence")
STYLES = {STRONG: SMALL_BOLD, THIN: SMALL, NONE: SMALL_BOLD.but(color=let.RED)}
QUIET = SMALL.but(color=let.QUIET)

type Facts = dict[str, Any]


def draw(sheets: Sheets) -> None:
    """Draw the section of credit and evidence."""
    credit = of_file(sheets.facts, "credit")
    if not credit:
        return
    coverage = of_file(sheets.facts, "coverage")
    sheets.start(TITLES["credit"], "credit")
    sheets.title(TITLES["credit"])
    share(sheets, credit)
    totals(sheets, credit)
    evidence(sheets, coverage)
    tasks(sheets, credit, {one["code"]: one for one in coverage["tasks"]})
    both_lists(sheets, coverage)
    left_over(sheets, credit)


def share(sheets: Sheets, credit: Facts) -> None:
    """What the entries add up to, of which list, by which rule, and who decides."""
    listed = credit["list"]
    sheets.strip(
        [
            ("Builders' share", "–" if credit["standing"] == EMPTY else credit["percent"], 1),
            ("By these entries", credit["standing_words"], 1.8),
            ("Counted tasks", f"{credit['counted']:,}", 0.9),
            ("Do not apply", f"{credit['not_applying']:,}", 0.9),
            ("Added by the builder", f"{credit['added']:,}", 1.1),
        ]
    )
    sheets.y -= 4
    if credit["caution"]:
        sheets.flow(credit["caution"], SMALL_BOLD)
    sheets.flow(credit["inspector"], SMALL_BOLD)
    if credit["without_fabrication"]:
        sheets.flow(
            "Nothing is fabricated by these entries, although 14 CFR 21.191(g) says fabricated and assembled.",
            SMALL_BOLD.but(color=let.RED),
        )
    sheets.flow(MEANING, SMALL)
    if listed:
        taken = f"taken up {on_day(listed['taken_on'])}"
        sheets.flow(f"List: {joined([listed['title'], 'edition ' + listed['edition'], taken])}.", SMALL)
        sheets.flow(f"From: {listed['source']}", SMALL)
    sheets.flow(f"Rule: {credit['rule']}. From: {credit['source']}.", SMALL)


def totals(sheets: Sheets, credit: Facts) -> None:
    """Each column in all, in tasks: ten tenths are one."""
    points = credit["counted"] * FULL
    nobody = points - sum(credit["totals"].values())
    rows = [(credit["columns"][column], credit["totals"][column]) for column in COLUMNS]
    at, sides = [(0, 240), (250, 80), (340, 90)], ["", RIGHT, RIGHT]
    sheets.subtitle("Sums of the columns", keep=80)
    sheets.header(
        [Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(at, ("Done by", "Tasks", "Share"), sides, strict=True)]
    )
    for words, tenths in [*rows, ("Nobody yet", nobody)]:
        part = f"{tenths / points:.1%}".replace("%", " %") if points else "–"
        texts = (words, f"{tenths // FULL:,}.{tenths % FULL}", part)
        sheets.row([Cell(x, w, t, SMALL, s) for (x, w), t, s in zip(at, texts, sides, strict=True)], pad=1.2)
    sheets.rule()


def evidence(sheets: Sheets, coverage: Facts) -> None:
    """How many claims can be shown how well, by our own rule, and paid help that no column says (rule R53)."""
    sheets.subtitle("Evidence of what the builders claim", keep=60)
    counts = joined([f"{WORDS[state].lower()} {coverage['counts'].get(state, 0)}" for state in (STRONG, THIN, NONE)])
    sheets.flow(f"{counted(coverage['claims'], 'task')} claimed: {counts}.", SMALL_BOLD)
    sheets.flow(f"{coverage['rule']} From: {coverage['source']}", SMALL)
    for one in coverage["paid_help"]:
        sheets.flow(f"{one['code']}: {one['words']}", SMALL_BOLD.but(color=let.RED))


# ---- the table ----


def columns_of(sheets: Sheets) -> list[tuple[float, float, str]]:
    """Left edge, width and side of each column."""
    numbers = [(188, 34, RIGHT), (226, 30, RIGHT), (260, 46, RIGHT), (310, 54, RIGHT)]
    return [(0, 184, ""), *numbers, (378, sheets.room - 378, "")]


def cells(sheets: Sheets, texts: Sequence[str], styles: Sequence[Style]) -> list[Cell]:
    return [
        Cell(x, wide, text, style, side)
        for (x, wide, side), text, style in zip(columns_of(sheets), texts, styles, strict=True)
    ]


def tasks(sheets: Sheets, credit: Facts, shown: dict[str, Facts]) -> None:
    """Every task of which something was said, section by section; the others are named."""
    for section in credit["sections"]:
        name = joined(
            [section["code"], section["title"]] if section["title"] != section["code"] else [section["code"]], " "
        )
        said = [one for one in section["tasks"] if not untouched(one)]
        sheets.going_on = ""
        sheets.subtitle(name, keep=64 if said else 24)
        if said:
            sheets.going_on = f"Credit, {name}"
            sheets.header(cells(sheets, HEADS, [SMALL] * len(HEADS)))
            for one in said:
                task(sheets, one, shown.get(one["code"]))
            summed = [tenths_words(section["totals"][column]) for column in COLUMNS]
            sheets.row(
                cells(
                    sheets, [f"{counted(section['counted'], 'counted task')}, tenths", *summed, ""], [SMALL_BOLD] * 6
                ),
                pad=1.6,
                rule=let.INK,
            )
            sheets.rule()
        rest = [f"{one['code']} {one['words']}" for one in section["tasks"] if untouched(one)]
        if rest:
            sheets.y -= 3
            sheets.flow(f"Counted, with nothing credited to anybody yet: {'; '.join(rest)}.", QUIET)
    sheets.going_on = ""


def untouched(one: Facts) -> bool:
    """Whether nothing was said of a task, so that it counts with nothing for anybody."""
    return one["applies"] and not any(one["tenths"].values()) and not one["reason"]


def tenths_words(tenths: int) -> str:
    return str(tenths) if tenths else "–"


def task(sheets: Sheets, one: Facts, held: Facts | None) -> None:
    """One task: its tenths, how well the builders' part can be shown, and what there is to show."""
    name = f"{one['code']} {one['words']}" + (" (added by the builder)" if one["added"] else "")
    tenths = [tenths_words(one["tenths"][column]) for column in COLUMNS] if one["applies"] else ["n/a", "", "", ""]
    shown = joined([WORDS[held["state"]], joined(held["lacks"])], ": ") if held else ""
    sheet = sheets.number
    sheets.need(52)
    if sheets.number != sheet:
        sheets.header(cells(sheets, HEADS, [SMALL] * len(HEADS)))
    sheets.row(cells(sheets, [name, *tenths, shown], [*[SMALL] * 5, STYLES[held["state"]] if held else SMALL]), pad=1.6)
    beneath(sheets, joined([reason(one), holds(held) if held else ""], " "), QUIET)


def beneath(sheets: Sheets, text: str, style: Style) -> None:
    """More of a task under its row."""
    if text:
        sheets.row([Cell(14, sheets.room - 14, text, style)], pad=0, rule=None)
        sheets.y -= 1.2


def reason(one: Facts) -> str:
    words = "Why" if one["applies"] else "Does not apply, because"
    return f"{words}: {one['reason'].rstrip('.')}." if one["reason"] else ""


def holds(held: Facts) -> str:
    """What the record has for a task: when, who, where, how much of what (rule R51)."""
    people = [
        f"{who['name']} ({ROLES.get(who['role'], who['role']).lower()}) {hours(who['seconds'])} h"
        for who in held["people"]
    ]
    looks = [
        counted(held["sessions"], "session"),
        counted(held["photos"], "photo") + (f", builder in {held['in_frame']}" if held["in_frame"] else ""),
        counted(held["looks"], "dated look") if held["areas"] or held["looks"] else "",
    ]
    days = stretch(held["first"] or "", held["last"] or "")
    told = [days, joined(people), joined(looks), f"at {joined(held['places'])}" if held["places"] else "at no place"]
    return f"{joined(told, '; ')}."


# ---- what does not meet ----


def both_lists(sheets: Sheets, coverage: Facts) -> None:
    """Claims without evidence, and evidence without a claim."""
    if not coverage["tasks"] and not coverage["without_claim"]:
        return
    sheets.subtitle("Claimed without evidence")
    bare = [one for one in coverage["tasks"] if one["state"] == NONE]
    for one in bare:
        sheets.flow(f"{one['code']} {one['words']}: {counted(one['builders'], 'tenth')} claimed", SMALL)
    if not bare:
        sheets.flow("None.", SMALL)
    sheets.subtitle("Evidence without a claim")
    for one in coverage["without_claim"]:
        paid = f", {ROLES[PAID].lower()} {hours(one['paid_seconds'])} h" if one["paid_seconds"] else ""
        sheets.flow(f"{one['assembly']}: builders and unpaid help {hours(one['seconds'])} h{paid}", SMALL)
    if not coverage["without_claim"]:
        sheets.flow("None.", SMALL)


def left_over(sheets: Sheets, credit: Facts) -> None:
    """What is only credited in part, and credit whose task the list does not have any more."""
    if credit["unbalanced"]:
        sheets.subtitle("Credited in part: less than ten tenths are given")
        sheets.flow(f"{joined(credit['unbalanced'])}.", SMALL)
    if credit["without_task"]:
        sheets.subtitle("Credit for tasks that are not on this list; it does not count")
        for words in credit["without_task"]:
            sheets.flow(words, SMALL)
