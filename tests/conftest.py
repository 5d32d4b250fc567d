"""What every test may ask for."""

import os
from pathlib import Path

import pytest

# Playwright's synchronous driver runs an event loop in the test's thread.
os.environ.setdefault("DJANGO_ALLOW_ASYNC_UNSAFE", "1")


@pytest.fixture(autouse=True)
def own_folders(settings, tmp_path: Path):  # noqa: ANN001, ANN201
    """Each test keeps originals, documents, renditions and exports in a folder of its own."""
    settings.ORIGINALS_DIR = tmp_path / "originals"
    settings.DOCUMENTS_DIR = tmp_path / "documents"
    settings.RENDITIONS_DIR = tmp_path / "renditions"
    settings.EXPORTS_DIR = tmp_path / "exports"


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--database-only", action="store_true", help="only tests that use the database")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Leave out what says the same on every database, where a second database is tried."""
    if not config.getoption("--database-only"):
        return
    asks = [uses_database(item) for item in items]
    config.hook.pytest_deselected(items=[item for item, kept in zip(items, asks, strict=True) if not kept])
    items[:] = [item for item, kept in zip(items, asks, strict=True) if kept]


def uses_database(item: pytest.Item) -> bool:
    """Whether a test is marked for the database or asks for it through a fixture."""
    names = set(getattr(item, "fixturenames", ()))
    return item.get_closest_marker("django_db") is not None or bool(names & {"db", "transactional_db", "live_server"})
