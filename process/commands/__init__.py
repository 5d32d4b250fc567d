"""All writes to process records, tools and own values. Modules are imported by their names."""
