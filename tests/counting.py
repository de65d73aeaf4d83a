"""Counting the queries of a store, for tests that a page's work does not grow with its rows. No test lives here."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import event

from models.database import Store


@contextmanager
def queries_of(store: Store) -> Iterator[list[str]]:
    """Collect the statements that run inside the block, transactions' own left out."""
    seen: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_more: Any) -> None:
        if not statement.startswith(("BEGIN", "COMMIT", "ROLLBACK")):
            seen.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        yield seen
    finally:
        event.remove(store.engine, "before_cursor_execute", note)
