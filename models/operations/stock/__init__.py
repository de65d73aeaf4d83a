"""Writes about stock."""
