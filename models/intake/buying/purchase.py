"""What people hand in about a purchase: who it goes to, its packs, and what of them came. Offers stand in `offer`."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date
from decimal import Decimal
from typing import Annotated, Final

from models.intake.faults import Faults
from models.intake.fields import (
    DAY_OR_NULL,
    Day,
    Identity,
    Money,
    Own,
    Text,
    Whole,
    list_of,
    read_fields,
)
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Raw, Reader
from models.intake.stock.naming import ITEM, SUPPLIER, SUPPLIER_ID
from models.intake.stock.offer import pack_fields
from models.intake.stock.place import read_goal

MOST_PACKS: Final = 100_000
_LINE_FIELDS: Final = ("item", "item_id", "packs", "pack", "price")
_CAME_FIELDS: Final = ("packs", "quantity")


@dataclass(frozen=True, slots=True)
class PurchaseLineDraft:
    """So many packs of an item, by its number or its name.

    `pack_milli` None and `price` None take the standing offer's; `price` is of one pack, in the supplier's currency.
    `at` is where its fields stand among what was handed in, for faults that are found later.
    """

    packs: Annotated[int, Whole(label="Packs", least=1, most=MOST_PACKS)]
    item_id: Annotated[int | None, Identity(label="Item", required=False)] = None
    item: Annotated[str, replace(ITEM, says="The item by its name, in the place of its number.")] = ""
    offer_id: Annotated[
        int | None,
        Identity(label="Offer", says="Which of the supplier's offers; the current one when left out.", required=False),
    ] = None
    pack_milli: Annotated[
        int | None,
        Own(label="Pack", says="What one pack holds, such as '100' or '50 g'; else the offer's.", typed="pack"),
    ] = None
    pack_unit: Annotated[str, Own(label="Unit of the pack", in_body=False)] = ""
    price: Annotated[
        Decimal | None,
        Money(
            label="Price",
            says="What one pack costs, in the supplier's currency; else the offer's.",
            required=False,
            foreign=True,
        ),
    ] = None
    at: str = "lines.0."


@dataclass(frozen=True, slots=True)
class PurchaseDraft:
    """A purchase as handed in; `postage` None follows from the supplier's terms. Sums in the supplier's currency."""

    lines: Annotated[tuple[PurchaseLineDraft, ...], Own(label="Lines", json=list_of(PurchaseLineDraft))]
    supplier: Annotated[str, replace(SUPPLIER, says="Its name; a new one is added. Empty: nobody named.")] = ""
    supplier_id: Annotated[int | None, SUPPLIER_ID] = None
    postage: Annotated[
        Decimal | None,
        Money(label="Postage", says="Left out, it follows from the supplier's terms.", required=False, foreign=True),
    ] = None
    reference: Annotated[str, Text(label="Reference", most=60)] = ""
    note: Annotated[str, Text(label="Note", most=2000, lines=True)] = ""
    due_on: Annotated[date | None, Day(label="Due", required=False, json=DAY_OR_NULL)] = None


@dataclass(frozen=True, slots=True)
class CameLine:
    """What came for one line: whole packs, and how much that was where it was counted or weighed (`how`).

    `at` is where its fields stand among what was handed in.
    """

    line_id: Annotated[int, Identity(label="Line")]
    packs: Annotated[int, Whole(label="Packs", most=MOST_PACKS)]
    how: Annotated[
        HowMuch | None,
        Own(label="Quantity", says="What was counted or weighed in all these packs.", typed="quantity"),
    ] = None
    place: Annotated[str, Own(label="Place", by=read_goal)] = ""
    batch: Annotated[str, Text(label="Batch", most=60)] = ""
    at: str = "lines.0."


@dataclass(frozen=True, slots=True)
class GoodsReceiptDraft:
    """What came of a purchase together; `freight` None takes the share of the postage that these packs bear."""

    lines: Annotated[tuple[CameLine, ...], Own(label="Lines", json=list_of(CameLine))]
    received_on: Annotated[
        date | None, Day(label="Day", says="Today when left out.", required=False, json=DAY_OR_NULL)
    ] = None
    freight: Annotated[
        Decimal | None,
        Money(
            label="Freight",
            says="Postage for this; else its share of what no receipt noted yet.",
            required=False,
            foreign=True,
        ),
    ] = None
    note: Annotated[str, Text(label="Note", most=500, lines=True)] = ""


@dataclass(frozen=True, slots=True)
class SentDraft:
    """The day it was sent (None: today) and the day by which it should come (None: as it usually takes)."""

    sent_on: Annotated[
        date | None, Day(label="Sent", says="Today when left out.", required=False, json=DAY_OR_NULL)
    ] = None
    due_on: Annotated[
        date | None, Day(label="Due", says="As it usually takes when left out.", required=False, json=DAY_OR_NULL)
    ] = None


def read_purchase(raw: Raw) -> PurchaseDraft | Faults:
    """Read a purchase with its `lines`, of which empty ones are passed over."""
    reader = Reader(raw)
    lines = tuple(line for line in reader.each("lines", _line_or_nothing) if line is not None)
    if not lines and not reader.faults():
        reader.fault("lines.0.item_id", "Say what to buy.")
    draft = read_fields(PurchaseDraft, reader, lines=lines)
    return reader.faults() or draft


def read_sent(raw: Raw) -> SentDraft | Faults:
    """Read when a purchase was sent and when it should come."""
    reader = Reader(raw)
    draft = read_fields(SentDraft, reader)
    return reader.faults() or draft


def read_came(raw: Raw) -> GoodsReceiptDraft | Faults:
    """Read what came of a purchase: `lines` with their number, packs, and what was counted; empty ones came not."""
    reader = Reader(raw)
    lines = tuple(line for line in reader.each("lines", _came_or_nothing) if line is not None)
    if not lines and not reader.faults():
        reader.fault("lines.0.packs", "Say how many packs came.")
    draft = read_fields(GoodsReceiptDraft, reader, lines=lines)
    return reader.faults() or draft


def _line_or_nothing(reader: Reader) -> PurchaseLineDraft | None:
    return _line(reader) if any(reader.has(field) for field in _LINE_FIELDS) else None


def _line(reader: Reader) -> PurchaseLineDraft:
    pack_milli, pack_unit = None, ""
    if reader.has("pack"):
        pack, pack_unit = pack_fields(reader)
        pack_milli = int(pack * 1000) if pack else None
    line = read_fields(PurchaseLineDraft, reader, pack_milli=pack_milli, pack_unit=pack_unit, at=reader.prefix)
    if line.item_id is None and not line.item and not reader.has("item_id"):
        reader.fault("item_id", "Say which item.")
    return replace(line, item="" if line.item_id is not None else line.item)


def _came_or_nothing(reader: Reader) -> CameLine | None:
    if not any(reader.has(field) for field in _CAME_FIELDS):
        return None
    packs = reader.integer("packs", most=MOST_PACKS)
    if packs == 0:
        return None
    how = how_much(reader, "quantity", missing="", zero=True) if reader.has("quantity") else None
    if how is not None and how.none:
        reader.fault("quantity", "Then none of it came: say 0 packs, so that they stay on order.")
    return read_fields(CameLine, reader, packs=packs or 1, how=how, at=reader.prefix)
