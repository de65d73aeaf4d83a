"""Whether every row can be read as what its columns are: a damaged date or number is found before a page meets it."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import Session

from models.tables import metadata

AT_A_TIME = 1000


def check_rows(session: Session) -> Iterator[str]:
    """What is wrong with each table that cannot be read to its last row, in words."""
    for table in metadata.sorted_tables:
        try:
            rows = session.connection().execute(select(table), execution_options={"yield_per": AT_A_TIME})
            for _rows in rows.partitions():
                continue
        except (SQLAlchemyError, ValueError, ArithmeticError, TypeError) as broken:
            why = str(getattr(broken, "orig", None) or broken) or type(broken).__name__
            yield f"The table {table.name} cannot be read to its end ({why})"
