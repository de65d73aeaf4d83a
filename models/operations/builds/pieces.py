"""Finished pieces as stock: the item of a design's pieces, their lot, and what goes in it or to the scrap."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date

from sqlmodel import Session, col, select

from models.operations.shop.clock import now
from models.operations.stock.bag import mark_bag
from models.operations.stock.ledger import Posting, open_lot
from models.operations.stock.scrap_metal import scrap_postings
from models.queries.builds.parts import BuildParts
from models.queries.stock.item import load_materials
from models.queries.stock.known_place import known_place
from models.tables import Item, Lot

PIECES_PLACE = "finished pieces"
"""Where finished pieces lie when nobody said another place."""


@dataclass(frozen=True, slots=True)
class MadeLot:
    """The lot that a build makes, opened and still empty, and the movement that fills it."""

    lot_id: int
    place: str
    posting: Posting


def piece_item(session: Session, design_id: int, name: str) -> int:
    """The stock item of a design's pieces, made when the first piece is; answers its id."""
    found = session.exec(select(Item).where(Item.design_id == design_id)).first()
    if found is None:
        found = Item(kind="piece", name=name, unit="piece", can_open=False, design_id=design_id, created_at=now())
        session.add(found)
        session.flush()
    elif found.name != name:
        # A design keeps its pieces when it is renamed.
        found.name = name
    return found.id or 0


def made_lot(
    session: Session,
    parts: BuildParts,
    build_id: int,
    *,
    good: int,
    day: date,
    place: str,
    materials_micros: int,
    work_micros: int,
    lot_ids: Iterable[int],
) -> MadeLot:
    """Open the lot of the good pieces at their real cost: materials, and what did not come from the stock.

    `work_micros` is the latter: work, overhead and parts at a guessed price. The lot is provisional where the value of
    a lot that went in was never paid, or a part came from outside the stock.
    """
    inputs = parts.inputs
    unpaid = select(Lot.id).where(col(Lot.id).in_(set(lot_ids)), col(Lot.provisional)).limit(1)
    value, milli = materials_micros + work_micros, good * 1000
    lot_id = open_lot(
        session,
        Lot(
            item_id=piece_item(session, inputs.design_id or 0, inputs.name),
            batch=f"build {build_id}",
            received_on=day,
            received_milli=milli,
            received_micros=value,
            provisional=bool(parts.not_stocked) or session.exec(unpaid).first() is not None,
        ),
    )
    where = known_place(session, place or PIECES_PLACE)
    return MadeLot(lot_id, where, Posting(lot_id, where, "receipt", milli, value, labour_micros=work_micros))


def count_made(session: Session, made: MadeLot, day: date) -> None:
    """Mark the pieces as counted: somebody just did."""
    mark_bag(session, made.lot_id, made.place, rough="", counted_on=day)


def scrap_of(session: Session, spoiled: Iterable[tuple[int, int]], day: date) -> Sequence[Posting]:
    """What spoiled stock, as (item, thousandths), weighs into the scrap of its metal, where that is precious."""
    amounts: dict[int, int] = {}
    for item_id, milli in spoiled:
        amounts[item_id] = amounts.get(item_id, 0) + milli
    items = load_materials(session, [item_id for item_id, milli in amounts.items() if milli])
    return [
        posting for item_id, item in items.items() for posting in scrap_postings(session, item, amounts[item_id], day)
    ]
