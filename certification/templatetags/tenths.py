"""The ten tenths of a task, drawn and in figures."""

from collections.abc import Mapping
from decimal import Decimal
from fractions import Fraction

from django import template
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

from calc.major_portion import COLUMNS, FULL
from certification.rules.credit import COLUMN_HEADS, tenths_words

register = template.Library()

# The hatch of each column: an outline for the maker, strokes for paid help, dots and ink for the builders.
FILLS = dict(zip(COLUMNS, ("none", "url(#h-rework)", "url(#h-below)", "currentColor"), strict=True))


@register.filter
def points(tenths: int) -> str:
    """Tenths as points: 3 is 0.3."""
    return tenths_words(tenths)


@register.simple_tag
def tenths_strip(tenths: Mapping[str, int] | None, size: str = "") -> SafeString:
    """Ten cells, each in the hatch of its column; what is nobody's is left open. The figures stand beside it."""
    given = [column for column in COLUMNS for _ in range((tenths or {}).get(column, 0))][:FULL]
    cells = format_html_join(
        "",
        '<rect x="{}" y="1" width="10" height="14" fill="{}" data-column="{}"/>',
        ((1 + 10 * n, FILLS[column], column) for n, column in enumerate(given)),
    )
    return format_html(
        '<svg class="{}" viewBox="0 0 102 16" preserveAspectRatio="none" aria-hidden="true">'
        '<rect class="open" x="1" y="1" width="100" height="14"/>{}</svg>',
        f"tenths {size}".strip(),
        cells,
    )


@register.simple_tag
def tenths_key() -> SafeString:
    """What each hatch stands for, as a list."""
    rows = [*((COLUMN_HEADS[column], FILLS[column], "") for column in COLUMNS), ("Nobody's yet", "none", "open")]
    return format_html(
        '<ul class="tenths-key">{}</ul>',
        format_html_join(
            "",
            '<li><svg class="tenths one" viewBox="0 0 12 16" aria-hidden="true">'
            '<rect x="1" y="1" width="10" height="14" fill="{}" class="{}"/></svg>{}</li>',
            ((fill, kind, head) for head, fill, kind in rows),
        ),
    )


@register.simple_tag
def share_bar(totals: Mapping[str, int], points_in_all: int) -> SafeString:
    """All tenths as one bar with a line at the half: builders from the left, paid help and maker from the right."""
    if not points_in_all:
        return format_html("")

    def width(*columns: str) -> float:
        return float(round(Decimal(float(Fraction(100 * sum(totals[c] for c in columns), points_in_all))), 3))

    maker, paid, assembly, fabrication = (width(column) for column in COLUMNS)
    pieces = (
        (0, fabrication, FILLS[COLUMNS[3]], "fabrication"),
        (fabrication, assembly, FILLS[COLUMNS[2]], "assembly"),
        (100 - maker - paid, paid, FILLS[COLUMNS[1]], "paid"),
        (100 - maker, maker, "none", "maker"),
    )
    return format_html(
        '<svg class="share-bar" aria-hidden="true"><rect class="open" width="100%" height="26" y="8"/>{}'
        '<line class="half" x1="50%" x2="50%" y1="0" y2="42"/></svg>',
        format_html_join(
            "",
            '<rect class="{}" x="{}%" y="8" width="{}%" height="26" fill="{}"/>',
            ((kind, f"{x:.3f}", f"{wide:.3f}", fill) for x, wide, fill, kind in pieces if wide),
        ),
    )
