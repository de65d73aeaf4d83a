"""Acting once: a key, the hash of what came with it and the answer are stored in the transaction that acts."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from datetime import timedelta

from sqlmodel import Session, col, delete

from models.errors import KeyReused
from models.operations.shop.clock import now
from models.queries.shop.idempotency import KEPT_RESULT
from models.tables import Once

KEPT_DAYS = 30
"""How long a key is remembered: longer than any browser keeps a page open."""


def body_hash(body: object) -> str:
    """A stable hash of what was handed in."""
    text = json.dumps(body, sort_keys=True, default=str, ensure_ascii=False)
    return hashlib.sha256(text.encode()).hexdigest()


def act_once(
    session: Session, key: str, hashed: str, act: Callable[[], Mapping[str, object]]
) -> tuple[dict[str, object], bool]:
    """Act unless this key already acted; answer the result and whether it is a repeated one.

    Raises `KeyReused` when the key came before with another body.
    """
    known = session.get(Once, key)
    if known is not None:
        if known.body_hash != hashed:
            raise KeyReused(key)
        return KEPT_RESULT.read(known.result), True
    result = dict(act())
    session.add(Once(key=key, body_hash=hashed, result=KEPT_RESULT.text(result), used_at=now()))
    session.exec(delete(Once).where(col(Once.used_at) < now() - timedelta(days=KEPT_DAYS)))
    return result, False
