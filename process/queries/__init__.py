"""Reads of process records. Modules are imported by their names."""
