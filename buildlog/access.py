"""The doors for apps above: they say at start how more kinds are captured, and what work has to heed.

`process` adds mixes, plies and where photos belong this way (`process/apps.py`). What comes is then kept by the outbox,
sent once, and answered like everything else that is captured (`buildlog/views/captured.py`).
"""

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from typing import Any

from django.http import QueryDict

from accounts.models import Project
from buildlog.commands import Capture
from buildlog.models import Receipt


def nothing_more(receipt: Receipt) -> dict[str, Any]:
    """An answer that says nothing besides that it came."""
    return {}


@dataclass(frozen=True)
class Taker:
    """How one kind of capture is taken in.

    `take` reads what was posted, calls one command that begins with `known(capture)` and ends with `receipt_of`, and
    raises Refusal for what cannot be taken. `tell` gives what the phone is told besides.
    """

    take: Callable[[QueryDict, Capture], Receipt]
    tell: Callable[[Receipt], dict[str, Any]] = nothing_more


TAKERS: dict[str, Taker] = {}

# Given a project and the keys of assemblies, sentences for whoever logs work there: `inspections` tells this way of
# hold points and of areas that are closed for good.
NOTICES: list[Callable[[Project, Iterable[str]], list[str]]] = []


def notices(project: Project, assemblies: Iterable[str]) -> list[str]:
    """Every sentence for work on these assemblies."""
    keys = list(assemblies)
    return [sentence for say in NOTICES for sentence in say(project, keys)]
