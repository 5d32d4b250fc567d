"""A running `up --https` with a data folder of its own, on two free ports of the loopback address."""

import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from config.ports import free_port, try_port
from tests.config.test_up import ROOT, environment, read_until


@dataclass(frozen=True)
class Served:
    """What a person at the terminal knows."""

    data: Path
    port: int
    said: str

    @property
    def secure(self) -> str:
        return f"https://127.0.0.1:{self.port}"

    @property
    def trust(self) -> str:
        return f"http://127.0.0.1:{self.port + 1}"

    @property
    def authority(self) -> Path:
        return self.data / "secrets" / "lan-authority.crt"


@contextmanager
def https(data: Path) -> Iterator[Served]:
    """Serve until the block ends."""
    port = two_free_ports()
    process = subprocess.Popen(
        [sys.executable, "manage.py", "up", "--no-demo", "--https", "--port", str(port)],
        cwd=ROOT,
        env=environment(data),
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
    )
    try:
        yield Served(data, port, read_until(process, "Stop with Ctrl-C"))
    finally:
        process.terminate()
        process.communicate(timeout=30)


def two_free_ports() -> int:
    """The first of two neighboring ports that nothing listens on."""
    while True:
        port = free_port()
        if port < 65535 and try_port("127.0.0.1", port + 1) is None:
            return port
