"""The session pages through a browser without script, at a time set by hand."""

import pytest
from django.utils import timezone

from tests.buildlog.browse import Clock, Shop
from tests.factories import NOW, client_for, make_project


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> Clock:
    """The server's time: 14 May 2026, 11:00 in the shop, until a test sets it."""
    set_by_hand = Clock(NOW)
    monkeypatch.setattr(timezone, "now", lambda: set_by_hand.now)
    return set_by_hand


@pytest.fixture
def shop(db: None, clock: Clock) -> Shop:
    """The builder of a project in Denver."""
    _, edda = make_project()
    return Shop(edda, client_for(edda))
