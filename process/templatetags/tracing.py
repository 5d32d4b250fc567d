"""The page of a thing that was found on the way from a lot to what holds it, and doubts on a record by its tools."""

from django import template
from django.urls import NoReverseMatch, reverse

from process.queries.tools import ABOVE, Doubted, Made, doubted

register = template.Library()

PAGES = {
    "lot": "parts:lot",
    "part": "parts:part",
    "assembly": "inspections:assembly",
    "layup": "process:layup",
    "mix": "process:mix",
    "cure": "process:cure",
    "bond": "process:bond",
    "photo": "evidence:photo",
    "session": "buildlog:session",
    "document": "evidence:document",
    "tool": "process:tool",
}


@register.simple_tag
def page_of(slug: str, kind: str, key: str) -> str:
    """The address of the page of a thing, by its kind and key; empty for one that has none."""
    try:
        if kind in PAGES:
            return reverse(PAGES[kind], args=[slug, key])
        if kind in ABOVE:
            return reverse(ABOVE[kind].page, args=[slug, key])
        return reverse("process:check", args=[slug, kind, key])
    except NoReverseMatch:
        return ""


@register.simple_tag
def doubts_of(record: Made) -> list[Doubted]:
    """The tools found bad that a record was made with, each with how it was looked at again."""
    return doubted(record)
