"""Pure decisions about process records."""
