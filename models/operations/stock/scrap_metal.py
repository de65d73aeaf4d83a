"""Scrap of precious metal, kept by weight: what is spoiled is still metal, and can be sold as such."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import ROUND_HALF_EVEN, Context

from sqlmodel import Session, col, select

from models.intake.stock.item import short_metal
from models.intake.stock.scrap import ScrapDraft
from models.operations.shop.clock import now
from models.operations.shop.day import resolve_day
from models.operations.stock.ledger import Posting, TransactionHeader, open_lot, post
from models.queries.shop.gathering import gathering_in
from models.queries.stock.lot import held_lots
from models.queries.stock.material import Material
from models.tables import Item, Lot
from models.trade.lots import half_even
from models.trade.measures import format_mass
from models.trade.metals import Metal

SCRAP_PLACE = "scrap"
_EXACT = Context(prec=50)


def scrap_postings(session: Session, item: Material, quantity_milli: int, day: date) -> tuple[Posting, ...]:
    """The receipt of what spoiled stock weighs into the scrap of its metal, worth nothing; for the act that spoils it.

    Empty for a metal that is not precious, for what is scrap already, and where what one weighs is not known. The
    weight is rounded once to a thousandth of a gram, half to even.
    """
    metal, one_g = item.body.metal, item.mass_g
    if metal is None or not metal.precious or one_g is None or item.kind == "scrap":
        return ()
    mass_milli = int(_EXACT.multiply(one_g, quantity_milli).to_integral_value(ROUND_HALF_EVEN))
    if not mass_milli:
        return ()
    return (Posting(_scrap_lot(session, metal, day), SCRAP_PLACE, "receipt", mass_milli, 0),)


@dataclass(frozen=True, slots=True)
class ScrapKept:
    """Scrap that was put by: the item that gathers it, and thousandths of a gram."""

    act_id: int
    item_id: int
    quantity_milli: int
    words: str


def keep_scrap(session: Session, draft: ScrapDraft) -> ScrapKept:
    """Put scrap of a precious metal by, worth nothing until it is sold. Raises: Unfit for a day to come."""
    day = resolve_day(session, draft.kept_on, "kept_on")
    postings = kept_scrap(session, draft.metal, draft.mass_ug, day)
    words = f"Put by {format_mass(draft.mass_ug)} of scrap of {short_metal(draft.metal)}."
    if draft.note:
        words = f"{words} {draft.note}"
    posted = post(session, TransactionHeader("receive", day, words), postings)
    moved = posted.movements[0]
    return ScrapKept(posted.act_id, moved.item_id, moved.quantity_milli, words)


def kept_scrap(session: Session, metal: Metal, mass_ug: int, day: date) -> tuple[Posting, ...]:
    """The receipt of scrap that was weighed, such as offcuts, worth nothing; empty for less than half a milligram.

    The weight is rounded once to a thousandth of a gram, half to even.
    """
    mass_milli = half_even(mass_ug, 1000)
    if not mass_milli:
        return ()
    return (Posting(_scrap_lot(session, metal, day), SCRAP_PLACE, "receipt", mass_milli, 0),)


def _scrap_lot(session: Session, metal: Metal, day: date) -> int:
    """The one lot that gathers the scrap of a metal, made when there is none yet."""
    if (gathering := gathering_in(session)) is not None:
        of_metal = gathering.by(Item, "scrap", lambda item: item.kind == "scrap" and item.metal)[metal.code]
        found = of_metal[0].id if of_metal else None
    else:
        found = session.exec(select(Item.id).where(Item.kind == "scrap", Item.metal == metal.code)).first()
    if found is None:
        item = Item(
            kind="scrap",
            name=f"Scrap of {short_metal(metal)}",
            metal=metal.code,
            unit="g",
            can_open=False,
            created_at=now(),
        )
        session.add(item)
        session.flush()
        found = item.id or 0
    if gathering is not None:
        lot = min((each.id or 0 for each in held_lots(gathering, found)), default=None)
    else:
        lot = session.exec(select(Lot.id).where(Lot.item_id == found).order_by(col(Lot.id))).first()
    return lot if lot is not None else open_lot(session, Lot(item_id=found, received_on=day))
