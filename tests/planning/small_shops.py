"""Small random shops for the planning room: recipes and free stock that a plain search can go through."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal
from fractions import Fraction
from math import ceil

from hypothesis import strategies as st

from models.planning.recipes import Recipe, RecipeLine, Rough, Stock

ITEMS = range(1, 6)
ALLOWANCES = tuple(Decimal(each) for each in ("0", "0", "0.03", "0.05", "0.125", "0.3"))


def lines(items: Sequence[int] = ITEMS, most: int = 4) -> st.SearchStrategy[tuple[RecipeLine, ...]]:
    line = st.builds(
        RecipeLine,
        item=st.sampled_from(items),
        quantity_milli=st.integers(1, 6).map(lambda n: n * 1000),
        allowance=st.sampled_from(ALLOWANCES),
    )
    return st.lists(line, min_size=1, max_size=most).map(tuple)


def recipes(least: int = 1, most: int = 4) -> st.SearchStrategy[list[Recipe]]:
    return st.lists(lines(), min_size=least, max_size=most).map(
        lambda many: [Recipe(f"d{number}", f"Design {number}", each) for number, each in enumerate(many)]
    )


@st.composite
def rough_counts(draw: st.DrawFn, free_milli: int) -> Rough | None:
    if draw(st.booleans()):
        return None
    low = draw(st.integers(0, free_milli // 1000)) * 1000
    high = draw(st.none() | st.integers(0, 10).map(lambda more: free_milli + more * 1000))
    return Rough(low, high)


@st.composite
def stocks(draw: st.DrawFn, *, most: int = 30, rough: bool = False, plenty: bool = False) -> dict[int, Stock]:
    found = {}
    for item in ITEMS:
        if draw(st.integers(0, 5)) == 0:
            continue
        free = draw(st.integers(0, most)) * 1000
        if plenty and draw(st.integers(0, 4)) == 0:
            found[item] = Stock(item, None, rough=draw(st.none() | st.just(Rough(free))))
        else:
            found[item] = Stock(item, free, rough=draw(rough_counts(free)) if rough else None)
    return found


def needs_by_hand(recipe: Recipe, pieces: int, stock: dict[int, Stock], with_allowance: bool) -> dict[int, int]:
    """What so many pieces take in thousandths, worked out line by line with fractions."""
    needs: dict[int, int] = {}
    for line in recipe.lines:
        step = stock[line.item].step_milli if line.item in stock else 1000
        spoiled = Fraction(line.allowance) if with_allowance else Fraction(0)
        exact = Fraction(line.quantity_milli) * (1 + spoiled) * pieces
        needs[line.item] = needs.get(line.item, 0) + ceil(exact / step) * step
    return needs
