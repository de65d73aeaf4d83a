"""What people hand in about a supplier: who it is, and the terms of an order there. Offers stand in `offer`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.trade.money import is_currency

MOST_LEAD_DAYS = 730
LARGEST_RATE = Decimal(1_000_000)


@dataclass(frozen=True, slots=True)
class SupplierDraft:
    """A supplier as handed in; `lead_days` is how long an order usually takes, None when unknown.

    Sums are in `currency` (empty: the shop's own), of which one unit costs `exchange_rate` of the shop's own. Postage
    is free when the goods reach `free_from`; smaller orders than `minimum` are refused there.
    """

    name: str
    note: str
    lead_days: int | None
    postage: Decimal = Decimal(0)
    free_from: Decimal | None = None
    minimum: Decimal = Decimal(0)
    currency: str = ""
    exchange_rate: Decimal | None = None


def read_supplier(raw: Raw) -> SupplierDraft | Faults:
    """Read a supplier from a form, a JSON body or a CSV row."""
    reader = Reader(raw)
    currency = reader.text("currency", most=3).upper()
    if currency and not is_currency(currency):
        words = f"'{currency}' is not a currency of ISO 4217; give three letters such as EUR, GBP or USD."
        reader.fault("currency", words)
    draft = SupplierDraft(
        name=reader.text("name", required="Give the supplier a name.", most=120),
        note=reader.text("note", most=2000, lines=True),
        lead_days=reader.integer("lead_days", most=MOST_LEAD_DAYS, required=False),
        postage=reader.money("postage", default=Decimal(0)) or Decimal(0),
        free_from=reader.money("free_from", required=False),
        minimum=reader.money("minimum", default=Decimal(0)) or Decimal(0),
        currency=currency,
        exchange_rate=reader.decimal(
            "exchange_rate", required=False, least=Decimal("0.000001"), most=LARGEST_RATE, places=10
        ),
    )
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
