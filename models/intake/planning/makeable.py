"""How people ask what can be made: filters, the allowance, and which design's effect on the others is to be seen."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from models.costing.learning import MOST_TOGETHER
from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.trade.vocabulary.plans import ALLOWANCES, MAKE_ORDERS

MOST_MINUTES: Final = Decimal(100_000)
MOST_SKILL: Final = 5
MOST_KEY: Final = 2000


@dataclass(frozen=True, slots=True)
class MakeFilter:
    """What is asked of the page; empty asks nothing. `minutes` is the time that there is for one piece.

    `making` is the key of a recipe whose effect on the others is to be seen, for so many `pieces`.
    """

    text: str = ""
    outlet_id: int | None = None
    minutes: Decimal | None = None
    skill: int | None = None
    metal: str = ""
    weave: str = ""
    now: bool = False
    allowance: bool = True
    order: str = "earns"
    making: str = ""
    pieces: int = 1
    page: int = 1

    @property
    def narrows(self) -> bool:
        """Whether anything but words to find narrows the list."""
        return bool(self.minutes is not None or self.skill or self.metal or self.weave or self.now)

    @property
    def asks(self) -> bool:
        """Whether anything narrows the list."""
        return bool(self.text) or self.narrows


def read_make_filter(raw: Raw) -> MakeFilter | Faults:
    """Read what is asked from the address of a page or an API call."""
    reader = Reader(raw)
    found = MakeFilter(
        text=reader.text("find", most=100),
        outlet_id=reader.identity("outlet", required=False),
        minutes=reader.decimal("minutes", required=False, most=MOST_MINUTES, places=3),
        skill=reader.integer("skill", least=1, most=MOST_SKILL, required=False),
        metal=reader.text("metal", most=60),
        weave=reader.text("weave", most=60),
        now=reader.flag("now"),
        allowance=reader.choice("allowance", ALLOWANCES.codes, default="with") == "with",
        order=reader.choice("order", MAKE_ORDERS.codes, default="earns"),
        making=reader.text("making", most=MOST_KEY),
        pieces=reader.integer("pieces", least=1, most=MOST_TOGETHER, default=1) or 1,
        page=reader.integer("page", least=1, most=10_000, default=1) or 1,
    )
    return reader.faults() or found
