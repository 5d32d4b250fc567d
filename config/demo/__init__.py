"""The demo project: an invented aircraft, its people and its drawn photos."""
