"""What stands in the fields of a form at first, by what a noun declares (`models/intake/fields`)."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from models.intake.fields import Declared, Money, Rows, Size, fields_of
from models.trade.measures import exact_text
from webapp.web.filters import typed_money


def form_values(
    draft: object, first: Mapping[str, object] | None = None, *, length_unit: str = "mm"
) -> dict[str, object]:
    """The values of a draft as its form shows them; of a draft's class, what a new one begins with.

    `first` names what only the page begins with, such as the first choice of a list. Sizes are shown in `length_unit`.
    """
    if isinstance(draft, type):
        return {**_beginning(draft), **(first or {})}
    return {
        field.typed or name: _typed(field, getattr(draft, name), length_unit)
        for name, field in fields_of(type(draft)).items()
    }


def _beginning(draft: type[Any]) -> dict[str, object]:
    values: dict[str, object] = {}
    for name, field in fields_of(draft).items():
        default = field.starts if field.starts is not None else getattr(field, "default", None)
        if isinstance(field, Rows):
            values[name] = []
        elif default not in {None, "", False} and default != 0:
            values[name] = _typed(field, default)
    return values


def _typed(field: Declared, value: Any, length_unit: str = "mm") -> object:
    if isinstance(field, Rows):
        return [
            # An empty field reads better than a zero that nobody typed.
            {
                name: _typed(inner, one) if (one := getattr(row, name)) else ""
                for name, inner in fields_of(field.of).items()
            }
            for row in value
        ]
    if isinstance(field, Money):
        return typed_money(value)
    if isinstance(field, Size):
        return "" if value is None else exact_text(value, length_unit)
    return format(value, "f") if isinstance(value, Decimal) else value
