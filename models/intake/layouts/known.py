"""What an act on a layout may know of its rings and the shop's swatches, and what it answers.

Not here: any act (layout_act, layout_shape, layout_hang).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from models.intake.layouts.layout import Plan
from models.layouts.engine.items import Item, Items
from models.layouts.places.chain_sizes import ChainSwatch
from models.layouts.places.sizes import Swatch
from models.trade.rings import RingSize


@dataclass(frozen=True, slots=True)
class Known:
    """The rings and findings of a piece by key, the short word of each, and the shop's swatches of its weave."""

    items: Items = field(default_factory=dict[str, Item])
    words: Mapping[str, str] = field(default_factory=dict[str, str])
    swatches: Sequence[Swatch] = ()
    chain_swatches: Sequence[ChainSwatch] = ()
    length_unit: str = "mm"

    @property
    def rings(self) -> tuple[str, ...]:
        """The keys of rings, in the order of the palette."""
        return tuple(key for key in self.words if key in self.items and not self.items[key].finding)

    @property
    def findings(self) -> tuple[str, ...]:
        """The keys of findings, in the order of the palette."""
        return tuple(key for key in self.words if key in self.items and self.items[key].finding)

    @property
    def ring_words(self) -> dict[str, str]:
        """The short words of rings alone."""
        return {key: self.words[key] for key in self.rings}

    def swatch_of(self, size: RingSize | None) -> Swatch | None:
        """The swatch to measure rings of this size by: one of this very ring, else any of the weave."""
        own = next((each for each in self.swatches if each.size == size), None)
        return own or next(iter(self.swatches), None)


@dataclass(frozen=True, slots=True)
class Acted:
    """What an act made of a piece: the piece, one sentence about it, and what a person should know."""

    plan: Plan
    said: str = ""
    notes: tuple[str, ...] = ()
