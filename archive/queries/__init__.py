"""Reads across the whole record: is it whole, what happened to it, how is the installation."""

from archive.queries.whole import Counts, counts, faults, stray_entries, strays

__all__ = ["Counts", "counts", "faults", "stray_entries", "strays"]
