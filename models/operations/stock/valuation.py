"""How the shop values what leaves: first in first out, or weighted average. Chosen once; changing it asks first."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlmodel import Session, col

from models.errors import Conflict, Stale
from models.operations.shop.day import resolve_day
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.operations.stock.lot_state import valuation
from models.tables import Lot, Shop
from models.trade import lots as trade
from models.trade.vocabulary.ledger import VALUATIONS


@dataclass(frozen=True, slots=True)
class ValuationChange:
    """What choosing a way of valuing would do: how many items' lots are worth something else after it, and how much.

    `shifted_micros` moves between lots of the same item; what the whole stock is worth stays. `says` is for the page.
    """

    before: trade.Method
    after: trade.Method
    items: int
    shifted_micros: int
    says: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ValuationChosen:
    """The way of valuing from now on; `act_id` wrote the shifts, None where there were none."""

    method: trade.Method
    act_id: int | None
    shifted_micros: int


def valuation_change(session: Session, method: trade.Method) -> ValuationChange:
    """What choosing this way of valuing would mean; nothing is written."""
    before = valuation(session)
    shifts = _shifts(session) if method == "average" and before != method else {}
    moved = sum(micros for changes in shifts.values() for _, micros in changes if micros > 0)
    if before == method:
        says: tuple[str, ...] = (f"The shop values by {VALUATIONS[method]} already.",)
    elif method == "average":
        says = (
            "From now on what leaves costs the average of all lots of the item.",
            "Lots of one item then share one cost: value moves between them once, and all of it stays.",
            "What is in finished pieces and in earlier builds stays as it was booked.",
        )
    else:
        says = (
            "From now on what leaves costs what its own lot cost, and the oldest lots go first.",
            "Lots that came in while the average was used keep the average as their cost.",
            "What is in finished pieces and in earlier builds stays as it was booked.",
        )
    return ValuationChange(before, method, len(shifts), moved, says)


def choose_valuation(session: Session, method: trade.Method, *, version: int | None = None) -> ValuationChosen:
    """Value by this method from now on; for the average every lot is brought to its item's average in one act.

    Raises: Stale when the settings changed since `version`; Conflict before the shop is founded.
    """
    shop = session.get(Shop, 1)
    if shop is None:
        raise Conflict("This shop is not set up yet. Start on its first page.")
    before = valuation(session)
    if version is not None and version != shop.version:
        raise Stale("page of settings", (("Stock is valued by", VALUATIONS[before], VALUATIONS[method]),))
    if before == method:
        return ValuationChosen(method, None, 0)
    shifts = _shifts(session) if method == "average" else {}
    shop.valuation = method
    act_id, moved = None, 0
    if shifts:
        postings = [
            Posting(lot_id, "", "revalue", 0, micros) for changes in shifts.values() for lot_id, micros in changes
        ]
        moved = sum(micros for changes in shifts.values() for _, micros in changes if micros > 0)
        words = f"Brought every lot to its average, for valuing by {VALUATIONS[method]}."
        act_id = post(
            session, TransactionHeader("revalue", resolve_day(session, None, "done_on"), words), postings
        ).act_id
    shop.version += 1
    session.flush()
    return ValuationChosen(method, act_id, moved)


def _shifts(session: Session) -> dict[int, tuple[tuple[int, int], ...]]:
    """By item the value that each of its lots gains or loses when all come to the average."""
    rows = session.execute(
        select(col(Lot.item_id), col(Lot.id), col(Lot.received_on), col(Lot.quantity_milli), col(Lot.value_micros))
        .where(col(Lot.quantity_milli) > 0)
        .order_by(col(Lot.item_id), col(Lot.received_on), col(Lot.id))
    )
    pools: dict[int, list[trade.Lot]] = {}
    for item_id, lot_id, received_on, milli, micros in rows:
        pools.setdefault(item_id, []).append(trade.Lot(lot_id or 0, received_on, milli, micros))
    found = {}
    for item_id, pool in pools.items():
        shifts = tuple((shift.lot_id, shift.value_micros) for shift in trade.even_out(pool).shifts)
        if shifts:
            found[item_id] = shifts
    return found
