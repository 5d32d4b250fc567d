#!/usr/bin/env python3
"""Run a command of this project; the first run sets up what it needs: python3 manage.py up

Kept, like config/boot.py, in words every Python can read, so that an old one is told what is missing.
"""

import sys

from config import boot


def main():
    """Set up if needed, then hand over to Django's commands."""
    boot.prepare(sys.argv)
    boot.choose_settings(sys.argv)
    try:
        from django.core.management import execute_from_command_line
    except ImportError as error:
        boot.fail(boot.NOT_INSTALLED % (sys.executable, error))
    try:
        execute_from_command_line(sys.argv)
    except SystemExit as stop:
        if isinstance(stop.code, str):
            boot.fail(stop.code)
        raise
    except KeyboardInterrupt:
        sys.exit(130)


if __name__ == "__main__":
    main()
