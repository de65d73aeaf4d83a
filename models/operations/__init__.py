"""Writes: each does one thing that a person would name, on a session it is given, and never commits itself."""
