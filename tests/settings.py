"""Settings for the tests: a data folder of their own, a cheap password hasher, tasks at once."""

import os
import tempfile

if "DATA_DIR" not in os.environ:
    os.environ["DATA_DIR"] = tempfile.mkdtemp(prefix="record-tests-")

from config.settings import *  # noqa: F403

PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {"BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"},
}
TASKS = {"default": {"BACKEND": "django.tasks.backends.immediate.ImmediateBackend"}}
ACCOUNT_RATE_LIMITS = {"login_failed": "5/5m/key", "reauthenticate": "20/m/user"}
WHITENOISE_AUTOREFRESH = True
# SQLite's file database is used, not memory: constraints, triggers and locks as in real use.
