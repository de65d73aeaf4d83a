"""A piece laid out: steps."""
