"""What people ask about a ring that need not be in stock: any wire, opening, metal and cut."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.intake.stock.item import find_metal, metal_trouble
from models.trade.measures import to_mm
from models.trade.metals import METALS, Metal
from models.trade.rings import RingSize, absurd


@dataclass(frozen=True, slots=True)
class RingRequest:
    """A ring that is asked about; `kerf_mm` is what a saw takes of each turn, None for the shop's usual cut."""

    size: RingSize
    wire_label: str
    metal: Metal
    kerf_mm: Decimal | None


def read_ring(raw: Raw, *, metals: Mapping[str, Metal] = METALS, length_unit: str = "mm") -> RingRequest | Faults:
    """Read a question from the address of a page or an API call."""
    reader = Reader(raw, length_unit=length_unit)
    wire = reader.wire("wire")
    inner = reader.inner("inner")
    words = reader.text("metal", required="Choose what it is made of.", most=80)
    metal = find_metal(words, metals) if words else None
    if words and metal is None:
        reader.fault("metal", metal_trouble(words, metals))
    kerf = reader.length("kerf", required=False)
    size = RingSize(wire.nm, inner.nm) if wire and inner else None
    wrong = absurd(size) if size else None
    if wrong:
        reader.fault("inner", wrong)
    if size and kerf and to_mm(kerf.nm) >= size.wire_length_mm:
        reader.fault("kerf", "The cut takes the whole ring; give less than the wire in one ring.")
    faults = reader.faults()
    if faults is not None or size is None or wire is None or metal is None:
        return faults or Faults.of("wire", "Give a size.")
    return RingRequest(size, wire.label or "", metal, to_mm(kerf.nm) if kerf else None)
