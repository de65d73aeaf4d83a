"""Calls about costs and prices."""
