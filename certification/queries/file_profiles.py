"""The authorities' lists of papers: those that come with the program, and the one a project took up."""

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from accounts.models import Project
from accounts.queries import Authority, authority_of
from certification.models import FileProfile
from certification.rules import file_profiles as rules
from foundation.digest import canonical, digest_bytes

DATA = Path(__file__).resolve().parent.parent / "data" / "profiles"


@dataclass(frozen=True)
class Bundled:
    """A list that comes with the program, with its content as a project keeps it."""

    list: rules.FileList
    content: str
    digest: str


@cache
def bundled() -> dict[str, Bundled]:
    """The lists that come with the program, by authority."""
    found = {}
    for path in sorted(DATA.glob("*.json")):
        data: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        content = canonical(data)
        found[data["authority"]] = Bundled(rules.read(data), content, digest_bytes(content.encode()))
    return found


def bundled_for(project: Project) -> Bundled:
    """The list that comes with the program for the project's authority."""
    return bundled().get(project.authority) or bundled()["other"]


def kept_profile(project: Project) -> FileProfile | None:
    """The list that the project took up last, as a record."""
    rows = FileProfile.objects.standing().filter(project=project).select_related("taken_by")
    return rows.order_by("-taken_at", "-pk").first()


def profiles_kept(project: Project) -> list[FileProfile]:
    """Every list that the project ever took up, the newest first."""
    return list(FileProfile.objects.filter(project=project).select_related("taken_by").order_by("-taken_at", "-pk"))


def list_kept(profile: FileProfile) -> rules.FileList:
    """What a kept list says."""
    return rules.read(json.loads(profile.content))


@dataclass(frozen=True)
class Profile:
    """The list that counts for a project: kept, or only offered; and what the bundled one says otherwise."""

    authority: Authority
    kept: FileProfile | None
    list: rules.FileList
    offered: Bundled
    differences: Sequence[rules.Difference]

    @property
    def newer(self) -> bool:
        """Whether the program has another list than the one that is kept."""
        return self.kept is not None and self.kept.digest != self.offered.digest

    @property
    def elsewhere(self) -> bool:
        """Whether the kept list is another authority's: the project changed it since."""
        return self.kept is not None and self.kept.authority != self.offered.list.authority


def profile_of(project: Project) -> Profile:
    """The list of the project, and how it stands against the one that comes with the program."""
    offered, kept = bundled_for(project), kept_profile(project)
    shown = list_kept(kept) if kept else offered.list
    changed = rules.differences(shown, offered.list) if kept and kept.digest != offered.digest else []
    return Profile(authority_of(project), kept, shown, offered, changed)
