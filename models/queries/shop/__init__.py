"""Reads about the shop itself."""
