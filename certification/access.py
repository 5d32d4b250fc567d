"""What apps below are told at start: to which papers of the file a document belongs."""

from django.urls import reverse

from certification.queries.papers import papers_of
from evidence.models import Document
from evidence.queries import About


def on_papers(document: Document) -> list[About]:
    """The papers of the certification file that a document is, or belongs to."""
    slug = document.project.slug
    return [
        About("Paper", "", one.title or one.code, reverse("certification:paper", args=[slug, one.code]))
        for one in papers_of(document)
    ]
