"""Whole numbers in an address and its query: never more than the database can keep."""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

LARGEST = 2**63 - 1
"""Of SQLite's INTEGER and PostgreSQL's BIGINT."""

Whole = Annotated[int, Field(ge=-LARGEST - 1, le=LARGEST)]
"""A whole number in a query; one past it is answered as one that cannot be read. A test asks every route for it."""
