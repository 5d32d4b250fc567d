"""Make manage.py work on a machine that has nothing but Python: environment, packages, then the command.

Standard library only, and only syntax that Python 2.7 can read, so that a too old Python reaches the
message about its version. Everything made here lies in .venv beside manage.py and can be deleted.
Whatever goes wrong is told in one line, with exit status 2.
"""

import errno
import hashlib
import os
import shutil
import subprocess
import sys
import time

OLDEST = (3, 12)
ROOT = os.path.dirname(os.path.dirname(os.path.abspath(__file__)))
VENV = os.path.join(ROOT, ".venv")
RUNTIME, TESTS = "requirements.txt", "requirements-test.txt"
LOCK, UNFINISHED, LOG = "boot.lock", "boot.unfinished", "boot.log"
HANDED_OVER = "MANAGE_HANDED_OVER"

TOO_OLD = "Python %s or newer is needed, but %s is Python %s: run the same command with a newer one, such as python%s."
NOT_INSTALLED = "The packages are not installed for %s (%s). Start without MANAGE_NO_BOOT to have them installed."
NO_VENV = (
    "This Python cannot make an environment: its venv or ensurepip part is missing. "
    "On Debian or Ubuntu run: apt install python3-venv - then run the same command again."
)
NO_NETWORK = (
    "The packages could not be downloaded: check the internet connection and run the same command again. (Details: %s)"
)
WRONG_HASH = (
    "A downloaded package is not the one this project expects (its checksum differs), so nothing was installed: "
    "run the same command again, and if it repeats do not trust the download source. (Details: %s)"
)
NO_WHEEL = (
    "No ready-made package was found for Python %s on %s (%s). Check the internet connection and run the same "
    "command again; if it repeats, use a machine with 64-bit Linux, Windows, or macOS 15 or newer."
)
CANNOT_WRITE = "The folder %s cannot be written (%s): make it writable or move the project, then run the same command."

NETWORK_SIGNS = (
    "connection broken",
    "Connection error",
    "ConnectionError",
    "NewConnectionError",
    "timed out",
    "Network is unreachable",
    "Temporary failure in name resolution",
    "ProxyError",
    "SSLError",
)


def prepare(argv):
    """Return only inside an environment that has every package the command needs; otherwise make it and go there."""
    complaint = version_complaint(sys.version_info, sys.executable)
    if complaint:
        fail(complaint)
    if os.environ.get("MANAGE_NO_BOOT") == "1":
        return
    wanted = TESTS if wants_tests(argv) else RUNTIME
    try:
        if not (environment_works() and is_installed(wanted)):
            set_up_alone(wanted)
    except EnvironmentError as error:
        fail(CANNOT_WRITE % (VENV, error.strerror or error))
    except KeyboardInterrupt:
        fail("Stopped before the set-up was finished: run the same command again to finish it.", 130)
    if inside():
        os.environ.pop(HANDED_OVER, None)
        return
    hand_over(argv)


def version_complaint(version, executable):
    """One line for a Python that is too old, or nothing."""
    if tuple(version[:2]) >= OLDEST:
        return ""
    found = ".".join(str(part) for part in tuple(version)[:3])
    needed = "%d.%d" % OLDEST
    return TOO_OLD % (needed, executable, found, needed)


def wants_tests(argv):
    """Whether the command is the one that runs the tests."""
    return argv[1:2] == ["test"]


def choose_settings(argv):
    """Name the settings a command uses: the tests never touch the record in the data folder."""
    if wants_tests(argv):
        os.environ.pop("DATA_DIR", None)
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "tests.settings" if wants_tests(argv) else "config.settings")


def fail(message, status=2):
    """Say why it cannot go on, in one line, and stop."""
    sys.stderr.write(message.rstrip() + "\n")
    sys.exit(status)


def tell(message):
    """A line about progress; on the error stream so that a command's own output stays clean."""
    sys.stderr.write(message + "\n")
    sys.stderr.flush()


# The environment


def environment_python():
    """The interpreter inside .venv, whether or not it exists."""
    parts = ("Scripts", "python.exe") if os.name == "nt" else ("bin", "python")
    return os.path.join(VENV, *parts)


def inside():
    """Whether this very interpreter is the one of .venv."""
    return os.path.realpath(sys.prefix) == os.path.realpath(VENV)


def environment_version():
    """Major and minor version of the environment's Python, such as 3.13; empty if it does not run."""
    if inside():
        return "%d.%d" % sys.version_info[:2]
    if not os.path.exists(environment_python()):
        return ""
    ask = "import sys; print('%d.%d' % sys.version_info[:2])"
    try:
        answer = subprocess.check_output([environment_python(), "-S", "-c", ask], stderr=subprocess.STDOUT)
    except (EnvironmentError, subprocess.CalledProcessError):
        return ""
    return answer.decode("ascii", "replace").strip()


def environment_works():
    """Whether .venv is complete: its Python runs and no earlier set-up was cut short."""
    return not os.path.exists(within(UNFINISHED)) and bool(environment_version())


def within(name):
    """A file of ours in .venv."""
    return os.path.join(VENV, name)


def hand_over(argv):
    """Run the same command with the environment's Python, in place of this process."""
    if os.environ.get(HANDED_OVER) == VENV:
        fail("The environment in %s does not work: delete that folder and run the same command again." % VENV)
    os.environ[HANDED_OVER] = VENV
    command = [environment_python(), os.path.join(ROOT, "manage.py")]
    command.extend(argv[1:])
    sys.stdout.flush()
    if os.name == "nt":
        sys.exit(subprocess.call(command))
    os.execv(command[0], command)


# The packages


def fingerprint(wanted):
    """What an installation is made from: the pins (the test set holds the runtime set too) and the Python version."""
    digest = hashlib.sha256()
    for name in [RUNTIME] if wanted == RUNTIME else [RUNTIME, TESTS]:
        with open(os.path.join(ROOT, name), "rb") as file:
            digest.update(file.read())
    return "%s %s" % (digest.hexdigest(), environment_version())


def stamp_file(wanted):
    """Where the fingerprint of what was installed is kept."""
    return within("installed-" + wanted)


def is_installed(wanted):
    """Whether exactly these pins were installed for this Python version."""
    try:
        with open(stamp_file(wanted)) as file:
            return file.read() == fingerprint(wanted)
    except EnvironmentError:
        return False


def set_up_alone(wanted):
    """Set up while no other command does; whoever waited finds most of the work done."""
    try:
        os.makedirs(VENV)
    except EnvironmentError:
        if not os.path.isdir(VENV):
            raise
    lock = Lock(within(LOCK))
    lock.wait()
    try:
        set_up(wanted)
    finally:
        lock.release()


def set_up(wanted):
    """Make or repair the environment and install the pins."""
    if not environment_works() or not can_install():
        make_environment()
    if not is_installed(wanted):
        install(wanted)


def can_install():
    """Whether the environment has pip: one whose making was cut short has not."""
    return run([environment_python(), "-c", "import pip"])[0] == 0


def make_environment():
    """A fresh .venv, in place of whatever half-made one is there."""
    tell("Making the environment in %s." % VENV)
    for name in os.listdir(VENV):
        if name not in (LOCK, LOG):
            remove(within(name))
    mark_unfinished()
    base = getattr(sys, "_base_executable", None) or sys.executable
    status, output = run([base, "-m", "venv", VENV])
    if status:
        no_part = "ensurepip" in output or "No module named" in output
        fail(NO_VENV if no_part else CANNOT_WRITE % (VENV, last_line(output)))
    os.remove(within(UNFINISHED))


def install(wanted):
    """Install the pins, every file checked against its hash, nothing compiled."""
    tell("Installing the packages of %s (the first time takes about half a minute)." % wanted)
    mark_unfinished()
    for name in (RUNTIME, TESTS):
        remove(stamp_file(name))
    command = [environment_python(), "-m", "pip", "install", "--no-input", "--disable-pip-version-check"]
    command.extend(["--require-hashes", "--only-binary", ":all:", "-r", os.path.join(ROOT, wanted)])
    status, output = run(command)
    os.remove(within(UNFINISHED))
    with open(within(LOG), "wb") as file:
        file.write(output.encode("utf-8"))
    if status:
        fail(install_complaint(output))
    for name in [RUNTIME] if wanted == RUNTIME else [RUNTIME, TESTS]:
        with open(stamp_file(name), "w") as file:
            file.write(fingerprint(name))


def install_complaint(output):
    """One line out of pip's many: what went wrong and what to do."""
    log = within(LOG)
    if any(sign in output for sign in NETWORK_SIGNS):
        return NO_NETWORK % log
    if "DO NOT MATCH THE HASHES" in output:
        return WRONG_HASH % log
    if "No matching distribution" in output:
        return NO_WHEEL % (environment_version(), sys.platform, last_line(output))
    if "Errno 13" in output or "Errno 28" in output or "Errno 30" in output:
        return CANNOT_WRITE % (VENV, last_line(output))
    return "The packages could not be installed: %s (Details: %s)" % (last_line(output), log)


def last_line(output):
    """The last line that says something; pip's hints about itself do not."""
    lines = [line.strip() for line in output.splitlines() if line.strip() and not line.startswith("[notice]")]
    return lines[-1] if lines else "no reason given"


def mark_unfinished():
    """Leave a mark that a cut power line or a killed process leaves behind."""
    with open(within(UNFINISHED), "w") as file:
        file.write("The set-up was started and not finished; the next command begins again.\n")


def remove(path):
    """Delete a file or folder if it is there."""
    if os.path.isdir(path) and not os.path.islink(path):
        shutil.rmtree(path, ignore_errors=True)
    elif os.path.lexists(path):
        os.remove(path)


def run(command):
    """Exit status and all output, as text, of a program."""
    program = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT)
    output = program.communicate()[0]
    return program.returncode, output.decode("utf-8", "replace")


class Lock:
    """A file that one process at a time holds; the system lets go of it when its holder ends, however it ends."""

    def __init__(self, path):
        self.file = open(path, "a")  # noqa: SIM115 - held until released

    def take(self):
        """Try once; whether it is ours now."""
        try:
            if sys.platform == "win32":
                import msvcrt

                self.file.seek(0)
                msvcrt.locking(self.file.fileno(), msvcrt.LK_NBLCK, 1)
            else:
                import fcntl

                fcntl.flock(self.file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except EnvironmentError as error:
            # A file system that knows no locks must not keep anyone waiting for ever.
            return error.errno not in (errno.EACCES, errno.EAGAIN, errno.EDEADLK)
        return True

    def wait(self):
        """Take it as soon as its holder lets go."""
        if not self.take():
            tell("Another command is setting up this folder; waiting for it.")
            while not self.take():
                time.sleep(0.2)

    def release(self):
        """Let go of it."""
        self.file.close()
