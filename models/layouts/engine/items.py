"""What the rings and findings of a layout are: size, metal, tint, and whether one can be opened.

A layout only names its items by key; everything that depends on a size takes a mapping of these beside it. Not here:
stock, lots, prices.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Context, Decimal

from models.trade.rings import RingSize

_CONTEXT = Context(prec=50)
PLAIN_TINT = "#a9acb0"


@dataclass(frozen=True, slots=True)
class Item:
    """One ring or finding that a layout may use.

    `size` of a finding is its loop, where known; `density` in g/cm3 computes the mass of a ring, `mass_g` (a weighed
    one) wins. `opens` is false for soldered rings and solid loops. `by_lot` marks colours that differ from lot to lot.
    `width_nm` is the largest width of a chain's end link or of a finding's tag, `thick_nm` the thickness of the chain.
    """

    key: str
    label: str
    size: RingSize | None = None
    density: Decimal | None = None
    mass_g: Decimal | None = None
    tint: str = PLAIN_TINT
    opens: bool = True
    finding: bool = False
    by_lot: bool = False
    width_nm: int | None = None
    thick_nm: int | None = None

    @property
    def one_mass_g(self) -> Decimal | None:
        """Return the mass of one in grams, unrounded, or None where nothing is known."""
        if self.mass_g is not None:
            return self.mass_g
        if self.size is None or self.density is None or self.finding:
            return None
        return self.size.mass_g(self.density)


Items = Mapping[str, Item]


def items_of(items: Iterable[Item]) -> dict[str, Item]:
    """Return items by their keys."""
    return {each.key: each for each in items}


@dataclass(frozen=True, slots=True)
class Totals:
    """Mass and wire of what was counted; unrounded. `unweighed` names the items that have no mass."""

    mass_g: Decimal
    wire_mm: Decimal
    rings: int
    findings: int
    unweighed: tuple[str, ...]


def totals(counts: Mapping[str, int], items: Items) -> Totals:
    """Return the total mass in grams and the developed length of wire in millimetres of so many of each item."""
    mass_g = wire_mm = Decimal(0)
    rings = findings = 0
    unweighed: list[str] = []
    for key, count in counts.items():
        item = items.get(key)
        if item is not None and item.finding:
            findings += count
        else:
            rings += count
        one_g = item.one_mass_g if item else None
        if one_g is None:
            unweighed.append(item.label if item else key)
        else:
            mass_g = _CONTEXT.add(mass_g, _CONTEXT.multiply(one_g, Decimal(count)))
        if item is not None and item.size is not None and not item.finding:
            wire_mm = _CONTEXT.add(wire_mm, _CONTEXT.multiply(item.size.wire_length_mm, Decimal(count)))
    return Totals(mass_g, wire_mm, rings, findings, tuple(unweighed))
