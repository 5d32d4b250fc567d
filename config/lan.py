"""This machine's address on the shop's own network, and a code for a phone to read it from the terminal."""

import io
import socket
import subprocess

import segno

# Reserved for documentation: "connecting" a datagram socket to it picks the way out and sends nothing.
ELSEWHERE = ("192.0.2.1", 9)


def lan_address() -> str:
    """The address other machines of the same network reach this one at; empty if it has none."""
    return next(iter(lan_addresses()), "")


def lan_addresses() -> list[str]:
    """All addresses of this machine on its networks (IPv4), the likeliest first."""
    candidates = [_way_out(), *_addresses_of_name(), *_addresses_of_interfaces()]
    return [address for address in dict.fromkeys(candidates) if _usable(address)]


def terminal_code(text: str) -> str:
    """The text as a QR code in half-block characters, two modules to a line."""
    out = io.StringIO()
    segno.make(text, error="l", micro=False).terminal(out, border=2, compact=True)
    return out.getvalue()


def _usable(address: str) -> bool:
    return bool(address) and ":" not in address and not address.startswith(("127.", "0.", "169.254."))


def _way_out() -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(ELSEWHERE)
        except OSError:
            return ""
        return str(probe.getsockname()[0])


def _addresses_of_name() -> list[str]:
    try:
        return socket.gethostbyname_ex(socket.gethostname())[2]
    except OSError:
        return []


def _addresses_of_interfaces() -> list[str]:
    """What `hostname -I` lists; a network without a way out has no other answer."""
    try:
        answer = subprocess.run(["hostname", "-I"], capture_output=True, text=True, timeout=2, check=True)
    except (OSError, subprocess.SubprocessError):
        return []
    return answer.stdout.split()
