"""What a piece takes and what is free: the two lists that every planning question starts from.

A recipe is one design with one choice for each of its groups. Whole numbers only: quantities are thousandths of the
item's unit, and the allowance for spoiled parts is rounded up once for each line of a build, to whole rings for rings.
What can be made of it is not here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from math import gcd
from typing import NamedTuple

ZERO = Decimal(0)
PIECE_MILLI = 1000


@dataclass(frozen=True, slots=True)
class RecipeLine:
    """What one line of a design takes for one piece; `allowance` is the fraction that is spoiled or dropped.

    A line that stands for several parts of one item has their common allowance, which may be no decimal fraction.
    Raises: ValueError for a quantity below one thousandth or an allowance below zero, TypeError for a float.
    """

    item: int
    quantity_milli: int
    allowance: Decimal | Fraction = ZERO

    def __post_init__(self) -> None:
        if not isinstance(self.allowance, (Decimal, Fraction)):
            raise TypeError("an allowance is a Decimal or a Fraction")
        if (isinstance(self.allowance, Decimal) and not self.allowance.is_finite()) or self.allowance < 0:
            raise ValueError("an allowance is zero or more")
        if self.quantity_milli < 1:
            raise ValueError("a line takes more than nothing")


@dataclass(frozen=True, slots=True)
class Recipe:
    """One design with its choices made. `unknown` names the parts that no stock item stands for; they can't be had."""

    key: str
    name: str
    lines: tuple[RecipeLine, ...]
    choice: str = ""
    unknown: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Rough:
    """The range of a rough count ('about 400'); `high_milli` None where nobody knows how many more there may be."""

    low_milli: int
    high_milli: int | None = None


@dataclass(frozen=True, slots=True)
class Stock:
    """What is free of an item; `free_milli` None is 'plenty', a rough count that never runs out.

    `step_milli` is the smallest amount that is taken: 1000 where things are counted whole, 1 where they are measured.
    """

    item: int
    free_milli: int | None
    step_milli: int = PIECE_MILLI
    rough: Rough | None = None
    name: str = ""

    @property
    def is_rough(self) -> bool:
        """Whether nobody has counted it exactly."""
        return self.rough is not None or self.free_milli is None

    @property
    def low_milli(self) -> int | None:
        """The least that may be there; None where plenty was said and no figure."""
        return self.rough.low_milli if self.rough else self.free_milli

    @property
    def high_milli(self) -> int | None:
        """The most that may be there; None where there is no end to it."""
        return self.rough.high_milli if self.rough else self.free_milli

    @property
    def called(self) -> str:
        """Its name in a message."""
        return self.name or f"item {self.item}"


class Draw(NamedTuple):
    """One line's use of an item, exact: `numerator / denominator` steps of the item for each piece, before rounding."""

    numerator: int
    denominator: int

    def steps(self, pieces: int) -> int:
        """Return the steps that so many pieces take, rounded up once."""
        return -(-pieces * self.numerator // self.denominator)


Draws = dict[int, list[Draw]]


def as_mapping(stock: Iterable[Stock] | Mapping[int, Stock]) -> Mapping[int, Stock]:
    """Return stock by item."""
    return stock if isinstance(stock, Mapping) else {each.item: each for each in stock}


def stock_of(stock: Mapping[int, Stock], item: int) -> Stock:
    """Return what is free of an item: nothing when the shop has none."""
    return stock.get(item) or Stock(item, 0)


def draws_of(recipe: Recipe, stock: Mapping[int, Stock], *, with_allowance: bool = True) -> Draws:
    """Return what each item gives to a piece, line by line and in the order of the lines."""
    draws: Draws = {}
    for line in recipe.lines:
        have = stock.get(line.item)
        step = have.step_milli if have else PIECE_MILLI
        spoiled, of = line.allowance.as_integer_ratio() if with_allowance and line.allowance else (0, 1)
        numerator, denominator = line.quantity_milli * (of + spoiled), of * step
        shared = gcd(numerator, denominator)
        draws.setdefault(line.item, []).append(Draw(numerator // shared, denominator // shared))
    return draws


def steps_taken(draws: Iterable[Draw], pieces: int) -> int:
    """Return the steps of one item that so many pieces take, each line rounded up once."""
    return sum(draw.steps(pieces) for draw in draws)


def taken_milli(
    recipe: Recipe, pieces: int, stock: Iterable[Stock] | Mapping[int, Stock], *, with_allowance: bool = True
) -> dict[int, int]:
    """Return what a build of so many pieces takes of each item, in thousandths of its unit."""
    have = as_mapping(stock)
    draws = draws_of(recipe, have, with_allowance=with_allowance)
    return {item: steps_taken(each, pieces) * stock_of(have, item).step_milli for item, each in draws.items()}


def most_pieces(draws: list[Draw], steps: int) -> int:
    """Return the most pieces that so many steps of one item allow; exact, also where several lines share the item."""
    if steps <= 0:
        return 0
    if len(draws) == 1:
        # A rounded-up multiple stays within a whole number exactly when the multiple itself does.
        return steps * draws[0].denominator // draws[0].numerator
    low, high = 0, min(steps * draw.denominator // draw.numerator for draw in draws)
    while low < high:
        middle = (low + high + 1) // 2
        if steps_taken(draws, middle) <= steps:
            low = middle
        else:
            high = middle - 1
    return low
