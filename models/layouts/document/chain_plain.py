"""Chains as plain values for files, forms and JSON, and back, with the same distrust as layouts of rows.

Not here: layouts of rows (plain).
"""

from __future__ import annotations

from typing import Any

from models.layouts.document.plain import Collector, attachment_to_plain, read_attachments
from models.layouts.engine.chain_weaves import CHAINS
from models.layouts.engine.chains import MAX_OFFSET, Chain, Stretch, chain_faults
from models.layouts.engine.rows import MAX_RINGS
from models.trade.faults import Fault

MAX_STRETCHES = 200
MAX_REPEAT = 1_000


def chain_to_plain(chain: Chain) -> dict[str, Any]:
    """Return a chain as plain values; `chain_from_plain` gives the equal chain back."""
    return {
        "weave": chain.weave,
        "stretches": [{"units": each.units, "repeat": list(each.repeat)} for each in chain.stretches],
        "closed": chain.closed,
        "own_links": list(chain.own_links),
        "attachments": [attachment_to_plain(each) for each in chain.attachments],
    }


def chain_from_plain(raw: Any) -> Chain | tuple[Fault, ...]:
    """Return the chain that plain values describe, or every fault in them."""
    faults: list[Fault] = []
    read = Collector(raw, "", faults)
    closed = read.raw.get("closed", False)
    if not isinstance(closed, bool):
        read.fault("closed", "Say true for a closed loop, false for an open chain.")
        closed = False
    chain = Chain(
        weave=read.choice("weave", tuple(CHAINS), "chain-1-in-1"),
        stretches=read.each("stretches", MAX_STRETCHES, lambda value, place: _stretch(value, place, faults)),
        closed=closed,
        attachments=read_attachments(read, faults),
        own_links=read.each("own_links", MAX_OFFSET, lambda value, place: _offset(value, place, faults)),
    )
    return tuple(faults or chain_faults(chain)) or chain


def _stretch(raw: Any, place: str, faults: list[Fault]) -> Stretch:
    read = Collector(raw, place, faults)
    return Stretch(read.number("units", 0, 1, MAX_RINGS), read.texts("repeat", MAX_REPEAT))


def _offset(raw: Any, place: str, faults: list[Fault]) -> int:
    if isinstance(raw, int) and not isinstance(raw, bool) and 1 <= raw <= MAX_OFFSET:
        return raw
    faults.append(Fault(place, f"Each ring links rings from 1 to {MAX_OFFSET} further on."))
    return 1
