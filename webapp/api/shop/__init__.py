"""Calls about the shop itself."""
