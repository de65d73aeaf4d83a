"""Designs as they are handed in: a form, a JSON body or a CSV row becomes a checked draft, or its faults.

Parts are read in `part`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Annotated

from models.intake.costing.part import PartDraft, named_choices, read_part
from models.intake.csv_file import Column
from models.intake.faults import Faults
from models.intake.fields import (
    ANY_NUMBER,
    Flag,
    Mass,
    Own,
    Percent,
    Size,
    Text,
    Whole,
    columns_of,
    read_fields,
)
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


NO_SIZE = "A finished size is above zero. Leave it empty while you don't know it."
OF_THE_DESIGN = ("name", "piece", "note", "retired")
"""What is the design's own; the other fields are of each of its revisions."""


def read_weave(reader: Reader, field: str) -> str | None:
    """A weave by its code or by its name."""
    typed = reader.text(field)
    if not typed or typed in WEAVES:
        return typed or None
    for weave in WEAVES.values():
        if weave.name.casefold() == typed.casefold():
            return weave.code
    reader.fault(field, "This weave is not in the catalogue. Choose one from the list, or leave it empty.")
    return None


def read_skill(reader: Reader, field: str) -> int:
    """How much skill a design takes; 1 where nothing is said."""
    return int(reader.choice(field, SKILLS.codes, default="1"))


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

    name: Annotated[
        str,
        Text(
            label="Name",
            says="What the design is called.",
            example="Copper leaf pendant",
            required="Give the design a name, such as Copper leaf pendant.",
        ),
    ]
    piece: Annotated[str, Text(label="Kind of piece", says="What kind of piece it is.", example="pendant", most=60)] = (
        ""
    )
    weave: Annotated[
        str | None,
        Own(
            label="Weave",
            says="The weave: its code or its name in the catalogue.",
            example="byzantine",
            by=read_weave,
            held="choice",
        ),
    ] = None
    skill: Annotated[
        int,
        Own(
            label="Skill",
            says="How much skill it takes, 1 (first piece) to 5 (expert).",
            example="2",
            by=read_skill,
            held="number",
            json=ANY_NUMBER,
        ),
    ] = 1
    width_nm: Annotated[
        int | None,
        Size(
            label="Finished width",
            says="Finished width, with its unit (mm without one).",
            example="18 mm",
            typed="width",
            required=False,
            none=NO_SIZE,
        ),
    ] = None
    height_nm: Annotated[
        int | None,
        Size(
            label="Finished height",
            says="Finished height.",
            example="42 mm",
            typed="height",
            required=False,
            none=NO_SIZE,
        ),
    ] = None
    length_nm: Annotated[
        int | None,
        Size(
            label="Finished length",
            says="Finished length.",
            example="45 cm",
            typed="length",
            required=False,
            none=NO_SIZE,
        ),
    ] = None
    measured_mass_ug: Annotated[
        int | None,
        Mass(
            label="Measured weight",
            says="The weight of a finished piece, if you weighed one.",
            example="6.4 g",
            typed="measured_weight",
            required=False,
            none="A weight is above zero. Leave it empty to use the computed one.",
        ),
    ] = None
    allowance_percent: Annotated[
        Decimal | None,
        Percent(
            label="Spoiled or dropped",
            says="Rings spoiled or dropped, in per cent; empty takes the shop's.",
            example="3",
            required=False,
        ),
    ] = None
    once_pieces: Annotated[
        int,
        Whole(
            label="Pieces that once-per-design work is spread over",
            says="Over how many pieces the once-per-design work is spread.",
            example="10",
            least=1,
            most=100_000,
            default=ONCE_PIECES,
            json=ANY_NUMBER,
        ),
    ] = ONCE_PIECES
    note: Annotated[str, Text(label="Notes", says="Notes of your own.", most=5000, lines=True)] = ""
    change_note: Annotated[
        str,
        Text(label="What changed", says="What changed, kept with the revision that is made.", in_file=False),
    ] = ""
    retired: Annotated[
        bool, Flag(label="Retired", says="Whether you no longer make it.", example="no", in_body=False)
    ] = False
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
    return read_fields(DesignDraft, reader, work=_work(reader), retired=False)


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
    *columns_of(DesignDraft),
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
