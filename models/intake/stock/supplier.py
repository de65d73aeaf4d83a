"""What people hand in about a supplier: who it is, and the terms of an order there. Offers stand in `offer`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Annotated

from models.intake.faults import Faults
from models.intake.fields import (
    NUMBER_OR_NULL,
    RATE_OF_EXCHANGE,
    Money,
    Text,
    Whole,
    read_fields,
)
from models.intake.raw import Raw, Reader
from models.intake.stock.naming import CURRENCY

MOST_LEAD_DAYS = 730
ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class SupplierDraft:
    """A supplier as handed in; `lead_days` is how long an order usually takes, None when unknown.

    Sums are in `currency` (empty: the shop's own), of which one unit costs `exchange_rate` of the shop's own. Postage
    is free when the goods reach `free_from`; smaller orders than `minimum` are refused there.
    """

    name: Annotated[str, Text(label="Name", required="Give the supplier a name.", most=120)]
    note: Annotated[str, Text(label="Note", most=2000, lines=True)]
    lead_days: Annotated[
        int | None,
        Whole(
            label="Days until it is here",
            says="How many days an order usually takes.",
            most=MOST_LEAD_DAYS,
            required=False,
        ),
    ]
    postage: Annotated[
        Decimal,
        Money(
            label="Postage",
            says="What an order costs in postage, in the supplier's currency.",
            default=ZERO,
            foreign=True,
        ),
    ] = ZERO
    free_from: Annotated[
        Decimal | None,
        Money(
            label="Free from",
            says="The sum of goods from which postage is free; null: never.",
            required=False,
            json=NUMBER_OR_NULL,
        ),
    ] = None
    minimum: Annotated[
        Decimal,
        Money(
            label="Smallest order",
            says="The smallest sum of goods that an order may have.",
            default=ZERO,
            foreign=True,
        ),
    ] = ZERO
    currency: Annotated[
        str, replace(CURRENCY, says="What the supplier asks in; empty means the shop's own.", example="")
    ] = ""
    exchange_rate: Annotated[Decimal | None, replace(RATE_OF_EXCHANGE, json=NUMBER_OR_NULL)] = None


def read_supplier(raw: Raw) -> SupplierDraft | Faults:
    """Read a supplier from a form, a JSON body or a CSV row."""
    reader = Reader(raw)
    draft = read_fields(SupplierDraft, reader)
    if draft.free_from is not None and not draft.postage and not reader.faults():
        reader.fault("postage", "Give the postage of smaller orders, or leave empty from when on it is free.")
    return reader.faults() or draft


def resolve_supplier_currency(draft: SupplierDraft, own: str) -> SupplierDraft | Faults:
    """Leave the shop's own currency empty, or check that another one came with its rate."""
    if draft.currency in ("", own):
        if draft.exchange_rate not in (None, Decimal(1)):
            return Faults.of("exchange_rate", f"Leave the rate empty: the sums are in {own}, the shop's own currency.")
        return replace(draft, currency="", exchange_rate=None)
    if draft.exchange_rate is None:
        return Faults.of("exchange_rate", f"Give the rate: what does 1 {draft.currency} cost in {own}?")
    return draft
