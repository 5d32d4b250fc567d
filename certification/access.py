"""What apps below are told at start: to which papers a document belongs, and which weighings name a tool."""

from django.urls import reverse

from certification.models import WeighIn
from certification.queries import balance
from certification.queries.papers import papers_of
from evidence.models import Document
from evidence.queries import About
from process.queries.tools import Above

WEIGHINGS = Above(
    "certification:weighin",
    balance.naming_tools,
    lambda project, key: balance.all_weigh_ins(project).filter(pk=key).first(),
    balance.tools_named,
)
MADE_WITH_TOOLS = {WeighIn.KIND: WEIGHINGS}


def on_papers(document: Document) -> list[About]:
    """The papers of the certification file that a document is, or belongs to."""
    slug = document.project.slug
    return [
        About("Paper", "", one.title or one.code, reverse("certification:paper", args=[slug, one.code]))
        for one in papers_of(document)
    ]
