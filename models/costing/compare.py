"""Two variants of a design side by side: another metal, another colour, another ring size.

Takes what is already costed and lays it beside each other, row by row with the differences. It costs nothing itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from decimal import Decimal
from itertools import zip_longest

from models.costing.design_cost import DesignCost
from models.costing.exact import exactly
from models.costing.inputs import PartInput
from models.costing.lines import Impossible, Line
from models.costing.prices import OutletPrices, Price


@dataclass(frozen=True, slots=True)
class Variant:
    """One side of a comparison: a costed design with its parts, and what is known of it besides.

    `prices` is by outlet code. `fit` is the weave's verdict in words, where there is one.
    """

    name: str
    parts: Sequence[PartInput]
    cost: DesignCost
    prices: Mapping[str, OutletPrices] = field(default_factory=dict)
    fit: str = ""


@dataclass(frozen=True, slots=True)
class Row:
    """One thing on both sides, as an amount in `unit` ('' is money) or as words.

    An amount is None where that side has none, and the difference (right - left) then too. `note` says why.
    """

    group: str
    label: str
    left: Decimal | None = None
    right: Decimal | None = None
    difference: Decimal | None = None
    unit: str = ""
    left_words: str = ""
    right_words: str = ""
    note: str = ""

    @property
    def differs(self) -> bool:
        """Whether the two sides are not the same."""
        return self.left != self.right or self.left_words != self.right_words


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two variants, row by row."""

    left: str
    right: str
    rows: tuple[Row, ...]

    def group(self, name: str) -> tuple[Row, ...]:
        """The rows of one group: 'parts', 'cost', 'time', 'piece' or 'prices'."""
        return tuple(row for row in self.rows if row.group == name)


@exactly
def compare(left: Variant, right: Variant) -> Comparison:
    """Lay two variants side by side; parts are paired in their order, outlets by their code."""
    rows = [*_part_rows(left, right), *_cost_rows(left, right), *_piece_rows(left, right), *_price_rows(left, right)]
    return Comparison(left.name, right.name, tuple(rows))


def _row(group: str, label: str, left: Decimal | None, right: Decimal | None, *, unit: str = "", note: str = "") -> Row:
    difference = None if left is None or right is None else right - left
    return Row(group, label, left, right, difference, unit, note=note)


def _part_rows(left: Variant, right: Variant) -> Iterator[Row]:
    """Each part with what it is and what it costs; a part that only one side has stands alone."""
    pairs = zip_longest(
        zip(left.parts, left.cost.materials.lines, strict=True),
        zip(right.parts, right.cost.materials.lines, strict=True),
    )
    for a, b in pairs:
        label = (a or b)[0].purpose or (a or b)[0].name
        row = _row("parts", label, _amount(a), _amount(b), note=_part_note(a, b))
        yield replace(row, left_words=_part_words(a), right_words=_part_words(b))


def _amount(side: tuple[PartInput, Line] | None) -> Decimal | None:
    return None if side is None or side[0].unit_cost is None else side[1].amount


def _part_words(side: tuple[PartInput, Line] | None) -> str:
    return "" if side is None else side[0].name


def _part_note(left: tuple[PartInput, Line] | None, right: tuple[PartInput, Line] | None) -> str:
    if left is None or right is None:
        return "Only on one side."
    if left[0].unit_cost is None or right[0].unit_cost is None:
        return "Not priced on both sides."
    return ""


def _cost_rows(left: Variant, right: Variant) -> Iterator[Row]:
    a, b = left.cost, right.cost
    note = "One side has guessed or missing prices." if a.provisional or b.provisional else ""
    for label, mine, theirs in (
        ("Materials", a.materials.amount, b.materials.amount),
        ("Labour", a.labour.amount, b.labour.amount),
        ("Overhead", a.overhead.amount, b.overhead.amount),
        ("Cost of one piece", a.per_piece, b.per_piece),
    ):
        yield _row("cost", label, mine, theirs, note=note)
    yield _row("time", "Minutes, likely", a.minutes.likely, b.minutes.likely, unit="min")
    yield _row("time", "Minutes, quick", a.minutes.low, b.minutes.low, unit="min")
    yield _row("time", "Minutes, slow", a.minutes.high, b.minutes.high, unit="min")


def _piece_rows(left: Variant, right: Variant) -> Iterator[Row]:
    unweighed = "Some parts have no known weight." if left.cost.unweighed or right.cost.unweighed else ""
    yield _row("piece", "Finished weight", left.cost.mass_g, right.cost.mass_g, unit="g", note=unweighed)
    yield _row("piece", "Rings", _rings(left), _rings(right), unit="rings")
    yield _row("piece", "Aspect ratio of the most used ring", _ratio(left), _ratio(right), unit="AR")
    if left.fit or right.fit:
        yield Row("piece", "Fit of the weave", left_words=left.fit, right_words=right.fit)


def _rings(side: Variant) -> Decimal:
    return sum((part.quantity for part in side.parts if part.kind == "ring"), Decimal(0))


def _ratio(side: Variant) -> Decimal | None:
    sized = [part for part in side.parts if part.kind == "ring" and part.size is not None]
    most = max(sized, key=lambda part: part.quantity, default=None)
    return None if most is None or most.size is None else most.size.aspect_ratio


def _price_rows(left: Variant, right: Variant) -> Iterator[Row]:
    """Break-even, suggested price and what an hour earns, for each outlet of either side."""
    for code in dict.fromkeys((*left.prices, *right.prices)):
        a, b = left.prices.get(code), right.prices.get(code)
        name = a.outlet.name if a is not None else b.outlet.name if b is not None else code
        for label, mine, theirs in (
            ("break-even", None if a is None else a.break_even, None if b is None else b.break_even),
            ("suggested price", None if a is None else a.suggested, None if b is None else b.suggested),
        ):
            yield _row(
                "prices", f"{name}: {label}", _shown(mine), _shown(theirs), note=_why_not(mine) or _why_not(theirs)
            )
        yield _row("prices", f"{name}: earned in an hour", _earned(a), _earned(b))


def _shown(price: Price | Impossible | None) -> Decimal | None:
    return price.shown if isinstance(price, Price) else None


def _why_not(price: Price | Impossible | None) -> str:
    return price.reason if isinstance(price, Impossible) else ""


def _earned(prices: OutletPrices | None) -> Decimal | None:
    sale = None if prices is None else prices.at_listed or prices.at_suggested
    return sale.earned.likely if sale is not None and sale.earned is not None else None
