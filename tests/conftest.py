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
