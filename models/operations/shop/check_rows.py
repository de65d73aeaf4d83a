"""Whether every row can be read as what its columns are: damage and strange words are found before pages meet them."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import Session

from models.tables import metadata
from models.tables.columns import Word

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


def check_words(session: Session) -> Iterator[str]:
    """Each word in a column of an open vocabulary that this program does not know, in words."""
    for table in metadata.sorted_tables:
        for column in table.columns:
            if not isinstance(column.type, Word):
                continue
            for word in session.connection().execute(select(column).distinct().order_by(column)).scalars():
                if not column.type.knows(word):
                    yield (
                        f"The table {table.name} holds '{word}', which is no {column.type.vocabulary.noun} here. "
                        "A newer program knows it, or it is damaged"
                    )
