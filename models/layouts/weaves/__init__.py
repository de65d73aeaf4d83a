"""A piece laid out: the weaves of sheets, each one record."""
