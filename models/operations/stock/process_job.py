"""Booking a lot, or part of it, that was turned into another finish or colour: anodised, dyed, darkened, tumbled."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sqlmodel import Session

from models.costing.lines import Impossible
from models.errors import Missing, Unfit
from models.intake.faults import Faults
from models.intake.stock.item import ItemDraft, read_item
from models.intake.stock.job import ProcessDraft
from models.intake.stock.place import place_word
from models.operations.shop.day import resolve_day
from models.operations.stock.item import NearSize, add_item
from models.operations.stock.job import JobDone, JobPlan, book_job
from models.operations.stock.scrap_metal import scrap_postings
from models.queries.stock.bag_choice import Taking, bags_meant, take_from_lot
from models.queries.stock.item import item_view, near_items, near_nm, same_named
from models.queries.stock.lot import Bag, LotView, lot_view
from models.queries.stock.material import Material
from models.queries.stock.measured import Measured, measured
from models.queries.stock.metal import all_metals
from models.trade.vocabulary.bench import PROCESSES


def process_lot(session: Session, draft: ProcessDraft) -> JobDone:
    """Book what became of a bag: it leaves, and what is left of it comes in as another item at its real cost.

    What was lost on the way makes the rest dearer; of precious metal it is kept as scrap.
    Raises: Missing, Unfit, NotEnoughStock.
    """
    lot = lot_view(session, draft.lot_id)
    source = item_view(session, lot.item_id)
    taken = _taken(source, lot, draft)
    lost = _lost(source, draft)
    if lost.milli >= taken.milli:
        raise Unfit(Faults.of("lost", "Nothing would be left. If all was spoiled, take it out as spoiled instead."))
    takings = take_from_lot(lot, source, taken.milli, draft.place)
    day = resolve_day(session, draft.done_on, "done_on")
    product = _product(session, draft, source)
    made = taken.milli - lost.milli
    words = _words(source, product, draft, taken.milli, lost.milli)
    rough = taken.rough or lost.rough
    return book_job(
        session,
        JobPlan(
            kind="process",
            deed="process",
            words=words,
            done_on=day,
            source=source,
            takings=takings,
            product=product,
            made_milli=made,
            place=_goal(draft, takings),
            batch=draft.batch,
            minutes_milli=draft.minutes_milli,
            extras=draft.cost,
            extras_label="Dye, chemicals and the like",
            process=draft.process,
            note=draft.note,
            scrap=scrap_postings(session, source, lost.milli, day) if lost.milli else (),
            rough=rough or next((taking.rough for taking in takings if taking.rough), ""),
            taken_rough=taken.rough,
        ),
    )


def _goal(draft: ProcessDraft, takings: Sequence[Taking]) -> str:
    """Where it goes afterwards: where was said, else where it lay, if that was in one place."""
    if draft.to_place is not None:
        return draft.to_place
    return takings[0].place if len(takings) == 1 else ""


def _taken(source: Material, lot: LotView, draft: ProcessDraft) -> Measured:
    """How much goes in: what was said, else all that is free in the bag."""
    if draft.how is None:
        bags = bags_meant(lot, draft.place)
        free = sum(bag.free_milli for bag in bags)
        if not free:
            where = "" if draft.place is None else f" in {place_word(draft.place)}"
            raise Missing("bag", f"of lot {lot.id}{where} with anything free in it")
        return Measured(free, _rough(bags))
    taken = measured(source, draft.how)
    if isinstance(taken, Impossible):
        raise Unfit(Faults.of("quantity", taken.reason))
    if taken.milli < 1:
        raise Unfit(Faults.of("quantity", "This comes to nothing. Give more."))
    return taken


def _rough(bags: tuple[Bag, ...]) -> str:
    return next((bag.rough for bag in bags if bag.rough), "")


def _lost(source: Material, draft: ProcessDraft) -> Measured:
    if draft.lost is None:
        return Measured(0)
    lost = measured(source, draft.lost)
    if isinstance(lost, Impossible):
        raise Unfit(Faults.of("lost", lost.reason))
    return lost


def _product(session: Session, draft: ProcessDraft, source: Material) -> Material:
    """What it became: an item that is there, or a new one like the old with another look. Raises: Missing, Unfit."""
    if draft.to_item_id is not None:
        product = item_view(session, draft.to_item_id)
        if (product.kind, product.unit, product.size, product.metal) != (
            source.kind,
            source.unit,
            source.size,
            source.metal,
        ):
            words = f"“{product.name}” is of another kind, metal or size. What is worked on keeps those."
            raise Unfit(Faults.of("to_item_id", words))
        return product
    raw = {
        **source.raw(),
        "colour": draft.colour or source.colour,
        "finish": draft.finish or source.finish,
        "tint": "",
        "note": "",
        "retired": False,
        "name": _name(source, draft),
    }
    found = read_item(raw, metals=all_metals(session))
    if isinstance(found, Faults):
        raise Unfit(Faults.of("colour", " ".join(fault.message for fault in found)))
    # An empty finish is taken for any other; here the old look is left behind on purpose.
    another = not _is_there(session, source, found)
    try:
        return item_view(session, add_item(session, replace(found, offer=None, near_ok=another)))
    except NearSize as near:
        named = " and ".join(f"“{name}”" for _, name in near.found[:3])
        words = f"You already have nearly this: {named}. Choose it as what it became."
        raise Unfit(Faults.of("to_item_id", words)) from near


def _is_there(session: Session, source: Material, wanted: ItemDraft) -> bool:
    """Whether an item of this size and metal with exactly this look, or of this name, is there already."""
    look = (wanted.colour.casefold(), wanted.finish.casefold())
    if source.size is None:
        return bool(same_named(session, wanted.kind, wanted.name))
    rings = near_items(session, source.size, wanted.metal, near_nm(session), colour=wanted.colour)
    return any((ring.colour.casefold(), ring.finish.casefold()) == look for ring in rings)


def _name(source: Material, draft: ProcessDraft) -> str:
    """The usual name follows colour and finish by itself; a name of one's own gets the new look behind it."""
    if not source.own_name:
        return ""
    look = " ".join(word for word in (draft.colour, draft.finish) if word)
    return f"{source.name}, {look}"[:120]


def _words(source: Material, product: Material, draft: ProcessDraft, taken_milli: int, lost_milli: int) -> str:
    lost = f" {source.counted(lost_milli)} were lost." if lost_milli else ""
    became = f" into “{product.name}”" if product.id != source.id else ""
    done = PROCESSES.term(draft.process).done
    return f"{source.counted(taken_milli)} of “{source.name}” {done}{became}.{lost}"
