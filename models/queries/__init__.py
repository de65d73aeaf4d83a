"""Reads: each answers one question of one page with a frozen view, and writes nothing."""
