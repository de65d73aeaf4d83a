"""The words of the Stock room for what the ledger keeps: what a movement was, and what a cost is of."""

from __future__ import annotations

from collections.abc import Container

from models.trade.vocabulary.ledger import COSTS, LEAVING, LEAVING_REASONS, MOVEMENT_KINDS, MovementKind


def movement_word(kind: MovementKind, reason: str) -> str:
    """What a movement was, in a word or two: 'came in', 'spoiled', 'moved'."""
    says = MOVEMENT_KINDS[kind]
    return LEAVING_REASONS.get(reason, says) if kind in LEAVING else says


def cost_field(of: object, among: Container[str] = COSTS) -> str:
    """The field of a cost that was typed for one of these; what nobody said is for all of it."""
    return COSTS.term(str(of) if str(of) in among else "total").field
