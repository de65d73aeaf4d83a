"""Booking a count by weight: the count itself, and what was weighed, from which the shop learns what its rings weigh.

What a weighing comes to is worked out in `models/queries/stock/weighing.py`.
"""

from __future__ import annotations

from dataclasses import replace

from sqlmodel import Session

from models.intake.stock.count import CountDraft
from models.intake.stock.weigh import WeighDraft
from models.operations.figures import refresh_figures
from models.operations.shop.clock import now
from models.operations.stock.count import Counted, count_bag
from models.queries.fetch import fetch
from models.queries.shop.shop import SHOP_ID
from models.queries.stock.lot import lot_view
from models.queries.stock.weighing import WeighedBag, count_by_weight
from models.tables import Item, Shop, Weighing
from models.trade.measures import format_mass


def count_weighed_bag(session: Session, weighing: WeighDraft, count: CountDraft) -> Counted:
    """Book the count of a bag that was weighed; its samples, its tare and the scale's step are remembered.

    `count` says which bag, what its page showed, the day and a note. Raises: as `weigh_bag` and `count_bag`.
    """
    found, bag = count_by_weight(session, weighing, count)
    words = _words(weighing, bag)
    counted = count_bag(session, replace(found, note=f"{words} {count.note}".strip()))
    _keep(session, weighing, counted)
    return counted


def forget_weighing(session: Session, weighing_id: int) -> int:
    """Learn nothing from a counted sample any more; answer the item that it was of. Raises: Missing."""
    row = fetch(session, Weighing, weighing_id, "weighing")
    item_id = row.item_id
    session.delete(row)
    session.flush()
    return item_id


def take_mass(session: Session, item_id: int, mass_ug: int | None) -> int | None:
    """Let one of an item weigh so much from now on, in costs by weight too; answer what it was. None computes it.

    Raises: Missing; ValueError for a mass of nothing.
    """
    item = fetch(session, Item, item_id, "item")
    if mass_ug is not None and mass_ug < 1:
        raise ValueError("one weighs something")
    before = item.mass_ug
    if before != mass_ug:
        item.mass_ug = mass_ug
        item.version += 1
        session.flush()
        refresh_figures(session, item_id=item_id)
    return before


def _keep(session: Session, weighing: WeighDraft, counted: Counted) -> None:
    """Remember the samples and the bag, as they stood on the scale."""
    item_id = lot_view(session, counted.lot_id).item_id
    at = now()
    samples: list[tuple[int | None, int, int]] = [(one.rings, one.mass_ug, 0) for one in weighing.samples]
    # An empty scale weighed nothing that could be remembered.
    bag = [(None, weighing.gross_ug, weighing.tare_ug)] if weighing.gross_ug else []
    for rings, gross_ug, tare_ug in [*samples, *bag]:
        session.add(
            Weighing(
                item_id=item_id,
                lot_id=counted.lot_id,
                place=counted.place,
                rings=rings,
                gross_ug=gross_ug,
                tare_ug=tare_ug,
                step_ug=weighing.step_ug,
                weighed_at=at,
            )
        )
    session.get_one(Shop, SHOP_ID).scale_step_ug = weighing.step_ug
    session.flush()


def _words(weighing: WeighDraft, bag: WeighedBag | None) -> str:
    net = format_mass(weighing.gross_ug - weighing.tare_ug)
    if bag is None:
        return f"By weight: {net}."
    if bag.count.certain:
        return f"By weight, for certain: {net}."
    return f"By weight, between {bag.count.low} and {bag.count.high}: {net}."
