"""The parts of a design, resolved: of each its material, how much of it, and what it is for.

Plain values between rows and `models/costing`; nothing here reads the database (`inputs` does).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import cast

from models.costing.inputs import PartInput
from models.queries.stock.material import Material
from models.trade.units import unit_words
from models.trade.vocabulary.things import Arrives, PartKind


@dataclass(frozen=True, slots=True)
class PartFacts:
    """One part of a design: the thing, how much of it, and what it is for. `position` is its place in the design.

    `from_rows` tells that the design's rows make it; `closed` then is how many of its rings are closed beforehand.
    """

    position: int
    thing: Material
    quantity: Decimal
    purpose: str = ""
    optional: bool = False
    group: str = ""
    choice: str = ""
    allowance: Decimal | None = None
    joined: bool = True
    from_rows: bool = False
    closed: Decimal | None = None

    @property
    def opened_first(self) -> Decimal:
        """How many rings are opened before the weaving: those joined open that do not arrive open."""
        part = self.to_input()
        return Decimal(0) if not self._bends or part.arrives == "open" else part.quantity - part.shut

    @property
    def closed_first(self) -> Decimal:
        """How many rings are closed before the weaving: those that others pass through, unless they arrive closed."""
        part = self.to_input()
        return Decimal(0) if not self._bends or part.arrives == "closed" else part.shut

    @property
    def _bends(self) -> bool:
        return self.thing.kind == "ring" and self.thing.can_open

    @property
    def unit_words(self) -> str:
        """The unit in words: 'rings', 'pieces', 'm' or 'g'."""
        return unit_words(self.thing.kind, self.thing.unit, self.quantity)

    def to_input(self) -> PartInput:
        """The part as costing takes it."""
        thing = self.thing
        return PartInput(
            name=thing.name,
            kind=cast(PartKind, thing.kind),
            quantity=self.quantity,
            unit=self.unit_words,
            purpose=self.purpose,
            unit_cost=thing.unit_cost,
            allowance=self.allowance,
            size=thing.size,
            mass_g=thing.mass_g,
            can_open=thing.can_open,
            arrives=cast(Arrives, thing.arrives),
            joined=self.joined,
            group=self.group,
            choice=self.choice,
            optional=self.optional,
            metal=thing.metal_name,
            closed=self.closed,
        )


def usual_choices(parts: Iterable[PartFacts]) -> dict[str, str]:
    """The usual choice of each group: that of its first part."""
    usual: dict[str, str] = {}
    for part in sorted(parts, key=lambda part: part.position):
        if part.group:
            usual.setdefault(part.group, part.choice)
    return usual


def one_piece(
    parts: Iterable[PartFacts], choices: Mapping[str, str] | None = None, with_optional: Collection[int] = ()
) -> tuple[PartFacts, ...]:
    """The parts of one piece: of each group the picked choice (else the usual), and only the optional parts asked for.

    `with_optional` holds positions. Raises: ValueError for a choice that its group does not have.
    """
    parts = tuple(parts)
    picked = usual_choices(parts)
    for group, choice in (choices or {}).items():
        if not any(part.group == group and part.choice == choice for part in parts):
            raise ValueError(f"'{group}' has no choice '{choice}'")
        picked[group] = choice
    return tuple(
        part
        for part in parts
        if (not part.optional or part.position in with_optional)
        and (not part.group or picked[part.group] == part.choice)
    )
