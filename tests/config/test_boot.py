"""The first start on an empty machine, tried in copies of the project's own starting files.

No test here needs a network: the packages come from a folder, and where one must be missing,
the index is a closed port of this machine.
"""

import ast
import hashlib
import os
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from config import boot

ROOT = Path(__file__).resolve().parent.parent.parent
STARTING_FILES = ["manage.py", "config/__init__.py", "config/boot.py", "requirements.txt", "requirements-test.txt"]
STUB = "def execute_from_command_line(argv):\n    print('ran', *argv[1:])\n"
CLOSED_PORT = "http://127.0.0.1:9/simple"

Result = subprocess.CompletedProcess[str]


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """A copy of what a start needs, in a folder where nothing was started yet."""
    return copy_project(tmp_path / "project")


def copy_project(folder: Path) -> Path:
    for name in STARTING_FILES:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(ROOT / name, folder / name)
    return folder


def start(folder: Path, *words: str, python: str = sys.executable, **environment: str) -> Result:
    return subprocess.run(
        [python, "manage.py", *words],
        cwd=folder,
        env=plain_environment(**environment),
        capture_output=True,
        text=True,
        timeout=120,
    )


def plain_environment(**more: str) -> dict[str, str]:
    """This process's environment without what would change where pip looks or whether the boot runs."""
    kept = {name: value for name, value in os.environ.items() if not name.startswith(("PIP_", "MANAGE_", "PYTHON"))}
    return {**kept, "PIP_CONFIG_FILE": os.devnull, "PIP_NO_CACHE_DIR": "1", **more}


def one_line(result: Result) -> str:
    """The last thing said; the lines before it only tell about progress."""
    assert result.returncode == 2, result.stderr
    assert "Traceback" not in result.stderr
    return result.stderr.strip().splitlines()[-1]


# Which Python


@pytest.mark.parametrize("version", [(2, 7, 18), (3, 6, 15), (3, 11, 7)])
def test_an_old_python_is_told_its_version_and_the_needed_one(version: tuple[int, ...]) -> None:
    complaint = boot.version_complaint(version, "/usr/bin/python")
    assert ".".join(map(str, version)) in complaint
    assert "3.12 or newer" in complaint
    assert "\n" not in complaint


@pytest.mark.parametrize("version", [(3, 12, 0), (3, 13, 0), (3, 14, 2), (4, 0, 0)])
def test_a_new_enough_python_is_welcome(version: tuple[int, ...]) -> None:
    assert boot.version_complaint(version, "python") == ""


@pytest.mark.parametrize("name", ["python2.7", "python3.6", "python3.8", "python3.11"])
def test_an_old_python_on_this_machine_reaches_the_message(name: str, project: Path) -> None:
    python = find_working(name)
    if not python:
        pytest.skip(f"{name} is not on this machine")
    said = one_line(start(project, "up", python=python))
    assert re.search(r"3\.12 or newer is needed.* is Python [23]\.\d+\.\d+", said)


def find_working(name: str) -> str:
    """The first program of this name that runs; a version manager's stand-in for one not chosen does not."""
    for folder in os.environ["PATH"].split(os.pathsep):
        python = shutil.which(name, path=folder)
        if python and subprocess.run([python, "-c", ""], capture_output=True, check=False).returncode == 0:
            return python
    return ""


@pytest.mark.parametrize("name", ["manage.py", "config/boot.py", "config/__init__.py"])
def test_the_starting_files_use_only_words_that_every_python_reads(name: str) -> None:
    newer = (ast.JoinedStr, ast.AnnAssign, ast.NamedExpr, ast.Nonlocal, ast.AsyncFunctionDef, ast.Await, ast.Match)
    for node in ast.walk(ast.parse((ROOT / name).read_text())):
        assert not isinstance(node, newer), f"line {node.lineno}"
        assert not isinstance(node, ast.arg) or node.annotation is None, f"line {node.lineno}"
        assert not (isinstance(node, ast.FunctionDef) and (node.returns or node.args.kwonlyargs)), f"line {node.lineno}"
        assert not isinstance(node, ast.Raise) or node.cause is None, f"line {node.lineno}"
        assert not (isinstance(node, (ast.List, ast.Tuple)) and starred(node.elts)), f"line {node.lineno}"


def starred(parts: list[ast.expr]) -> bool:
    return any(isinstance(part, ast.Starred) for part in parts)


# What can be missing


def test_without_venv_the_package_to_install_is_named(project: Path, tmp_path: Path) -> None:
    words = "The virtual environment was not created successfully because ensurepip is not available."
    (tmp_path / "fake").mkdir()
    (tmp_path / "fake" / "venv.py").write_text(f"raise SystemExit({words!r})\n")
    said = one_line(start(project, "up", PYTHONPATH=str(tmp_path / "fake")))
    assert "python3-venv" in said
    assert "same command again" in said


def test_without_network_the_connection_is_named_and_the_next_start_goes_on(ready: "Ready") -> None:
    ready.pin("2.0")
    offline = {"PIP_NO_INDEX": "0", "PIP_FIND_LINKS": "", "PIP_INDEX_URL": CLOSED_PORT, "PIP_RETRIES": "1"}
    said = one_line(ready.start("check", **offline))
    assert "check the internet connection and run the same command again" in said
    assert "boot.log" in said
    assert ready.start("check").stdout == "ran check\n"


def test_a_folder_that_cannot_be_made_is_named(project: Path) -> None:
    (project / ".venv").write_text("in the way")
    said = one_line(start(project, "up"))
    assert str(project / ".venv") in said
    assert "cannot be written" in said


def test_no_environment_of_ones_own_is_made_when_asked_not_to(project: Path) -> None:
    start(project, "check", MANAGE_NO_BOOT="1")
    assert not (project / ".venv").exists()


@pytest.mark.parametrize(
    ("output", "advice"),
    [
        ("WARNING: Retrying after connection broken by 'x'\nERROR: No matching distribution", "internet connection"),
        ("ERROR: THESE PACKAGES DO NOT MATCH THE HASHES FROM THE REQUIREMENTS FILE.", "checksum"),
        ("ERROR: No matching distribution found for pillow==13.0.0", "64-bit"),
        ("ERROR: Could not install packages due to an OSError: [Errno 28] No space left on device", "No space left"),
        ("ERROR: something else\n\n[notice] A new release of pip is available", "something else"),
        ("", "no reason given"),
    ],
)
def test_pips_many_words_become_one_line(output: str, advice: str) -> None:
    complaint = boot.install_complaint(output)
    assert advice in complaint
    assert "\n" not in complaint


# A start that succeeds


class Ready:
    """A started project whose only package is a stand-in for Django, taken from a folder."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.wheels = copy_project(folder / "project"), folder / "wheels"
        self.wheels.mkdir()
        self.pin("1.0")

    def pin(self, version: str, digest: str = "") -> None:
        """Write both requirements files with this version and build its package."""
        wheel = build_wheel(self.wheels, version)
        digest = digest or hashlib.sha256(wheel.read_bytes()).hexdigest()
        for name in ("requirements.txt", "requirements-test.txt"):
            (self.folder / name).write_text(f"django=={version} --hash=sha256:{digest}\n")

    def start(self, *words: str, **environment: str) -> Result:
        return start(self.folder, *words, **{**self.source, **environment})

    @property
    def source(self) -> dict[str, str]:
        return {"PIP_NO_INDEX": "1", "PIP_FIND_LINKS": str(self.wheels)}


def build_wheel(folder: Path, version: str) -> Path:
    wheel = folder / f"django-{version}-py3-none-any.whl"
    info = f"django-{version}.dist-info"
    members = {
        "django/__init__.py": f"version = {version!r}\n",
        "django/core/__init__.py": "",
        "django/core/management.py": STUB,
        f"{info}/METADATA": f"Metadata-Version: 2.1\nName: django\nVersion: {version}\n",
        f"{info}/WHEEL": "Wheel-Version: 1.0\nGenerator: test\nRoot-Is-Purelib: true\nTag: py3-none-any\n",
    }
    record = "".join(f"{name},,\n" for name in [*members, f"{info}/RECORD"])
    with zipfile.ZipFile(wheel, "w") as archive:
        for name, text in {**members, f"{info}/RECORD": record}.items():
            archive.writestr(zipfile.ZipInfo(name), text)
    return wheel


@pytest.fixture(scope="module")
def started(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Ready]:
    """A project started once; making an environment takes seconds."""
    ready = Ready(tmp_path_factory.mktemp("boot"))
    first = ready.start("check", "--deploy")
    assert first.stdout == "ran check --deploy\n", first.stderr
    assert "Installing the packages" in first.stderr
    yield ready


@pytest.fixture
def ready(started: Ready) -> Ready:
    """The started project, brought back to where it was after its first start."""
    started.pin("1.0")
    result = started.start("check")
    assert result.stdout == "ran check\n", result.stderr
    return started


def installed(ready: Ready) -> str:
    """The version of the stand-in that the environment holds."""
    names = [path.name for path in ready.folder.glob(".venv/**/django-*.dist-info")]
    assert len(names) == 1
    return names[0]


def test_a_second_start_installs_nothing_and_says_nothing(ready: Ready) -> None:
    again = ready.start("check", PIP_FIND_LINKS="/nowhere")
    assert (again.returncode, again.stdout, again.stderr) == (0, "ran check\n", "")


def test_changed_pins_are_installed_at_the_next_start(ready: Ready) -> None:
    ready.pin("2.0")
    assert "Installing the packages" in ready.start("check").stderr
    assert installed(ready) == "django-2.0.dist-info"


def test_the_test_packages_satisfy_the_other_commands_too(ready: Ready) -> None:
    ready.pin("2.0")
    assert "requirements-test.txt" in ready.start("test").stderr
    assert ready.start("check").stderr == ""
    assert ready.start("test").stderr == ""


def test_a_package_with_another_checksum_is_refused(ready: Ready) -> None:
    ready.pin("2.0", digest="0" * 64)
    assert "checksum differs" in one_line(ready.start("check"))
    assert installed(ready) == "django-1.0.dist-info"


@pytest.mark.slow
@pytest.mark.parametrize("harm", ["mark left by a killed set-up", "pip lost", "interpreter lost"])
def test_a_half_made_environment_is_made_again(harm: str, ready: Ready) -> None:
    venv = ready.folder / ".venv"
    if harm == "mark left by a killed set-up":
        (venv / boot.UNFINISHED).touch()
    elif harm == "pip lost":
        shutil.rmtree(next(venv.glob("**/site-packages/pip")))
        next(venv.glob("installed-requirements.txt")).unlink()
    else:
        for name in venv.glob("bin/python*"):
            name.unlink()
    again = ready.start("check")
    assert again.stdout == "ran check\n", again.stderr
    assert "Making the environment" in again.stderr
    assert not (venv / boot.UNFINISHED).exists()


@pytest.mark.slow
def test_two_first_starts_at_once_do_not_disturb_each_other(tmp_path: Path) -> None:
    ready = Ready(tmp_path)
    with ThreadPoolExecutor(2) as pool:
        both = [pool.submit(ready.start, "check") for _ in range(2)]
        results = [start.result() for start in both]
    assert [result.stdout for result in results] == ["ran check\n", "ran check\n"], results
    assert sorted("Installing" in result.stderr for result in results) == [False, True]


# The pins


@pytest.mark.parametrize("name", ["requirements.txt", "requirements-signing.txt", "requirements-test.txt"])
def test_pins_name_no_address_and_carry_hashes(name: str) -> None:
    text = (ROOT / name).read_text()
    assert "://" not in text
    pins = pinned(text)
    assert len(pins) > 15
    for pin in pins:
        assert "--hash=sha256:" in pin, pin
        assert re.match(r"[\w.\[\]-]+==[\w.]+ ", pin), pin


def test_the_test_pins_hold_every_pin_for_signing_and_those_every_runtime_pin() -> None:
    names = ("requirements.txt", "requirements-signing.txt", "requirements-test.txt")
    runtime, signing, tests = ({pin.split(" ")[0] for pin in pinned((ROOT / name).read_text())} for name in names)
    assert runtime < signing < tests


def pinned(text: str) -> list[str]:
    """The requirements of a file, each with its continuation lines."""
    joined = text.replace("\\\n", " ").splitlines()
    return [line for line in joined if line.strip() and not line.lstrip().startswith("#")]
