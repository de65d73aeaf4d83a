"""Proving that acts hold together: what was taken back was taken back whole and exactly, and nothing came from nothing.

Part of `check_ledger`, which plays the movements themselves.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from sqlalchemy import Select, and_, func, or_, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.operations.shop.breach import Breach
from models.tables import BagCount, Movement, StockTransaction
from models.trade.vocabulary.ledger import ACT_KINDS, BESIDE_MATERIAL, MAKING_ACTS, MATERIAL_MOVEMENTS

_KINDS_OF = {kind: act.moves for kind, act in ACT_KINDS.terms.items() if act.moves is not None}
"""The movements of each kind of act, beside shifted value; builds and jobs take, return, scrap and make."""


def act_breaches(session: Session) -> Iterator[Breach]:
    """What is wrong with acts as wholes."""
    for rule, table, says, wanted in (
        ("every act moved something", "act", "No movement belongs to it.", _idle_acts()),
        (
            "a reversal is the exact opposite of what it takes back",
            "movement",
            "It differs from the movement that it names, or its act takes another one back.",
            _wrong_reversals(),
        ),
        (
            "what is taken back is taken back whole",
            "movement",
            "Its act was taken back, and this was not.",
            _left_behind(),
        ),
        (
            "an act moves what its kind says",
            "movement",
            "This kind of movement is no part of what its act does.",
            _strays(),
        ),
        (
            "a count says what it found",
            "act",
            "Nobody wrote down what was found.",
            _silent_counts(),
        ),
        (
            "a job makes nothing from nothing",
            "act",
            "What it made is worth more than what went into it.",
            _rich_acts(),
        ),
        (
            "a build makes nothing from nothing",
            "build",
            "Its pieces are worth more than what went into them.",
            _rich_builds(),
        ),
    ):
        found = session.execute(wanted.limit(1)).first()
        if found is not None:
            yield Breach(rule, table, found[0], says)


def _idle_acts() -> Select[Any]:
    moved = select(col(Movement.id)).where(col(Movement.act_id) == col(StockTransaction.id)).exists()
    return select(col(StockTransaction.id)).where(~moved).order_by(col(StockTransaction.id))


def _wrong_reversals() -> Select[Any]:
    first = aliased(Movement)
    differs = or_(
        col(first.id).is_(None),
        col(first.kind) == "reversal",
        col(first.item_id) != col(Movement.item_id),
        col(first.lot_id) != col(Movement.lot_id),
        col(first.place) != col(Movement.place),
        col(first.quantity_milli) != -col(Movement.quantity_milli),
        col(first.value_micros) != -col(Movement.value_micros),
        col(first.labour_micros) != -col(Movement.labour_micros),
        col(StockTransaction.undoes_id).is_(None),
        col(StockTransaction.undoes_id) != col(first.act_id),
    )
    return (
        select(col(Movement.id))
        .outerjoin(first, col(first.id) == col(Movement.reverses_id))
        .outerjoin(StockTransaction, col(StockTransaction.id) == col(Movement.act_id))
        .where(
            or_(
                and_(col(Movement.kind) == "reversal", differs),
                and_(col(Movement.kind) != "reversal", col(Movement.reverses_id).is_not(None)),
            )
        )
        .order_by(col(Movement.id))
    )


def _left_behind() -> Select[Any]:
    undo, back = aliased(StockTransaction), aliased(Movement)
    return (
        select(col(Movement.id))
        .join(undo, col(undo.undoes_id) == col(Movement.act_id))
        .outerjoin(back, col(back.reverses_id) == col(Movement.id))
        .where(col(back.id).is_(None), col(Movement.kind) != "revalue")
        .order_by(col(Movement.id))
    )


def _strays() -> Select[Any]:
    strays = [
        and_(col(StockTransaction.kind) == kind, col(Movement.kind).not_in(("revalue", *allowed)))
        for kind, allowed in _KINDS_OF.items()
    ]
    made = and_(
        col(StockTransaction.kind).not_in(_KINDS_OF), col(Movement.kind).not_in((*BESIDE_MATERIAL, *MATERIAL_MOVEMENTS))
    )
    return (
        select(col(Movement.id))
        .join(StockTransaction, col(StockTransaction.id) == col(Movement.act_id))
        .where(
            or_(*strays, made, (col(StockTransaction.kind) == "undo") != col(StockTransaction.undoes_id).is_not(None))
        )
        .order_by(col(Movement.id))
    )


def _silent_counts() -> Select[Any]:
    said = select(col(BagCount.id)).where(col(BagCount.act_id) == col(StockTransaction.id)).exists()
    return (
        select(col(StockTransaction.id))
        .where(col(StockTransaction.kind) == "count", ~said)
        .order_by(col(StockTransaction.id))
    )


def _rich_acts() -> Select[Any]:
    """Jobs whose product is worth more than what went in and the work; an undo counts with what it took back."""
    root, first = aliased(StockTransaction), aliased(Movement)
    return (
        select(col(root.id))
        .join(StockTransaction, func.coalesce(StockTransaction.undoes_id, StockTransaction.id) == col(root.id))
        .join(Movement, col(Movement.act_id) == col(StockTransaction.id))
        .outerjoin(first, col(first.id) == col(Movement.reverses_id))
        .where(col(root.kind).in_(MAKING_ACTS), func.coalesce(first.kind, Movement.kind).in_(MATERIAL_MOVEMENTS))
        .group_by(col(root.id))
        .having(func.sum(Movement.value_micros - Movement.labour_micros) > 0)
        .order_by(col(root.id))
    )


def _rich_builds() -> Select[Any]:
    first = aliased(Movement)
    return (
        select(col(StockTransaction.build_id))
        .join(Movement, col(Movement.act_id) == col(StockTransaction.id))
        .outerjoin(first, col(first.id) == col(Movement.reverses_id))
        .where(
            col(StockTransaction.build_id).is_not(None),
            func.coalesce(first.kind, Movement.kind).in_(MATERIAL_MOVEMENTS),
        )
        .group_by(col(StockTransaction.build_id))
        .having(func.sum(Movement.value_micros - Movement.labour_micros) > 0)
        .order_by(col(StockTransaction.build_id))
    )
