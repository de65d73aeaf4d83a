"""How many pieces of each design free stock can make, what runs out first, and what making one does to the others.

Each answer is for one design alone, as if nothing else were made; `effects` tells what is left for the others.
Reserved stock is not free. Stand-ins for rings that run out are proposed in `substitutes`, never used here.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from models.planning.recipes import (
    Draws,
    Recipe,
    Stock,
    as_mapping,
    draws_of,
    most_pieces,
    steps_taken,
    stock_of,
)
from models.planning.troubles import Trouble


@dataclass(frozen=True, slots=True)
class Missing:
    """What one more piece would need of an item beyond what is free, in thousandths of its unit."""

    item: int
    milli: int
    rough: bool


@dataclass(frozen=True, slots=True)
class Answer:
    """How many pieces of one design can be made now.

    `pieces` is None when nothing that was counted limits it. `limiting` are the items that run out first, `next_needs`
    all that one more piece lacks. `at_worst` and `at_best` take every rough count at its ends; `rests_on` are the rough
    counts that a better one could move the answer by. `unknown` are parts that are no stock item: it can't be made.
    """

    key: str
    name: str
    choice: str
    pieces: int | None
    limiting: tuple[int, ...]
    next_needs: tuple[Missing, ...]
    at_worst: int | None
    at_best: int | None
    rests_on: tuple[int, ...]
    unknown: tuple[str, ...]
    with_allowance: bool

    @property
    def sure(self) -> bool:
        """Whether no rough count could change the answer."""
        return not self.rests_on


@dataclass(frozen=True, slots=True)
class Effect:
    """What making something else does to a design: the pieces that stock allows before and after it."""

    key: str
    before: int | None
    after: int | None

    @property
    def lost(self) -> int | None:
        """How many pieces fewer; None while nothing counted limits it."""
        return None if self.before is None or self.after is None else self.before - self.after


def makeable(
    recipes: Iterable[Recipe], stock: Iterable[Stock] | Mapping[int, Stock], *, with_allowance: bool = True
) -> tuple[Answer, ...]:
    """Return for each recipe, in the order given, how many pieces free stock can make of it alone.

    With the allowance each line needs what a build would take out for it: rounded up once, to whole rings.
    """
    have = as_mapping(stock)
    return tuple(_answer(recipe, have, with_allowance) for recipe in recipes)


def effects(
    recipes: Iterable[Recipe],
    stock: Iterable[Stock] | Mapping[int, Stock],
    key: str,
    pieces: int = 1,
    *,
    with_allowance: bool = True,
) -> tuple[Effect, ...] | Trouble:
    """Return what making so many pieces of one recipe does to every recipe that shares an item with it, itself too.

    Those whose number stays the same are told as well. Trouble when so many can't be made. Raises: KeyError for an
    unknown key.
    """
    if pieces < 0:
        return Trouble("pieces", "Type how many you would make: a whole number, none at the least.")
    have = as_mapping(stock)
    recipes = tuple(recipes)
    by_key = {recipe.key: recipe for recipe in recipes}
    made = by_key[key]
    draws = draws_of(made, have, with_allowance=with_allowance)
    most = _pieces(made, draws, have)
    if most is not None and pieces > most:
        return Trouble("pieces", f"Your free stock makes {most} of {made.name}, not {pieces}.")
    after = {**have, **{item: _less(stock_of(have, item), steps_taken(draws[item], pieces)) for item in draws}}
    told = []
    for recipe in recipes:
        if any(line.item in draws for line in recipe.lines):
            own = draws_of(recipe, have, with_allowance=with_allowance)
            told.append(Effect(recipe.key, _pieces(recipe, own, have), _pieces(recipe, own, after)))
    return tuple(told)


def _less(have: Stock, steps: int) -> Stock:
    """What is left of an item; a rough count stays as rough as it was."""
    taken = steps * have.step_milli
    rough = have.rough
    if rough:
        high = None if rough.high_milli is None else rough.high_milli - taken
        rough = replace(rough, low_milli=rough.low_milli - taken, high_milli=high)
    return replace(have, free_milli=None if have.free_milli is None else have.free_milli - taken, rough=rough)


def _pieces(recipe: Recipe, draws: Draws, have: Mapping[int, Stock]) -> int | None:
    """The most pieces of a recipe that free stock makes; None where only plenty is used or nothing at all."""
    if recipe.unknown:
        return 0
    limits = []
    for item, each in draws.items():
        stock = stock_of(have, item)
        if stock.free_milli is not None:
            limits.append(most_pieces(each, stock.free_milli // stock.step_milli))
    return min(limits, default=None)


def _answer(recipe: Recipe, have: Mapping[int, Stock], with_allowance: bool) -> Answer:
    draws = draws_of(recipe, have, with_allowance=with_allowance)
    limits: dict[int, int] = {}
    worst: dict[int, int] = {}
    best: dict[int, int] = {}
    rough = []
    for item, each in draws.items():
        stock = stock_of(have, item)
        if stock.free_milli is not None:
            limits[item] = most_pieces(each, stock.free_milli // stock.step_milli)
        if not stock.is_rough:
            worst[item] = best[item] = limits[item]
            continue
        rough.append(item)
        if stock.low_milli is not None:
            worst[item] = most_pieces(each, stock.low_milli // stock.step_milli)
        if stock.high_milli is not None:
            best[item] = most_pieces(each, stock.high_milli // stock.step_milli)
    pieces = 0 if recipe.unknown else min(limits.values(), default=None)
    return Answer(
        key=recipe.key,
        name=recipe.name,
        choice=recipe.choice,
        pieces=pieces,
        limiting=() if recipe.unknown else tuple(item for item, limit in limits.items() if limit == pieces),
        next_needs=() if pieces is None else _next_needs(draws, have, pieces + 1),
        at_worst=0 if recipe.unknown else min(worst.values(), default=None),
        at_best=0 if recipe.unknown else min(best.values(), default=None),
        rests_on=() if recipe.unknown else _deciding(rough, pieces, limits, worst, best),
        unknown=recipe.unknown,
        with_allowance=with_allowance,
    )


def _deciding(
    rough: Iterable[int],
    pieces: int | None,
    limits: Mapping[int, int],
    worst: Mapping[int, int],
    best: Mapping[int, int],
) -> tuple[int, ...]:
    """The rough counts that could move the answer: down each by itself, up those that limit it, if they all may."""
    at_best = min(best.values(), default=None)
    could_rise = pieces is not None and (at_best is None or at_best > pieces)
    deciding = []
    for item in rough:
        if pieces is None:
            falls = True
        elif item in worst:
            falls = worst[item] < pieces
        else:
            # Plenty was said and no figure: an exact count could be anything.
            falls = pieces > 0
        if falls or (could_rise and limits.get(item) == pieces):
            deciding.append(item)
    return tuple(deciding)


def _next_needs(draws: Draws, have: Mapping[int, Stock], pieces: int) -> tuple[Missing, ...]:
    needs = []
    for item, each in draws.items():
        stock = stock_of(have, item)
        if stock.free_milli is not None:
            lacking = steps_taken(each, pieces) * stock.step_milli - stock.free_milli
            if lacking > 0:
                needs.append(Missing(item, lacking, stock.is_rough))
    return tuple(needs)
