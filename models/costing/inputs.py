"""What a costing is given: parts, work, rates and outlets, as plain frozen values with units resolved.

Nothing is computed here. Shares are fractions (0.05 is 5 per cent) except where a name ends in `_percent`.
Money is Decimal in the shop's currency.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from models.costing.exact import ONE, ZERO, not_negative
from models.costing.lines import Line
from models.trade.rings import RingSize
from models.trade.vocabulary.selling import FEE_BASES, OverheadMode
from models.trade.vocabulary.things import Arrives, PartKind


@dataclass(frozen=True, slots=True)
class UnitCost:
    """What one unit of an item costs, unrounded, with the facts behind it.

    `provisional` marks a guessed or old price: every cost that rests on it says so.
    """

    amount: Decimal
    lines: tuple[Line, ...] = ()
    provisional: bool = False

    def __post_init__(self) -> None:
        not_negative("a unit cost", self.amount)


@dataclass(frozen=True, slots=True)
class PartInput:
    """One part of a design: how many of what, and what the work on it depends on.

    `quantity` is per piece, in `unit`. `allowance` is the fraction spoiled or dropped; None leaves it to the design.
    `mass_g` is one unit's mass. `joined` says that the maker passes this ring through others while it is open.
    `group` and `choice` name a choice (group 'colour', choice 'A'); `optional` parts can be left out.
    `metal` groups parts whose price moves together. `closed` is how many of a ring part are closed beforehand while the
    rest is joined open; None leaves that to `joined`.
    """

    name: str
    kind: PartKind
    quantity: Decimal
    unit: str = "pieces"
    purpose: str = ""
    unit_cost: UnitCost | None = None
    allowance: Decimal | None = None
    size: RingSize | None = None
    mass_g: Decimal | None = None
    can_open: bool = True
    arrives: Arrives = ""
    joined: bool = True
    group: str = ""
    choice: str = ""
    optional: bool = False
    metal: str = ""
    closed: Decimal | None = None

    def __post_init__(self) -> None:
        not_negative(f"the quantity of {self.name}", self.quantity)
        if self.closed is not None and not 0 <= self.closed <= self.quantity:
            raise ValueError(f"of {self.name}, between none and all are closed beforehand")
        if self.allowance is not None:
            not_negative(f"the allowance of {self.name}", self.allowance)
        if self.mass_g is not None:
            not_negative(f"the mass of {self.name}", self.mass_g)

    @property
    def shut(self) -> Decimal:
        """How many are closed before the work begins: others pass through them."""
        if self.closed is not None:
            return self.closed
        return ZERO if self.joined else self.quantity


@dataclass(frozen=True, slots=True)
class WorkInput:
    """The work in one piece of a design.

    `open`, `close`, `weave` and `attach` are counts per piece; None takes them from the parts.
    `finish` maps a kind of finishing to minutes per piece, `once` a once-per-design task to minutes;
    None takes the shop's rate.
    `once_pieces` is the number of pieces over which the once-per-design work is spread.
    """

    open: Decimal | None = None
    close: Decimal | None = None
    weave: Decimal | None = None
    attach: Decimal | None = None
    finish: Mapping[str, Decimal | None] = field(default_factory=dict)
    pack: bool = True
    once: Mapping[str, Decimal | None] = field(default_factory=dict)
    once_pieces: int = 1
    setup: bool = True

    def __post_init__(self) -> None:
        if self.once_pieces < 1:
            raise ValueError("work done once per design must be spread over at least one piece")
        for count in (self.open, self.close, self.weave, self.attach, *self.finish.values(), *self.once.values()):
            if count is not None:
                not_negative("work", count)


@dataclass(frozen=True, slots=True)
class Rate:
    """How long one unit of a kind of work takes, with its range and where it comes from.

    `seconds` is the likely time per `per` ('ring', 'finding', 'piece', 'batch', 'design').
    `seconds` x `low_factor` and x `high_factor` are the 10th and the 90th of a hundred.
    """

    kind: str
    seconds: Decimal
    per: str
    low_factor: Decimal = ONE
    high_factor: Decimal = ONE
    source: str = ""

    def __post_init__(self) -> None:
        not_negative(f"the rate of {self.kind}", self.seconds)
        if not 0 <= self.low_factor <= 1 <= self.high_factor:
            raise ValueError(f"the range of {self.kind} must hold its likely time")


@dataclass(frozen=True, slots=True)
class SmallRings:
    """The rule that small rings are slower: below either size, all work on them takes `factor` times as long."""

    wire_nm: int
    inner_nm: int
    factor: Decimal
    source: str

    def is_small(self, size: RingSize | None) -> bool:
        """Whether a ring counts as small; an unknown size does not."""
        return size is not None and (size.wire_nm < self.wire_nm or size.inner_nm < self.inner_nm)


@dataclass(frozen=True, slots=True)
class DifficultyFactors:
    """How much longer weaving takes at each difficulty of a weave, 1 (easy) to 5 (hard)."""

    factors: tuple[Decimal, Decimal, Decimal, Decimal, Decimal]
    source: str

    def factor(self, difficulty: int | None) -> Decimal:
        """The factor of a difficulty; 1 where there is no weave.

        Raises: ValueError outside 1 to 5.
        """
        if difficulty is None:
            return ONE
        if not 1 <= difficulty <= 5:
            raise ValueError(f"a weave's difficulty is 1 to 5, not {difficulty}")
        return self.factors[difficulty - 1]


@dataclass(frozen=True, slots=True)
class ShopRates:
    """What the shop pays for an hour, how long work takes, and how overhead is counted.

    `overhead_percent` is per cent of materials and labour (15 is 15 per cent). `allowance` is a fraction.
    `learning` is the share of the time that each doubling of the pieces made together takes; 1 switches it off.
    """

    rates: Mapping[str, Rate]
    wage_per_hour: Decimal
    overhead_mode: OverheadMode = "hour"
    overhead_per_hour: Decimal = ZERO
    overhead_percent: Decimal = ZERO
    allowance: Decimal = ZERO
    learning: Decimal = ONE
    small_rings: SmallRings | None = None
    difficulty: DifficultyFactors | None = None

    def __post_init__(self) -> None:
        for name in ("wage_per_hour", "overhead_per_hour", "overhead_percent", "allowance"):
            not_negative(name, getattr(self, name))
        if not Decimal("0.5") <= self.learning <= 1:
            raise ValueError("learning must lie between 0.5 and 1")


@dataclass(frozen=True, slots=True)
class Fee:
    """One fee of an outlet: a share of a base, and a fixed sum for each sale."""

    label: str
    share: Decimal = ZERO
    base: str = "price"
    fixed: Decimal = ZERO

    def __post_init__(self) -> None:
        not_negative(f"the share of {self.label}", self.share)
        not_negative(f"the fixed part of {self.label}", self.fixed)
        if self.base not in FEE_BASES:
            raise ValueError(f"a fee is taken of {', '.join(FEE_BASES)}, not of {self.base}")


@dataclass(frozen=True, slots=True)
class OutletInput:
    """Where a piece is sold, with everything that stands between its price and the maker.

    `tax` is a fraction. `shipping_charged` is what the buyer is shown for shipping, with or without tax as prices are.
    `postage_paid` is what the seller pays to send one piece.
    `period_fee` (a stall, a month) is spread over `period_sales` sales.
    `wanted_margin` is a fraction of the price without tax; `wanted_wage` is money an hour.
    At a wholesale outlet every price is what the shop pays the maker; the shop asks `retail_multiple` times as much.
    """

    code: str
    name: str
    kind: str = "direct"
    tax: Decimal = ZERO
    prices_include_tax: bool = True
    shipping_charged: Decimal = ZERO
    postage_paid: Decimal = ZERO
    fees: tuple[Fee, ...] = ()
    period_fee: Decimal = ZERO
    period_sales: Decimal = ZERO
    wanted_margin: Decimal | None = None
    wanted_wage: Decimal | None = None
    retail_multiple: Decimal = Decimal(2)
    ending: str = "any"
    shipping_taxed: bool = True

    def __post_init__(self) -> None:
        for name in ("tax", "shipping_charged", "postage_paid", "period_fee", "period_sales"):
            not_negative(f"{name} of {self.name}", getattr(self, name))
        for name in ("wanted_margin", "wanted_wage"):
            value = getattr(self, name)
            if value is not None:
                not_negative(f"{name} of {self.name}", value)
        if self.retail_multiple < 1:
            raise ValueError("a shop cannot sell below what it pays: the retail multiple is 1 or more")
