"""The settings of the measured server: ours, with one bare view more."""

from config.settings import *  # noqa: F403

ROOT_URLCONF = "config.bench.urls"
