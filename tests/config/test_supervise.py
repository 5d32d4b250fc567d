"""The supervisor, tried with two tiny programs in a process of its own."""

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent.parent
MAIN = """
import sys
from config.supervise import Program, Supervisor
folder = sys.argv[1]
child = "import os, sys, time; open(sys.argv[1] + '/' + sys.argv[2], 'a').write(f'{os.getpid()} '); " + sys.argv[2]
programs = [
    Program("The web server", [sys.executable, "-c", child, folder, "web"]),
    Program("The worker", [sys.executable, "-c", child, folder, "worker"], essential=False),
]
say = lambda line: print(line, flush=True)
sys.exit(Supervisor(programs, say=say, on_ready=lambda: say("ready")).run())
"""
STAYS = "time.sleep(60)"
DIES = "sys.exit(3)"
IGNORES = "import signal; signal.signal(signal.SIGTERM, signal.SIG_IGN); print('deaf', flush=True); time.sleep(60)"


class Running:
    """A supervisor with its two programs; each program notes its process number when it starts."""

    def __init__(self, folder: Path, child: str) -> None:
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, "-c", MAIN, str(folder), child],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )

    def numbers(self, name: str) -> list[int]:
        file = self.folder / name
        return [int(number) for number in file.read_text().split()] if file.exists() else []

    def both_started(self) -> bool:
        return bool(self.numbers("web") and self.numbers("worker"))

    def end(self, number: int) -> tuple[int, str]:
        self.process.send_signal(number)
        output, _ = self.process.communicate(timeout=20)
        return self.process.returncode, output


@pytest.fixture
def run(tmp_path: Path) -> Iterator[Callable[[str], Running]]:
    """Starts a supervisor; whatever is left of it is killed after the test."""
    made: list[Running] = []

    def start(child: str) -> Running:
        made.append(Running(tmp_path, child))
        return made[-1]

    yield start
    for running in made:
        running.process.kill()
        running.process.communicate()
        for number in running.numbers("web") + running.numbers("worker"):
            if alive(number):
                os.kill(number, signal.SIGKILL)


def alive(number: int) -> bool:
    """Whether the process runs; one that ended and was not yet collected does not."""
    try:
        os.kill(number, 0)
    except ProcessLookupError:
        return False
    stat = Path(f"/proc/{number}/stat")
    return not stat.exists() or stat.read_text().rsplit(")", 1)[1].split()[0] != "Z"


def wait_until(condition: Callable[[], bool], seconds: float = 10.0) -> None:
    deadline = time.monotonic() + seconds
    while not condition():
        assert time.monotonic() < deadline, "waited too long"
        time.sleep(0.02)


def test_a_killed_program_is_started_again_and_said_so(run: Callable[[str], Running]) -> None:
    running = run(STAYS)
    wait_until(running.both_started)
    os.kill(running.numbers("worker")[0], signal.SIGKILL)
    wait_until(lambda: len(running.numbers("worker")) == 2)
    status, output = running.end(signal.SIGTERM)
    assert status == 0
    assert "The worker stopped (signal 9); starting it again." in output
    assert len(running.numbers("web")) == 1


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT])
def test_a_stop_signal_ends_all_quickly_and_quietly(number: int, run: Callable[[str], Running]) -> None:
    running = run(STAYS)
    wait_until(running.both_started)
    status, output = running.end(number)
    assert (status, output) == (0, "ready\n")
    assert not any(alive(pid) for pid in running.numbers("web") + running.numbers("worker"))


def test_a_second_stop_signal_does_not_wait_for_a_deaf_program(run: Callable[[str], Running]) -> None:
    running = run(IGNORES)
    wait_until(running.both_started)
    time.sleep(0.3)  # until the programs are deaf
    running.process.send_signal(signal.SIGINT)
    time.sleep(0.3)
    assert running.process.poll() is None
    status, _ = running.end(signal.SIGINT)
    assert status == 0
    assert not any(alive(pid) for pid in running.numbers("web") + running.numbers("worker"))


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells programs that their parent is gone")
def test_no_program_outlives_a_killed_supervisor(run: Callable[[str], Running]) -> None:
    running = run(STAYS)
    wait_until(running.both_started)
    running.end(signal.SIGKILL)
    wait_until(lambda: not any(alive(pid) for pid in running.numbers("web") + running.numbers("worker")), 3)


@pytest.mark.slow
def test_a_program_that_dies_at_once_every_time_is_given_up(run: Callable[[str], Running]) -> None:
    running = run(DIES)
    output, _ = running.process.communicate(timeout=30)
    assert running.process.returncode == 1
    assert len(running.numbers("web")) == 5
    assert output.strip().splitlines()[-1].startswith("The web server does not stay up")
