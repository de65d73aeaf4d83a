"""The HTTP face of the shop, and its command line."""

VERSION = "0.1.0"
"""The version of the program; `pyproject.toml` says the same."""
