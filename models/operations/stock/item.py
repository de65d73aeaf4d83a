"""Putting items in stock, changing what is known of them, retiring them. Nothing is counted here."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from models.errors import Stale, Unfit
from models.intake.faults import Fault, Faults
from models.intake.fields import differences, values_of
from models.intake.stock.item import ItemDraft
from models.operations.figures import refresh_figures
from models.operations.shop.clock import now
from models.operations.stock.offer import add_offer
from models.queries.fetch import fetch
from models.queries.stock.item import near_items, near_nm, near_wires, same_named
from models.queries.stock.item_page import frozen_words, uses_of
from models.queries.stock.lot import ever_in_stock
from models.queries.stock.metal import all_metals
from models.tables import Item
from models.trade.vocabulary.things import UNITS

FROZEN = {"metal": "metal", "wire_nm": "wire", "inner_nm": "inner", "hole_nm": "hole", "unit": "unit"}
"""What stays once a design uses an item, by the field that it is typed in."""


@dataclass
class NearSize(Unfit):
    """Something nearly the same is in stock already; `found` are its ids with their names."""

    found: tuple[tuple[int, str], ...]


def add_item(session: Session, draft: ItemDraft) -> int:
    """Put an item in stock, with its current offer where one came along; answer its id.

    Raises: Unfit (among them NearSize, unless the draft says that it is another thing).
    """
    _refuse_unknown_metal(session, draft)
    _refuse_near(session, draft, except_id=None)
    item = Item(created_at=now(), **values_of(draft))
    session.add(item)
    session.flush()
    if item.id is None:
        raise RuntimeError("a flushed row has its id")
    if draft.offer is not None:
        add_offer(session, item.id, draft.offer)
    return item.id


def edit_item(session: Session, item_id: int, draft: ItemDraft, version: int) -> None:
    """Change an item, and take its offer as the current one where one came along.

    Raises: Missing; Stale; Unfit, for metal and sizes that a design relies on, for another kind, for another unit once
    any of it was in stock, or for a near size.
    """
    item = _item(session, item_id)
    changed = {name: value for name, value in values_of(draft).items() if getattr(item, name) != value}
    if item.version != version:
        raise Stale("item", differences(item, draft))
    if draft.kind != item.kind:
        raise Unfit(
            Faults.of("kind", f"This stays a {item.kind}. Add another item, and retire this one if it is wrong.")
        )
    frozen = [field for field in FROZEN if field in changed]
    if frozen:
        words = frozen_words(item.kind, [use.name for use in uses_of(session, item_id)])
        if words:
            raise Unfit(Faults(tuple(Fault(FROZEN[field], words) for field in frozen)))
    if "unit" in changed and ever_in_stock(session, item_id):
        counted = UNITS.term(item.unit).says
        words = f"Some of it came into stock counted in {counted}, so that stays. Add another item for another unit."
        raise Unfit(Faults.of("unit", words))
    _refuse_unknown_metal(session, draft)
    if changed.keys() & {"metal", "colour", "wire_nm", "inner_nm", "name"}:
        _refuse_near(session, draft, except_id=item_id)
    if changed:
        for field, value in changed.items():
            setattr(item, field, value)
        item.version += 1
        session.flush()
        refresh_figures(session, item_id=item_id)
    if draft.offer is not None:
        add_offer(session, item_id, draft.offer)


def retire_item(session: Session, item_id: int) -> str:
    """Keep an item out of lists from now on; designs that use it go on doing so. Answer its name. Raises: Missing."""
    return _retire(session, item_id, retired=True)


def bring_back_item(session: Session, item_id: int) -> str:
    """Put a retired item back into the lists. Answer its name. Raises: Missing."""
    return _retire(session, item_id, retired=False)


def _retire(session: Session, item_id: int, *, retired: bool) -> str:
    item = _item(session, item_id)
    if item.retired != retired:
        item.retired = retired
        item.version += 1
        session.flush()
    return item.name


def _item(session: Session, item_id: int) -> Item:
    return fetch(session, Item, item_id, "item")


def _refuse_unknown_metal(session: Session, draft: ItemDraft) -> None:
    if draft.metal is not None and draft.metal not in all_metals(session):
        raise Unfit(Faults.of("metal", f"'{draft.metal}' is not a metal of this shop."))


def _refuse_near(session: Session, draft: ItemDraft, *, except_id: int | None) -> None:
    """Ask before a second bag of nearly the same ring, or a second item of the same name, is taken down."""
    if draft.near_ok or draft.retired:
        return
    if draft.size is not None:
        rings = near_items(session, draft.size, draft.metal, near_nm(session), colour=draft.colour)
        found = tuple(
            (ring.id, ring.name)
            for ring in rings
            if ring.id != except_id and ring.can_open == draft.can_open and _alike(ring.finish, draft.finish)
        )
        what = "a ring of nearly this size, metal and colour"
    elif draft.kind == "wire" and draft.wire_nm:
        wires = near_wires(session, draft.wire_nm, draft.metal, near_nm(session), colour=draft.colour)
        found = tuple(each for each in wires if each[0] != except_id)
        what = "wire of nearly this thickness, metal and colour"
    else:
        found = tuple(each for each in same_named(session, draft.kind, draft.name) if each[0] != except_id)
        what = f"a {draft.kind} of this name"
    if found:
        named = " and ".join(f"“{name}” (no. {number})" for number, name in found[:3])
        words = f"You already have {what}: {named}. Use that one, or say that this is another."
        raise NearSize(Faults.of("near_ok", words), found)


def _alike(finish: str, other: str) -> bool:
    return not finish or not other or finish.casefold() == other.casefold()
