"""Calls about designs."""
