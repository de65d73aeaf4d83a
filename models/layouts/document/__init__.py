"""A piece laid out: document."""
