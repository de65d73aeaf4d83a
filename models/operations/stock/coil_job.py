"""Booking rings that were made from wire: the wire leaves, the rings come in as a new lot at their real cost."""

from __future__ import annotations

from collections.abc import Mapping

from sqlmodel import Session

from models.costing.lines import Impossible
from models.errors import Unfit
from models.intake.faults import Fault, Faults
from models.intake.stock.job import CoilDraft
from models.operations.shop.day import resolve_day
from models.operations.stock.item import NearSize, add_item
from models.operations.stock.job import JobDone, JobPlan, book_job
from models.operations.stock.ledger import Posting
from models.operations.stock.scrap_metal import kept_scrap
from models.queries.stock.bag_choice import Taking, pick, take_from_lot
from models.queries.stock.item import item_reader, item_view
from models.queries.stock.lot import lot_view
from models.queries.stock.material import Material
from models.queries.stock.measured import Measured, measured
from models.trade.measures import exact_text


def make_rings(session: Session, draft: CoilDraft, *, length_unit: str = "mm") -> JobDone:
    """Book a batch of rings made from wire, with its real cost: the wire, the time and the overhead.

    A new ring may be made an item by its inside. Raises: Missing, Unfit, NotEnoughStock.
    """
    wire = wire_item(session, draft.wire_id)
    used = _used(wire, draft)
    takings = _takings(session, draft, wire, used.milli)
    day = resolve_day(session, draft.done_on, "done_on")
    ring = _ring(session, draft, wire, length_unit)
    scrap: tuple[Posting, ...] = ()
    if draft.offcuts_ug:
        metal = wire.body.metal
        if metal is None or not metal.precious:
            raise Unfit(Faults.of("offcuts", "Only scrap of precious metal is kept by weight. Leave this empty."))
        scrap = kept_scrap(session, metal, draft.offcuts_ug, day)
    made = ring.counted(draft.made * 1000)
    about = "about " if used.rough else ""
    words = f"Made {made} of “{ring.name}” from {about}{wire.counted(used.milli)} of “{wire.name}”."
    return book_job(
        session,
        JobPlan(
            kind="coil",
            deed="make_rings",
            words=words,
            done_on=day,
            source=wire,
            takings=takings,
            product=ring,
            made_milli=draft.made * 1000,
            place=draft.place,
            batch=draft.batch,
            minutes_milli=draft.minutes_milli,
            mandrel_nm=draft.mandrel_nm,
            measured_inner_nm=draft.measured_inner_nm,
            note=draft.note,
            scrap=scrap,
            taken_rough=used.rough,
        ),
    )


def wire_item(session: Session, item_id: int) -> Material:
    """The wire of a coil job. Raises: Missing; Unfit for what is no wire."""
    wire = item_view(session, item_id)
    if wire.kind != "wire" or not wire.wire_nm:
        raise Unfit(Faults.of("wire_id", f"“{wire.name}” is no wire. Choose a wire of your stock."))
    return wire


def _used(wire: Material, draft: CoilDraft) -> Measured:
    used = measured(wire, draft.used)
    if isinstance(used, Impossible):
        raise Unfit(Faults.of("used", used.reason))
    if used.milli < 1:
        raise Unfit(Faults.of("used", "This comes to nothing. Say how much wire went."))
    return used


def _takings(session: Session, draft: CoilDraft, wire: Material, milli: int) -> tuple[Taking, ...]:
    if draft.lot_id is None:
        return pick(session, wire.id, milli).takings
    lot = lot_view(session, draft.lot_id)
    if lot.item_id != wire.id:
        raise Unfit(Faults.of("lot_id", "This lot is of another item."))
    return take_from_lot(lot, wire, milli, draft.wire_place)


def _ring(session: Session, draft: CoilDraft, wire: Material, length_unit: str) -> Material:
    """The ring that was made: one that is there, or a new one. Raises: Missing, Unfit."""
    if draft.ring_id is not None:
        ring = item_view(session, draft.ring_id)
        if ring.kind != "ring":
            raise Unfit(Faults.of("ring_id", f"“{ring.name}” is no ring."))
        if ring.metal != wire.metal:
            words = f"“{ring.name}” is of {ring.metal_name}, and the wire is of {wire.metal_name}."
            raise Unfit(Faults.of("ring_id", words))
        return ring
    draft_of_item = item_reader(session, length_unit=length_unit)(_new_ring(draft, wire))
    if isinstance(draft_of_item, Faults):
        raise Unfit(_beside(draft_of_item, {"inner": "new_inner"}))
    try:
        return item_view(session, add_item(session, draft_of_item))
    except NearSize as near:
        named = " and ".join(f"“{name}”" for _, name in near.found[:3])
        words = f"You already have nearly this ring: {named}. Choose it above."
        raise Unfit(Faults.of("ring_id", words)) from near


def _new_ring(draft: CoilDraft, wire: Material) -> dict[str, object]:
    return {
        "kind": "ring",
        "metal": wire.metal or "",
        "colour": wire.colour,
        "finish": wire.finish,
        "wire": exact_text(wire.wire_nm or 0),
        "wire_label": wire.wire_label,
        "inner": draft.new_inner,
    }


def _beside(faults: Faults, fields: Mapping[str, str]) -> Faults:
    """The same faults beside the fields of this form; what has no field of its own stands beside the first."""
    only = next(iter(fields.values()))
    return Faults(tuple(Fault(fields.get(fault.field, only), fault.message) for fault in faults))
