"""Pages of the certification file."""
