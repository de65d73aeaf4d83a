"""Writes about costs and prices."""
