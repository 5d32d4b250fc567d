"""Keeps a few programs running side by side: starts them, restarts one that died, stops all together.

It knows nothing of Django. Each program has its own process group, so Ctrl-C reaches this process alone,
which then stops the others in order; on Linux they are also told to stop if this process is killed.
"""

import contextlib
import ctypes
import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from types import FrameType

TICK = 0.1  # seconds between looks
STEADY = 10.0  # seconds a program must live for its earlier deaths to be forgotten
FIRST_PAUSE, LONGEST_PAUSE = 0.5, 30.0  # seconds before a restart; doubled with each death in a row
GIVE_UP = 5  # deaths in a row of an essential program
PATIENCE = 10.0  # seconds to finish what is under way (an upload, a task) before being killed

STOP_SIGNALS = [getattr(signal, name) for name in ("SIGTERM", "SIGINT", "SIGHUP") if hasattr(signal, name)]
_libc = ctypes.CDLL(None) if sys.platform == "linux" else None
_PR_SET_PDEATHSIG = 1


@dataclass(frozen=True)
class Program:
    """A program to keep running. Without an essential one there is no point in going on."""

    title: str
    command: Sequence[str]
    environment: Mapping[str, str] = field(default_factory=dict)
    essential: bool = True


class Supervisor:
    """Runs the programs until a stop signal comes. `on_ready` is called once, when `ready` first says yes."""

    def __init__(
        self,
        programs: Sequence[Program],
        *,
        say: Callable[[str], None],
        ready: Callable[[], bool] = lambda: True,
        on_ready: Callable[[], None] = lambda: None,
    ) -> None:
        self._kept = [_Kept(program, say) for program in programs]
        self._say, self._ready, self._on_ready = say, ready, on_ready
        self._stop_requests = 0
        self._announced = False

    def run(self) -> int:
        """Exit status: 0 after a stop signal, 1 when an essential program could not be kept running."""
        before = {number: signal.signal(number, self._note_request) for number in STOP_SIGNALS}
        try:
            return self._watch()
        finally:
            self._stop_all()
            for number, handler in before.items():
                signal.signal(number, handler)

    def _note_request(self, number: int, frame: FrameType | None) -> None:
        self._stop_requests += 1

    def _watch(self) -> int:
        while not self._stop_requests:
            for kept in self._kept:
                if not kept.look_after():
                    self._say(f"{kept.program.title} does not stay up; see the lines above for the reason.")
                    return 1
            if not self._announced and self._ready():
                self._announced = True
                self._on_ready()
            time.sleep(TICK)
        return 0

    def _stop_all(self) -> None:
        """Ask all to stop; kill what is left when patience ends or a second stop signal comes."""
        for kept in self._kept:
            kept.ask_to_stop()
        deadline = time.monotonic() + PATIENCE
        while any(kept.running() for kept in self._kept):
            if time.monotonic() > deadline or self._stop_requests > 1:
                break
            time.sleep(TICK / 5)
        for kept in self._kept:
            kept.kill()


class _Kept:
    """One program with its process and its record of deaths."""

    def __init__(self, program: Program, say: Callable[[str], None]) -> None:
        self.program, self._say = program, say
        self._process: subprocess.Popen[bytes] | None = None
        self._deaths = 0
        self._started = 0.0
        self._start_at = 0.0

    def look_after(self) -> bool:
        """Start it when its time has come and notice its death; False when it is to be given up."""
        now = time.monotonic()
        if self._process is None:
            if now >= self._start_at:
                self._start(now)
            return True
        if self.running():
            return True
        self._deaths = 1 if now - self._started > STEADY else self._deaths + 1
        if self.program.essential and self._deaths >= GIVE_UP:
            return False
        pause = min(FIRST_PAUSE * 2 ** (self._deaths - 1), LONGEST_PAUSE)
        self._say(f"{self.program.title} stopped ({_how(self._process.returncode)}); starting it again.")
        self.kill()
        self._process, self._start_at = None, now + pause
        return True

    def running(self) -> bool:
        return self._process is not None and self._process.poll() is None

    def ask_to_stop(self) -> None:
        if self.running() and self._process:
            self._process.terminate()

    def kill(self) -> None:
        """End the process and whatever it started itself and left behind."""
        if self._process is None:
            return
        with contextlib.suppress(ProcessLookupError, PermissionError):
            if hasattr(os, "killpg"):
                os.killpg(self._process.pid, signal.SIGKILL)
            else:
                self._process.kill()
        self._process.wait()

    def _start(self, now: float) -> None:
        self._started = now
        self._process = subprocess.Popen(
            self.program.command,
            env={**os.environ, **self.program.environment},
            stdin=subprocess.DEVNULL,
            start_new_session=True,
            preexec_fn=_stop_with_parent if _libc else None,
        )


def _stop_with_parent() -> None:
    """Run in the new process: have the system ask it to stop when the supervisor is gone, however it went."""
    if _libc:
        _libc.prctl(_PR_SET_PDEATHSIG, signal.SIGTERM)


def _how(status: int) -> str:
    """An exit status in words."""
    return f"signal {-status}" if status < 0 else f"status {status}"
