"""Taking stock in: every line of a receipt becomes a lot at its real cost, freight and the typed rate included."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal

from sqlmodel import Session

from models.costing.lines import Impossible
from models.errors import Unfit
from models.intake.faults import Fault, Faults
from models.intake.raw import LARGEST_MONEY
from models.intake.stock.offer import from_milli
from models.intake.stock.receipt import ReceiptDraft, ReceiptLine
from models.operations.shop.day import resolve_day
from models.operations.stock.bag import mark_bag, remember_tare
from models.operations.stock.ledger import Posting, TransactionHeader, open_lot, post
from models.operations.stock.supplier import resolve_supplier
from models.queries.stock.item import load_materials
from models.queries.stock.known_place import known_place
from models.queries.stock.material import Material
from models.queries.stock.measured import Measured, measured, names_of_items
from models.tables import Lot, Shop, Supplier
from models.trade.lots import spread_by_value
from models.trade.money import to_micros

_EXACT = Context(prec=50, rounding=ROUND_HALF_EVEN)


@dataclass(frozen=True, slots=True)
class ReceivedLot:
    """One lot that came in: thousandths, its whole value in millionths, and what was worked out or assumed."""

    lot_id: int
    item_id: int
    place: str
    quantity_milli: int
    value_micros: int
    freight_micros: int
    rough: str
    provisional: bool
    words: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Received:
    """A receipt as it was written; `lots` in the order of its lines."""

    act_id: int
    lots: tuple[ReceivedLot, ...]
    words: str


@dataclass(frozen=True, slots=True)
class _Worth:
    """What a line costs in the shop's currency without freight; `paid` is what was said in the receipt's own."""

    amount: Decimal
    paid: Decimal | None
    provisional: bool = False
    words: str = ""


def receive_lots(session: Session, draft: ReceiptDraft, *, freight_micros: int | None = None) -> Received:
    """Write a receipt: one lot for each line, one act for the whole.

    A line's cost becomes whole millionths once, half to even; the freight is spread over the lines by their value, to
    the last millionth; `freight_micros` is that freight in the shop's currency, where the caller has worked it out
    over several receipts. Without a cost the current offer's is taken, else nothing; the lot then says that it is
    provisional. The first amount locks the shop's currency. Raises: Unfit with faults by field ('lines.0.quantity').
    """
    items = _items(session, draft)
    shop = session.get_one(Shop, 1)
    rate = _rate(draft, shop.currency)
    counted = _counted(items, draft)
    worths = _worths(items, draft, counted, rate)
    day = resolve_day(session, draft.received_on, "received_on")
    supplier_id = resolve_supplier(session, supplier_id=draft.supplier_id, name=draft.supplier)
    costs = [to_micros(worth.amount) for worth in worths]
    if freight_micros is None:
        freight_micros = to_micros(_EXACT.multiply(draft.freight, rate))
    freight = _spread(freight_micros, costs, counted)
    foreign = draft.currency if draft.currency != shop.currency else ""
    postings, lots = [], []
    for item, line, much, worth, cost, share in zip(items, draft.lines, counted, worths, costs, freight, strict=True):
        lot_id = open_lot(
            session,
            Lot(
                item_id=item.id,
                supplier_id=supplier_id,
                batch=line.batch,
                received_on=day,
                received_milli=much.milli,
                received_micros=cost + share,
                paid_micros=None if worth.paid is None else to_micros(worth.paid),
                currency=foreign,
                exchange_rate=rate,
                freight_micros=share,
                provisional=worth.provisional,
                note=line.note or draft.note,
            ),
        )
        place = known_place(session, line.place)
        postings.append(Posting(lot_id, place, "receipt", much.milli, cost + share))
        lots.append(
            ReceivedLot(
                lot_id=lot_id,
                item_id=item.id,
                place=place,
                quantity_milli=much.milli,
                value_micros=cost + share,
                freight_micros=share,
                rough=much.rough,
                provisional=worth.provisional,
                words=tuple(words for words in (much.words, worth.words) if words),
            )
        )
    words = _words(session, items, counted, supplier_id)
    posted = post(session, TransactionHeader("receive", day, words), postings)
    for line, lot in zip(draft.lines, lots, strict=True):
        mark_bag(session, lot.lot_id, lot.place, rough=lot.rough, counted_on=None if lot.rough else day)
        if line.tare_ug is not None:
            remember_tare(session, lot.lot_id, lot.place, line.tare_ug)
    session.flush()
    return Received(posted.act_id, tuple(lots), words)


def _items(session: Session, draft: ReceiptDraft) -> list[Material]:
    """The items of the lines. Raises: Unfit beside every line whose item is unknown or could be several."""
    if not draft.lines:
        raise Unfit(Faults.of("lines.0.item_id", "Say what came in."))
    named = names_of_items(session, {line.item for line in draft.lines if line.item_id is None})
    ids = [line.item_id or _only(named[line.item.casefold()]) for line in draft.lines]
    known = load_materials(session, {item_id for item_id in ids if item_id})
    faults = []
    for place, (line, item_id) in enumerate(zip(draft.lines, ids, strict=True)):
        if item_id in known:
            continue
        if line.item_id is not None:
            faults.append(Fault(_field(draft, place, "item_id"), f"There is no stock item {line.item_id}."))
        elif numbers := named[line.item.casefold()]:
            shown = ", ".join(str(number) for number in numbers)
            words = f"Several stock items are called “{line.item}”. Say which by its number: {shown}."
            faults.append(Fault(_field(draft, place, "item_id"), words))
        else:
            words = f"There is no stock item called “{line.item}”. Put it in stock first."
            faults.append(Fault(_field(draft, place, "item"), words))
    _raise(faults)
    return [known[item_id] for item_id in ids if item_id]


def _field(draft: ReceiptDraft, place: int, field: str) -> str:
    return field if draft.flat else f"lines.{place}.{field}"


def _only(ids: Sequence[int]) -> int | None:
    return ids[0] if len(ids) == 1 else None


def _rate(draft: ReceiptDraft, own: str) -> Decimal:
    """What one unit of the receipt's currency costs. Raises: Unfit when a rate is missing or one too many."""
    if draft.currency in ("", own):
        if draft.exchange_rate not in (None, Decimal(1)):
            words = f"Leave the rate empty: the costs are in {own}, the shop's own currency."
            raise Unfit(Faults.of("exchange_rate", words))
        return Decimal(1)
    if draft.exchange_rate is None:
        raise Unfit(Faults.of("exchange_rate", f"Give the rate: what does 1 {draft.currency} cost in {own}?"))
    return draft.exchange_rate


def _counted(items: Sequence[Material], draft: ReceiptDraft) -> list[Measured]:
    """How much every line is, in thousandths. Raises: Unfit."""
    faults, found = [], []
    for place, (item, line) in enumerate(zip(items, draft.lines, strict=True)):
        much = measured(item, line.how)
        field = _field(draft, place, "quantity" if line.how.packs is None else "packs")
        if isinstance(much, Impossible):
            faults.append(Fault(field, much.reason))
        elif much.milli < 1 and not line.how.none:
            faults.append(Fault(field, "This comes to nothing. Give more."))
        else:
            found.append(much)
    _raise(faults)
    return found


def _worths(items: Sequence[Material], draft: ReceiptDraft, counted: Sequence[Measured], rate: Decimal) -> list[_Worth]:
    """What every line cost. Raises: Unfit for more than the shop can keep."""
    found = [_worth(item, line, much, rate) for item, line, much in zip(items, draft.lines, counted, strict=True)]
    faults = [
        Fault(_field(draft, place, _cost_field(draft.lines[place])), f"A line costs at most {LARGEST_MONEY:,}.")
        for place, worth in enumerate(found)
        if worth.amount > LARGEST_MONEY or (worth.paid or Decimal(0)) > LARGEST_MONEY
    ]
    if draft.freight * rate > LARGEST_MONEY:
        faults.append(Fault("freight", f"Freight is at most {LARGEST_MONEY:,}."))
    _raise(faults)
    return found


def _worth(item: Material, line: ReceiptLine, much: Measured, rate: Decimal) -> _Worth:
    units = from_milli(much.milli)
    if not units:
        return _Worth(Decimal(0), None, True)
    paid: Decimal | None = None
    if line.total_cost is not None:
        paid = line.total_cost
    elif line.unit_cost is not None:
        paid = _EXACT.multiply(line.unit_cost, units)
    elif line.pack_price is not None:
        paid = _EXACT.multiply(line.pack_price, line.how.packs or Decimal(1))
    if paid is not None:
        return _Worth(_EXACT.multiply(paid, rate), paid)
    cost = item.unit_cost
    if cost is not None:
        amount = _EXACT.multiply(cost.amount, units)
        return _Worth(amount, None, True, f"Valued by {item.offer.source if item.offer else 'its offer'}.")
    return _Worth(Decimal(0), None, True, "No cost is known, so it is worth nothing here until one is.")


def _spread(freight_micros: int, costs: Sequence[int], counted: Sequence[Measured]) -> Sequence[int]:
    """The freight over the lines that hold anything, by their value. Raises: Unfit where none does."""
    holding = [place for place, much in enumerate(counted) if much.milli]
    if not holding:
        if freight_micros:
            raise Unfit(Faults.of("freight", "None of it is there, so there is nothing that could bear freight."))
        return [0] * len(costs)
    shares = dict(zip(holding, spread_by_value(freight_micros, [costs[place] for place in holding]), strict=True))
    return [shares.get(place, 0) for place in range(len(costs))]


def _cost_field(line: ReceiptLine) -> str:
    costs: Mapping[str, Decimal | None] = {"unit_cost": line.unit_cost, "pack_price": line.pack_price}
    return next((field for field, cost in costs.items() if cost is not None), "total_cost")


def _words(session: Session, items: Sequence[Material], counted: Sequence[Measured], supplier_id: int | None) -> str:
    supplier = session.get(Supplier, supplier_id) if supplier_id is not None else None
    whose = f" from {supplier.name}" if supplier else ""
    if len(items) > 1:
        if not any(much.milli for much in counted):
            return f"Noted that none of {len(items)} items is there."
        return f"Received {len(items)} lots{whose}."
    item = items[0]
    if not counted[0].milli:
        return f"Noted that none of “{item.name}” is there."
    about = "about " if counted[0].rough else ""
    much = item.counted(counted[0].milli)
    return f"Received {about}{much} of “{item.name}”{whose}."


def _raise(faults: Sequence[Fault]) -> None:
    if faults:
        raise Unfit(Faults(tuple(faults)))
