"""The answer to a question of the best mix, as it is kept and read again: pieces, rings by lot, packs, and the proof.

What the planning room found becomes JSON text here and plain values again; nothing is searched.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from sqlmodel import Session

from models.kept import KeptDocument
from models.planning.mix import ItemUse, MixPlan, NoPlanYet
from models.planning.mix_limits import Limits
from models.planning.mix_wishes import Unmeetable
from models.planning.offers import Late, SupplierOrder
from models.planning.recipes import stock_of
from models.planning.solver import gap_between
from models.queries.planning.question import Asked
from models.queries.stock.bag_choice import from_bags
from models.queries.stock.item_words import item_words
from models.queries.stock.lot import LotView, lots_of
from models.queries.stock.material import ItemWords
from models.trade import lots as trade


@dataclass(frozen=True, slots=True)
class PlanLine:
    """Pieces of one design and choice in the plan, with the time and money of all of them, and where they are sold.

    `number` is the revision.
    """

    key: str
    design_id: int
    number: int
    name: str
    choice: str
    choices: tuple[str, ...]
    pieces: int
    seconds: int
    profit_micros: int
    sales_micros: int
    outlet: str = ""

    @property
    def minutes(self) -> Decimal:
        """The time of all of them in minutes."""
        return Decimal(self.seconds) / 60


@dataclass(frozen=True, slots=True)
class FromBag:
    """How much of an item comes from one bag, in thousandths."""

    lot_id: int
    place: str
    milli: int


@dataclass(frozen=True, slots=True)
class PlanUse:
    """What the plan takes of one item, in thousandths of its unit, and from which bags as they lay when it was made.

    `left_milli` is what is free afterwards, with what is bought; None where there is no end to it.
    """

    item: ItemWords
    taken_milli: int
    bought_milli: int
    left_milli: int | None
    rough: bool
    bags: tuple[FromBag, ...]


@dataclass(frozen=True, slots=True)
class PlanPacks:
    """Packs of one offer in an order; millionths of the shop's currency."""

    offer: str
    item_id: int
    name: str
    packs: int
    milli: int
    price_micros: int
    amount_micros: int


@dataclass(frozen=True, slots=True)
class PlanOrder:
    """What is bought of one supplier."""

    supplier: str
    postage_micros: int
    total_micros: int
    packs: tuple[PlanPacks, ...]


@dataclass(frozen=True, slots=True)
class Lacking:
    """What wished pieces take of an item beyond free stock and all offers."""

    item_id: int
    name: str
    milli: int


@dataclass(frozen=True, slots=True)
class Shortfall:
    """A wish that can't be met, and by how much."""

    name: str
    wanted: int
    possible: int
    message: str


@dataclass(frozen=True, slots=True)
class PlanAnswer:
    """An answer. `kind` is 'plan', 'unmeetable' (wishes fail: see `message`) or 'none' (time ran out before any plan);
    it is '' where the search failed, and `message` says what happened.

    `value` is in millionths, or pieces where they are the goal; no mix is worth more than `bound`. `stopped` is ''
    where that is proven to the end, else 'time' or 'cancelled'. `late` are offers that come too late, `left_out`
    are designs that could not be in any mix, each with the reason.
    """

    kind: str
    value: int = 0
    bound: int = 0
    stopped: str = ""
    search_ms: int = 0
    lines: tuple[PlanLine, ...] = ()
    uses: tuple[PlanUse, ...] = ()
    orders: tuple[PlanOrder, ...] = ()
    late: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()
    message: str = ""
    proven: bool = True
    short: tuple[Shortfall, ...] = ()
    instead: tuple[str, ...] = ()
    lacking: tuple[Lacking, ...] = ()

    @property
    def pieces(self) -> dict[str, int]:
        """The pieces by the key of their recipe."""
        return {line.key: line.pieces for line in self.lines}

    @property
    def packs(self) -> dict[str, int]:
        """The packs by the key of their offer."""
        return {each.offer: each.packs for order in self.orders for each in order.packs}

    @property
    def all_pieces(self) -> int:
        """How many pieces in all."""
        return sum(line.pieces for line in self.lines)

    @property
    def designs(self) -> int:
        """Of how many designs."""
        return len({line.design_id for line in self.lines})

    @property
    def seconds(self) -> int:
        """The time that all pieces take."""
        return sum(line.seconds for line in self.lines)

    @property
    def minutes(self) -> Decimal:
        """The same in minutes."""
        return Decimal(self.seconds) / 60

    @property
    def profit_micros(self) -> int:
        """The profit of all pieces; packs bought are stock until they are used."""
        return sum(line.profit_micros for line in self.lines)

    @property
    def sales_micros(self) -> int:
        """What all pieces sell for."""
        return sum(line.sales_micros for line in self.lines)

    @property
    def spend_micros(self) -> int:
        """What the packs cost with their postage."""
        return sum(order.total_micros for order in self.orders)

    @property
    def gap(self) -> Decimal:
        """How far the value can be from the best there is, as a fraction of the value; 0 is proven best."""
        return gap_between(self.value, self.bound)

    @property
    def rests_on(self) -> tuple[str, ...]:
        """The names of what was only counted roughly."""
        return tuple(use.item.name for use in self.uses if use.rough)

    @property
    def used_up(self) -> tuple[str, ...]:
        """The names of the items of which nothing is left."""
        return tuple(use.item.name for use in self.uses if use.left_milli == 0)


@dataclass(frozen=True, slots=True)
class PlanLimit:
    """One unit more of something and what it would bring: `unit` in seconds, thousandths of the item, or millionths.

    `at_most` is what no search could exceed.
    """

    what: str
    item: ItemWords | None
    unit: int
    gain: int
    at_most: int

    @property
    def words(self) -> str:
        """What there is more of, in words; money is for the page to write."""
        if self.item is not None:
            return f"{self.item.counted(self.unit)} more of {self.item.name}"
        return "one more hour" if self.what == "hours" else ""


@dataclass(frozen=True, slots=True)
class PlanLimits:
    """What would bring more, most first; `not_tried` are the names of items that found no time.

    Where the search failed, nothing was tried and `message` says what happened.
    """

    tried: tuple[PlanLimit, ...]
    not_tried: tuple[str, ...]
    message: str = ""

    @property
    def best(self) -> PlanLimit | None:
        """What would bring most; None where one unit more of anything brings nothing."""
        return self.tried[0] if self.tried and self.tried[0].gain else None


KEPT_ANSWER: Final[KeptDocument[PlanAnswer]] = KeptDocument(PlanAnswer)
KEPT_LIMITS: Final[KeptDocument[PlanLimits]] = KeptDocument(PlanLimits)


def answer_text(session: Session, asked: Asked, found: MixPlan | Unmeetable | NoPlanYet) -> str:
    """What was found, as it is kept; bags are those of today, oldest lots first."""
    return KEPT_ANSWER.text(_answer(session, asked, found))


def read_answer(text: str) -> PlanAnswer | None:
    """A kept answer; None where there is none yet."""
    return KEPT_ANSWER.read(text) if text else None


def limits_text(session: Session, limits: Limits) -> str:
    """What limits a plan, as it is kept."""
    words = item_words(
        session, {*limits.not_tried, *(each.item for each in limits.tried if each.item is not None)}
    )  # fmt: skip
    told = PlanLimits(
        tried=tuple(
            PlanLimit(each.what, words.get(each.item or 0), each.unit, each.gain, each.at_most) for each in limits.tried
        ),
        not_tried=tuple(words[item].name for item in limits.not_tried if item in words),
    )
    return KEPT_LIMITS.text(told)


def read_limits(text: str) -> PlanLimits | None:
    """Kept limits; None where there are none yet."""
    return KEPT_LIMITS.read(text) if text else None


def failed_text(why: str) -> str:
    """An answer that is none, as it is kept: in words what happened."""
    return KEPT_ANSWER.text(PlanAnswer("", message=why, proven=False))


def failed_limits_text(why: str) -> str:
    """Limits that are none, as they are kept: in words what happened."""
    return KEPT_LIMITS.text(PlanLimits((), (), why))


def _answer(session: Session, asked: Asked, found: MixPlan | Unmeetable | NoPlanYet) -> PlanAnswer:
    if isinstance(found, NoPlanYet):
        return PlanAnswer("none", bound=found.bound, stopped=found.stopped, search_ms=_ms(found.search_s), proven=False)
    if isinstance(found, Unmeetable):
        return _unmeetable(asked, found)
    return PlanAnswer(
        kind="plan",
        value=found.value,
        bound=found.bound,
        stopped=found.stopped,
        search_ms=_ms(found.search_s),
        lines=tuple(
            PlanLine(
                key=line.key,
                design_id=asked.recipes[line.key].design_id,
                number=asked.recipes[line.key].number,
                name=line.name,
                choice=line.choice,
                choices=asked.recipes[line.key].choices,
                pieces=line.pieces,
                seconds=line.seconds,
                profit_micros=line.profit_micros,
                sales_micros=line.sales_micros,
                outlet=asked.sold_at.get(line.key, ""),
            )
            for line in found.lines
        ),
        uses=_uses(session, found.uses),
        orders=tuple(_order(order) for order in found.orders),
        late=tuple(_late(each) for each in found.late),
        left_out=tuple(f"{each.name}: {each.why}" for each in asked.left_out),
        proven=found.gap == 0,
    )


def _ms(seconds: float) -> int:
    return round(seconds * 1000)


def _unmeetable(asked: Asked, found: Unmeetable) -> PlanAnswer:
    return PlanAnswer(
        kind="unmeetable",
        message=found.message,
        proven=found.proven,
        short=tuple(
            Shortfall(
                asked.recipes[each.key].recipe.name if each.key in asked.recipes else "different designs",
                each.wanted,
                each.possible,
                each.message,
            )
            for each in found.short
        ),
        instead=tuple(each.message for each in found.instead),
        lacking=tuple(
            Lacking(each.item, stock_of(asked.question.stock, each.item).called, each.milli) for each in found.lacking
        ),
    )


def _uses(session: Session, uses: tuple[ItemUse, ...]) -> tuple[PlanUse, ...]:
    ids = [use.item for use in uses]
    words, lots = item_words(session, ids), lots_of(session, ids)
    return tuple(
        PlanUse(
            item=words[use.item],
            taken_milli=use.taken_milli,
            bought_milli=use.bought_milli,
            left_milli=use.left_milli,
            rough=use.rough,
            bags=_bags(lots[use.item], use.taken_milli),
        )
        for use in uses
    )


def _bags(lots: tuple[LotView, ...], taken_milli: int) -> tuple[FromBag, ...]:
    """The bags that so much comes from, oldest lots first; what is still to be bought comes from none."""
    free = sum(lot.free_milli for lot in lots)
    here = min(free, taken_milli)
    if here <= 0:
        return ()
    plain = [trade.Lot(lot.id, lot.received_on, lot.quantity_milli, 0, lot.reserved_milli) for lot in lots]
    by_id = {lot.id: lot for lot in lots}
    return tuple(
        FromBag(taking.lot_id, taking.place, taking.quantity_milli)
        for pick in trade.pick_oldest(plain, here)
        for taking in from_bags(by_id[pick.lot_id].bags, pick.quantity_milli)
    )


def _order(order: SupplierOrder) -> PlanOrder:
    return PlanOrder(
        supplier=order.supplier.called,
        postage_micros=order.postage_micros,
        total_micros=order.total_micros,
        packs=tuple(
            PlanPacks(
                offer=line.offer.key,
                item_id=line.offer.item,
                name=line.offer.name,
                packs=line.packs,
                milli=line.milli,
                price_micros=line.price_micros,
                amount_micros=line.amount_micros,
            )
            for line in order.lines
        ),
    )


def _late(each: Late) -> str:
    when = "nobody knows when it comes" if each.lead_days is None else f"takes {each.lead_days} days"
    return f"{each.offer.name}: {when}"
