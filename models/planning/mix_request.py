"""What to make with hours, stock and money: the question, and what is wrong with it before any search.

Wishes that contradict each other on their face are troubles; wishes that stock, hours or money can't meet are an answer
(`mix_wishes`). All money is in whole millionths, times in whole seconds, quantities in thousandths of an item's unit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Literal

from models.planning.offers import Offer, Supplier, in_time, offer_troubles
from models.planning.recipes import Draws, Recipe, Stock, draws_of, most_pieces, steps_taken, stock_of
from models.planning.troubles import Trouble
from models.trade.vocabulary.plans import Goal

Give = Literal["", "pieces", "hours", "money", "keep_back"]
"""What gives way in a search for the wishes that can't be met; nothing in a plan."""


@dataclass(frozen=True, slots=True)
class MixDesign:
    """One design that may be made: the seconds and the money of each piece, and how many are wished.

    `design` is shared by the choices of one design, which count once among the different designs.
    """

    recipe: Recipe
    seconds: int
    profit_micros: int
    sales_micros: int = 0
    at_least: int = 0
    at_most: int | None = None
    design: str = ""

    @property
    def key(self) -> str:
        """The key of its recipe."""
        return self.recipe.key

    @property
    def counts_as(self) -> str:
        """The design as which it counts among the different ones."""
        return self.design or self.recipe.key

    def worth(self, goal: Goal) -> int:
        """What one piece brings towards a goal: millionths, or one piece."""
        return {"profit": self.profit_micros, "sales": self.sales_micros, "pieces": 1}[goal]


@dataclass(frozen=True, slots=True)
class MixRequest:
    """What is asked: the best mix of designs for a goal, within hours, stock and money.

    `seconds` None sets no limit of time. `keep_back` stays in stock as far as it is there; what is bought may all be
    used. `different` is the least number of different designs. `spend_micros` buys whole packs of what some design
    takes, with their postage, leaving out what comes later than `lead_days`.
    """

    designs: Sequence[MixDesign]
    stock: Mapping[int, Stock]
    goal: Goal = "profit"
    seconds: int | None = None
    keep_back: Mapping[int, int] = field(default_factory=dict)
    different: int = 0
    spend_micros: int = 0
    offers: Sequence[Offer] = ()
    suppliers: Sequence[Supplier] = ()
    lead_days: int | None = None
    with_allowance: bool = True

    @property
    def supplier_by_key(self) -> dict[str, Supplier]:
        """The suppliers by key."""
        return {each.key: each for each in self.suppliers}

    @property
    def timely(self) -> tuple[Offer, ...]:
        """The offers of things that some design takes, as far as they arrive in time."""
        used = {line.item for each in self.designs for line in each.recipe.lines}
        offers, _ = in_time(self.offers, self.supplier_by_key, self.lead_days)
        return tuple(offer for offer in offers if offer.item in used)

    def draws(self) -> dict[str, Draws]:
        """What a piece of each design takes, by its key."""
        return {
            each.key: draws_of(each.recipe, self.stock, with_allowance=self.with_allowance) for each in self.designs
        }

    def usable_milli(self, item: int, *, kept: bool = True) -> int | None:
        """Return how much of an item's free stock may be used; None where there is plenty."""
        free = stock_of(self.stock, item).free_milli
        if free is None:
            return None
        return max(free - (self.keep_back.get(item, 0) if kept else 0), 0)


def most_of_each(question: MixRequest, draws: Mapping[str, Draws], give: Give = "") -> dict[str, int | None]:
    """Return how many of each design could be made at the most if nothing else were; None where nothing limits it.

    What gives way does not limit. While a wish is sought that can't be met, more than the wished pieces are of no use.
    """
    buyable = _buyable_milli(question, without_limit=give == "money")
    found: dict[str, int | None] = {}
    for each in question.designs:
        limits = [] if each.at_most is None else [each.at_most]
        if each.recipe.unknown:
            limits.append(0)
        if question.seconds is not None and each.seconds and give != "hours":
            limits.append(question.seconds // each.seconds)
        for item, lines in draws[each.key].items():
            usable, bought = question.usable_milli(item, kept=give != "keep_back"), buyable.get(item, 0)
            if usable is not None and bought is not None:
                limits.append(most_pieces(lines, (usable + bought) // stock_of(question.stock, item).step_milli))
        if give:
            limits.append(max(each.at_least, 1 if question.different else 0))
        found[each.key] = min(limits, default=None)
    return found


def useful_milli(question: MixRequest, draws: Mapping[str, Draws], most: Mapping[str, int]) -> dict[int, int]:
    """Return how much of each item could be bought and used at the most, were every design made as often as it can."""
    useful: dict[int, int] = {}
    for key, by_item in draws.items():
        for item, lines in by_item.items():
            step = stock_of(question.stock, item).step_milli
            useful[item] = useful.get(item, 0) + steps_taken(lines, most[key]) * step
    usable = {item: question.usable_milli(item) for item in useful}
    return {item: 0 if (there := usable[item]) is None else max(milli - there, 0) for item, milli in useful.items()}


def _buyable_milli(question: MixRequest, *, without_limit: bool) -> dict[int, int | None]:
    """How much of each item money could buy if all of it went there; None where there is no end to it."""
    buyable: dict[int, int | None] = {}
    for offer in question.timely:
        packs = offer.most_packs
        if offer.lowest_micros and not without_limit:
            affordable = question.spend_micros // offer.lowest_micros
            packs = affordable if packs is None else min(packs, affordable)
        so_far = buyable.get(offer.item, 0)
        buyable[offer.item] = None if packs is None or so_far is None else so_far + packs * offer.pack_milli
    return buyable


def mix_troubles(question: MixRequest) -> tuple[Trouble, ...]:
    """Return what is wrong with a question, each beside its field (`designs.KEY.at_least`, `hours`, `spend` …)."""
    troubles = [*_design_troubles(question.designs)]
    if question.seconds is not None and question.seconds <= 0:
        message = "No hours make nothing. Type the hours you have, or leave them empty for no limit."
        troubles.append(Trouble("hours", message))
    if question.spend_micros < 0:
        troubles.append(Trouble("spend", "The money to spend on packs is zero or more."))
    if question.lead_days is not None and question.lead_days < 0:
        troubles.append(Trouble("lead_days", "The days that a delivery may take are zero or more."))
    for item, milli in question.keep_back.items():
        if milli < 0:
            name = stock_of(question.stock, item).called
            troubles.append(Trouble(f"keep_back.{item}", f"What is kept back of {name} is zero or more."))
    can_be = {each.counts_as for each in question.designs if each.at_most != 0}
    if question.different < 0:
        troubles.append(Trouble("different", "The number of different designs is zero or more."))
    elif question.different > len(can_be):
        message = f"You want {question.different} different designs, but only {len(can_be)} may be made."
        troubles.append(Trouble("different", message))
    troubles += offer_troubles(question.offers, question.suppliers)
    return tuple(troubles) or _endless(question)


def _design_troubles(designs: Sequence[MixDesign]) -> Iterable[Trouble]:
    if not designs:
        yield Trouble("designs", "Pick at least one design.")
    seen: set[str] = set()
    for each in designs:
        at, name = f"designs.{each.key}", each.recipe.name
        if each.key in seen:
            yield Trouble(at, f"{name} is there twice. Leave one out.")
        seen.add(each.key)
        if each.seconds < 0:
            yield Trouble(f"{at}.minutes", f"The time that {name} takes is zero or more.")
        if each.at_least < 0:
            yield Trouble(f"{at}.at_least", f"At least so many of {name}: type none or more.")
        if each.at_most is not None and each.at_most < 0:
            yield Trouble(f"{at}.at_most", f"At most so many of {name}: type none or more, or leave it empty.")
        elif each.at_most is not None and each.at_least > each.at_most:
            message = f"At least {each.at_least} and at most {each.at_most} of {name} contradict each other."
            yield Trouble(f"{at}.at_least", message)


def _endless(question: MixRequest) -> tuple[Trouble, ...]:
    """The designs that nothing limits: neither hours nor stock nor a wish."""
    most = most_of_each(question, question.draws())
    return tuple(
        Trouble(
            f"designs.{each.key}.at_most",
            f"Nothing limits how many of {each.recipe.name} can be made. Type the most you want, or your hours.",
        )
        for each in question.designs
        if most[each.key] is None
    )
