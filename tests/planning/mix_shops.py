"""Small random questions for the best mix, and the plain search through every mix that answers them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from decimal import Decimal
from itertools import product

from hypothesis import strategies as st

from models.planning.mix_request import MixDesign, MixRequest
from models.planning.offers import Offer, Supplier
from models.planning.recipes import Recipe, RecipeLine, Stock
from tests.planning.small_shops import lines, needs_by_hand

ITEMS = (1, 2, 3)
CENT = 10_000
MOST_PACKS = 3
MOST_PIECES = 4


@st.composite
def mix_designs(draw: st.DrawFn, number: int, *, wishes: bool) -> MixDesign:
    recipe = Recipe(f"d{number}", f"Design {number}", draw(lines(ITEMS, most=3)))
    at_most = draw(st.integers(0, MOST_PIECES))
    return MixDesign(
        recipe,
        seconds=draw(st.integers(0, 6)) * 600,
        profit_micros=draw(st.integers(-3, 30)) * draw(st.sampled_from([CENT, 333_333])),
        sales_micros=draw(st.integers(0, 40)) * CENT,
        at_least=draw(st.integers(0, at_most)) if wishes and draw(st.booleans()) else 0,
        at_most=at_most,
        design=f"family {number % 2}" if draw(st.booleans()) else "",
    )


@st.composite
def mix_requests(draw: st.DrawFn, *, wishes: bool = False, buying: bool = True) -> MixRequest:
    designs = [draw(mix_designs(number, wishes=wishes)) for number in range(draw(st.integers(1, 3)))]
    free = {item: draw(st.integers(0, 20)) * 1000 for item in ITEMS}
    offers = [
        Offer(f"o{number}", draw(st.sampled_from(ITEMS)), draw(st.sampled_from(["a", "b"])),
              draw(st.integers(1, 8)) * 1000, draw(st.integers(1, 9)) * CENT, most_packs=draw(st.integers(0, MOST_PACKS)))
        for number in range(draw(st.integers(0, 2)) if buying else 0)
    ]  # fmt: skip
    suppliers = [
        Supplier(
            "a", postage_micros=draw(st.integers(0, 4)) * CENT, minimum_micros=draw(st.sampled_from([0, 6 * CENT]))
        ),
        Supplier(
            "b", postage_micros=draw(st.integers(0, 4)) * CENT, free_from_micros=draw(st.none() | st.just(9 * CENT))
        ),
    ]
    may_be = {each.counts_as for each in designs if each.at_most}
    return MixRequest(
        designs,
        {item: Stock(item, milli, name=f"ring {item}") for item, milli in free.items() if milli or draw(st.booleans())},
        goal=draw(st.sampled_from(["profit", "sales", "pieces"])),
        seconds=draw(st.none() | st.integers(1, 30).map(lambda tens: tens * 600)),
        keep_back={item: draw(st.integers(0, 6)) * 1000 for item in ITEMS if draw(st.booleans())},
        different=draw(st.integers(0, len(may_be))) if wishes else 0,
        spend_micros=draw(st.integers(0, 30)) * CENT,
        offers=offers,
        suppliers=suppliers,
        with_allowance=draw(st.booleans()),
    )


@st.composite
def tight_requests(draw: st.DrawFn) -> MixRequest:
    """Questions where the allowance of every line is a fraction and few rings are there, so that rounding up decides."""
    designs = []
    for number in range(draw(st.integers(2, 4))):
        parts = tuple(
            RecipeLine(
                draw(st.sampled_from(ITEMS[:2])),
                draw(st.integers(1, 3)) * 1000,
                Decimal(draw(st.sampled_from(["0.03", "0.1", "0.25", "0.4"]))),
            )
            for _ in range(draw(st.integers(1, 2)))
        )
        profit = draw(st.integers(5, 30)) * CENT
        at_most = draw(st.integers(1, MOST_PIECES))
        at_least = draw(st.sampled_from([0, 0, 1]))
        designs.append(
            MixDesign(Recipe(f"d{number}", f"Design {number}", parts), 600, profit, profit, at_least, at_most)
        )
    stock = {item: Stock(item, draw(st.integers(3, 14)) * 1000, name=f"ring {item}") for item in ITEMS}
    kept = {item: draw(st.integers(0, 4)) * 1000 for item in ITEMS}
    offers = [Offer("o", 1, "a", 2000, 3 * CENT, most_packs=draw(st.integers(0, 2)))]
    return MixRequest(
        designs,
        stock,
        keep_back=kept,
        spend_micros=draw(st.integers(0, 6)) * CENT,
        offers=offers,
        suppliers=[Supplier("a")],
    )


def every_mix(question: MixRequest) -> Iterator[dict[str, int]]:
    """Every number of pieces of every design up to the most wished."""
    for counts in product(*(range((each.at_most or 0) + 1) for each in question.designs)):
        yield {each.key: count for each, count in zip(question.designs, counts, strict=True)}


def every_basket(question: MixRequest) -> list[tuple[int, dict[int, int]]]:
    """Every set of packs that suppliers send: what it costs with postage, and what arrives of each item."""
    terms = {each.key: each for each in question.suppliers}
    taken = {line.item for each in question.designs for line in each.recipe.lines}
    offers = [offer for offer in question.offers if offer.item in taken]
    baskets = []
    for counts in product(*(range((each.most_packs or 0) + 1) for each in offers)):
        cost, arriving, refused = 0, dict.fromkeys(ITEMS, 0), False
        for key, supplier in terms.items():
            own = [(offer, n) for offer, n in zip(offers, counts, strict=True) if n and offer.supplier == key]
            goods = sum(offer.price_micros * n for offer, n in own)
            refused = refused or (bool(own) and goods < supplier.minimum_micros)
            free = supplier.free_from_micros is not None and goods >= supplier.free_from_micros
            cost += goods + (supplier.postage_micros if own and not free else 0)
            for offer, n in own:
                arriving[offer.item] += offer.pack_milli * n
        if not refused:
            baskets.append((cost, arriving))
    return baskets


def stock_excess(
    question: MixRequest, mix: Mapping[str, int], arriving: Mapping[int, int], *, kept: bool = True
) -> int:
    """How many thousandths of all items a mix takes beyond what may be used and what arrives."""
    needs = dict.fromkeys(ITEMS, 0)
    for each in question.designs:
        by_hand = needs_by_hand(each.recipe, mix[each.key], dict(question.stock), question.with_allowance)
        for item, milli in by_hand.items():
            needs[item] += milli
    excess = 0
    for item, need in needs.items():
        free = question.stock[item].free_milli if item in question.stock else 0
        usable = max((free or 0) - (question.keep_back.get(item, 0) if kept else 0), 0)
        excess += max(need - usable - arriving.get(item, 0), 0)
    return excess


def seconds_of(question: MixRequest, mix: Mapping[str, int]) -> int:
    return sum(each.seconds * mix[each.key] for each in question.designs)


def worth_of(question: MixRequest, mix: Mapping[str, int]) -> int:
    return sum(
        {"profit": each.profit_micros, "sales": each.sales_micros, "pieces": 1}[question.goal] * mix[each.key]
        for each in question.designs
    )


def pieces_missing(question: MixRequest, mix: Mapping[str, int]) -> int:
    """How many wished pieces and designs a mix lacks."""
    made = {each.counts_as for each in question.designs if mix[each.key]}
    lacking = sum(max(each.at_least - mix[each.key], 0) for each in question.designs)
    return lacking + max(question.different - len(made), 0)
