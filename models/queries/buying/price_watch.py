"""Price watch: which designs cost more or less since prices changed, and which listed prices no longer pay for them.

What designs cost before is worked out with the former offers, now with the current ones. A question of what would
happen if a metal's price moved is answered in the same way.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal

from sqlalchemy import func, select
from sqlmodel import Session, col

from models.costing.inputs import UnitCost
from models.queries.costing.basis import at_stock_cost
from models.queries.costing.figures import OutletFigure, outlet_figure, usual_cost
from models.queries.costing.inputs import CostInputs, ShopFacts, latest_revisions, load_cost_inputs, load_shop_facts
from models.queries.stock.item import unit_costs
from models.queries.stock.item_words import item_words
from models.queries.stock.material import ItemWords, OfferView
from models.queries.stock.metal import all_metals
from models.queries.stock.offer import BODY_COLUMNS, OFFER_COLUMNS, body_in, offer_in
from models.tables import Build, Design, Item, Offer, PriceChange, Supplier
from models.trade.metals import Metal
from models.trade.money import to_micros

MONTHS = 6
"""How many past months of finished pieces say how many a month are made. A choice of ours, no source."""
MONTH_DAYS = Decimal("30.4375")
"""An average month: 365.25 days over 12."""


@dataclass(frozen=True, slots=True)
class MovedItem:
    """An item whose cost changed: what one unit cost by the former offer and costs by the current one."""

    words: ItemWords
    before: Decimal
    after: Decimal
    changed_at: datetime | None

    @property
    def share(self) -> Decimal:
        """How much it moved, as a share of what it cost before; 0 where that was nothing."""
        return (self.after - self.before) / self.before if self.before else Decimal(0)


@dataclass(frozen=True, slots=True)
class Fallen:
    """A listed price that paid before and does not now; money in millionths."""

    outlet_id: int
    outlet: str
    price_micros: int
    floor_micros: int
    short_of: str


@dataclass(frozen=True, slots=True)
class MovedDesign:
    """A design whose cost moved: one piece before and after, and what that comes to in a month."""

    design_id: int
    name: str
    before_micros: int
    after_micros: int
    pieces_a_month: Decimal
    items: tuple[str, ...]
    fallen: tuple[Fallen, ...]

    @property
    def moved_micros(self) -> int:
        """How much more one piece costs; below zero when it became cheaper."""
        return self.after_micros - self.before_micros

    @property
    def lost_a_month(self) -> Decimal:
        """What the change takes from a month's earnings at the same prices, in millionths; below zero: brings."""
        return self.pieces_a_month * self.moved_micros


@dataclass(frozen=True, slots=True)
class PriceWatch:
    """What moved since a day, or would move: the dearest change a month first."""

    items: tuple[MovedItem, ...]
    designs: tuple[MovedDesign, ...]
    since: date
    supposed: bool = False

    @property
    def lost_a_month(self) -> Decimal:
        """What all changes together take from a month, in millionths; below zero: bring."""
        return sum((design.lost_a_month for design in self.designs), Decimal(0))

    @property
    def fallen(self) -> int:
        """How many listed prices no longer pay."""
        return sum(len(design.fallen) for design in self.designs)


def price_watch(session: Session, *, since: datetime, today: date) -> PriceWatch:
    """What prices that changed since a moment did to designs."""
    before = _costs_before(session, since)
    now = unit_costs(session, before)
    changed = {
        item_id: (cost, after)
        for item_id, (cost, _) in before.items()
        if (after := now.get(item_id)) is not None and after.amount != cost.amount
    }
    words = item_words(session, changed)
    items = tuple(
        MovedItem(words[item_id], cost.amount, after.amount, before[item_id][1])
        for item_id, (cost, after) in changed.items()
    )
    costs = {item_id: cost for item_id, (cost, _) in changed.items()}
    return PriceWatch(_dearest(items), _designs(session, costs, {}, today), since.date())


def supposed_watch(session: Session, metal: str, share: Decimal, *, today: date) -> PriceWatch:
    """What would happen if everything of a metal cost so much more (0.1 is a tenth), or less below zero."""
    ids = session.scalars(select(col(Item.id)).where(col(Item.metal) == metal, col(Item.retired).is_(False))).all()
    now = unit_costs(session, [one for one in ids if one is not None])
    after = {item_id: replace(cost, amount=cost.amount * (1 + share)) for item_id, cost in now.items()}
    words = item_words(session, now)
    items = tuple(MovedItem(words[item_id], now[item_id].amount, after[item_id].amount, None) for item_id in now)
    return PriceWatch(_dearest(items), _designs(session, {}, after, today), today, supposed=True)


def metals_bought(session: Session, metals: Mapping[str, Metal]) -> tuple[tuple[str, str], ...]:
    """The metals of which anything with a price is in use, as (code, name), by name."""
    codes = session.scalars(
        select(col(Item.metal))
        .join(Offer, col(Offer.item_id) == col(Item.id))
        .where(col(Item.metal).is_not(None), col(Item.retired).is_(False), col(Offer.current))
        .distinct()
    )
    found = [(code, metals[code].name) for code in codes if code and code in metals]
    return tuple(sorted(found, key=lambda one: one[1].casefold()))


def _costs_before(session: Session, since: datetime) -> dict[int, tuple[UnitCost, datetime]]:
    """What one unit cost by the offer that was current at a moment, and when it last changed since."""
    rows = session.execute(
        select(col(PriceChange.item_id), col(PriceChange.before_id), col(PriceChange.changed_at))
        .where(col(PriceChange.changed_at) >= since)
        .order_by(col(PriceChange.id))
    )
    first: dict[int, int] = {}
    last: dict[int, datetime] = {}
    for row in rows:
        first.setdefault(row.item_id, row.before_id)
        last[row.item_id] = row.changed_at
    offers = _offers(session, set(first.values()))
    return {
        item_id: (cost, last[item_id])
        for item_id, offer_id in first.items()
        if isinstance(cost := offers[offer_id].unit_cost, UnitCost)
    }


def _offers(session: Session, offer_ids: Collection[int]) -> dict[int, OfferView]:
    rows = session.execute(
        select(*OFFER_COLUMNS, *BODY_COLUMNS)
        .select_from(Offer)
        .join(Item, col(Item.id) == col(Offer.item_id))
        .outerjoin(Supplier, col(Supplier.id) == col(Offer.supplier_id))
        .where(col(Offer.id).in_(offer_ids))
    )
    metals = all_metals(session)
    return {row.offer_id: offer for row in rows if (offer := offer_in(row, body_in(row, metals)))}


def _designs(
    session: Session, before: Mapping[int, UnitCost], after: Mapping[int, UnitCost], today: date
) -> tuple[MovedDesign, ...]:
    """The designs in use whose usual piece costs another sum with these costs; those not given are the current ones."""
    moved = {*before, *after}
    if not moved:
        return ()
    shop = load_shop_facts(session)
    in_use = session.scalars(select(col(Design.id)).where(col(Design.retired).is_(False))).all()
    revisions = latest_revisions(session, [one for one in in_use if one is not None])
    found = []
    for inputs in load_cost_inputs(session, tuple(revisions.values()), shop.metals).values():
        if not any(part.thing.item_id in moved for part in inputs.parts):
            continue
        found.append((inputs, at_stock_cost(inputs, before), at_stock_cost(inputs, after)))
    pace = _pieces_a_month(session, [inputs.design_id or 0 for inputs, _, _ in found], today)
    rows = [_moved(shop, then, now, moved, pace.get(inputs.design_id or 0, Decimal(0))) for inputs, then, now in found]
    kept = [row for row in rows if row.moved_micros]
    return tuple(sorted(kept, key=lambda row: (-row.lost_a_month, -len(row.fallen), -row.moved_micros, row.name)))


def _moved(
    shop: ShopFacts, before: CostInputs, after: CostInputs, items: Collection[int], pieces_a_month: Decimal
) -> MovedDesign:
    then, now = usual_cost(before, shop), usual_cost(after, shop)
    fallen = []
    for outlet in shop.outlets:
        listed = after.listed.get(int(outlet.code))
        if listed is None:
            continue
        had = outlet_figure(before, then, outlet, shop.currency, None)
        has = outlet_figure(after, now, outlet, shop.currency, None)
        short = _short_of(to_micros(listed.price), had, has)
        if short:
            fallen.append(Fallen(int(outlet.code), outlet.name, to_micros(listed.price), short[1], short[0]))
    return MovedDesign(
        design_id=after.design_id or 0,
        name=after.name,
        before_micros=to_micros(then.per_piece),
        after_micros=to_micros(now.per_piece),
        pieces_a_month=pieces_a_month,
        items=tuple(dict.fromkeys(part.thing.name for part in after.parts if part.thing.item_id in items)),
        fallen=tuple(fallen),
    )


def _short_of(price_micros: int, had: OutletFigure, has: OutletFigure) -> tuple[str, int] | None:
    """Which floor the price reached before and does not now: break-even before target."""
    for words, before, after in (
        ("break-even", had.break_even_micros, has.break_even_micros),
        ("target", had.target_micros, has.target_micros),
    ):
        if before is not None and after is not None and before <= price_micros < after:
            return words, after
    return None


def _pieces_a_month(session: Session, design_ids: Collection[int], today: date) -> dict[int, Decimal]:
    """How many good pieces of each design were finished a month, over the past months."""
    first = today - timedelta(days=int(MONTHS * MONTH_DAYS))
    rows = session.execute(
        select(col(Build.design_id), func.sum(Build.good).label("good"))
        .where(
            col(Build.design_id).in_(design_ids),
            col(Build.state) == "finished",
            col(Build.finished_on) >= first,
            col(Build.finished_on) <= today,
        )
        .group_by(col(Build.design_id))
    )
    return {row.design_id: Decimal(int(row.good or 0)) / MONTHS for row in rows}


def _dearest(items: tuple[MovedItem, ...]) -> tuple[MovedItem, ...]:
    return tuple(sorted(items, key=lambda item: (-item.share, item.words.name)))
