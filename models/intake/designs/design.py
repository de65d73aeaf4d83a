"""Designs as they are handed in: a form, a JSON body or a CSV row becomes a checked draft, or its faults.

Parts are read in `part`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from models.intake.costing.part import PartDraft, named_choices, read_part
from models.intake.csv_file import Column
from models.intake.faults import Faults
from models.intake.layouts.layout import LayoutDraft, read_layout, read_layout_text
from models.intake.raw import Raw, Reader
from models.trade.vocabulary.bench import HAND_WORK, SKILLS, WORK_KINDS
from models.trade.weaves import WEAVES

COUNT_WORK = HAND_WORK
PIECE_WORK = WORK_KINDS.those(lambda kind: bool(kind.done) and not kind.hand and not kind.once)
ONCE_WORK = WORK_KINDS.those(lambda kind: kind.once)
TIMED_WORK = PIECE_WORK + ONCE_WORK
USUAL_WORK = WORK_KINDS.those(lambda kind: kind.usual)
"""What a new design starts with, besides the hand work that its parts ask for."""

MOST_PARTS = 200
MOST_MINUTES = Decimal(10_000)
MOST_COUNT = 100_000
ONCE_PIECES = 10


@dataclass(frozen=True, slots=True)
class WorkDraft:
    """One kind of work that the design asks for: a count that replaces the one from the parts, or minutes.

    `minutes_milli` are thousandths of minutes, per piece or (work done once) per design; None takes the shop's rate.
    """

    kind: str
    count: int | None = None
    minutes_milli: int | None = None


@dataclass(frozen=True, slots=True)
class DesignDraft:
    """A design as it was handed in; sizes in nanometres, the measured weight in micrograms.

    Of a design that is laid out in rows, the parts with a `layout_key` follow from `layout` and are counted anew when
    it is kept; the others are its plain list.
    """

    name: str
    piece: str = ""
    note: str = ""
    weave: str | None = None
    skill: int = 1
    width_nm: int | None = None
    height_nm: int | None = None
    length_nm: int | None = None
    measured_mass_ug: int | None = None
    allowance_percent: Decimal | None = None
    once_pieces: int = ONCE_PIECES
    change_note: str = ""
    retired: bool = False
    parts: tuple[PartDraft, ...] = ()
    work: tuple[WorkDraft, ...] = ()
    layout: LayoutDraft | None = None


def read_design(raw: Raw, *, length_unit: str = "mm") -> DesignDraft | Faults:
    """Read a whole design; every fault has the field that it stands beside ('parts.0.quantity' for the first part)."""
    draft, faults = read_rough_design(raw, length_unit=length_unit)
    return faults or draft


def read_rough_design(raw: Raw, *, length_unit: str = "mm") -> tuple[DesignDraft, Faults | None]:
    """Read what can be read, for a cost while things are still being typed: parts with a fault are left out."""
    reader = Reader(raw, length_unit=length_unit)
    draft = _design(reader)
    parts = tuple(part for part in reader.each("parts", read_part) if part is not None)
    rows = raw.get("parts")
    if isinstance(rows, (list, tuple)) and len(rows) > MOST_PARTS:
        reader.fault("parts", f"A design can have up to {MOST_PARTS} parts; this has {len(rows)}.")
        parts = parts[:MOST_PARTS]
    layout = _layout(reader, length_unit)
    return replace(draft, parts=named_choices(parts), layout=layout), reader.faults()


def read_design_row(raw: Raw) -> DesignDraft | Faults:
    """Read one row of a file of designs: the same fields, no parts."""
    reader = Reader({name: value for name, value in raw.items() if name not in {"parts", "work", "rows"}})
    draft = replace(_design(reader), retired=reader.flag("retired"))
    return reader.faults() or draft


def _design(reader: Reader) -> DesignDraft:
    name = reader.text("name", required="Give the design a name, such as Copper leaf pendant.")
    width, height, length = (reader.length(field, required=False) for field in ("width", "height", "length"))
    for field, found in (("width", width), ("height", height), ("length", length)):
        if found is not None and found.nm <= 0:
            reader.fault(field, "A finished size is above zero. Leave it empty while you don't know it.")
    mass_ug = reader.mass("measured_weight", required=False)
    if mass_ug is not None and mass_ug <= 0:
        reader.fault("measured_weight", "A weight is above zero. Leave it empty to use the computed one.")
        mass_ug = None
    skill = reader.choice("skill", SKILLS.codes, default="1")
    once_pieces = reader.integer("once_pieces", least=1, most=100_000, default=ONCE_PIECES)
    return DesignDraft(
        name=name,
        piece=reader.text("piece", most=60),
        note=reader.text("note", most=5000, lines=True),
        weave=_weave(reader),
        skill=int(skill),
        width_nm=width.nm if width and width.nm > 0 else None,
        height_nm=height.nm if height and height.nm > 0 else None,
        length_nm=length.nm if length and length.nm > 0 else None,
        measured_mass_ug=mass_ug,
        allowance_percent=reader.percent("allowance_percent", required=False),
        once_pieces=once_pieces or ONCE_PIECES,
        change_note=reader.text("change_note"),
        work=_work(reader),
    )


def _layout(reader: Reader, length_unit: str) -> LayoutDraft | None:
    """The rows of a design, an object or its JSON text in the field 'rows'; their faults begin with 'rows.'."""
    told = reader.raw.get("rows")
    if told is None or told == "":
        return None
    if isinstance(told, str):
        found = read_layout_text(told, length_unit=length_unit)
    elif isinstance(told, Mapping):
        found = read_layout(told, length_unit=length_unit)
    else:
        found = Faults.of("", "Rows are an object with a weave and its rows.")
    if isinstance(found, LayoutDraft):
        return found
    for fault in found:
        reader.fault(f"rows.{fault.field}" if fault.field else "rows", fault.message)
    return None


def _weave(reader: Reader) -> str | None:
    """A weave by its code or by its name."""
    typed = reader.text("weave")
    if not typed or typed in WEAVES:
        return typed or None
    for weave in WEAVES.values():
        if weave.name.casefold() == typed.casefold():
            return weave.code
    reader.fault("weave", "This weave is not in the catalogue. Choose one from the list, or leave it empty.")
    return None


def _work(reader: Reader) -> tuple[WorkDraft, ...]:
    """The work that is asked for; a JSON body may keep these fields in an object of their own, 'work'."""
    nested = reader.raw.get("work")
    if nested is not None and not isinstance(nested, Mapping):
        reader.fault("work", "This must be an object with named fields.")
        nested = {}
    own = Reader(nested if nested is not None else reader.raw)
    found: list[WorkDraft] = []
    if own.flag("setup", default=True):
        found.append(WorkDraft("setup"))
    for kind in COUNT_WORK:
        count = own.integer(f"{kind}_count", most=MOST_COUNT, required=False)
        if count is not None:
            found.append(WorkDraft(kind, count=count))
    for kind in TIMED_WORK:
        wanted = own.flag(kind, default=kind in USUAL_WORK)
        minutes = own.decimal(f"{kind}_minutes", most=MOST_MINUTES, required=False, places=3)
        if minutes is not None and not wanted:
            if kind in own.raw:
                own.fault(f"{kind}_minutes", "There are minutes, but the work is not ticked. Tick it, or clear them.")
                continue
            # Nobody types minutes for work that is not done, so without a tick to read they are enough.
            wanted = True
        if wanted:
            found.append(WorkDraft(kind, minutes_milli=None if minutes is None else int(minutes * 1000)))
    for fault in own.faults() or ():
        reader.fault(f"work.{fault.field}" if nested is not None else fault.field, fault.message)
    return tuple(found)


DESIGN_COLUMNS: tuple[Column, ...] = (
    Column("name", "What the design is called.", required=True, example="Copper leaf pendant"),
    Column("piece", "What kind of piece it is.", example="pendant"),
    Column("weave", "The weave: its code or its name in the catalogue.", example="byzantine", holds="choice"),
    Column("skill", "How much skill it takes, 1 (first piece) to 5 (expert).", example="2", holds="number"),
    Column("width", "Finished width, with its unit (mm without one).", example="18 mm", holds="size"),
    Column("height", "Finished height.", example="42 mm", holds="size"),
    Column("length", "Finished length.", example="45 cm", holds="size"),
    Column("measured_weight", "The weight of a finished piece, if you weighed one.", example="6.4 g", holds="size"),
    Column(
        "allowance_percent",
        "Rings spoiled or dropped, in per cent; empty takes the shop's.",
        example="3",
        holds="number",
    ),
    Column("once_pieces", "Over how many pieces the once-per-design work is spread.", example="10", holds="number"),
    Column("note", "Notes of your own."),
    Column("retired", "Whether you no longer make it.", example="no", holds="yes or no"),
    Column("setup", "Whether the bench is set up for it; yes without this column.", example="yes", holds="yes or no"),
    *(
        Column(f"{kind}_count", f"How many are {words}; empty counts them from the parts.", holds="number")
        for kind, words in ((kind, WORK_KINDS.term(kind).done) for kind in COUNT_WORK)
    ),
    *(
        column
        for kind, words in ((kind, WORK_KINDS.term(kind).done) for kind in TIMED_WORK)
        for column in (
            Column(
                kind,
                f"Whether it needs {words}; {'yes' if kind in USUAL_WORK else 'no'} without this column.",
                example="yes" if kind in USUAL_WORK else "no",
                holds="yes or no",
            ),
            Column(
                f"{kind}_minutes",
                f"Minutes of {words} for {'the design' if kind in ONCE_WORK else 'one piece'}; empty takes your rate.",
                holds="number",
            ),
        )
    ),
)
