"""What people hand in about an offer: the pack, its price, and who sells it. Lots and receipts are not here."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.trade.money import is_currency

# The words of a pack's unit, as they are typed behind its number or chosen from the list.
PACK_UNITS: Final[Mapping[str, str]] = {
    "piece": "pieces", "m": "metres", "cm": "centimetres", "ft": "feet", "in": "inches", "g": "grams",
    "kg": "kilograms", "oz": "ounces (everyday)", "lb": "pounds", "ozt": "troy ounces", "dwt": "pennyweights",
}  # fmt: skip

_WORDS: Final[Mapping[str, str]] = {
    **{code: code for code in PACK_UNITS},
    "pieces": "piece", "pc": "piece", "pcs": "piece", "ring": "piece", "rings": "piece", "metre": "m", "metres": "m",
    "meter": "m", "meters": "m", "foot": "ft", "feet": "ft", "inch": "in", "inches": "in", "gram": "g", "grams": "g",
    "kilo": "kg", "kilos": "kg", "lbs": "lb", "pound": "lb", "pounds": "lb", "ounce": "oz", "ounces": "oz",
    "troy ounce": "ozt", "troy ounces": "ozt", "troy oz": "ozt",
}  # fmt: skip
_PACK = re.compile(r"(?P<number>[0-9.,]+)\s*(?P<unit>[a-z ]+)")

OFFER_FIELDS: Final = (
    "supplier",
    "supplier_id",
    "pack",
    "pack_unit",
    "price",
    "currency",
    "exchange_rate",
    "offer_note",
)
LARGEST_PACK: Final = Decimal(1_000_000)


@dataclass(frozen=True, slots=True)
class OfferDraft:
    """An offer as handed in: `pack_milli` thousandths of `pack_unit` for `price` in `currency`.

    `currency` empty means the shop's own. `exchange_rate` is what one unit of `currency` costs in the shop's own; None
    until it is settled. The supplier comes by its number or its name (a new name makes a new supplier) or not at all.
    """

    supplier: str
    supplier_id: int | None
    pack_milli: int
    pack_unit: str
    price: Decimal
    currency: str
    exchange_rate: Decimal | None
    note: str
    current: bool = True


def read_offer(raw: Raw, *, currency: str = "") -> OfferDraft | Faults:
    """Read an offer; `currency` is the shop's own, where it is known already."""
    reader = Reader(raw)
    draft = offer_fields(reader, currency=currency)
    faults = reader.faults()
    if faults is not None or draft is None:
        return faults or Faults.of("pack", "Give the pack and its price.")
    return draft


def offer_fields(reader: Reader, *, currency: str = "") -> OfferDraft | None:
    """Read the fields of an offer from a larger form; None when any of them is wrong."""
    pack, unit = pack_fields(reader)
    price = reader.money("price")
    code = reader.text("currency", most=3).upper()
    payable = not code or is_currency(code)
    if not payable:
        reader.fault("currency", f"'{code}' is not a currency of ISO 4217; give three letters such as EUR, GBP or USD.")
    rate = reader.decimal("exchange_rate", required=False, least=Decimal("0.000001"), most=LARGEST_PACK, places=10)
    draft = OfferDraft(
        supplier=reader.text("supplier", most=120),
        supplier_id=reader.identity("supplier_id", required=False),
        pack_milli=int(pack * 1000) if pack else 0,
        pack_unit=unit,
        price=price if price is not None else Decimal(0),
        currency=code,
        exchange_rate=rate,
        note=reader.text("offer_note", most=500, lines=True),
        current=reader.flag("current", default=True),
    )
    if pack is None or price is None or not payable:
        return None
    if not currency:
        return draft
    settled = settle_currency(draft, currency)
    if isinstance(settled, Faults):
        for fault in settled:
            # A rate that could not be read has its own message already.
            if not reader.has(fault.field) or rate is not None:
                reader.fault(fault.field, fault.message)
        return None
    return settled


def settle_currency(draft: OfferDraft, own: str) -> OfferDraft | Faults:
    """Fill in the shop's own currency, or check that another one came with its rate."""
    if draft.currency in ("", own):
        if draft.exchange_rate not in (None, Decimal(1)):
            return Faults.of("exchange_rate", f"Leave the rate empty: the price is in {own}, the shop's own currency.")
        return replace(draft, currency=own, exchange_rate=Decimal(1))
    if draft.exchange_rate is None:
        return Faults.of("exchange_rate", f"Give the rate: what does 1 {draft.currency} cost in {own}?")
    return draft


def from_milli(milli: int) -> Decimal:
    """Thousandths of a unit as the exact number of units, without zeros at its end."""
    value = Decimal(milli).scaleb(-3).normalize()
    return value.quantize(Decimal(1)) if value == value.to_integral_value() else value


def has_offer(reader: Reader) -> bool:
    """Whether any field of an offer holds something, so that the rest of them is asked for."""
    return any(
        reader.has(field) for field in ("pack", "price", "supplier", "supplier_id", "exchange_rate", "offer_note")
    )


def pack_fields(reader: Reader) -> tuple[Decimal | None, str]:
    """Read what a pack holds, '100', '50 g' or '1 ozt', and its unit: a typed unit wins over the chosen one."""
    typed = reader.text("pack", most=40).lower()
    found = _PACK.fullmatch(typed)
    word = found["unit"].strip() if found else ""
    if found and word in _WORDS:
        unit = _WORDS[word]
        number = Reader({"pack": found["number"]}, prefix=reader.prefix)
        pack = _pack_number(number)
        for fault in number.faults() or ():
            reader.fault("pack", fault.message)
        return pack, unit
    if found:
        reader.fault("pack", f"'{word}' is not a unit of a pack; use one of: {', '.join(PACK_UNITS)}.")
        return None, "piece"
    unit = reader.choice("pack_unit", tuple(PACK_UNITS), default="piece")
    return _pack_number(reader), unit


def _pack_number(reader: Reader) -> Decimal | None:
    if not reader.has("pack"):
        reader.fault("pack", "Say what one pack holds, such as 100 pieces or 50 g.")
        return None
    pack = reader.decimal("pack", least=Decimal(0), most=LARGEST_PACK, places=3)
    if pack == 0:
        reader.fault("pack", "A pack of nothing has no price for one; give more than 0.")
        return None
    return pack
