"""What people type about process records. Modules are imported by their names."""
