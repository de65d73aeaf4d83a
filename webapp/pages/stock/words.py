"""The words of the Stock room for what the ledger keeps: what a movement was."""

from __future__ import annotations

from models.trade.vocabulary.ledger import LEAVING, LEAVING_REASONS, MOVEMENT_KINDS, MovementKind


def movement_word(kind: MovementKind, reason: str) -> str:
    """What a movement was, in a word or two: 'came in', 'spoiled', 'moved'."""
    says = MOVEMENT_KINDS[kind]
    return LEAVING_REASONS.get(reason, says) if kind in LEAVING else says
