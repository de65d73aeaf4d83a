"""Parts of a design as they are handed in: a stock item or a typed thing, its quantity and what it is for.

What a line of quick entry means is read in `part_text`; whether an item or an own metal exists is checked where the
database is.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from models.intake.csv_file import Column
from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.trade.metals import METALS, match_metal
from models.trade.rings import RingSize, absurd
from models.trade.vocabulary.things import ITEM_KINDS, PART_KINDS, UNITS

COUNTED_KINDS = ITEM_KINDS.those(lambda kind: kind.units == ("piece",) and kind.added)
"""Kinds that are counted one by one, so that a fraction of one makes no sense."""
MOST_QUANTITY = Decimal(100_000)
FROM_ROWS = "rows"
"""The key of a part that says it is made by rows, while it is not said by which of them."""


@dataclass(frozen=True, slots=True)
class PartDraft:
    """One part as it was handed in: a stock item by its id, or a typed thing that is not in stock yet.

    `quantity_milli` is in thousandths of the unit, sizes are nanometres, `guess` is a guessed price for one unit and
    `allowance_percent` a number like 5 (None leaves it to the design). `layout_key` is the part's key in the rows that
    it is counted from; `closed_milli` then is how many of its rings are closed beforehand.
    """

    quantity_milli: int
    item_id: int | None = None
    typed_kind: str = ""
    typed_name: str = ""
    typed_metal: str | None = None
    typed_colour: str = ""
    typed_wire_nm: int | None = None
    typed_inner_nm: int | None = None
    typed_unit: str = "piece"
    guess: Decimal | None = None
    purpose: str = ""
    optional: bool = False
    choice_group: str = ""
    choice_name: str = ""
    allowance_percent: Decimal | None = None
    joined: bool = True
    layout_key: str = ""
    closed_milli: int | None = None


@dataclass(frozen=True, slots=True)
class PartRow:
    """One row of a file of parts: the design it belongs to, the stock item's name where it has one, and the part.

    With an item's name the typed fields of the part only tell items of one name apart.
    """

    design: str
    item: str
    part: PartDraft


def read_part_row(raw: Raw) -> PartRow | Faults:
    """Read one row of a file of parts."""
    reader = Reader(raw)
    design = reader.text("design", required="Give the name of the design that this part belongs to.")
    item = reader.text("item")
    part = _told_apart(reader) if item else _part(reader)
    return reader.faults() or PartRow(design, item, part)


def read_part(inside: Reader) -> PartDraft | None:
    """Read one row of a design's parts; None when it has a fault, which the reader then holds."""
    own = Reader(inside.raw, length_unit=inside.length_unit)
    part = _part(own)
    faults = own.faults()
    for fault in faults or ():
        inside.fault(fault.field, fault.message)
    return None if faults else part


def _part(reader: Reader) -> PartDraft:
    common = _common(reader)
    item_id = reader.identity("item_id", required=False)
    if item_id is not None:
        # What was typed before the item was found no longer says anything; a guess may still stand in for a price.
        return replace(common, item_id=item_id)
    typed = _typed(reader, common)
    if typed.typed_kind in COUNTED_KINDS and typed.quantity_milli % 1000:
        reader.fault("quantity", "These are counted one by one. Give a whole number, such as 48.")
    return typed


def _common(reader: Reader) -> PartDraft:
    quantity = reader.quantity("quantity", least=Decimal("0.001"), most=MOST_QUANTITY)
    from_rows = reader.flag("from_rows")
    closed = reader.quantity("closed_beforehand", most=MOST_QUANTITY, required=False) if from_rows else None
    if closed is not None and quantity is not None and closed > quantity:
        reader.fault("closed_beforehand", "No more rings can be closed beforehand than there are.")
        closed = None
    group = reader.text("choice_group", most=60)
    name = reader.text("choice_name", most=60)
    return PartDraft(
        quantity_milli=int((quantity or Decimal(1)) * 1000),
        guess=reader.money("guess", required=False),
        purpose=reader.text("purpose"),
        optional=reader.flag("optional"),
        choice_group=group or ("choice" if name else ""),
        choice_name=name,
        allowance_percent=reader.percent("allowance_percent", required=False),
        joined=reader.flag("joined", default=True),
        layout_key=FROM_ROWS if from_rows else "",
        closed_milli=None if closed is None else int(closed * 1000),
    )


def _typed(reader: Reader, common: PartDraft) -> PartDraft:
    """A thing that is not in stock yet: its kind, and the size and metal of a ring."""
    sized = reader.has("wire") and reader.has("inner")
    kind = reader.choice("kind", PART_KINDS, default="ring" if sized else "finding")
    ring = kind == "ring"
    name = reader.text("name", required="" if ring else "Say what this is, such as ear wire.")
    wire, inner = reader.wire("wire", required=ring), reader.inner("inner", required=ring)
    if ring and wire and inner:
        message = absurd(RingSize(wire.nm, inner.nm))
        if message:
            reader.fault("inner", message)
    unit = reader.choice("unit", UNITS.codes, default=ITEM_KINDS.term(kind).units[0])
    if kind in COUNTED_KINDS and unit != "piece":
        reader.fault("unit", "These are counted one by one. Choose piece.")
    return replace(
        common,
        typed_kind=kind,
        typed_name=name,
        typed_metal=_metal(reader),
        typed_colour=reader.text("colour", most=60),
        typed_wire_nm=wire.nm if wire else None,
        typed_inner_nm=inner.nm if inner else None,
        typed_unit=unit,
    )


def _told_apart(reader: Reader) -> PartDraft:
    """A part whose stock item is named; kind, metal, colour and size only tell items of that name apart."""
    kind = reader.choice("kind", ("", *PART_KINDS), default="")
    wire, inner = reader.wire("wire", required=False), reader.inner("inner", required=False)
    return replace(
        _common(reader),
        typed_kind=kind,
        typed_metal=_metal(reader),
        typed_colour=reader.text("colour", most=60),
        typed_wire_nm=wire.nm if wire else None,
        typed_inner_nm=inner.nm if inner else None,
    )


def _metal(reader: Reader) -> str | None:
    """A metal's code; a word that means one metal becomes its code, any other is looked up among the shop's own."""
    typed = reader.text("metal", most=100)
    if not typed or typed in METALS:
        return typed or None
    known = match_metal(typed)
    return known[0].code if len(known) == 1 else typed


def named_choices(parts: tuple[PartDraft, ...]) -> tuple[PartDraft, ...]:
    """Give the alternatives of a choice that were left unnamed the names A, B, C …"""
    used: dict[str, set[str]] = {}
    for part in parts:
        if part.choice_group and part.choice_name:
            used.setdefault(part.choice_group, set()).add(part.choice_name)
    named: list[PartDraft] = []
    for part in parts:
        if part.choice_group and not part.choice_name:
            taken = used.setdefault(part.choice_group, set())
            name = next(sign for sign in _letters() if sign not in taken)
            taken.add(name)
            named.append(replace(part, choice_name=name))
        else:
            named.append(part)
    return tuple(named)


def _letters() -> tuple[str, ...]:
    single = tuple("ABCDEFGHIJKLMNOPQRSTUVWXYZ")
    return single + tuple(a + b for a in single for b in single)


PART_COLUMNS: tuple[Column, ...] = (
    Column("design", "The design's name. Its rows together are its parts, in the order of the file.", required=True,
           example="Copper leaf pendant"),
    Column("item", "The name of a stock item; empty for a part that is not in stock yet.", example="Bronze 1.2 × 4.0"),
    Column("kind", f"What it is: {', '.join(PART_KINDS)}.", example="ring", holds="choice"),
    Column("name", "What it is called, for a part that is not in stock yet.", example="ear wire"),
    Column("metal", "The metal: its code, or a word that means one metal only.", example="bronze-c220"),
    Column("colour", "The colour.", example="blue"),
    Column("wire", "A ring's wire: mm, inches or a gauge with its system.", example="1.2 mm", holds="size"),
    Column("inner", "A ring's inner diameter.", example="4.0 mm", holds="size"),
    Column("unit", "What the quantity counts: piece, m or g.", example="piece", holds="choice"),
    Column("guess", "A guessed price for one unit, while there is no offer.", example="0.05", holds="number"),
    Column("quantity", "How many for one piece.", required=True, example="48", holds="number"),
    Column("purpose", "What it is for.", example="the chain"),
    Column("optional", "Whether it can be left out.", example="no", holds="yes or no"),
    Column("choice_group", "Parts of one group are alternatives.", example="colour"),
    Column("choice_name", "Which alternative of its group it is.", example="A"),
    Column("allowance_percent", "Spoiled or dropped, in per cent; empty takes the design's.", holds="number"),
    Column("joined", "Whether a ring is joined open; yes without this column.", example="yes", holds="yes or no"),
    Column("from_rows", "Whether rows make this part: left alone where the design has rows here, else a plain part.",
           example="no", holds="yes or no"),
    Column("closed_beforehand", "Of a part from rows: how many of its rings are closed beforehand.", holds="number"),
)  # fmt: skip
