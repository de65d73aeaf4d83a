"""Offers of whole packs: what they cost with price breaks, postage and minimum orders, and how a programme buys them.

All money is in whole millionths of the shop's own currency; whoever asks has turned other currencies into it and pack
sizes into thousandths of the item's own unit. Which packs are best is decided in `packs` and `mix`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

from models.planning.solver import Programme
from models.planning.troubles import Trouble


@dataclass(frozen=True, slots=True)
class Break:
    """From so many packs on, each pack of the order costs this."""

    from_packs: int
    price_micros: int


@dataclass(frozen=True, slots=True)
class Offer:
    """What a supplier asks for one pack of an item; `breaks` lower the price of all packs from a number on.

    `lead_days` None takes the supplier's. `most_packs` is all that the supplier has.
    """

    key: str
    item: int
    supplier: str
    pack_milli: int
    price_micros: int
    breaks: tuple[Break, ...] = ()
    lead_days: int | None = None
    most_packs: int | None = None
    name: str = ""

    def price_of(self, packs: int) -> int:
        """Return what one pack costs when so many are bought."""
        price = self.price_micros
        for each in self.breaks:
            if packs >= each.from_packs:
                price = each.price_micros
        return price

    @property
    def lowest_micros(self) -> int:
        """What a pack costs at the least."""
        return min([self.price_micros, *(each.price_micros for each in self.breaks)])


@dataclass(frozen=True, slots=True)
class Supplier:
    """Somebody who sends packs, with the postage of an order.

    Postage is free from a sum of goods on; an order whose goods are below the minimum is refused.
    """

    key: str
    name: str = ""
    postage_micros: int = 0
    free_from_micros: int | None = None
    minimum_micros: int = 0
    lead_days: int | None = None

    @property
    def called(self) -> str:
        """Its name in a message."""
        return self.name or self.key

    @property
    def has_terms(self) -> bool:
        """Whether an order as a whole costs or needs anything."""
        return bool(self.postage_micros or self.minimum_micros)


@dataclass(frozen=True, slots=True)
class PackLine:
    """Packs of one offer, at the price that so many of them have."""

    offer: Offer
    packs: int
    price_micros: int

    @property
    def milli(self) -> int:
        """How much of the item arrives."""
        return self.packs * self.offer.pack_milli

    @property
    def amount_micros(self) -> int:
        """What they cost."""
        return self.packs * self.price_micros


@dataclass(frozen=True, slots=True)
class SupplierOrder:
    """What is bought of one supplier, and its postage."""

    supplier: Supplier
    lines: tuple[PackLine, ...]
    postage_micros: int

    @property
    def goods_micros(self) -> int:
        """What the packs cost together."""
        return sum(line.amount_micros for line in self.lines)

    @property
    def total_micros(self) -> int:
        """What the order costs with its postage."""
        return self.goods_micros + self.postage_micros

    @property
    def too_small(self) -> bool:
        """Whether the supplier would refuse it as below the minimum."""
        return self.goods_micros < self.supplier.minimum_micros


@dataclass(frozen=True, slots=True)
class Late:
    """An offer that was left out: it comes too late, or nobody knows when."""

    offer: Offer
    lead_days: int | None


def orders_of(
    packs: Mapping[str, int], offers: Iterable[Offer], suppliers: Mapping[str, Supplier]
) -> tuple[SupplierOrder, ...]:
    """Return the orders that so many packs of each offer (by its key) make, exactly, by supplier as first met."""
    lines: dict[str, list[PackLine]] = {}
    for offer in offers:
        count = packs.get(offer.key, 0)
        if count:
            lines.setdefault(offer.supplier, []).append(PackLine(offer, count, offer.price_of(count)))
    orders = []
    for key, each in lines.items():
        supplier = suppliers.get(key) or Supplier(key)
        goods = sum(line.amount_micros for line in each)
        free = supplier.free_from_micros is not None and goods >= supplier.free_from_micros
        orders.append(SupplierOrder(supplier, tuple(each), 0 if free else supplier.postage_micros))
    return tuple(orders)


def arriving_milli(orders: Iterable[SupplierOrder]) -> dict[int, int]:
    """Return what orders bring, by item in thousandths of its unit."""
    arriving: dict[int, int] = {}
    for order in orders:
        for line in order.lines:
            arriving[line.offer.item] = arriving.get(line.offer.item, 0) + line.milli
    return arriving


def in_time(
    offers: Iterable[Offer], suppliers: Mapping[str, Supplier], lead_days: int | None
) -> tuple[tuple[Offer, ...], tuple[Late, ...]]:
    """Return the offers that arrive within so many days, and those that do not or of which nobody knows."""
    kept, late = [], []
    for offer in offers:
        supplier = suppliers.get(offer.supplier)
        days = offer.lead_days if offer.lead_days is not None else supplier.lead_days if supplier else None
        if lead_days is None or (days is not None and days <= lead_days):
            kept.append(offer)
        else:
            late.append(Late(offer, days))
    return tuple(kept), tuple(late)


def most_milli(offers: Iterable[Offer]) -> int | None:
    """Return the most that offers of one item can bring, in thousandths; None where there is no end to it."""
    total = 0
    for offer in offers:
        if offer.most_packs is None:
            return None
        total += offer.most_packs * offer.pack_milli
    return total


def within_reach(
    offers: Iterable[Offer], suppliers: Mapping[str, Supplier]
) -> tuple[tuple[Offer, ...], tuple[Supplier, ...]]:
    """Return the offers whose supplier's smallest order can be reached with them, and the suppliers where it can't."""
    offers = tuple(offers)
    dearest: dict[str, int | None] = {}
    for offer in offers:
        most = _dearest_micros(offer)
        so_far = dearest.get(offer.supplier, 0)
        dearest[offer.supplier] = None if most is None or so_far is None else so_far + most
    out = {
        key: suppliers[key]
        for key, most in dearest.items()
        if key in suppliers and most is not None and most < suppliers[key].minimum_micros
    }
    return tuple(offer for offer in offers if offer.supplier not in out), tuple(out.values())


def _dearest_micros(offer: Offer) -> int | None:
    """The most that one can spend on an offer; None where there is no end to it."""
    last = max((each.from_packs for each in offer.breaks), default=1)
    if offer.most_packs is None and offer.price_of(last):
        return None
    most = last if offer.most_packs is None else offer.most_packs
    ends = [most, *(min(each.from_packs - 1, most) for each in offer.breaks)]
    return max(packs * offer.price_of(packs) for packs in ends)


def offer_troubles(offers: Sequence[Offer], suppliers: Iterable[Supplier]) -> list[Trouble]:
    """Return what is wrong with offers and suppliers; fields are `offers.KEY.…` and `suppliers.KEY.…`."""
    troubles = []
    seen: set[str] = set()
    for offer in offers:
        at = f"offers.{offer.key}"
        if offer.key in seen:
            troubles.append(Trouble(at, "This offer is there twice. Leave one out."))
        seen.add(offer.key)
        if offer.pack_milli < 1:
            troubles.append(Trouble(f"{at}.pack", "A pack holds something. Type how much is in one."))
        if offer.price_micros < 0 or any(each.price_micros < 0 for each in offer.breaks):
            troubles.append(Trouble(f"{at}.price", "A price is zero or more."))
        if offer.lead_days is not None and offer.lead_days < 0:
            troubles.append(Trouble(f"{at}.lead_days", "A delivery takes no days or more."))
        if offer.most_packs is not None and offer.most_packs < 0:
            troubles.append(Trouble(f"{at}.most_packs", "The packs to be had are none or more."))
        troubles += break_troubles(f"{at}.breaks", offer.breaks)
    for supplier in suppliers:
        at = f"suppliers.{supplier.key}"
        if supplier.postage_micros < 0:
            troubles.append(Trouble(f"{at}.postage", "Postage is zero or more."))
        if supplier.minimum_micros < 0:
            troubles.append(Trouble(f"{at}.minimum", "The smallest order is zero or more."))
        if supplier.free_from_micros is not None and supplier.free_from_micros < 0:
            troubles.append(Trouble(f"{at}.free_from", "The sum from which postage is free is zero or more."))
        if supplier.lead_days is not None and supplier.lead_days < 0:
            troubles.append(Trouble(f"{at}.lead_days", "A delivery takes no days or more."))
    return troubles


def break_troubles(at: str, breaks: Sequence[Break]) -> list[Trouble]:
    """Return what is wrong with where price breaks begin."""
    starts = [1, *(each.from_packs for each in breaks)]
    if all(later > earlier for earlier, later in pairwise(starts)):
        return []
    return [Trouble(at, "Price breaks begin at 2 packs or more and each at more than the one before.")]


class Basket:
    """The packs that a programme may buy, as columns and rows of it.

    `useful_milli` is by item the most of it that could be needed: packs beyond it only reach a price break, a smallest
    order or free postage. `budget_micros` bounds them too where there is one.
    """

    def __init__(
        self,
        programme: Programme,
        offers: Iterable[Offer],
        suppliers: Mapping[str, Supplier],
        useful_milli: Mapping[int, int],
        *,
        budget_micros: int | None = None,
    ) -> None:
        self._programme = programme
        self.packs: dict[str, list[int]] = {}
        self.cost: dict[int, int] = {}
        self._arriving: dict[int, dict[int, int]] = {}
        self._tiers: dict[str, list[tuple[int, int, int | None]]] = {}
        self._ordered: list[tuple[int, int | None, int, tuple[int, ...]]] = []
        by_supplier: dict[str, list[tuple[Offer, list[int], int]]] = {}
        for offer in offers:
            supplier = suppliers.get(offer.supplier) or Supplier(offer.supplier)
            most = _most_packs(offer, supplier, useful_milli.get(offer.item, 0), budget_micros)
            if most:
                columns = self._columns(offer, most)
                by_supplier.setdefault(offer.supplier, []).append((offer, columns, most))
        for key, bought in by_supplier.items():
            supplier = suppliers.get(key) or Supplier(key)
            if supplier.has_terms:
                self._terms(supplier, bought)

    def arriving(self, item: int) -> dict[int, int]:
        """Return how many thousandths of an item one of each column brings."""
        return self._arriving.get(item, {})

    def bought(self, values: Sequence[int]) -> dict[str, int]:
        """Return the packs of each offer that a solution buys, by the offer's key."""
        counts = {key: sum(values[column] for column in columns) for key, columns in self.packs.items()}
        return {key: count for key, count in counts.items() if count}

    def values_for(self, packs: Mapping[str, int]) -> dict[int, int]:
        """Return the columns that so many packs of each offer set, those of price breaks and postage too."""
        values = {}
        for key, count in packs.items():
            for start, column, used in reversed(self._tiers.get(key, ())):
                if start <= count:
                    values[column] = count
                    if used is not None:
                        values[used] = 1
                    break
        for ordered, free, free_from, columns in self._ordered:
            goods = sum(self.cost[column] * values.get(column, 0) for column in columns)
            if any(values.get(column) for column in columns):
                values[ordered] = 1
                if free is not None and goods >= free_from:
                    values[free] = 1
        return values

    def _columns(self, offer: Offer, most: int) -> list[int]:
        """One column for each price of an offer; with several, at most one of them is used, within its own range."""
        prices = [(1, offer.price_micros), *((each.from_packs, each.price_micros) for each in offer.breaks)]
        prices = [(start, price) for start, price in prices if start <= most]
        columns = []
        chosen = {}
        tiers = self._tiers[offer.key] = []
        for (start, price), following in zip(prices, [*prices[1:], None], strict=True):
            end = following[0] - 1 if following else most
            column = self._programme.column(end)
            columns.append(column)
            self.cost[column] = price
            self._arriving.setdefault(offer.item, {})[column] = offer.pack_milli
            used = None
            if len(prices) > 1:
                used = self._programme.column(1)
                self._programme.row({column: 1, used: -end}, high=0)
                self._programme.row({column: 1, used: -start}, low=0)
                chosen[used] = 1
            tiers.append((start, column, used))
        if chosen:
            self._programme.row(chosen, high=1)
        self.packs[offer.key] = columns
        return columns

    def _terms(self, supplier: Supplier, bought: Sequence[tuple[Offer, list[int], int]]) -> None:
        """Postage, free from a sum on, and the smallest order: for an order as a whole, if there is one."""
        programme = self._programme
        ordered = programme.column(1)
        goods = {}
        for _, columns, most in bought:
            programme.row({**dict.fromkeys(columns, 1), ordered: -most}, high=0)
            goods.update({column: self.cost[column] for column in columns})
        if supplier.minimum_micros:
            programme.row({**goods, ordered: -supplier.minimum_micros}, low=0)
        free = None
        if supplier.postage_micros:
            self.cost[ordered] = supplier.postage_micros
            if supplier.free_from_micros is not None:
                free = programme.column(1)
                self.cost[free] = -supplier.postage_micros
                programme.row({free: 1, ordered: -1}, high=0)
                programme.row({**goods, free: -supplier.free_from_micros}, low=0)
        self._ordered.append((ordered, free, supplier.free_from_micros or 0, tuple(goods)))


def _most_packs(offer: Offer, supplier: Supplier, useful_milli: int, budget_micros: int | None) -> int:
    """The packs beyond which one fewer is always as good: enough of the item, and every threshold reached anyway."""
    if useful_milli <= 0 and not supplier.has_terms:
        return 0
    packs = [max(-(-useful_milli // offer.pack_milli), 0), *(each.from_packs for each in offer.breaks)]
    if offer.lowest_micros:
        goods = max(supplier.minimum_micros, supplier.free_from_micros or 0)
        packs.append(-(-goods // offer.lowest_micros))
    most = max(packs)
    if budget_micros is not None and offer.lowest_micros:
        most = min(most, budget_micros // offer.lowest_micros)
    return most if offer.most_packs is None else min(most, offer.most_packs)
