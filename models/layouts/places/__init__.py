"""A piece laid out: places."""
