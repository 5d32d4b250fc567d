"""Reads across the whole record: is it whole, what happened to it, how is the installation."""

from archive.queries.runs import Outcome, grouped, outcome, outcome_of, run_under_way, runs, state_word
from archive.queries.whole import (
    Progress,
    Reading,
    check,
    faults,
    original_faults,
    projects_by_key,
    read,
    stray_faults,
    stray_files,
)

__all__ = [
    "Outcome",
    "Progress",
    "Reading",
    "check",
    "faults",
    "grouped",
    "original_faults",
    "outcome",
    "outcome_of",
    "projects_by_key",
    "read",
    "run_under_way",
    "runs",
    "state_word",
    "stray_faults",
    "stray_files",
]
