"""Whether every row can be read as what its columns are: damage and strange words are found before pages meet them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.exc import SQLAlchemyError
from sqlmodel import Session

from models.kept import KeptDocument
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


def check_documents(session: Session, documents: Mapping[tuple[str, str], KeptDocument[Any]]) -> Iterator[str]:
    """The first document of each column that cannot be read as what it should be, in words.

    `documents` says by table and column what is kept there.
    """
    for (table_name, column_name), document in documents.items():
        table = metadata.tables[table_name]
        (key,), column = table.primary_key.columns, table.columns[column_name]
        statement = select(key, column).where(column.is_not(None), column != "").order_by(key)
        for row, text in session.connection().execute(statement, execution_options={"yield_per": AT_A_TIME}):
            if why := _fault_of(document, text):
                yield f"What is kept in {column_name} of the table {table_name}, row {row}, cannot be read ({why})"
                break


def _fault_of(document: KeptDocument[Any], text: str) -> str:
    try:
        document.read(text)
    except (ValueError, TypeError, KeyError, AttributeError) as broken:
        return " ".join(str(broken).split()) or type(broken).__name__
    return ""
