"""Money as the API takes it: text, a number, or the object that the API itself sends (amount and currency)."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from models.intake.faults import Fault, Faults
from models.intake.fields import MONEY_SCHEMA

__all__ = ["MONEY_SCHEMA", "plain_amounts"]


def plain_amounts(body: Mapping[str, object], currency: str) -> dict[str, object] | Faults:
    """The body with every money object replaced by its amount, also in lists; another currency is a fault."""
    faults: list[Fault] = []
    plain = {name: _plain(value, name, currency, faults) for name, value in body.items()}
    return Faults(tuple(faults)) if faults else plain


def _plain(value: object, field: str, currency: str, faults: list[Fault]) -> object:
    if isinstance(value, Mapping):
        if set(value) == {"amount", "currency"}:
            if value["currency"] != currency:
                faults.append(Fault(field, f"The shop counts in {currency}; give the amount in {currency}."))
            return value["amount"]
        return dict(_fields(value, field, currency, faults))
    if isinstance(value, list):
        return [_plain(one, f"{field}.{place}", currency, faults) for place, one in enumerate(value)]
    return value


def _fields(
    value: Mapping[object, object], field: str, currency: str, faults: list[Fault]
) -> Iterator[tuple[str, object]]:
    for name, one in value.items():
        yield str(name), _plain(one, f"{field}.{name}", currency, faults)
