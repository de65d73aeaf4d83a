"""A piece laid out: engine."""
