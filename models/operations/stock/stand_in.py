"""Declaring that one item may stand in for another, and taking that back. Using a stand-in is the build's matter."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session, col, select

from models.errors import Unfit
from models.intake.faults import Fault, Faults
from models.intake.stock.stand_in import StandInDraft
from models.operations.shop.clock import now
from models.planning.substitutes import Declared, declared_troubles
from models.queries.fetch import fetch
from models.queries.stock.stand_ins import declared_stand_ins
from models.tables import Item, StandIn


@dataclass(frozen=True, slots=True)
class StandInAct:
    """What was declared or taken back, in words, with all that it takes to do the opposite."""

    id: int
    item_id: int
    stand_in_id: int
    both_ways: bool
    words: str


def declare_stand_in(session: Session, item_id: int, draft: StandInDraft) -> StandInAct:
    """Declare what may stand in for an item; what was declared of the two before is replaced.

    Raises: Missing for an unknown item; Unfit for things that are no rings both, for itself, or for a circle.
    """
    item = _item(session, item_id)
    other = session.get(Item, draft.stand_in_id)
    if other is None:
        raise Unfit(Faults.of("stand_in_id", "There is no such ring any more. Choose another one."))
    if item.kind != "ring" or other.kind != "ring":
        raise Unfit(Faults.of("stand_in_id", "Only a ring can stand in, and only for a ring."))
    pair = {item_id, draft.stand_in_id}
    before = [each for each in declared_stand_ins(session) if {each.item, each.stand_in} != pair]
    _refuse_circle(session, [*before, Declared(item_id, draft.stand_in_id, draft.both_ways)])
    for known in session.exec(
        select(StandIn).where(col(StandIn.item_id).in_(pair), col(StandIn.stand_in_id).in_(pair))
    ):
        session.delete(known)
    session.flush()
    row = StandIn(item_id=item_id, stand_in_id=draft.stand_in_id, both_ways=draft.both_ways, created_at=now())
    session.add(row)
    session.flush()
    words = (
        f"{item.name} and {other.name} may stand in for each other."
        if draft.both_ways
        else f"{other.name} may stand in for {item.name}."
    )
    return StandInAct(row.id or 0, item_id, draft.stand_in_id, draft.both_ways, words)


def drop_stand_in(session: Session, stand_in_row_id: int) -> StandInAct:
    """Take a declaration back. Raises: Missing."""
    row = fetch(session, StandIn, stand_in_row_id, "stand-in")
    names = [_item(session, each).name for each in (row.stand_in_id, row.item_id)]
    done = StandInAct(
        stand_in_row_id,
        row.item_id,
        row.stand_in_id,
        row.both_ways,
        f"{names[0]} no longer stands in for {names[1]}.",
    )
    session.delete(row)
    session.flush()
    return done


def _refuse_circle(session: Session, declared: list[Declared]) -> None:
    named = {each.item for each in declared} | {each.stand_in for each in declared}
    names = dict(session.exec(select(Item.id, Item.name).where(col(Item.id).in_(named))).all())
    troubles = declared_troubles(declared, {item: name for item, name in names.items() if item is not None})
    if troubles:
        # A circle is one thing to say, however many declarations it goes through.
        raise Unfit(Faults((Fault("stand_in_id", troubles[-1].message),)))


def _item(session: Session, item_id: int) -> Item:
    return fetch(session, Item, item_id, "item")
