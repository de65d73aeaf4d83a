"""The earlier states of a piece that is being laid out, packed small enough to travel with its page, for undo and redo.

Nothing here is trusted when it comes back: what cannot be unpacked is left out. Not here: what a state means (layout).
"""

from __future__ import annotations

import base64
import binascii
import json
import zlib
from collections.abc import Sequence
from typing import Final

MOST_STATES: Final = 40
MOST_UNPACKED: Final = 6_000_000
MOST_PACKED: Final = 400_000


def packed(states: Sequence[str]) -> str:
    """Return the latest states as one short text; the oldest are left out where they would make it long."""
    kept = list(states)[-MOST_STATES:]
    while kept:
        text = json.dumps(kept, ensure_ascii=False, separators=(",", ":"))
        if len(text) <= MOST_UNPACKED:
            small = base64.b64encode(zlib.compress(text.encode(), 6)).decode()
            if len(small) <= MOST_PACKED:
                return small
        kept = kept[max(1, len(kept) // 4) :]
    return ""


def unpacked(text: str) -> tuple[str, ...]:
    """Return the states of a packed text, oldest first; none where it is no such text."""
    if not text or len(text) > MOST_PACKED:
        return ()
    try:
        reader = zlib.decompressobj()
        raw = reader.decompress(base64.b64decode(text, validate=True), 4 * MOST_UNPACKED)
        found = json.loads(raw.decode()) if reader.eof else None
    except (ValueError, binascii.Error, zlib.error, RecursionError):
        return ()
    if not isinstance(found, list) or not all(isinstance(one, str) for one in found):
        return ()
    return tuple(found[-MOST_STATES:])
