"""Calls about builds."""
