"""What a one-time key did, for the message that the next page shows."""

from __future__ import annotations

import json

from sqlmodel import Session

from models.tables import Once


def done_with(session: Session, key: str) -> dict[str, object] | None:
    """The stored result of a key, or None when it never acted."""
    known = session.get(Once, key)
    return None if known is None else json.loads(known.result)
