"""Writes about designs."""
