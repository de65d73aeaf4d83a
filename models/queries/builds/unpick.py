"""What a finished build's pieces hold, and how many of them are still there: for taking them apart again."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.queries.builds.costs import line_costs
from models.queries.fetch import fetch
from models.queries.stock.bag_choice import from_bags
from models.queries.stock.item import load_materials
from models.queries.stock.lot import BagKey, lot_view
from models.queries.stock.material import Material
from models.tables import Build, BuildLine, Item, Movement, StockTransaction


@dataclass(frozen=True, slots=True)
class PieceLot:
    """The lot of a build's good pieces as it is now; thousandths and millionths, by place what is free."""

    lot_id: int
    item_id: int
    name: str
    quantity_milli: int
    value_micros: int
    reserved_milli: int
    received_milli: int
    received_micros: int
    free: tuple[tuple[str, int], ...]

    @property
    def free_milli(self) -> int:
        """What is not reserved."""
        return self.quantity_milli - self.reserved_milli

    def take(self, milli: int) -> list[tuple[str, int]]:
        """From which places so much is taken; less where there is less."""
        found, left = [], milli
        for place, free in self.free:
            part = min(left, free)
            if part:
                found.append((place, part))
                left -= part
        return found


@dataclass(frozen=True, slots=True)
class UnpickLine:
    """What the good pieces hold from one bag: used in all at what cost, gone back already, in the pieces now asked.

    Thousandths and millionths. `left_milli` is the most that can still come back.
    """

    lot_id: int
    place: str
    item_id: int
    item: Material
    used_milli: int
    cost_micros: int
    gone_milli: int
    in_pieces_milli: int

    @property
    def bag(self) -> BagKey:
        """The bag."""
        return self.lot_id, self.place

    @property
    def left_milli(self) -> int:
        """The most that can still come back."""
        return self.used_milli - self.gone_milli


def pieces_left(session: Session, build_id: int) -> PieceLot | None:
    """The lot of a build's good pieces; None when it made none."""
    undo = aliased(StockTransaction)
    found = session.execute(
        select(col(Movement.lot_id), col(Item.name))
        .join(StockTransaction, col(StockTransaction.id) == col(Movement.act_id))
        .join(Item, col(Item.id) == col(Movement.item_id))
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(
            col(StockTransaction.build_id) == build_id,
            col(StockTransaction.kind) == "finish",
            col(undo.id).is_(None),
            col(Movement.kind) == "receipt",
            col(Item.kind) == "piece",
        )
    ).first()
    if found is None:
        return None
    lot = lot_view(session, found.lot_id)
    return PieceLot(
        lot_id=lot.id,
        item_id=lot.item_id,
        name=found.name,
        quantity_milli=lot.quantity_milli,
        value_micros=lot.value_micros,
        reserved_milli=lot.reserved_milli,
        received_milli=lot.received_milli,
        received_micros=lot.received_micros,
        free=tuple((taking.place, taking.quantity_milli) for taking in from_bags(lot.bags, lot.free_milli)),
    )


def unpick_lines(session: Session, build_id: int, pieces: int) -> tuple[UnpickLine, ...]:
    """What so many of a build's good pieces hold, bag by bag. Raises: Missing."""
    build = fetch(session, Build, build_id, "build")
    rows = session.execute(
        select(
            col(BuildLine.lot_id), col(BuildLine.place), col(BuildLine.item_id), col(BuildLine.taken_milli),
            col(BuildLine.extra_milli), col(BuildLine.returned_milli),
        )
        .where(col(BuildLine.build_id) == build_id)
        .order_by(col(BuildLine.position))
    ).all()  # fmt: skip
    items = load_materials(session, {row.item_id for row in rows})
    costs, gone = line_costs(session, build_id), _gone(session, build_id)
    made = (build.good or 0) + (build.spoiled or 0)
    found = []
    for row in rows:
        used = row.taken_milli + row.extra_milli - row.returned_milli
        if used <= 0:
            continue
        back = gone.get((row.lot_id, row.place), 0)
        found.append(
            UnpickLine(
                lot_id=row.lot_id,
                place=row.place,
                item_id=row.item_id,
                item=items[row.item_id],
                used_milli=used,
                cost_micros=costs.get((row.lot_id, row.place), 0),
                gone_milli=back,
                in_pieces_milli=min(
                    used - back, _in_pieces(row, pieces, made, whole=items[row.item_id].unit == "piece")
                ),
            )
        )
    return tuple(found)


def _in_pieces(row: Any, pieces: int, made: int, *, whole: bool) -> int:
    """The even share of what is in the pieces: what was taken beyond the design replaced spoiled rings."""
    held = max(0, row.taken_milli - row.returned_milli) or row.extra_milli
    share: int = held * pieces // made if made else 0
    return share - share % 1000 if whole else share


def _gone(session: Session, build_id: int) -> dict[BagKey, int]:
    """What went back into the bags by unpicking so far, or was spoiled then."""
    undo = aliased(StockTransaction)
    rows = session.execute(
        select(col(Movement.lot_id), col(Movement.place), func.sum(Movement.quantity_milli))
        .join(StockTransaction, col(StockTransaction.id) == col(Movement.act_id))
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(
            col(StockTransaction.build_id) == build_id,
            col(StockTransaction.kind) == "unpick",
            col(undo.id).is_(None),
            col(Movement.kind) == "return",
        )
        .group_by(col(Movement.lot_id), col(Movement.place))
    )
    return {(lot_id, place): int(milli) for lot_id, place, milli in rows}
