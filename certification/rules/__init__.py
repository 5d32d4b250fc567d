"""Pure decisions of the certification file."""
