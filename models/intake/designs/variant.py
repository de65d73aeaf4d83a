"""How a variant of a design differs: one metal for another across the piece, or another ring for one of its parts.

Nothing of it is stored. Whether an item exists and what a ring then costs is settled where the database is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.trade.metals import Metal

MOST_PARTS = 200


@dataclass(frozen=True, slots=True)
class PartSwap:
    """Another ring for one part: a stock item, or what is different of its size, metal and colour.

    `colour` None keeps the colour unless the metal changes. `guess` is a guessed price of one ring.
    """

    item_id: int | None = None
    wire_nm: int | None = None
    inner_nm: int | None = None
    metal: str | None = None
    colour: str | None = None
    guess: Decimal | None = None


@dataclass(frozen=True, slots=True)
class VariantDraft:
    """What is different: `from_metal` becomes `to_metal` in every ring, and single parts by their place get another."""

    from_metal: str | None = None
    to_metal: str | None = None
    to_colour: str = ""
    parts: Mapping[int, PartSwap] = field(default_factory=dict)

    @property
    def changes_nothing(self) -> bool:
        """Whether nothing was asked for yet."""
        return not self.parts and not (self.from_metal and self.to_metal)


def read_variant(
    raw: Raw, *, metals: Mapping[str, Metal], length_unit: str = "mm"
) -> tuple[VariantDraft, Faults | None]:
    """Read what can be read; a part with a fault is left as it is, and the fault is named beside its field."""
    reader = Reader(raw, length_unit=length_unit)
    places = ("", *metals)
    swaps = {
        place: swap
        for place, swap in enumerate(reader.each("part", lambda row: _swap(row, places)))
        if swap is not None and place < MOST_PARTS
    }
    return (
        VariantDraft(
            from_metal=reader.choice("from_metal", places, default="") or None,
            to_metal=reader.choice("to_metal", places, default="") or None,
            to_colour=reader.text("to_colour", most=60),
            parts=swaps,
        ),
        reader.faults(),
    )


def _swap(row: Reader, metals: tuple[str, ...]) -> PartSwap | None:
    wire, inner = row.wire("wire", required=False), row.inner("inner", required=False)
    swap = PartSwap(
        item_id=row.identity("item", required=False),
        wire_nm=wire.nm if wire else None,
        inner_nm=inner.nm if inner else None,
        metal=row.choice("metal", metals, default="") or None,
        colour=row.text("colour", most=60) or None,
        guess=row.money("guess", required=False),
    )
    return None if swap == PartSwap() else swap
