"""The command that sets up and serves, run as a person runs it, with a data folder of its own."""

import os
import re
import signal
import socket
import stat
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from config.lan import lan_address, terminal_code
from config.ports import address, try_port

ROOT = Path(__file__).resolve().parent.parent.parent
LINK = re.compile(r"^Sign in (http://127\.0\.0\.1:\d+/\S+)$", re.MULTILINE)

Result = subprocess.CompletedProcess[str]


def environment(data: Path, **more: str) -> dict[str, str]:
    """The web program's own settings, whatever the tests themselves run with."""
    apart = {"DJANGO_SETTINGS_MODULE", "DATABASE_URL", "WORKER", "BEHIND_HTTPS", "DEBUG", "PYTHONIOENCODING"}
    kept = {name: value for name, value in os.environ.items() if name not in apart}
    return {**kept, "MANAGE_NO_BOOT": "1", "PYTHONUTF8": "1", "DATA_DIR": str(data), **more}


def command(data: Path, *words: str, **more: str) -> Result:
    return subprocess.run(
        [sys.executable, "manage.py", *words],
        cwd=ROOT,
        env=environment(data, **more),
        capture_output=True,
        text=True,
        timeout=240,
    )


def one_line(result: Result) -> str:
    assert result.returncode == 2, result.stderr
    assert result.stdout == ""
    lines = result.stderr.strip().splitlines()
    assert len(lines) == 1, result.stderr
    return lines[0]


def mode(path: Path) -> int:
    return stat.S_IMODE(path.stat().st_mode)


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A data folder that `up` has set up."""
    folder = tmp_path_factory.mktemp("up") / "data"
    first = command(folder, "up", "--no-serve", "--no-demo")
    assert first.returncode == 0, first.stderr
    assert LINK.search(first.stdout)
    assert "Database brought up to date" in first.stdout
    return folder


def test_a_second_set_up_has_nothing_to_do(data: Path) -> None:
    again = command(data, "up", "--no-serve", "--no-demo")
    assert again.returncode == 0
    assert again.stderr == ""
    assert "brought up to date" not in again.stdout
    assert LINK.search(again.stdout)


def test_the_data_folder_is_its_owners_alone(data: Path) -> None:
    assert mode(data) == 0o700
    assert mode(data / "secrets") == 0o700
    assert [mode(secret) for secret in (data / "secrets").iterdir()] == [0o600]


def test_with_lan_the_phone_gets_a_link_of_its_own(data: Path) -> None:
    result = command(data, "up", "--no-serve", "--no-demo", "--lan")
    assert result.returncode == 0, result.stderr
    assert "Phone" in result.stdout
    if lan_address():
        assert f"http://{lan_address()}:8000/" in result.stdout
        assert "█▀▀" in result.stdout or "▄▄▄" in result.stdout


def test_a_terminal_without_the_characters_gets_the_link_in_words(data: Path) -> None:
    plain = {"PYTHONUTF8": "0", "PYTHONIOENCODING": "ascii"}
    result = command(data, "up", "--no-serve", "--no-demo", "--lan", **plain)
    assert result.returncode == 0, result.stderr
    assert result.stdout.isascii()


def test_a_taken_port_is_told_before_anything_is_made(tmp_path: Path) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        said = one_line(command(tmp_path / "data", "up", "--no-demo", "--port", str(port)))
    assert said.startswith(f"Port {port} is taken. Stop the other program or choose another with --port ")
    assert not (tmp_path / "data" / "record.sqlite3").exists()


@pytest.mark.parametrize(("words", "part"), [(["--port", "0"], "Port 0"), (["--host", "192.0.2.77"], "192.0.2.77")])
def test_an_impossible_address_is_told_in_one_line(words: list[str], part: str, tmp_path: Path) -> None:
    assert part in one_line(command(tmp_path, "up", "--no-demo", *words))


def test_a_data_folder_that_cannot_be_made_is_named(tmp_path: Path) -> None:
    (tmp_path / "data").write_text("in the way")
    said = one_line(command(tmp_path / "data", "up", "--no-serve", "--no-demo"))
    assert str(tmp_path / "data") in said


def test_a_data_folder_that_cannot_be_written_is_named(data: Path) -> None:
    incoming = data / "incoming"
    incoming.rmdir()
    incoming.write_text("in the way")
    try:
        said = one_line(command(data, "up", "--no-serve", "--no-demo"))
    finally:
        incoming.unlink()
        incoming.mkdir()
    assert f"The data folder {data} cannot be written" in said


def test_a_wrong_setting_is_named(tmp_path: Path) -> None:
    assert one_line(command(tmp_path, "check", DEBUG="maybe")).startswith("DEBUG: ")


@pytest.fixture
def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


@pytest.fixture
def serving(data: Path, free_port: int) -> Iterator[tuple[subprocess.Popen[str], int]]:
    """`up`, running, killed after the test if it is still there."""
    process = subprocess.Popen(
        [sys.executable, "manage.py", "up", "--no-demo", "--port", str(free_port)],
        cwd=ROOT,
        env=environment(data),
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    yield process, free_port
    process.kill()
    process.communicate()


def read_until(process: subprocess.Popen[str], last: str) -> str:
    """What was printed up to and with the line that begins so."""
    assert process.stdout
    said = ""
    for line in process.stdout:
        said += line
        if line.startswith(last):
            return said
    raise AssertionError(said)


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
def test_it_serves_until_told_to_stop(number: int, serving: tuple[subprocess.Popen[str], int], data: Path) -> None:
    process, port = serving
    said = read_until(process, "Stop with Ctrl-C")
    link = LINK.search(said)
    assert link
    with urllib.request.urlopen(link[1], timeout=10) as answer:
        assert answer.status == 200
    second = one_line(command(data, "up", "--no-demo", "--port", str(port)))
    assert "is taken" in second
    process.send_signal(number)
    _, errors = process.communicate(timeout=60)
    assert (process.returncode, errors) == (0, "")
    assert try_port("127.0.0.1", port) is None


@pytest.mark.slow
def test_one_record_is_served_once(serving: tuple[subprocess.Popen[str], int], data: Path) -> None:
    process, port = serving
    read_until(process, "Stop with Ctrl-C")
    other = port + 1 if try_port("127.0.0.1", port + 1) is None else port + 2
    assert "is being served already" in one_line(command(data, "up", "--no-demo", "--port", str(other)))


# The small parts


def test_addresses_are_written_as_a_browser_takes_them() -> None:
    assert address("127.0.0.1", 8000) == "http://127.0.0.1:8000"
    assert address("::1", 8000) == "http://[::1]:8000"


def test_the_code_is_square_and_made_of_half_blocks() -> None:
    lines = terminal_code("http://192.0.2.7:8000/in/abcdefghijklmnopqrstuvwxyz").rstrip("\n").split("\n")
    assert {len(line) for line in lines} == {len(lines[0])}
    assert len(lines) == -(-len(lines[0]) // 2)
    assert set("".join(lines)) <= set(" ▀▄█")
