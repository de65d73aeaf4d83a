"""What people hand in about jobs: rings to be made from wire, rings that were made, and lots turned into another look.

Whether the wire is there, and what the job costs, is worked out where the shop is known.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from models.intake.faults import Faults
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Raw, Reader
from models.intake.stock.place import read_goal, read_place
from models.intake.worktime import work_time
from models.trade.measures import to_mm
from models.trade.vocabulary.bench import CUTS, PROCESSES

MOST_RINGS: Final = 1_000_000
MOST_MADE: Final = 10_000_000
_LONGEST_NM: Final = 10_000_000_000
_MOST_KERF_NM: Final = 5_000_000


@dataclass(frozen=True, slots=True)
class CoilRequest:
    """A batch of rings that is thought about; sizes in nanometres, lengths of wire in millimetres.

    Either the mandrel is said, or how wide the coil shall open; `inner_nm` then asks for a mandrel. `temper` names
    starting values of springback, for when no coil of one's own was measured. `minutes_milli` is what the batch is
    thought to take.
    """

    wire_id: int
    rings: int
    mandrel_nm: int | None = None
    inner_nm: int | None = None
    temper: str = ""
    cutting: str = "saw"
    kerf_mm: Decimal | None = None
    mandrel_length_mm: Decimal | None = None
    end_turns: Decimal = Decimal(1)
    end_waste_mm: Decimal = Decimal(0)
    spare_percent: Decimal = Decimal(0)
    minutes_milli: int | None = None


@dataclass(frozen=True, slots=True)
class CoilDraft:
    """Rings that were made from wire. `lot_id` None takes the oldest wire first, `used` is how much of it went.

    `wire_place` None takes it from wherever that lot lies. They become a lot of `ring_id`, or of a new ring of the wire
    with `new_inner_nm` and its label. `measured_inner_nm` is the coil's inside off the mandrel, before it was cut.
    `offcuts_ug` of precious metal is kept as scrap.
    """

    wire_id: int
    made: int
    used: HowMuch
    lot_id: int | None = None
    wire_place: str | None = None
    ring_id: int | None = None
    new_inner: str = ""
    mandrel_nm: int | None = None
    measured_inner_nm: int | None = None
    offcuts_ug: int = 0
    minutes_milli: int = 0
    batch: str = ""
    place: str = ""
    done_on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class ProcessDraft:
    """A bag, or part of it, that was turned into another finish or colour; `how` None means all of it.

    `place` None is wherever the lot lies, `to_place` None where it lay. It becomes a lot of `to_item_id`, or of a new
    item like the old one in `colour` and `finish`. `cost` is what dye, chemicals and the like cost, in the shop's own
    currency.
    """

    lot_id: int
    process: str
    place: str | None = None
    how: HowMuch | None = None
    lost: HowMuch | None = None
    to_item_id: int | None = None
    colour: str = ""
    finish: str = ""
    cost: Decimal = Decimal(0)
    minutes_milli: int = 0
    batch: str = ""
    to_place: str | None = None
    done_on: date | None = None
    note: str = ""


def read_coil_request(raw: Raw, *, length_unit: str = "mm") -> CoilRequest | Faults:
    """Read what a batch of rings should be, from the address of a page or an API call."""
    reader = Reader(raw, length_unit=length_unit)
    wire_id = reader.identity("wire_id")
    rings = reader.integer("rings", least=1, most=MOST_RINGS)
    mandrel = reader.inner("mandrel", required=False)
    inner = reader.inner("inner", required=False)
    if not reader.has("mandrel") and not reader.has("inner"):
        reader.fault("mandrel", "Give the mandrel, such as 3.5 mm, or how wide the coil shall be inside.")
    if reader.has("mandrel") and reader.has("inner"):
        reader.fault("inner", "Leave this empty when you give the mandrel; it is worked out from it.")
    kerf = reader.length("kerf", required=False)
    if kerf is not None and kerf.nm > _MOST_KERF_NM:
        reader.fault("kerf", "A cut is not wider than 5 mm; give what your saw takes away, such as 0.3 mm.")
    length, waste = reader.length("mandrel_length", required=False), reader.length("end_waste", required=False)
    for field, found in (("mandrel_length", length), ("end_waste", waste)):
        if found is not None and found.nm > _LONGEST_NM:
            reader.fault(field, "Give 10 m or less.")
    question = CoilRequest(
        wire_id=wire_id or 0,
        rings=rings or 1,
        mandrel_nm=mandrel.nm if mandrel else None,
        inner_nm=inner.nm if inner else None,
        temper=reader.text("temper", most=60),
        cutting=reader.choice("cutting", CUTS.codes, default="saw"),
        kerf_mm=to_mm(kerf.nm) if kerf else None,
        mandrel_length_mm=to_mm(length.nm) if length else None,
        end_turns=reader.decimal("end_turns", most=Decimal(100), default=Decimal(1), places=2) or Decimal(0),
        end_waste_mm=to_mm(waste.nm) if waste else Decimal(0),
        spare_percent=reader.percent("spare", default=Decimal(0)) or Decimal(0),
        minutes_milli=work_time(reader, "expected_minutes"),
    )
    return reader.faults() or question


def read_coil_job(raw: Raw, *, length_unit: str = "mm") -> CoilDraft | Faults:
    """Read what was made from wire."""
    reader = Reader(raw, length_unit=length_unit)
    used = how_much(reader, "used", missing="Say how much wire went, such as 2.5 m or 35 g.")
    ring_id = reader.identity("ring_id", required=False)
    new_inner = reader.text("new_inner", most=60)
    if ring_id is None and not new_inner:
        reader.fault("ring_id", "Say which ring this is, or give the inside of a new one.")
    if ring_id is None and new_inner:
        reader.inner("new_inner")
    mandrel = reader.inner("wound_on", required=False)
    measured = reader.inner("measured_inner", required=False)
    if measured is not None and mandrel is None and not reader.has("wound_on"):
        reader.fault("wound_on", "Give the mandrel too, so that the measured coil teaches the springback.")
    if measured is not None and mandrel is not None and not mandrel.nm <= 2 * measured.nm <= 8 * mandrel.nm:
        reader.fault("measured_inner", "This is far from the mandrel. Check both sizes.")
    draft = CoilDraft(
        wire_id=reader.identity("wire_id") or 0,
        made=reader.integer("made", least=1, most=MOST_MADE) or 1,
        used=used or HowMuch(),
        lot_id=reader.identity("lot_id", required=False),
        wire_place=read_place(reader, "wire_place"),
        ring_id=ring_id,
        new_inner=new_inner if ring_id is None else "",
        mandrel_nm=mandrel.nm if mandrel else None,
        measured_inner_nm=measured.nm if measured else None,
        offcuts_ug=reader.mass("offcuts", required=False) or 0,
        minutes_milli=work_time(reader, "minutes") or 0,
        batch=reader.text("batch", most=60),
        place=read_goal(reader, "place"),
        done_on=reader.date("done_on", required=False),
        note=reader.text("note", most=500, lines=True),
    )
    return reader.faults() or draft


def read_process_job(raw: Raw) -> ProcessDraft | Faults:
    """Read what was turned into another finish or colour."""
    reader = Reader(raw)
    to_item_id = reader.identity("to_item_id", required=False)
    colour, finish = reader.text("colour", most=60), reader.text("finish", most=60)
    if to_item_id is None and not colour and not finish:
        reader.fault("to_item_id", "Say what it became: an item that is there, or a new colour or finish.")
    lost = None
    if reader.has("lost"):
        lost = how_much(reader, "lost", missing="", zero=True)
    draft = ProcessDraft(
        lot_id=reader.identity("lot_id") or 0,
        process=reader.choice("process", PROCESSES.codes),
        place=read_place(reader, "place"),
        how=how_much(reader, "quantity", missing="") if reader.has("quantity") else None,
        lost=lost,
        to_item_id=to_item_id,
        colour=colour if to_item_id is None else "",
        finish=finish if to_item_id is None else "",
        cost=reader.money("cost", default=Decimal(0)) or Decimal(0),
        minutes_milli=work_time(reader, "minutes") or 0,
        batch=reader.text("batch", most=60),
        to_place=read_place(reader, "to_place"),
        done_on=reader.date("done_on", required=False),
        note=reader.text("note", most=500, lines=True),
    )
    return reader.faults() or draft
