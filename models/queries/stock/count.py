"""What a count would change: the difference in rings and in money, before anything is booked."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlmodel import Session, col, select

from models.costing.lines import Impossible
from models.errors import Stale, Unfit
from models.intake.faults import Faults
from models.intake.stock.count import CountDraft
from models.queries.shop.gathering import Gathering, gathering_in
from models.queries.shop.shop import SHOP_ID
from models.queries.stock.bag_choice import bags_meant, one_bag
from models.queries.stock.item import item_view
from models.queries.stock.lot import Bag, LotView, lot_view, lots_of
from models.queries.stock.material import Material
from models.queries.stock.measured import Measured, measured, names_of_items
from models.tables import ItemBalance, Reservation, Shop
from models.trade.lots import half_even, share


@dataclass(frozen=True, slots=True)
class CountDifference:
    """What a count found beside what the ledger says, in thousandths; `value_micros` is what booking it would change.

    `rough` is how sure the new count is. `builds` are those that reserved more of the bag than was found.
    """

    item: Material
    lot: LotView
    bag: Bag
    expected_milli: int
    found_milli: int
    value_micros: int
    rough: str
    words: str
    builds: tuple[int, ...] = ()

    @property
    def difference_milli(self) -> int:
        """What is more than expected; below zero for what is missing."""
        return self.found_milli - self.expected_milli


def count_difference(session: Session, draft: CountDraft) -> CountDifference:
    """What booking a count would change; nothing is written.

    Raises: Missing; Unfit for a bag that could be several; Stale when the bag changed since its page was opened.
    """
    lot = _lot(session, draft)
    item = item_view(session, lot.item_id)
    bag = one_bag(session, lot, draft.place, field="place", asked="Say which bag was counted")
    found = _found(item, draft, bag)
    if draft.expected_milli is not None and draft.expected_milli != bag.quantity_milli:
        change = ("In the bag", item.counted(bag.quantity_milli), item.counted(draft.expected_milli))
        raise Stale("bag", (change,))
    builds: Sequence[int] = ()
    if found.milli < bag.reserved_milli:
        builds = reserving_builds(session, lot.id, bag.place)
    return CountDifference(
        item=item,
        lot=lot,
        bag=bag,
        expected_milli=bag.quantity_milli,
        found_milli=found.milli,
        value_micros=_value(session, lot, found.milli - bag.quantity_milli),
        rough=found.rough,
        words=found.words,
        builds=tuple(builds),
    )


def reserving_builds(session: Session, lot_id: int, place: str) -> tuple[int, ...]:
    """The started builds that reserved something in a bag."""
    if (gathering := gathering_in(session)) is not None:
        return gathering.once("reserving builds", lambda: _reserving(gathering)).get((lot_id, place), ())
    found = (
        select(Reservation.holder_id)
        .where(Reservation.holder_kind == "build", Reservation.lot_id == lot_id, Reservation.place == place)
        .order_by(col(Reservation.holder_id))
    )
    return tuple(session.exec(found))


def _reserving(gathering: Gathering) -> dict[tuple[int | None, str], tuple[int, ...]]:
    """The started builds that reserved something, by lot and place."""
    rows = gathering.exec(
        select(Reservation.lot_id, Reservation.place, Reservation.holder_id)
        .where(Reservation.holder_kind == "build")
        .order_by(col(Reservation.holder_id))
    )
    found: dict[tuple[int | None, str], tuple[int, ...]] = {}
    for lot_id, place, build_id in rows:
        found[lot_id, place] = (*found.get((lot_id, place), ()), build_id)
    return found


def _lot(session: Session, draft: CountDraft) -> LotView:
    if draft.lot_id is not None:
        return lot_view(session, draft.lot_id)
    item_id = draft.item_id
    if item_id is None:
        ids = names_of_items(session, (draft.item,))[draft.item.casefold()]
        if not ids:
            raise Unfit(Faults.of("item", f"There is no stock item called “{draft.item}”."))
        if len(ids) > 1:
            words = f"Several stock items are called “{draft.item}”. Say which lot was counted."
            raise Unfit(Faults.of("lot_id", words))
        item_id = ids[0]
    item_view(session, item_id)
    lots = lots_of(session, (item_id,))[item_id] or lots_of(session, (item_id,), empty=True)[item_id]
    if draft.place is not None:
        lots = tuple(lot for lot in lots if _lies(lot, draft.place)) or lots
    if not lots:
        words = "None of it was ever received. Take it into stock instead of counting it."
        raise Unfit(Faults.of("lot_id", words))
    if len(lots) > 1:
        numbers = ", ".join(str(lot.id) for lot in lots)
        raise Unfit(Faults.of("lot_id", f"It lies in several lots. Say which one was counted: {numbers}."))
    return lots[0]


def _lies(lot: LotView, place: str) -> bool:
    """Whether any of a lot lies in a place; of a lot that is used up, whether it ever lay there."""
    (meant,) = bags_meant(lot, place)
    return any(bag.place == meant.place and (bag.quantity_milli or not lot.quantity_milli) for bag in lot.bags)


def _found(item: Material, draft: CountDraft, bag: Bag) -> Measured:
    """What was found; 'plenty' of a bag that holds something leaves its figure as it is."""
    if not draft.found.said and bag.quantity_milli:
        return Measured(bag.quantity_milli, "plenty", "Plenty: the figure stays as it is until it is counted.")
    found = measured(item, draft.found)
    if isinstance(found, Impossible):
        raise Unfit(Faults.of("found", found.reason))
    return found


def _value(session: Session, lot: LotView, difference_milli: int) -> int:
    """What a difference is worth: a share of the lot, or of the pool; where that is empty, of its first cost."""
    whole_milli, whole_micros = lot.quantity_milli, lot.value_micros
    if session.get_one(Shop, SHOP_ID).valuation == "average":
        balance = session.get(ItemBalance, lot.item_id)
        whole_milli, whole_micros = (balance.on_hand_milli, balance.value_micros) if balance else (0, 0)
    if difference_milli < 0:
        return -share(whole_micros, -difference_milli, whole_milli)
    if not whole_milli:
        whole_milli, whole_micros = lot.received_milli, lot.received_micros
    return half_even(whole_micros * difference_milli, whole_milli) if whole_milli else 0
