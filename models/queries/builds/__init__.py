"""Reads about builds."""
