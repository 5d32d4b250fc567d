"""Small drawn things that every page uses: marks, state lines, balloons, dimensions, bars, the seam and the stamp.

The drawing lives in the sprite `templates/_marks.html` and in the style sheets; a tag only writes the markup.
"""

from collections.abc import Iterable, Sequence
from decimal import Decimal
from typing import Any

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

register = template.Library()

type Figure = Decimal | float | int

# The word that stands beside the mark when the page has no better one.
STATE_WORDS = {
    "not-started": "Not started",
    "work": "In work",
    "hold": "Hold",
    "signed": "Signed",
    "closed": "Closed up",
    "missing": "Missing",
    "in-place": "In place",
    "thin": "Thin",
    "waiting": "Waiting",
    "sent": "Sent",
    "offline": "No signal",
    "curing": "Curing",
    "part": "Part on order",
    "changed": "Changed since",
    "refused": "Not accepted",
    "withdrawn": "Withdrawn",
    "conflict": "Two versions",
    "lock": "Read-only",
    "unsigned": "Not signed",
    "invited": "Invited",
}
# States that share the mark of another one.
STATE_MARKS = {"withdrawn": "refused", "unsigned": "missing"}
# A dimension chain is drawn in twentieths so that the style sheet can hold every split.
CHAIN_STEPS = 20
# Least width, in per cent, at which a figure is still readable inside its piece of a tally.
TALLY_LEAST = 9


def _symbol(name: str) -> str:
    return name if name[:2] in ("a-", "n-", "t-") else f"m-{name}"


@register.simple_tag
def mark(name: str, size: str = "") -> SafeString:
    """One mark of the sprite, hidden from a screen reader: a word must stand beside it.

    `name` is a state ("hold"), or carries its family: "a-" action, "n-" place, "t-" mark-up tool.
    `size` is "", "less" or "big"; any further classes may follow.
    """
    classes = f"mark {size}".strip()
    return format_html('<svg class="{}" aria-hidden="true"><use href="#{}"/></svg>', classes, _symbol(name))


@register.simple_tag
def state(name: str, word: str = "", size: str = "less") -> SafeString:
    """A state as mark and word; without `word` the usual one for that state."""
    return format_html(
        '<span class="state" data-state="{}">{}{}</span>',
        name,
        mark(STATE_MARKS.get(name, name), size),
        word or STATE_WORDS.get(name, name),
    )


@register.simple_tag
def state_line(name: str, shape: str = "") -> SafeString:
    """The drawing line of an assembly's state; `shape` "flat" lays it down. The word must stand beside it."""
    return format_html('<i class="{}" data-state="{}"></i>', f"state-line {shape}".strip(), name)


@register.simple_tag
def balloon(number: int | str, kind: str = "") -> SafeString:
    """An item number in a ring. `kind` "missing" draws it in red pencil."""
    return format_html('<span class="{}" aria-hidden="true">{}</span>', f"balloon {kind}".strip(), number)


@register.simple_tag
def delta(number: int) -> SafeString:
    """The numbered triangle: changed this many times since signing. Say the change in words beside it."""
    return format_html('<span class="delta" aria-hidden="true">{}</span>', number)


@register.simple_tag
def swatch(hatch: str) -> SafeString:
    """The hatch of one kind of work: layup, bond, wood, fair, fit, sys, rework, solid, range or plain."""
    fill = "none" if hatch == "plain" else f"url(#h-{hatch})"
    return format_html(
        '<svg class="swatch" viewBox="0 0 24 24" aria-hidden="true"><rect width="24" height="24" fill="{}"/></svg>',
        fill,
    )


@register.simple_tag
def line_key() -> SafeString:
    """The key to the five state lines, as a list."""
    rows = (
        (state_line(name, "flat"), STATE_WORDS[name]) for name in ("not-started", "work", "hold", "signed", "closed")
    )
    return format_html('<ul class="line-key">{}</ul>', format_html_join("", "<li>{}{}</li>", rows))


def chain_share(first: Figure, second: Figure) -> int:
    """Share of `first` in the sum, in twentieths, from 1 to 19 so that both pieces stay visible."""
    whole = float(first) + float(second)
    if whole <= 0:
        return CHAIN_STEPS // 2
    return min(CHAIN_STEPS - 1, max(1, round(CHAIN_STEPS * float(first) / whole)))


@register.inclusion_tag("_dimensions.html")
def dimensions(own: Figure, below: Figure, places: int = 1) -> dict[str, Any]:
    """Hours of an assembly as a chain of dimensions: own and below under the whole. Arguments in hours.

    The chain is drawn only when there is something below; the figures are always exact to `places`.
    """
    whole = Decimal(str(own)) + Decimal(str(below))
    return {"own": own, "below": below, "whole": whole, "share": chain_share(own, below), "places": places}


def percent(part: Figure, full: Figure) -> str:
    """`part` of `full` as an SVG length, cut to 0..100 %."""
    share = 0.0 if float(full) <= 0 else 100 * float(part) / float(full)
    return f"{min(100.0, max(0.0, share)):.2f}%"


@register.simple_tag
def bar(own: Figure, below: Figure = 0, full: Figure = 100) -> SafeString:
    """A bar, solid for `own` and hatched for `below`, where `full` is the longest bar. Its figures stand beside it."""
    own_width, below_width = percent(own, full), percent(below, full)
    return format_html(
        '<svg class="bar" aria-hidden="true">'
        '<rect class="own" width="{}" height="100%"/>'
        '<rect class="below" x="{}" width="{}" height="100%" fill="url(#h-below)"/>'
        "</svg>",
        own_width,
        own_width,
        below_width,
    )


def tally_widths(counts: Sequence[int], least: float = TALLY_LEAST) -> list[float]:
    """Widths in per cent that add to 100, in proportion, but never below `least` for a count above nought."""
    total = sum(counts)
    if total <= 0:
        return [0.0 for _ in counts]
    raw = [0.0 if not count else max(least, 100 * count / total) for count in counts]
    spare = sum(width - least for width in raw if width > least)
    over = sum(raw) - 100
    if over <= 0 or spare <= 0:
        return raw
    return [width - over * (width - least) / spare if width > least else width for width in raw]


@register.inclusion_tag("_tally.html")
def tally(covered: int, thin: int = 0, none: int = 0) -> dict[str, Any]:
    """How many items are covered, thin or without evidence, as one strip with its figures."""
    counts = (covered, thin, none)
    pieces, start = [], 0.0
    for kind, count, width in zip(("covered", "thin", "none"), counts, tally_widths(counts), strict=True):
        if count:
            pieces.append({"kind": kind, "count": count, "x": start, "width": width, "middle": start + width / 2})
        start += width
    return {"pieces": pieces, "covered": covered, "thin": thin, "none": none}


@register.inclusion_tag("_seam.html")
def seam(bays: Iterable[Any]) -> dict[str, Any]:
    """The bonded joint of a gate: one bay per requirement. Each bay has `number` and `in_place`."""
    drawn = list(bays)
    in_place = sum(1 for bay in drawn if _is_in_place(bay))
    return {"bays": drawn, "in_place": in_place, "all": len(drawn)}


def _is_in_place(bay: Any) -> bool:
    return bool(bay["in_place"] if isinstance(bay, dict) else bay.in_place)


@register.inclusion_tag("_stamp.html")
def stamp(initials: str, date: str, ref: str, word: str = "INSPECTED", landing: bool = False) -> dict[str, Any]:
    """The inspector's stamp. Draw it only for a person who signed; `landing` lets it land, right after signing."""
    return {"initials": initials, "date": date, "ref": ref, "word": word, "landing": landing}


@register.inclusion_tag("_stamp.html")
def no_stamp() -> dict[str, Any]:
    """The empty place where a stamp will stand."""
    return {"initials": ""}


@register.filter
def initials(name: str) -> str:
    """First letters of the first and the last word of a person's name, in capitals ("HV")."""
    words = name.split()
    return "".join(word[0] for word in ([words[0], words[-1]] if len(words) > 1 else words)).upper()
