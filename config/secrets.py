"""Secrets made on first start and kept in the data folder, readable by its owner alone."""

import os
import secrets
import time
from collections.abc import Callable
from pathlib import Path

from config.env import WrongSetting

# Short words, easy to say and to type on a phone. Six of them are about 36 bits, enough behind a limit on tries.
WORDS = (
    "ash birch bolt brass brush cable canvas cap chalk chine clamp cleat cloth cord cork crate deck dowel "
    "drill elm fairing felt fence file fin flange float foam frame gauge glue hull hinge jig keel knot "
    "lamp latch ledge level linen mallet maple mold oak oar paint pine plank ply pulley rib rivet rope "
    "rudder sail shim skin spar spruce strut tape tiller twine wedge winch "
)


def spoken_secret() -> str:
    """A passphrase of six shop words."""
    words = WORDS.split()
    return "-".join(secrets.choice(words) for _ in range(6))


def demo_passphrase(folder: Path) -> str:
    """The passphrase of the demo accounts, made on first use and kept in the data folder."""
    return kept_secret(folder / "secrets" / "demo-passphrase", spoken_secret)


def kept_secret(file: Path, make: Callable[[], str] = lambda: secrets.token_urlsafe(48)) -> str:
    """Read the secret in `file`, or make one (384 bits, mode 600) if there is none yet.

    Two processes starting at once agree: whoever creates the file first wins, the other waits for his words.
    Raises WrongSetting, naming the folder, where nothing can be written or read.
    """
    try:
        file.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        return _make(file, make) or _read(file)
    except OSError as error:
        why = f"the folder {file.parent} cannot be used ({error.strerror}). Make it writable or choose another folder."
        raise WrongSetting("DATA_DIR", why) from error


def _make(file: Path, make: Callable[[], str]) -> str:
    """A new secret, or nothing when the file is there already."""
    try:
        handle = os.open(file, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    except FileExistsError:
        return ""
    secret = make()
    with os.fdopen(handle, "w") as out:
        out.write(secret + "\n")
    return secret


def _read(file: Path) -> str:
    """The secret; its maker may have created the file a moment ago and not yet written it."""
    for _ in range(100):
        if secret := file.read_text().strip():
            return secret
        time.sleep(0.02)
    raise OSError(0, f"{file.name} is empty: delete it to have a new one made")
