"""The list of what is needed: putting things on it and striking them off. What to buy is planned elsewhere."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import Session, col, select

from models.costing.lines import Impossible
from models.errors import Missing, Unfit
from models.intake.buying.need import NeedDraft
from models.intake.faults import Fault, Faults
from models.operations.shop.clock import now
from models.queries.fetch import fetch
from models.queries.stock.item import load_materials
from models.queries.stock.measured import measured, names_of_items
from models.tables import Item, Need


def add_needs(session: Session, needs: Sequence[tuple[int, int, str]]) -> tuple[int, ...]:
    """Put (item, thousandths, what for) on the list; answer their ids. What is there for the same purpose grows.

    Raises: Missing for an unknown item.
    """
    known = set(session.exec(select(Item.id).where(col(Item.id).in_([item_id for item_id, _, _ in needs]))))
    made = []
    for item_id, milli, purpose in needs:
        if item_id not in known:
            raise Missing("stock item", item_id)
        if milli < 1:
            continue
        there = session.exec(
            select(Need).where(Need.item_id == item_id, Need.purpose == purpose, ~col(Need.struck))
        ).first()
        if there is None:
            there = Need(item_id=item_id, quantity_milli=milli, purpose=purpose, created_at=now())
            session.add(there)
        else:
            there.quantity_milli += milli
            there.version += 1
        session.flush()
        made.append(there.id or 0)
    return tuple(made)


def list_needs(session: Session, needs: Sequence[tuple[int, int, str]]) -> tuple[tuple[int, int], ...]:
    """Put what another page worked out on the list; answer each id with how much stood there before, 0 for none.

    What is there for the same purpose is replaced, so that the same class or build asked for again counts once.
    Raises: Missing for an unknown item.
    """
    totals: dict[tuple[int, str], int] = {}
    for item_id, milli, purpose in needs:
        totals[item_id, purpose] = totals.get((item_id, purpose), 0) + milli
    standing = session.exec(
        select(Need).where(col(Need.item_id).in_({item_id for item_id, _ in totals}), ~col(Need.struck))
    )
    before = {(need.item_id, need.purpose): need.quantity_milli for need in standing}
    ids = add_needs(session, [(item_id, milli, purpose) for (item_id, purpose), milli in totals.items()])
    for need_id, milli in zip(ids, totals.values(), strict=True):
        session.get_one(Need, need_id).quantity_milli = milli
    session.flush()
    return tuple((need_id, before.get(key, 0)) for need_id, key in zip(ids, totals, strict=True))


def put_needs_back(session: Session, before: Sequence[tuple[int, int]]) -> None:
    """Let each thing on the list be as much as before; what was nothing is struck off. Raises: Missing."""
    for need_id, milli in before:
        need = strike_need(session, need_id, struck=not milli)
        if milli and need.quantity_milli != milli:
            need.quantity_milli = milli
            need.version += 1
    session.flush()


def need_items(session: Session, drafts: Sequence[NeedDraft]) -> tuple[tuple[int, int, str], ...]:
    """What was typed as (item, thousandths, what for). Raises: Unfit with faults by field ('needs.0.quantity')."""
    named = names_of_items(session, {draft.item for draft in drafts if draft.item_id is None})
    ids = [draft.item_id or _only(named[draft.item.casefold()]) for draft in drafts]
    items = load_materials(session, {item_id for item_id in ids if item_id})
    faults: list[Fault] = []
    found = []
    for draft, item_id in zip(drafts, ids, strict=True):
        at = draft.at
        item = items.get(item_id or 0)
        if item is None:
            many = draft.item_id is None and len(named[draft.item.casefold()]) > 1
            words = f"stock item {draft.item_id}" if draft.item_id else f"stock item called “{draft.item}”"
            says = f"Several things are called “{draft.item}”. Take its number." if many else f"There is no {words}."
            faults.append(Fault(f"{at}item", says))
            continue
        much = measured(item, draft.how)
        if isinstance(much, Impossible):
            faults.append(Fault(f"{at}quantity", much.reason))
        elif much.milli < 1:
            faults.append(Fault(f"{at}quantity", "This comes to nothing. Give more."))
        else:
            found.append((item.id, much.milli, draft.purpose))
    if faults:
        raise Unfit(Faults(tuple(faults)))
    return tuple(found)


def strike_need(session: Session, need_id: int, *, struck: bool = True) -> Need:
    """Strike something off the list, or put it back; answer what it says. Raises: Missing."""
    need = fetch(session, Need, need_id, "thing on the list")
    if need.struck != struck:
        need.struck = struck
        need.version += 1
        session.flush()
    return need


def _only(ids: Sequence[int]) -> int | None:
    return ids[0] if len(ids) == 1 else None
