"""Settings for the tests: a data folder of their own, a cheap password hasher, tasks at once."""

import atexit
import os
import shutil
import tempfile

if not os.environ.get("PYTEST_XDIST_WORKER"):  # workers share the folder of the run that started them
    os.environ["DATA_DIR"] = tempfile.mkdtemp(prefix="record-tests-")
    atexit.register(shutil.rmtree, os.environ["DATA_DIR"], ignore_errors=True)

from config.settings import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
TASKS = {"default": {"BACKEND": "django.tasks.backends.immediate.ImmediateBackend"}}
ACCOUNT_RATE_LIMITS = {"login_failed": "5/5m/key", "reauthenticate": "20/m/user"}
WHITENOISE_AUTOREFRESH = True
# Tables are made from the models: going through every migration takes each worker half a minute. That this comes to the
# same is a test of its own, and every server that a test starts goes through them.
DATABASES["default"]["TEST"] = {"MIGRATE": False}  # noqa: F405
if DATABASES["default"]["ENGINE"].endswith("sqlite3"):  # noqa: F405
    # A file, not memory: locks, triggers and the write-ahead log as in real use.
    DATABASES["default"]["TEST"]["NAME"] = DATA_DIR / "tests.sqlite3"  # noqa: F405
