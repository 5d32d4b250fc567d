"""A page's form as a browser without script holds it, and a clock for the server."""

from dataclasses import dataclass
from datetime import datetime
from html import unescape
from html.parser import HTMLParser
from typing import Any

from django.http import HttpResponse
from django.test import Client
from django.urls import reverse

from accounts.models import Person, Project

Fields = dict[str, list[str]]


class FormReader(HTMLParser):
    """What the form in the middle of a page would send."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.fields: Fields = {}
        self.action: str | None = None
        self.inside = self.template = False
        self.area: str | None = None
        self.select: str | None = None

    def put(self, name: str | None, value: str) -> None:
        if name:
            self.fields.setdefault(name, []).append(value)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        a = dict(attrs)
        if tag == "template":
            self.template = True
        if tag == "form" and a.get("class") in {"stack", "sheet narrow confirm"}:
            self.inside, self.action = True, a.get("action")
        if not self.inside or self.template:
            return
        if tag == "input":
            self.handle_input(a)
        elif tag == "textarea":
            self.area = a.get("name")
            self.put(self.area, "")
        elif tag == "select":
            self.select = a.get("name")
        # The first option stands until another is marked.
        elif tag == "option" and self.select and (self.select not in self.fields or "selected" in a):
            self.fields[self.select] = [a.get("value") or ""]

    def handle_input(self, a: dict[str, str | None]) -> None:
        if a.get("type") not in {"file", "checkbox", "radio"} or "checked" in a:
            self.put(a.get("name"), a.get("value", "on" if "checked" in a else "") or "")

    def handle_data(self, data: str) -> None:
        if self.area:
            self.fields[self.area][-1] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "template":
            self.template = False
        elif tag == "form":
            self.inside = False
        elif tag == "textarea" and self.area:
            self.fields[self.area][-1] = self.fields[self.area][-1].removeprefix("\n")
            self.area = None
        elif tag == "select":
            self.select = None


def form_of(response: HttpResponse) -> tuple[Fields, str | None]:
    """The fields of the page's form as they would be sent, and where to."""
    reader = FormReader()
    reader.feed(response.content.decode())
    reader.fields.pop("csrfmiddlewaretoken", None)
    return reader.fields, reader.action


def text_of(response: HttpResponse) -> str:
    return unescape(response.content.decode())


@dataclass
class Clock:
    """The server's clock, set by hand."""

    now: datetime


@dataclass
class Shop:
    """A signed-in person's browser in one project."""

    person: Person
    client: Client

    @property
    def project(self) -> Project:
        return self.person.project

    def url(self, name: str, *keys: str) -> str:
        return reverse(name if ":" in name else f"buildlog:{name}", args=[self.project.slug, *keys])

    def get(self, name: str, *keys: str, **query: str) -> HttpResponse:
        return self.client.get(self.url(name, *keys), query)

    def post(self, name: str, *keys: str, **fields: Any) -> HttpResponse:
        return self.client.post(self.url(name, *keys), fields)

    def fill(self, page: HttpResponse, /, **typed: Any) -> HttpResponse:
        """Send the form of a page with these fields typed over; follows its action, not the redirect."""
        fields, action = form_of(page)
        assert fields, "no form on the page"
        return self.client.post(action or page.request["PATH_INFO"], {**fields, **typed})

    def log(self, **typed: Any) -> HttpResponse:
        """Open the empty form and send it with these fields."""
        return self.fill(self.get("session_new"), **typed)
