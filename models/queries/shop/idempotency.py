"""What a one-time key did, for the message that the next page shows."""

from __future__ import annotations

from typing import Any, Final

from sqlmodel import Session

from models.kept import KeptDocument
from models.tables import Once

KEPT_RESULT: Final[KeptDocument[dict[str, Any]]] = KeptDocument(dict[str, Any])
"""What a call or a form answered, as its key keeps it."""


def done_with(session: Session, key: str) -> dict[str, object] | None:
    """The stored result of a key, or None when it never acted."""
    known = session.get(Once, key)
    return None if known is None else KEPT_RESULT.read(known.result)
