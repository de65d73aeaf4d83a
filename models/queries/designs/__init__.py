"""Reads about designs."""
