"""Calls about pieces laid out in rows or as chain."""
