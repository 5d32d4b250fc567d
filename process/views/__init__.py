"""Pages about process records. Modules are imported by their names."""
