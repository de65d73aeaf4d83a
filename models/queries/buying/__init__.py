"""Reads about buying."""
