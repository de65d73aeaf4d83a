"""What the rings of builds cost: by bag, from the movements of the acts that still hold.

What a build should cost stands in `build_parts`.
"""

from __future__ import annotations

from collections.abc import Collection

from sqlalchemy import func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.queries.stock.lot import BagKey
from models.tables import Movement, StockTransaction
from models.trade.vocabulary.ledger import BUILD_ACTS, BUILD_MOVEMENTS


def line_costs(session: Session, build_id: int, acts: Collection[str] = BUILD_ACTS) -> dict[BagKey, int]:
    """What left each bag for a build less what came back, in millionths, by lot and place.

    Acts that were taken back do not count, and neither do pieces that were unpicked later.
    """
    undo = aliased(StockTransaction)
    rows = session.execute(
        select(col(Movement.lot_id), col(Movement.place), func.sum(Movement.value_micros))
        .join(StockTransaction, col(StockTransaction.id) == col(Movement.act_id))
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(
            col(StockTransaction.build_id) == build_id,
            col(StockTransaction.kind).in_(acts),
            col(undo.id).is_(None),
            col(Movement.kind).in_(BUILD_MOVEMENTS),
        )
        .group_by(col(Movement.lot_id), col(Movement.place))
    )
    return {(lot_id, place): -int(micros) for lot_id, place, micros in rows}
