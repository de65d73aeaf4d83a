"""Writes about the shop itself."""
