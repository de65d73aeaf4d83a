"""Reads about costs and prices."""
