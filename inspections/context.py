"""What every page of a project shows around its content: name, sections, the tree of assemblies."""

from dataclasses import dataclass
from functools import cached_property
from typing import Any

from django.http import HttpRequest

from accounts.access import SeatedRequest
from accounts.models import Person, Project
from calc.hours import decimal_hours
from inspections import queries
from inspections.queries import Branch, JudgedArea

SCHEMES = {"light", "dark"}
SECTIONS = {
    "parts": "assemblies",
    "evidence": "photos",
    "certification": "file",
    "archive": "record",
    "process": "layups",
}
PAGES = {
    "shop": "shop",
    "tray": "photos",
    "capture": "capture",
    "capture_on": "capture",
    "kept": "kept",
    "assembly": "assemblies",
    "stores": "stores",
    "stores_watch": "stores",
    "where_used": "stores",
    "contents": "assemblies",
    "part_story": "assemblies",
    "on_assembly": "assemblies",
    "on_part": "assemblies",
    **{f"tool{act}": "tools" for act in ("", "s", "_new", "_edit", "_event", "_event_edit", "_suspects", "_withdraw")},
    **{f"tool_{act}": "tools" for act in ("paper", "look_again", "recheck", "recheck_withdraw")},
    **{f"document{act}": "documents" for act in ("", "s", "s_of", "_new", "_edit", "_place", "_withdraw")},
    "labels": "stores",
    **{f"{thing}{act}": "stores" for thing in ("bin", "lot") for act in ("", "s", "_new", "_edit", "_withdraw")},
    **dict.fromkeys(("record", "record_new", "pack", "pack_sign", "signing_key"), "record"),
    "photo_uses": "photos",
    "hours": "hours",
    "project": "project",
    "settings": "settings",
    "health": "health",
}


@dataclass(frozen=True)
class TreeNode:
    """One line of the tree in the rail."""

    key: str
    number: str
    name: str
    state: str
    state_word: str
    depth: int
    hours: str


class Frame:
    """Read when a template asks for it, so that pages without the frame cost nothing."""

    def __init__(self, request: HttpRequest) -> None:
        self.request = request
        seat = getattr(request, "seat", None)
        self.project: Project | None = seat.project if seat else None
        self.person: Person | None = seat.person if seat else None
        self.scheme = request.COOKIES.get("scheme", "") if request.COOKIES.get("scheme") in SCHEMES else ""
        self.contrast = "glare" if request.COOKIES.get("contrast") == "glare" else ""

    def may(self, act: str) -> bool:
        return self.person is not None and self.person.may(act)

    @property
    def can_log(self) -> bool:
        return self.may("log")

    @property
    def can_find(self) -> bool:
        return self.may("find")

    @property
    def can_edit(self) -> bool:
        return self.may("edit")

    @property
    def can_close(self) -> bool:
        return self.may("close")

    @property
    def can_manage(self) -> bool:
        return self.may("manage")

    @property
    def can_sign(self) -> bool:
        return self.may("sign")

    @property
    def section(self) -> str:
        match = self.request.resolver_match
        if match is None:
            return ""
        name = match.url_name or ""
        if name in PAGES:
            return PAGES[name]
        if match.namespace in SECTIONS:
            return SECTIONS[match.namespace]
        if match.namespace == "accounts":
            return "people"
        return {"buildlog": "sessions", "inspections": "holds"}.get(match.namespace, "")

    @cached_property
    def gates(self) -> list[JudgedArea]:
        """Every area of the project with its gate; pages that show gates take them from here."""
        return queries.judged(self.project) if self.project else []

    @cached_property
    def branches(self) -> list[Branch]:
        return queries.branches(self.project, self.gates) if self.project else []

    @property
    def open_holds(self) -> int:
        return sum(one.gate.state == "hold" for one in self.gates)

    @property
    def tree(self) -> list[TreeNode]:
        return [
            TreeNode(b.key, b.number, b.name, b.state, b.state_word, b.depth, f"{decimal_hours(b.total):,}")
            for b in self.branches
        ]


class FramedRequest(SeatedRequest):
    """A member's request whose view needs the frame itself and leaves it here for the template."""

    frame: Frame


def frame(request: HttpRequest) -> dict[str, Any]:
    """Context processor: `frame` for every template."""
    return {"frame": getattr(request, "frame", None) or Frame(request)}
