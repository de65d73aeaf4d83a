"""What people hand in about an offer: the pack, its price, and who sells it. Lots and receipts are not here."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from itertools import pairwise
from typing import Annotated, Final

from models.intake.csv_file import in_order
from models.intake.faults import Faults
from models.intake.fields import (
    ANY_NUMBER,
    RATE_OF_EXCHANGE,
    Choice,
    Flag,
    Money,
    Own,
    Text,
    Whole,
    columns_of,
    read_fields,
)
from models.intake.raw import LARGEST_MONEY, Raw, Reader
from models.intake.stock.naming import CURRENCY, ITEM, ITEM_ID, SUPPLIER, SUPPLIER_ID, with_item_needed
from models.intake.stock.supplier import MOST_LEAD_DAYS
from models.trade.measures import Unreadable
from models.trade.money import parse_amount
from models.trade.number_shape import Typed
from models.trade.vocabulary.things import PACK_UNITS

# The words of a pack's unit, as they are typed behind its number.
_WORDS: Final[Mapping[str, str]] = {
    **{code: code for code in PACK_UNITS},
    "pieces": "piece", "pc": "piece", "pcs": "piece", "ring": "piece", "rings": "piece", "metre": "m", "metres": "m",
    "meter": "m", "meters": "m", "foot": "ft", "feet": "ft", "inch": "in", "inches": "in", "gram": "g", "grams": "g",
    "kilo": "kg", "kilos": "kg", "lbs": "lb", "pound": "lb", "pounds": "lb", "ounce": "oz", "ounces": "oz",
    "troy ounce": "ozt", "troy ounces": "ozt", "troy oz": "ozt",
}  # fmt: skip
_BREAK = re.compile(
    r"(?:from\s+)?(?P<packs>[0-9]+)(?:\s*packs?)?(?:\s+(?:at|for)\s+|\s*[:=@]\s*)(?P<price>\S+)", re.IGNORECASE
)
_PACK = re.compile(r"(?P<number>[0-9.,'’\s]*[0-9.,])\s*(?P<unit>[a-z ]+)")

LARGEST_PACK: Final = Decimal(1_000_000)
BREAKS_SCHEMA: Final[dict[str, object]] = {
    "anyOf": [
        {"type": "string"},
        {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {"from_packs": {"type": "integer", "minimum": 2}, "price": ANY_NUMBER},
                "required": ["from_packs", "price"],
            },
        },
    ],
}
MOST_BREAKS: Final = 12
MOST_BREAK_PACKS: Final = 100_000


@dataclass(frozen=True, slots=True)
class OfferDraft:
    """An offer as handed in: `pack_milli` thousandths of `pack_unit` for `price` in `currency`.

    `currency` empty means the shop's own. `exchange_rate` is what one unit of `currency` costs in the shop's own; None
    until it is settled. The supplier comes by its number or its name (a new name makes a new supplier) or not at all.
    `breaks` are (from so many packs on, each costs). Costs follow it when it is `current`, None: where the item has no
    other; it may be bought beside others when it is `standing`.
    """

    supplier: Annotated[str, SUPPLIER]
    supplier_id: Annotated[int | None, SUPPLIER_ID]
    pack_milli: Annotated[
        int,
        Own(
            label="Pack",
            says="What one pack holds, also with its unit: 100, 50 g, 1 ozt.",
            example="100",
            typed="pack",
            required=True,
            held="amount",
            json=ANY_NUMBER,
        ),
    ]
    pack_unit: Annotated[
        str,
        Choice(
            label="Unit of the pack",
            says="The unit of the pack; empty means pieces.",
            example="piece",
            among=PACK_UNITS,
            default="piece",
        ),
    ]
    price: Annotated[Decimal, Money(label="Price", says="What one pack costs.", example="3.40")]
    currency: Annotated[str, CURRENCY]
    exchange_rate: Annotated[Decimal | None, RATE_OF_EXCHANGE]
    note: Annotated[
        str,
        Text(
            label="Note",
            says="Anything about the offer, such as an order number.",
            example="Item no. 12",
            typed="offer_note",
            most=500,
            lines=True,
        ),
    ]
    current: Annotated[
        bool | None,
        Flag(label="Current", says="Whether costs follow this offer from now on; true when left out.", default=True),
    ] = True
    standing: Annotated[
        bool,
        Flag(
            label="Standing",
            says="Whether it may be bought beside the current one; true when left out.",
            default=True,
            in_file=False,
        ),
    ] = True
    lead_days: Annotated[
        int | None,
        Whole(
            label="Days until it is here",
            says="Days until it is here, where that is not the supplier's usual time.",
            example="4",
            most=MOST_LEAD_DAYS,
            required=False,
        ),
    ] = None
    breaks: Annotated[
        tuple[tuple[int, Decimal], ...],
        Own(
            label="Price breaks",
            says="From how many packs on each costs less: as text such as '5 at 3.20; 20 at 2.90', or listed.",
            example="5 at 3.20; 20 at 2.90",
            by=read_breaks,
            held="amount",
            json=BREAKS_SCHEMA,
        ),
    ] = ()


@dataclass(frozen=True, slots=True)
class OfferRow:
    """One row of a file of offers: the item by its number or its name, and the offer."""

    item_id: int | None
    item: str
    offer: OfferDraft


def read_offer(raw: Raw, *, currency: str = "") -> OfferDraft | Faults:
    """Read an offer; `currency` is the shop's own, where it is known already."""
    reader = Reader(raw)
    draft = offer_fields(reader, currency=currency)
    faults = reader.faults()
    if faults is not None or draft is None:
        return faults or Faults.of("pack", "Give the pack and its price.")
    return draft


def read_offer_row(raw: Raw, *, currency: str = "") -> OfferRow | Faults:
    """Read one row of a file of offers; `currency` is the shop's own."""
    reader = Reader(raw)
    item_id, item = ITEM_ID.read(reader, "item_id"), ITEM.read(reader, "item")
    if item_id is None and not item:
        reader.fault("item", "Name the stock item.")
    draft = offer_fields(reader, currency=currency)
    faults = reader.faults()
    if faults is not None or draft is None:
        return faults or Faults.of("pack", "Give the pack and its price.")
    if not reader.has("current"):
        draft = replace(draft, current=None)
    return OfferRow(item_id, item, draft)


def offer_fields(reader: Reader, *, currency: str = "") -> OfferDraft | None:
    """Read the fields of an offer from a larger form; None when any of them is wrong."""
    pack, unit = pack_fields(reader)
    draft = read_fields(OfferDraft, reader, pack_milli=int(pack * 1000) if pack else 0, pack_unit=unit)
    wrong = reader.faults()
    named = wrong.by_field() if wrong else {}
    if pack is None or {reader.prefix + field for field in ("price", "currency")} & named.keys():
        return None
    if not currency:
        return draft
    settled = resolve_currency(draft, currency)
    if isinstance(settled, Faults):
        for fault in settled:
            # A rate that could not be read has its own message already.
            if not reader.has(fault.field) or draft.exchange_rate is not None:
                reader.fault(fault.field, fault.message)
        return None
    return settled


def resolve_currency(draft: OfferDraft, own: str) -> OfferDraft | Faults:
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
        number = Reader({"pack": Typed(found["number"], reader.shape("pack"))}, prefix=reader.prefix)
        pack = _pack_number(number)
        for fault in number.faults() or ():
            reader.fault("pack", fault.message)
        return pack, unit
    if found:
        reader.fault("pack", f"'{word}' is not a unit of a pack; use one of: {', '.join(PACK_UNITS)}.")
        return None, "piece"
    unit = reader.choice("pack_unit", PACK_UNITS.codes, default="piece")
    return _pack_number(reader), unit


def breaks_text(breaks: Sequence[tuple[int, Decimal]]) -> str:
    """Price breaks as they are typed: '5 at 3.20; 20 at 2.90'."""
    return "; ".join(f"{packs} at {format(price, 'f')}" for packs, price in breaks)


def read_breaks(reader: Reader, field: str) -> tuple[tuple[int, Decimal], ...]:
    """Read price breaks, typed as '5 at 3.20; 20 at 2.90' or listed as objects with `from_packs` and `price`."""
    if isinstance(reader.raw.get(field), (list, tuple)):
        found = tuple(each for each in reader.each(field, _listed_break) if each is not None)
    else:
        found = tuple(each for each in _typed_breaks(reader, field) if each is not None)
    if len(found) > MOST_BREAKS:
        reader.fault(field, f"Give at most {MOST_BREAKS} price breaks.")
    starts = [1, *(packs for packs, _ in found)]
    if any(later <= earlier for earlier, later in pairwise(starts)):
        reader.fault(field, "Price breaks begin at 2 packs or more, and each at more packs than the one before.")
    return found


def _typed_breaks(reader: Reader, field: str) -> Iterator[tuple[int, Decimal] | None]:
    for typed in re.split(r"[;\n]", reader.text(field, most=400, lines=True)):
        if not typed.strip():
            continue
        read = _BREAK.fullmatch(typed.strip())
        if read is None or len(read["packs"]) > 6:
            reader.fault(field, f"“{typed.strip()}” is not a price break; type it as 5 at 3.20; 20 at 2.90.")
            return
        try:
            price = parse_amount(read["price"], shape=reader.shape(field))
        except Unreadable as unreadable:
            reader.fault(field, unreadable.message)
            return
        if not 0 <= price <= LARGEST_MONEY or price != round(price, 6):
            reader.fault(field, f"A price is 0 to {LARGEST_MONEY:,}, with at most 6 decimals.")
            return
        if int(read["packs"]) > MOST_BREAK_PACKS:
            reader.fault(field, f"A price break begins at {MOST_BREAK_PACKS:,} packs or fewer.")
            return
        yield int(read["packs"]), price


def _listed_break(reader: Reader) -> tuple[int, Decimal] | None:
    packs = reader.integer("from_packs", least=2, most=MOST_BREAK_PACKS)
    price = reader.money("price")
    return None if packs is None or price is None else (packs, price)


def _pack_number(reader: Reader) -> Decimal | None:
    if not reader.has("pack"):
        reader.fault("pack", "Say what one pack holds, such as 100 pieces or 50 g.")
        return None
    pack = reader.quantity("pack", most=LARGEST_PACK)
    if pack == 0:
        reader.fault("pack", "A pack of nothing has no price for one; give more than 0.")
        return None
    return pack


_CURRENT: Final = "Whether designs cost what this offer says; empty: only where the item has no price yet."
OFFER_COLUMNS: Final = in_order(
    (
        *with_item_needed((ITEM.column("item"), ITEM_ID.column("item_id"))),
        *(
            replace(column, says=_CURRENT, example="no") if column.name == "current" else column
            for column in columns_of(OfferDraft)
        ),
    ),
    "item", "item_id", "supplier", "pack", "pack_unit", "price", "currency", "exchange_rate", "breaks", "lead_days",
    "current", "offer_note",
)  # fmt: skip
"""The columns of a CSV file of offers; their names are the fields that `read_offer_row` reads."""
