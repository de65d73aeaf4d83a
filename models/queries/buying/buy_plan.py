"""The cheapest packs for what is needed, with what they leave over and what one supplier alone would cost.

What is read from the shop and what is searched for are two steps: nothing of the shop is held open while the search
runs. The search itself stands in `models/planning/packs`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from typing import NamedTuple

from sqlmodel import Session

from models.planning.offers import Offer, PackLine, Supplier
from models.planning.packs import BuyPlan, NoPacksYet, PackRequest, buy_packs
from models.planning.solver import NO_ANSWER, Search, SolverFailed
from models.queries.buying.market import planning_offers
from models.queries.buying.needs import NeedRow, needs
from models.queries.stock.item_words import item_words
from models.queries.stock.material import ItemWords

SEARCH_SECONDS = 3
"""How long a page looks for the cheapest packs. A choice of ours, no source."""


@dataclass(frozen=True, slots=True)
class BuyAsked:
    """What is needed beyond stock, by item in thousandths, and everything that is offered of it."""

    wanted: Mapping[int, int]
    offers: tuple[Offer, ...]
    suppliers: tuple[Supplier, ...]
    words: Mapping[int, ItemWords]
    rows: tuple[NeedRow, ...] = ()
    lead_days: int | None = None


@dataclass(frozen=True, slots=True)
class PackRow:
    """Packs of one offer in an order, with what they bring beyond the need."""

    words: ItemWords
    line: PackLine
    lead_days: int | None

    @property
    def offer_id(self) -> int:
        """The offer's number."""
        return int(self.line.offer.key)


@dataclass(frozen=True, slots=True)
class OrderRow:
    """What is bought of one supplier; `lead_days` is the longest that any of it takes, None when nobody knows."""

    supplier: Supplier
    lines: tuple[PackRow, ...]
    goods_micros: int
    postage_micros: int
    total_micros: int
    lead_days: int | None

    @property
    def supplier_id(self) -> int | None:
        """The supplier's number; None for offers of nobody named."""
        return int(self.supplier.key) or None

    @property
    def supplier_name(self) -> str:
        """The supplier's name; empty for nobody named."""
        return self.supplier.name if self.supplier_id is not None else ""


@dataclass(frozen=True, slots=True)
class LeftOver:
    """What the packs bring beyond what is needed, in thousandths."""

    words: ItemWords
    needed_milli: int
    arriving_milli: int
    left_over_milli: int


@dataclass(frozen=True, slots=True)
class AloneRow:
    """What everything from one supplier would cost; `lacking` are the items that it can't send enough of."""

    supplier: Supplier
    total_micros: int | None
    lacking: tuple[ItemWords, ...]


class NotCovered(NamedTuple):
    """So many thousandths of an item that nobody offers, or not enough of."""

    words: ItemWords
    milli: int


@dataclass(frozen=True, slots=True)
class BuyAnswer:
    """What to buy where. Without `orders` nothing is needed, or nobody offers it, or no packs were found in time.

    `gap` is how far it may be above the cheapest there is: 0 is proven cheapest. `unpriced` are needed items that
    nobody offers, `short` those that the offers do not cover wholly, `late` those whose offers come too late.
    """

    orders: tuple[OrderRow, ...] = ()
    total_micros: int = 0
    bound_micros: int = 0
    gap: Decimal = Decimal(0)
    stopped: str = ""
    seconds: float = 0.0
    left_over: tuple[LeftOver, ...] = ()
    alone: tuple[AloneRow, ...] = ()
    saved_micros: int | None = None
    cheapest_alone: Supplier | None = None
    unpriced: tuple[NotCovered, ...] = ()
    short: tuple[NotCovered, ...] = ()
    late: tuple[tuple[ItemWords, str, int | None], ...] = ()
    out_of_reach: tuple[Supplier, ...] = ()
    troubles: tuple[str, ...] = field(default=())

    @property
    def not_covered(self) -> tuple[NotCovered, ...]:
        """What no packs bring, or not enough of."""
        return (*self.unpriced, *self.short)

    @property
    def proven(self) -> bool:
        """Whether nothing can be cheaper."""
        return not self.stopped and not self.troubles and self.gap == 0

    @property
    def message(self) -> str:
        """In words why there are no packs; empty where there are, or where none are needed."""
        if self.troubles:
            return " ".join(self.troubles)
        return "The search was stopped before it found packs." if self.stopped and not self.orders else ""

    @property
    def late_words(self) -> tuple[str, ...]:
        """The items that come too late, each with its supplier."""
        return tuple(f"{words.name}, {supplier}" for words, supplier, _ in self.late)

    @property
    def packs(self) -> int:
        """How many packs that is."""
        return sum(row.line.packs for order in self.orders for row in order.lines)


def ask_shop(session: Session, *, lead_days: int | None = None) -> BuyAsked:
    """What the whole shop needs, with what is offered of it."""
    rows = needs(session)
    wanted = {row.item.id: row.wanted_milli for row in rows if row.wanted_milli}
    return ask(session, wanted, rows=rows, lead_days=lead_days)


def ask(
    session: Session, wanted: Mapping[int, int], *, rows: tuple[NeedRow, ...] = (), lead_days: int | None = None
) -> BuyAsked:
    """These needs, by item in thousandths beyond stock, with what is offered of them."""
    offers, suppliers = planning_offers(session, wanted)
    return BuyAsked(wanted, offers, suppliers, item_words(session, wanted), rows, lead_days)


def answer(asked: BuyAsked, search: Search | None = None) -> BuyAnswer:
    """The cheapest packs for what was asked, or in `troubles` why there are none; reads nothing of the shop."""
    offered = {offer.item for offer in asked.offers}
    unpriced = tuple(
        NotCovered(asked.words[item], milli) for item, milli in asked.wanted.items() if item not in offered
    )
    wanted = {item: milli for item, milli in asked.wanted.items() if item in offered}
    if not wanted:
        return BuyAnswer(unpriced=unpriced)
    question = PackRequest(wanted, asked.offers, asked.suppliers, asked.lead_days)
    try:
        found = buy_packs(question, search or Search(time_limit_s=SEARCH_SECONDS))
    except SolverFailed:
        return BuyAnswer(unpriced=unpriced, stopped="failed", troubles=(f"{NO_ANSWER} Ask again, or for fewer needs.",))
    if isinstance(found, NoPacksYet):
        return BuyAnswer(
            unpriced=unpriced, bound_micros=found.bound_micros, stopped=found.stopped or "time", seconds=found.seconds
        )
    if isinstance(found, tuple):
        return BuyAnswer(unpriced=unpriced, troubles=tuple(trouble.message for trouble in found))
    return _shown(asked, found, unpriced)


def _shown(asked: BuyAsked, plan: BuyPlan, unpriced: tuple[NotCovered, ...]) -> BuyAnswer:
    alone = plan.cheapest_alone
    return BuyAnswer(
        orders=tuple(
            OrderRow(
                supplier=order.supplier,
                lines=tuple(
                    PackRow(asked.words[line.offer.item], line, _days(line.offer, order.supplier))
                    for line in order.lines
                ),
                goods_micros=order.goods_micros,
                postage_micros=order.postage_micros,
                total_micros=order.total_micros,
                lead_days=_slowest([_days(line.offer, order.supplier) for line in order.lines]),
            )
            for order in plan.orders
        ),
        total_micros=plan.total_micros,
        bound_micros=plan.bound_micros,
        gap=plan.gap,
        stopped=plan.stopped,
        seconds=plan.seconds,
        left_over=tuple(
            LeftOver(asked.words[each.item], each.needed_milli, each.arriving_milli, each.left_over_milli)
            for each in plan.covered
        ),
        alone=tuple(
            AloneRow(
                each.supplier,
                each.order.total_micros if each.order else None,
                tuple(asked.words[item] for item in each.lacking),
            )
            for each in plan.alone
        ),
        saved_micros=plan.saved_micros,
        cheapest_alone=alone.supplier if alone else None,
        unpriced=unpriced,
        short=tuple(NotCovered(asked.words[item], milli) for item, milli in plan.not_covered.items()),
        late=tuple((asked.words[each.offer.item], _called(asked, each.offer), each.lead_days) for each in plan.late),
        out_of_reach=plan.out_of_reach,
    )


def _days(offer: Offer, supplier: Supplier) -> int | None:
    return supplier.lead_days if offer.lead_days is None else offer.lead_days


def _slowest(days: list[int | None]) -> int | None:
    known = [each for each in days if each is not None]
    return max(known) if len(known) == len(days) else None


def _called(asked: BuyAsked, offer: Offer) -> str:
    return next((each.called for each in asked.suppliers if each.key == offer.supplier), offer.supplier)
