"""Column types and helpers that the table files share. No table lives here."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal
from functools import cache
from typing import Any

from sqlalchemy import BigInteger, CheckConstraint, Date, DateTime, MetaData, String, Text
from sqlalchemy.engine import Dialect
from sqlalchemy.types import TypeDecorator
from sqlmodel import Field, SQLModel

from models.trade.money import from_micros, to_micros
from models.trade.vocabulary.terms import Vocabulary

# Unnamed constraints cannot be dropped by a later migration, so every one gets a name before the first table exists.
SQLModel.metadata.naming_convention = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s_%(referred_table_name)s",
    "pk": "pk_%(table_name)s",
}
metadata: MetaData = SQLModel.metadata


class Row(SQLModel):
    """What every table is: a new row takes its values in one step, a changed one each of them once.

    SQLModel's own way sets each attribute twice, through two libraries, which for thousands of rows of a file is most
    of the work. Nothing of a new row has a history that anybody asks for: the database gets what it holds when written.
    """

    def __init__(self, **values: Any) -> None:
        names, given = _fields_of(type(self))
        if unknown := values.keys() - names:
            raise TypeError(f"{type(self).__name__} has no {', '.join(sorted(unknown))}")
        own = self.__dict__
        own.update(given)
        own.update(values)
        object.__setattr__(self, "__pydantic_fields_set__", set(values))

    def __setattr__(self, name: str, value: Any) -> None:
        if name in _fields_of(type(self))[0]:
            object.__setattr__(self, name, value)
        else:
            super().__setattr__(name, value)


@cache
def _fields_of(table: type[Row]) -> tuple[frozenset[str], dict[str, Any]]:
    """The names of a table's columns, and what stands in those of a new row that nobody said."""
    fields = table.model_fields
    return frozenset(fields), {name: field.default for name, field in fields.items() if not field.is_required()}


class DecimalText(TypeDecorator[Decimal]):
    """An exact decimal as text, for rates and shares that are never summed in SQL (SQLite would make them floats)."""

    impl = Text
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        if value is None:
            return None
        if isinstance(value, float):
            raise TypeError("a rate is a Decimal, never a float")
        return format(Decimal(value), "f")

    def process_result_value(self, value: str | None, dialect: Dialect) -> Decimal | None:  # noqa: ARG002
        return None if value is None else Decimal(value)


class Instant(TypeDecorator[datetime]):
    """A moment in UTC. SQLite keeps no zone, so the zone is taken off on the way in and put back on the way out."""

    impl = DateTime(timezone=False)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        if value is None:
            return None
        if value.tzinfo is None:
            raise TypeError("a moment needs its time zone")
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        return None if value is None else value.replace(tzinfo=UTC)


class PhotoName(TypeDecorator[str]):
    """The file name of a photo in the shop folder. Every column of this type is asked which photos are in use."""

    impl = String
    cache_ok = True


class Word(TypeDecorator[str]):
    """A word of a vocabulary that takes further words without a migration; any other is refused when it is written.

    With `or_nothing`, '' says that none was chosen. Words that are read are not checked: they were once known.
    """

    impl = String
    cache_ok = True

    def __init__(self, vocabulary: Vocabulary[str, Any], *, or_nothing: bool = False) -> None:
        super().__init__()
        self.vocabulary = vocabulary
        self.or_nothing = or_nothing

    def knows(self, value: str | None) -> bool:
        """Whether this may stand in the column."""
        return value is None or value in self.vocabulary or (self.or_nothing and not value)

    def process_bind_param(self, value: str | None, dialect: Dialect) -> str | None:  # noqa: ARG002
        if self.knows(value):
            return value
        raise ValueError(f"'{value}' is no {self.vocabulary.noun}; known are {', '.join(self.vocabulary)}")


FORMER_PHOTO_COLUMNS: tuple[tuple[str, str], ...] = ()
"""Tables and columns that held names of photos in an older shop and were renamed or dropped since; copies still do."""


def photo_columns() -> tuple[tuple[str, str], ...]:
    """Every table and column that holds names of photos, now or in an older shop."""
    columns = (column for table in metadata.sorted_tables for column in table.columns)
    now = tuple((column.table.name, column.name) for column in columns if isinstance(column.type, PhotoName))
    return (*now, *FORMER_PHOTO_COLUMNS)


def photo_name(*, nullable: bool = True, **kwargs: Any) -> Any:
    """A column with the file name of a photo."""
    return Field(sa_type=PhotoName, nullable=nullable, **kwargs)


def word(vocabulary: Vocabulary[str, Any], *, or_nothing: bool = False, **kwargs: Any) -> Any:
    """A column with a word of an open vocabulary. A closed one is listed in a CHECK, by `one_of`."""
    kept: Any = Word(vocabulary, or_nothing=or_nothing)
    return Field(sa_type=kept, **kwargs)


COMPUTED: dict[str, Any] = {"info": {"computed": True}}
"""Among the arguments of a table: its rows are worked out anew from others."""
WITH_CURRENCY: dict[str, Any] = {"with_currency": True}
"""What a column's `info` says where the person sets it together with the shop's currency."""


def money_words(words: str, *, first: bool = False) -> dict[str, Any]:
    """Among the arguments of a table: what the money is that it keeps, such as 'a listed price'.

    Where several tables keep some, one that is `first` is named: what nearly every shop has.
    """
    return {"info": {"money": words, "first": first}}


class KeptText(TypeDecorator[str]):
    """A document as JSON text (`models/kept`), empty where there is none yet. `check` reads every such column."""

    impl = String
    cache_ok = True


def kept_columns() -> tuple[tuple[str, str], ...]:
    """Every table and column that keeps documents."""
    columns = (column for table in metadata.sorted_tables for column in table.columns)
    return tuple((column.table.name, column.name) for column in columns if isinstance(column.type, KeptText))


def kept_text(*, nullable: bool = False, **kwargs: Any) -> Any:
    """A column of documents as JSON text."""
    return Field(sa_type=KeptText, nullable=nullable, **kwargs)


class MoneyMicros(TypeDecorator[Decimal]):
    """Money as whole millionths of the currency unit; a Decimal outside, so that draft and row share their values."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> int | None:  # noqa: ARG002
        return None if value is None else to_micros(value)

    def process_result_value(self, value: int | None, dialect: Dialect) -> Decimal | None:  # noqa: ARG002
        return None if value is None else from_micros(value)


def money(column: str, *, nullable: bool = False, info: Mapping[str, Any] | None = None, **kwargs: Any) -> Any:
    """A column of exact money, kept under `column` as whole millionths; `info` is what else is known of it."""
    named = {"name": column, "info": dict(info or {})}
    return Field(sa_type=MoneyMicros, nullable=nullable, sa_column_kwargs=named, **kwargs)


def rate(*, nullable: bool = False, **kwargs: Any) -> Any:
    """A column of exact decimal text (a share, a rate, an aspect ratio)."""
    return Field(sa_type=DecimalText, nullable=nullable, **kwargs)


def big(*, nullable: bool = False, **kwargs: Any) -> Any:
    """A whole-number column that may pass 2**31: millionths of money, nanometres, micrograms, thousandths of a unit."""
    return Field(sa_type=BigInteger, nullable=nullable, **kwargs)


def moment(*, nullable: bool = False, **kwargs: Any) -> Any:
    """A UTC instant."""
    return Field(sa_type=Instant, nullable=nullable, **kwargs)


def day(*, nullable: bool = False, **kwargs: Any) -> Any:
    """A business date in the shop's own time zone."""
    return Field(sa_type=Date, nullable=nullable, **kwargs)


def one_of(column: str, values: tuple[str, ...]) -> CheckConstraint:
    """A named CHECK that a text column holds one of a few words (enums are stored by value, never by name)."""
    listed = ", ".join(f"'{value}'" for value in values)
    return CheckConstraint(f"{column} IN ({listed})", name=f"{column}_known")


def at_least(column: str, least: int, *, or_null: bool = False) -> CheckConstraint:
    """A named CHECK that a whole-number column is not under `least`."""
    guard = f"{column} IS NULL OR " if or_null else ""
    return CheckConstraint(f"{guard}{column} >= {least}", name=f"{column}_at_least_{least}")


__all__ = [
    "COMPUTED",
    "WITH_CURRENCY",
    "DecimalText",
    "Instant",
    "KeptText",
    "MoneyMicros",
    "PhotoName",
    "Word",
    "at_least",
    "big",
    "date",
    "datetime",
    "day",
    "kept_columns",
    "kept_text",
    "metadata",
    "moment",
    "money",
    "money_words",
    "one_of",
    "photo_columns",
    "photo_name",
    "rate",
    "word",
]
