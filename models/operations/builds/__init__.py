"""Writes about builds."""
