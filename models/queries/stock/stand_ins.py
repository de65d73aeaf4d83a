"""Which items may stand in for others: what was declared, and the rings of near sizes; for an item's page and planning.

Nothing here uses a stand-in; a build that does says so.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import or_, select
from sqlmodel import Session, col

from models.planning.substitutes import Declared, Ring, StandIns
from models.tables import Item, Shop, StandIn
from models.trade.rings import RingSize


@dataclass(frozen=True, slots=True)
class DeclaredRow:
    """One declared stand-in on an item's page: the other item, and which way it may be used.

    `way` is 'for this' when the other may stand in for the item, 'for that' the other way round, 'both' for either.
    """

    id: int
    other_id: int
    other: str
    way: str


@dataclass(frozen=True, slots=True)
class StandInPage:
    """The stand-ins of one item as its page shows them, and the items that may still be declared."""

    declared: tuple[DeclaredRow, ...]
    choices: tuple[tuple[int, str], ...]


def declared_stand_ins(session: Session) -> tuple[Declared, ...]:
    """What was declared in the whole shop, in its order."""
    rows = session.execute(
        select(col(StandIn.item_id), col(StandIn.stand_in_id), col(StandIn.both_ways)).order_by(col(StandIn.id))
    )
    return tuple(Declared(item_id, stand_in_id, both_ways) for item_id, stand_in_id, both_ways in rows)


def stand_ins(session: Session) -> StandIns:
    """The rings of the shop by what may stand in for them; three queries. Retired rings still may."""
    near_nm = session.scalar(select(col(Shop.near_nm))) or 0
    rows = session.execute(
        select(
            col(Item.id), col(Item.name), col(Item.metal), col(Item.finish), col(Item.colour), col(Item.wire_nm),
            col(Item.inner_nm),
        ).where(col(Item.kind) == "ring", col(Item.wire_nm).is_not(None), col(Item.inner_nm).is_not(None))
    )  # fmt: skip
    rings = [
        Ring(item_id, name, RingSize(wire_nm, inner_nm), metal or "", finish, colour)
        for item_id, name, metal, finish, colour, wire_nm, inner_nm in rows
    ]
    return StandIns(rings, declared_stand_ins(session), near_nm)


def stand_ins_of(session: Session, item_id: int) -> StandInPage:
    """What was declared of one item, and the other rings in use that could be; for its page."""
    rows = session.execute(
        select(col(StandIn.id), col(StandIn.item_id), col(StandIn.stand_in_id), col(StandIn.both_ways))
        .where(or_(col(StandIn.item_id) == item_id, col(StandIn.stand_in_id) == item_id))
        .order_by(col(StandIn.id))
    ).all()
    rings = session.execute(
        select(col(Item.id), col(Item.name), col(Item.retired)).where(col(Item.kind) == "ring").order_by(col(Item.name))
    ).all()
    names = {ring.id: ring.name for ring in rings}
    declared = []
    for row in rows:
        other = row.stand_in_id if row.item_id == item_id else row.item_id
        way = "both" if row.both_ways else "for this" if row.item_id == item_id else "for that"
        declared.append(DeclaredRow(row.id, other, names.get(other, ""), way))
    taken = {item_id, *(row.other_id for row in declared)}
    return StandInPage(
        tuple(declared), tuple((ring.id, ring.name) for ring in rings if not ring.retired and ring.id not in taken)
    )
