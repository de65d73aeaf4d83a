"""Calls about buying."""
