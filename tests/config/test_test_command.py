"""How the test command finds a browser and divides the work."""

import os
from pathlib import Path

import pytest

from config.management.commands import test as command


@pytest.fixture
def empty_path(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A machine without any browser, and one that nothing can be installed on."""
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv("CHROMIUM", raising=False)
    monkeypatch.delenv("CI", raising=False)
    return tmp_path


def make_program(path: Path) -> str:
    path.write_text("#!/bin/sh\n")
    path.chmod(0o755)
    return str(path)


def test_the_named_browser_comes_before_those_on_the_path(empty_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make_program(empty_path / "chromium")
    named = make_program(empty_path / "mine")
    monkeypatch.setenv("CHROMIUM", named)
    assert command.find_browser() == named


@pytest.mark.parametrize("name", command.BROWSERS)
def test_each_usual_name_is_found(name: str, empty_path: Path) -> None:
    browser = make_program(empty_path / name)
    assert command.find_browser() == browser


def test_a_named_browser_that_is_not_there_is_told(empty_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make_program(empty_path / "chromium")
    monkeypatch.setenv("CHROMIUM", str(empty_path / "gone"))
    with pytest.raises(SystemExit, match="CHROMIUM: there is no program"):
        command.find_browser()


def test_without_a_browser_the_skipping_is_said_loudly(empty_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert command.find_browser() == ""
    assert "NO BROWSER FOUND" in capsys.readouterr().err


def test_a_build_server_without_a_browser_stops(empty_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("CI", "true")
    with pytest.raises(SystemExit, match="browser tests must run"):
        command.find_browser()


def test_two_cores_work_side_by_side_but_a_debugger_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "cpu_count", lambda: 4)
    assert command.workers(["-x"]) == ["-n", "2", "--dist", "worksteal"]
    assert command.workers(["--pdb"]) == []
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    assert command.workers([]) == []
