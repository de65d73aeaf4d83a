"""The fields by which forms, files and programs name what lies in stock: the item, its lot, its place, who sells it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from typing import Final

from models.intake.csv_file import Column
from models.intake.fields import ANY_NUMBER, Identity, Mass, Own, Text, no_currency
from models.intake.raw import Reader

ITEM: Final = Text(
    label="Item", says="The name of the stock item.", example="Bronze ring 1.0 × 3.6 mm", most=120, in_row=False
)
ITEM_ID: Final = Identity(
    label="Item", says="Its number, where two items have one name.", example="12", required=False, in_file=True
)
LOT_ID: Final = Identity(label="Lot", says="The lot's number.", example="12", required=False, in_file=True)
SUPPLIER: Final = Text(
    label="Supplier",
    says="Who sells it; a new name makes a new supplier.",
    example="A supplier's name",
    most=120,
    in_row=False,
)
SUPPLIER_ID: Final = Identity(
    label="Supplier", says="The supplier by its number, in the place of its name.", required=False
)
CURRENCY: Final = Text(
    label="Currency",
    says="The currency of the price; empty means the shop's own.",
    example="USD",
    most=3,
    tidy=str.upper,
    wrong=no_currency,
)
QUANTITY: Final = Own(label="Quantity", typed="quantity", held="amount", json=ANY_NUMBER)
TARE: Final = Mass(
    label="Empty bag",
    says="What the empty bag weighs, in grams; it is remembered.",
    typed="tare",
    required=False,
    in_file=False,
)


def with_item_needed(columns: Iterable[Column]) -> tuple[Column, ...]:
    """Columns of a file whose every line names its item."""
    return tuple(replace(column, required=column.required or column.name == "item") for column in columns)


def read_milli(reader: Reader, field: str) -> int | None:
    """Read a quantity as thousandths; None where nothing is said."""
    found = reader.quantity(field, required=False)
    return None if found is None else int(found * 1000)
