"""Bags: what is remembered of one place of a lot beside its quantity: its tare, and how sure its count is."""

from __future__ import annotations

from datetime import date

from sqlmodel import Session, select

from models.errors import Missing
from models.intake.stock.place import place_word
from models.queries.shop.gathering import gathering_in
from models.queries.stock.lot import held_bags
from models.tables import LotPlace
from models.trade.vocabulary.ledger import SURENESS


def bag_of(session: Session, lot_id: int, place: str) -> LotPlace:
    """The row of one bag. Raises: Missing."""
    if (gathering := gathering_in(session)) is not None:
        found = next((bag for bag in held_bags(gathering, lot_id) if bag.place == place), None)
    else:
        found = session.exec(select(LotPlace).where(LotPlace.lot_id == lot_id, LotPlace.place == place)).first()
    if found is None:
        raise Missing("bag", f"of lot {lot_id} in {place_word(place)}")
    return found


def mark_bag(session: Session, lot_id: int, place: str, *, rough: str, counted_on: date | None) -> None:
    """Say how sure a bag's count is, and when it was counted last. Raises: Missing."""
    bag = bag_of(session, lot_id, place)
    bag.rough, bag.counted_on = rough, counted_on
    session.flush()


def blur_bag(session: Session, lot_id: int, place: str, rough: str) -> None:
    """Say that a bag's count is no surer than this, because something roughly counted went in or out."""
    bag = bag_of(session, lot_id, place)
    bag.rough = less_sure(bag.rough, rough)
    session.flush()


def remember_tare(session: Session, lot_id: int, place: str, tare_ug: int | None) -> None:
    """Remember what the empty bag weighs, in micrograms; None forgets it. Raises: Missing."""
    bag_of(session, lot_id, place).tare_ug = tare_ug
    session.flush()


def carry_marks(session: Session, lot_id: int, from_place: str, to_place: str, moved_milli: int) -> None:
    """After a move, let what is known of the bag go along: its marks always, its tare when the whole bag went."""
    source, target = bag_of(session, lot_id, from_place), bag_of(session, lot_id, to_place)
    if target.quantity_milli == moved_milli:
        target.rough, target.counted_on = source.rough, source.counted_on
    else:
        target.rough = less_sure(target.rough, source.rough)
    if source.quantity_milli == 0:
        if target.quantity_milli == moved_milli:
            # A bag that was emptied in the other place has a tare too; changing both round lets an undo put them back.
            target.tare_ug, source.tare_ug = source.tare_ug, target.tare_ug
        source.rough, source.counted_on = "", None
    session.flush()


def less_sure(rough: str, other: str) -> str:
    """The less sure of two marks: '' is a count, 'about' a rough one, 'plenty' hardly one."""
    return max(rough, other, key=SURENESS.index)
