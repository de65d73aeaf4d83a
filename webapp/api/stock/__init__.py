"""Calls about stock."""
