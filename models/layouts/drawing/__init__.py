"""A piece laid out: drawing."""
