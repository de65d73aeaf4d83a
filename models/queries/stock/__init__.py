"""Reads about stock."""
