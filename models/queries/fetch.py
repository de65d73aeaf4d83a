"""One row by its key, or the refusal that there is none."""

from __future__ import annotations

from typing import TypeVar

from sqlmodel import Session, SQLModel

from models.errors import Missing

R = TypeVar("R", bound=SQLModel)


def fetch(session: Session, table: type[R], key: object, what: str) -> R:
    """The row of a table with this key; `what` is the thing in words. Raises: Missing."""
    row = session.get(table, key)
    if row is None:
        raise Missing(what, key)
    return row
