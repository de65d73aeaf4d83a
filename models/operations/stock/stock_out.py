"""Stock that leaves without a build: spoiled or lost, given away, or sold as loose rings. Each has its reason."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session

from models.costing.lines import Impossible
from models.errors import Unfit
from models.intake.faults import Faults
from models.intake.raw import LARGEST_MONEY
from models.intake.stock.offer import from_milli
from models.intake.stock.stock_out import StockOutDraft
from models.operations.shop.day import resolve_day
from models.operations.stock.bag import blur_bag
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.operations.stock.scrap_metal import scrap_postings
from models.queries.stock.bag_choice import Taking, pick, take_from_lot
from models.queries.stock.item import item_view
from models.queries.stock.lot import LotView, lot_view
from models.queries.stock.material import Material
from models.queries.stock.measured import Measured, measured, names_of_items
from models.trade.lots import spread
from models.trade.money import to_micros
from models.trade.vocabulary.ledger import LEAVING_REASONS, SOLD, Leaves, MovementKind


@dataclass(frozen=True, slots=True)
class StockOut:
    """What left, in thousandths: its cost and a sale's price in millionths, the scrap kept in thousandths of a gram."""

    act_id: int
    item_id: int
    takings: tuple[Taking, ...]
    quantity_milli: int
    cost_micros: int
    price_micros: int | None
    scrap_milli: int
    words: str


def scrap_rings(session: Session, draft: StockOutDraft) -> StockOut:
    """Write off what was spoiled or lost; spoiled precious metal is kept by weight. Raises: Unfit, NotEnoughStock."""
    return _remove(session, _meant(draft, "scrap"), kind="scrap")


def give_away(session: Session, draft: StockOutDraft) -> StockOut:
    """Give stock away, as a gift or a sample. Raises: Unfit, NotEnoughStock."""
    return _remove(session, _meant(draft, "give"), kind="scrap")


def sell_loose(session: Session, draft: StockOutDraft) -> StockOut:
    """Sell stock as it is, such as loose rings or scrap; its price is kept. Raises: Unfit, NotEnoughStock."""
    return _remove(session, _meant(draft, "sell"), kind="sale")


def remove_stock(session: Session, draft: StockOutDraft) -> StockOut:
    """Do what the reason of a draft says: scrap, give away or sell. Raises: Unfit, NotEnoughStock."""
    if draft.reason not in LEAVING_REASONS:
        raise Unfit(Faults.of("reason", f"Choose one of: {', '.join(LEAVING_REASONS)}."))
    return _ACTS[LEAVING_REASONS.term(draft.reason).act](session, draft)


_ACTS: Mapping[Leaves, Callable[[Session, StockOutDraft], StockOut]] = {
    "scrap": scrap_rings,
    "give": give_away,
    "sell": sell_loose,
}


def _meant(draft: StockOutDraft, act: Leaves) -> StockOutDraft:
    """The draft, whose reason is one for this act. Raises: Unfit for another one."""
    reasons = LEAVING_REASONS.those(lambda reason: reason.act == act)
    if draft.reason not in reasons:
        raise Unfit(Faults.of("reason", f"Choose one of: {', '.join(reasons)}."))
    return draft


def _remove(session: Session, draft: StockOutDraft, *, kind: MovementKind) -> StockOut:
    why = LEAVING_REASONS.term(draft.reason)
    item, lot = _what(session, draft)
    much = _how_much(item, draft)
    takings = _takings(session, draft, item, lot, much.milli)
    day = resolve_day(session, draft.left_on, "left_on")
    price = _price(draft, much) if kind == "sale" else None
    # A sale is one: its usual reason is not repeated.
    reason = "" if draft.reason == SOLD else draft.reason
    prices: Sequence[int | None] = [None] * len(takings)
    if price is not None:
        prices = spread(price, [taking.quantity_milli for taking in takings])
    postings = [
        Posting(taking.lot_id, taking.place, kind, -taking.quantity_milli, price_micros=part, reason=reason)
        for taking, part in zip(takings, prices, strict=True)
    ]
    scrap = scrap_postings(session, item, much.milli, day) if why.spoils else ()
    words = _words(item, much, draft)
    posted = post(session, TransactionHeader(why.act, day, words), [*postings, *scrap])
    if much.rough:
        for taking in takings:
            blur_bag(session, taking.lot_id, taking.place, much.rough)
    return StockOut(
        act_id=posted.act_id,
        item_id=item.id,
        takings=takings,
        quantity_milli=much.milli,
        cost_micros=posted.cost_micros,
        price_micros=price,
        scrap_milli=sum(each.quantity_milli for each in scrap),
        words=words,
    )


def _what(session: Session, draft: StockOutDraft) -> tuple[Material, LotView | None]:
    if draft.lot_id is not None:
        lot = lot_view(session, draft.lot_id)
        if draft.item_id not in (None, lot.item_id):
            raise Unfit(Faults.of("lot_id", "This lot is of another item."))
        return item_view(session, lot.item_id), lot
    if draft.item_id is not None:
        return item_view(session, draft.item_id), None
    ids = names_of_items(session, (draft.item,))[draft.item.casefold()]
    if len(ids) == 1:
        return item_view(session, ids[0]), None
    if not ids:
        raise Unfit(Faults.of("item", f"There is no stock item called “{draft.item}”."))
    numbers = ", ".join(str(number) for number in ids)
    words = f"Several stock items are called “{draft.item}”. Say which by its number: {numbers}."
    raise Unfit(Faults.of("item_id", words))


def _how_much(item: Material, draft: StockOutDraft) -> Measured:
    much = measured(item, draft.how)
    if isinstance(much, Impossible):
        raise Unfit(Faults.of("quantity", much.reason))
    if much.milli < 1:
        raise Unfit(Faults.of("quantity", "This comes to nothing. Give more."))
    return much


def _takings(
    session: Session, draft: StockOutDraft, item: Material, lot: LotView | None, milli: int
) -> tuple[Taking, ...]:
    """From which bags it leaves: the one that was named, else the lot's fullest, else the oldest lots first."""
    if lot is None:
        return pick(session, item.id, milli, place=draft.place).takings
    return take_from_lot(lot, item, milli, draft.place)


def _price(draft: StockOutDraft, much: Measured) -> int:
    """What was paid for all of it, in millionths. Raises: Unfit for more than the shop can keep."""
    price = draft.price if draft.price is not None else (draft.each or Decimal(0)) * from_milli(much.milli)
    if price > LARGEST_MONEY:
        field = "total_price" if draft.price is not None else "price_each"
        raise Unfit(Faults.of(field, f"A sale brings at most {LARGEST_MONEY:,}."))
    return to_micros(price)


def _words(item: Material, much: Measured, draft: StockOutDraft) -> str:
    about = "about " if much.rough else ""
    counted = item.counted(much.milli)
    note = f" {draft.note}" if draft.note else ""
    words = f"{about}{counted} of “{item.name}” {LEAVING_REASONS[draft.reason]}.{note}"
    return words[:1].upper() + words[1:]
