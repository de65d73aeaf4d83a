"""When to buy items again and how much, as proposals: their past use by builds, their delivery, and the shop's wishes.

Past use is summed up in the database over the days looked at. The formulas stand in `models/planning/reorder`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy import Date, func, or_, select, type_coerce
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.planning.offers import Offer, Supplier
from models.planning.reorder import NothingToGoBy, ReorderProposal, ReorderRequest, Take, propose_reorder
from models.queries.buying.market import planning_offers
from models.queries.stock.balance import Balance, balances
from models.queries.stock.item import load_materials
from models.queries.stock.material import ItemWords, Material
from models.tables import Item, Lot, Movement, Shop, StockTransaction
from models.tables import Offer as OfferRow
from models.trade.money import from_micros
from models.trade.vocabulary.ledger import BUILD_MOVEMENTS, MAKING_ACTS, ActKind, MovementKind
from models.trade.vocabulary.things import PART_KINDS

UNKNOWN_LEAD_DAYS = 7
"""How long a delivery is taken to last where nobody said. A choice of ours, no source."""
_OTHER_KINDS: tuple[MovementKind, ...] = (*(kind for kind in BUILD_MOVEMENTS if kind != "scrap"), "sale")
_OTHER_ACTS: tuple[ActKind, ...] = (*(kind for kind in MAKING_ACTS if kind != "unpick"), "sell")


@dataclass(frozen=True, slots=True)
class WishesView:
    """What proposals rest on, as its form shows it, and the version of the settings."""

    service_percent: Decimal
    order_cost: Decimal
    holding_percent: Decimal
    days: int
    version: int


@dataclass(frozen=True, slots=True)
class ReorderRow:
    """One item with its proposal; `lead_days` None where nobody said, and a usual time was taken."""

    item: Material
    balance: Balance
    reorder_milli: int | None
    target_milli: int | None
    supplier: str
    lead_days: int | None
    proposal: ReorderProposal
    pack_milli: int

    @property
    def new_target_milli(self) -> int:
        """Up to how much it would be bought: the reorder point and one order."""
        return self.proposal.point_milli + self.proposal.quantity_milli

    @property
    def same(self) -> bool:
        """Whether the proposal is what is set already."""
        return (self.reorder_milli, self.target_milli) == (self.proposal.point_milli, self.new_target_milli)

    @property
    def due(self) -> bool:
        """Whether it would have to be bought now."""
        return self.balance.free_milli + self.balance.on_order_milli <= self.proposal.point_milli


@dataclass(frozen=True, slots=True)
class NoProposal:
    """An item that was used, and why there is no proposal for it."""

    words: ItemWords
    reason: str


@dataclass(frozen=True, slots=True)
class ReorderPage:
    """All proposals: those that change something first, those to be bought now before others."""

    rows: tuple[ReorderRow, ...]
    without: tuple[NoProposal, ...]
    wishes: WishesView
    first_day: date
    today: date

    @property
    def changed(self) -> tuple[ReorderRow, ...]:
        """The proposals that would change something."""
        return tuple(row for row in self.rows if not row.same)


def reorder_wishes(session: Session) -> WishesView:
    """What proposals rest on."""
    shop = session.get_one(Shop, 1)
    return WishesView(
        shop.service_percent, from_micros(shop.order_cost_micros), shop.holding_percent, shop.reorder_days, shop.version
    )


def reorder_page(session: Session, today: date) -> ReorderPage:
    """A proposal for every item that was used and is bought somewhere, in a constant number of queries."""
    wishes = reorder_wishes(session)
    first = today - timedelta(days=wishes.days)
    takes = takes_since(session, first)
    items = load_materials(session, takes)
    levels = _levels(session)
    known = _known_since(session)
    offers, suppliers = _current(session)
    held = balances(session, takes)
    rows, without = [], []
    for item in items.values():
        if item.retired or item.kind not in PART_KINDS:
            continue
        offer = offers.get(item.id)
        if offer is None:
            without.append(NoProposal(item, "No price of it is noted, so no order can be reckoned."))
            continue
        supplier = suppliers[offer.supplier]
        lead = supplier.lead_days if offer.lead_days is None else offer.lead_days
        found = propose_reorder(
            _question(
                wishes,
                takes[item.id],
                offer,
                first=max(first, known[item.id]),
                today=today,
                lead_days=lead,
                unit=item.unit,
            )
        )
        if isinstance(found, ReorderProposal):
            reorder, target = levels.get(item.id, (None, None))
            rows.append(ReorderRow(item, held[item.id], reorder, target, supplier.name, lead, found, offer.pack_milli))
        elif isinstance(found, NothingToGoBy):
            without.append(NoProposal(item, found.reason))
        else:
            without.append(NoProposal(item, " ".join(trouble.message for trouble in found)))
    rows.sort(key=lambda row: (row.same, not row.due))
    return ReorderPage(tuple(rows), tuple(without), wishes, first, today)


def takes_since(session: Session, first: date) -> dict[int, tuple[Take, ...]]:
    """What builds, jobs and loose sales took of each item from a day on: one take for each of them, net of returns.

    What was taken back counts not; counts, losses and gifts are no use that comes again.
    """
    undo = aliased(StockTransaction)
    of_one = func.coalesce(col(StockTransaction.build_id), -col(StockTransaction.id))
    net = -func.sum(Movement.quantity_milli)
    rows = session.execute(
        select(
            col(Movement.item_id),
            type_coerce(func.min(StockTransaction.done_on), Date).label("day"),
            net.label("milli"),
        )
        .select_from(StockTransaction)
        .join(Movement, col(Movement.act_id) == col(StockTransaction.id))
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(
            col(StockTransaction.done_on) >= first,
            col(undo.id).is_(None),
            or_(
                col(StockTransaction.build_id).is_not(None) & col(Movement.kind).in_(BUILD_MOVEMENTS),
                col(StockTransaction.kind).in_(_OTHER_ACTS) & col(Movement.kind).in_(_OTHER_KINDS),
            ),
        )
        .group_by(col(Movement.item_id), of_one)
        .having(net > 0)
        .order_by(col(Movement.item_id))
    )
    found: dict[int, list[Take]] = {}
    for item_id, day, milli in rows:
        found.setdefault(item_id, []).append(Take(day, int(milli)))
    return {item_id: tuple(takes) for item_id, takes in found.items()}


def _question(
    wishes: WishesView,
    takes: tuple[Take, ...],
    offer: Offer,
    *,
    first: date,
    today: date,
    lead_days: int | None,
    unit: str,
) -> ReorderRequest:
    return ReorderRequest(
        takes=takes,
        first_day=first,
        today=today,
        lead_days=max(UNKNOWN_LEAD_DAYS if lead_days is None else lead_days, 1),
        service=wishes.service_percent / 100,
        order_micros=int(wishes.order_cost * 1_000_000),
        holding_rate=wishes.holding_percent / 100,
        price_micros=offer.price_micros,
        pack_milli=offer.pack_milli,
        breaks=offer.breaks,
        step_milli=1000 if unit == "piece" else 1,
    )


def _current(session: Session) -> tuple[dict[int, Offer], Mapping[str, Supplier]]:
    """The offer that costs follow, by item, as planning takes it, and the suppliers."""
    offers, suppliers = planning_offers(session)
    current = set(session.scalars(select(col(OfferRow.id)).where(col(OfferRow.current))))
    return {offer.item: offer for offer in offers if int(offer.key) in current}, {each.key: each for each in suppliers}


def _levels(session: Session) -> dict[int, tuple[int | None, int | None]]:
    rows = session.execute(
        select(col(Item.id), col(Item.reorder_milli), col(Item.target_milli)).where(
            col(Item.reorder_milli).is_not(None)
        )
    )
    return {row.id: (row.reorder_milli, row.target_milli) for row in rows}


def _known_since(session: Session) -> dict[int, date]:
    """The day on which each item's first lot came."""
    rows = session.execute(
        select(col(Lot.item_id), type_coerce(func.min(Lot.received_on), Date).label("day")).group_by(col(Lot.item_id))
    )
    return {row.item_id: row.day for row in rows}
