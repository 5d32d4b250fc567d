"""The types hold: mypy finds nothing in any package."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
PACKAGES = sorted(folder.parent.name for folder in ROOT.glob("*/__init__.py") if folder.parent.name != "tests")


@pytest.mark.slow
def test_types_hold(tmp_path: Path) -> None:
    answer = subprocess.run(
        [sys.executable, "-m", "mypy", *PACKAGES],
        cwd=ROOT,
        env=os.environ | {"DATA_DIR": str(tmp_path), "MANAGE_NO_BOOT": "1"},
        capture_output=True,
        text=True,
        check=False,
    )
    assert "config" in PACKAGES
    assert answer.returncode == 0, answer.stdout[-5000:] + answer.stderr[-3000:]
