"""Writes about buying."""
