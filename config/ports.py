"""Whether a port can be listened on, and how to write the address of one."""

import errno
import os
import socket


def address(host: str, port: int, scheme: str = "http") -> str:
    """The web address of a host and port, without a closing slash."""
    return f"{scheme}://[{host}]:{port}" if ":" in host else f"{scheme}://{host}:{port}"


def check_port(host: str, port: int) -> None:
    """Stop with one line of advice when the server could not listen there."""
    if not 1 <= port <= 65535:
        raise SystemExit(f"Port {port} does not exist. Choose one from 1024 to 65535 with --port 8000.")
    failure = try_port(host, port)
    if failure is None:
        return
    if failure.errno == errno.EADDRINUSE:
        free = next((other for other in range(port + 1, 65536) if try_port(host, other) is None), 8000)
        raise SystemExit(f"Port {port} is taken. Stop the other program or choose another with --port {free}.")
    if failure.errno in {errno.EACCES, errno.EPERM}:
        raise SystemExit(f"Port {port} may only be used by an administrator. Choose another with --port 8000.")
    raise SystemExit(f"This machine has no address {host}. Leave out --host, or use --lan for the shop's network.")


def try_port(host: str, port: int) -> OSError | None:
    """Listen there for a moment; what prevents it, or nothing."""
    try:
        family, kind, protocol, _, place = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)[0]
        with socket.socket(family, kind, protocol) as probe:
            if os.name == "posix":  # a port whose last connections are still fading away is free
                probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
            probe.bind(place)
            probe.listen()
    except OSError as error:
        return error
    return None


def answers(host: str, port: int) -> bool:
    """Whether something accepts connections there."""
    try:
        with socket.create_connection((host, port), timeout=0.5):
            return True
    except OSError:
        return False


def free_port() -> int:
    """A port of the loopback address that nothing listens on at this moment."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return probe.getsockname()[1]
