"""What people hand in about a purchase: who it goes to, its packs, and what of them came. Offers stand in `offer`."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from models.intake.faults import Faults
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Raw, Reader
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

    packs: int
    item_id: int | None = None
    item: str = ""
    offer_id: int | None = None
    pack_milli: int | None = None
    pack_unit: str = ""
    price: Decimal | None = None
    at: str = "lines.0."


@dataclass(frozen=True, slots=True)
class PurchaseDraft:
    """A purchase as handed in; `postage` None follows from the supplier's terms. Sums in the supplier's currency."""

    lines: tuple[PurchaseLineDraft, ...]
    supplier: str = ""
    supplier_id: int | None = None
    postage: Decimal | None = None
    reference: str = ""
    note: str = ""
    due_on: date | None = None


@dataclass(frozen=True, slots=True)
class CameLine:
    """What came for one line: whole packs, and how much that was where it was counted or weighed (`how`).

    `at` is where its fields stand among what was handed in.
    """

    line_id: int
    packs: int
    how: HowMuch | None = None
    place: str = ""
    batch: str = ""
    at: str = "lines.0."


@dataclass(frozen=True, slots=True)
class GoodsReceiptDraft:
    """What came of a purchase together; `freight` None takes the share of the postage that these packs bear."""

    lines: tuple[CameLine, ...]
    received_on: date | None = None
    freight: Decimal | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class SentDraft:
    """The day it was sent (None: today) and the day by which it should come (None: as it usually takes)."""

    sent_on: date | None = None
    due_on: date | None = None


def read_purchase(raw: Raw) -> PurchaseDraft | Faults:
    """Read a purchase with its `lines`, of which empty ones are passed over."""
    reader = Reader(raw)
    lines = tuple(line for line in reader.each("lines", _line_or_nothing) if line is not None)
    if not lines and not reader.faults():
        reader.fault("lines.0.item_id", "Say what to buy.")
    draft = PurchaseDraft(
        lines=lines,
        supplier=reader.text("supplier", most=120),
        supplier_id=reader.identity("supplier_id", required=False),
        postage=reader.money("postage", required=False),
        reference=reader.text("reference", most=60),
        note=reader.text("note", most=2000, lines=True),
        due_on=reader.date("due_on", required=False),
    )
    return reader.faults() or draft


def read_sent(raw: Raw) -> SentDraft | Faults:
    """Read when a purchase was sent and when it should come."""
    reader = Reader(raw)
    draft = SentDraft(reader.date("sent_on", required=False), reader.date("due_on", required=False))
    return reader.faults() or draft


def read_came(raw: Raw) -> GoodsReceiptDraft | Faults:
    """Read what came of a purchase: `lines` with their number, packs, and what was counted; empty ones came not."""
    reader = Reader(raw)
    lines = tuple(line for line in reader.each("lines", _came_or_nothing) if line is not None)
    if not lines and not reader.faults():
        reader.fault("lines.0.packs", "Say how many packs came.")
    draft = GoodsReceiptDraft(
        lines=lines,
        received_on=reader.date("received_on", required=False),
        freight=reader.money("freight", required=False),
        note=reader.text("note", most=500, lines=True),
    )
    return reader.faults() or draft


def _line_or_nothing(reader: Reader) -> PurchaseLineDraft | None:
    return _line(reader) if any(reader.has(field) for field in _LINE_FIELDS) else None


def _line(reader: Reader) -> PurchaseLineDraft:
    item_id, item = reader.identity("item_id", required=False), reader.text("item", most=120)
    if item_id is None and not item and not reader.has("item_id"):
        reader.fault("item_id", "Say which item.")
    packs = reader.integer("packs", least=1, most=MOST_PACKS)
    pack_milli, pack_unit = None, ""
    if reader.has("pack"):
        pack, pack_unit = pack_fields(reader)
        pack_milli = int(pack * 1000) if pack else None
    return PurchaseLineDraft(
        packs=packs or 1,
        item_id=item_id,
        item="" if item_id is not None else item,
        offer_id=reader.identity("offer_id", required=False),
        pack_milli=pack_milli,
        pack_unit=pack_unit,
        price=reader.money("price", required=False),
        at=reader.prefix,
    )


def _came_or_nothing(reader: Reader) -> CameLine | None:
    if not any(reader.has(field) for field in _CAME_FIELDS):
        return None
    packs = reader.integer("packs", least=0, most=MOST_PACKS)
    if packs == 0:
        return None
    line_id = reader.identity("line_id")
    how = how_much(reader, "quantity", missing="", zero=True) if reader.has("quantity") else None
    if how is not None and how.none:
        reader.fault("quantity", "Then none of it came: say 0 packs, so that they stay on order.")
    return CameLine(
        line_id=line_id or 0,
        packs=packs or 1,
        how=how,
        place=read_goal(reader, "place"),
        batch=reader.text("batch", most=60),
        at=reader.prefix,
    )
