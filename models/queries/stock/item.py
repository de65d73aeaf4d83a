"""Stock items: one of them, many of them, the near-equal ones, and all of them as rows of a CSV file.

Finding and filtering stand in `item_find`, everything that an item's own page shows in `item_page`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from itertools import product
from types import SimpleNamespace
from typing import Any, Literal

from sqlalchemy import ColumnElement, Select, null
from sqlalchemy import select as columns
from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from models.costing.inputs import UnitCost
from models.errors import Missing
from models.intake.faults import Faults
from models.intake.fields import kept_fields
from models.intake.raw import Raw
from models.intake.stock.item import ItemDraft, read_item
from models.queries.shop.gathering import Gathering, gathering_in
from models.queries.shop.shop import SHOP_ID
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.queries.stock.offer import OFFER_COLUMNS, body_in, offer_in
from models.tables import Item, Offer, Shop, Supplier
from models.trade.colours import BARE_TINT, tint_of
from models.trade.metals import Metal
from models.trade.rings import RingSize
from models.trade.vocabulary.things import ITEM_KINDS, PART_KINDS

Offers = Literal["current", "last", "none"]
"""Which offer is read with an item: the current one, the last one where none is current (for designs), or none."""


@dataclass(frozen=True, slots=True)
class NearItem:
    """A ring in stock whose size is near another one, with how far its wire and opening differ in nanometres."""

    id: int
    name: str
    metal: str | None
    colour: str
    finish: str
    can_open: bool
    size: RingSize
    wire_off_nm: int
    inner_off_nm: int

    @property
    def exact(self) -> bool:
        """Whether both sizes are the same."""
        return self.wire_off_nm == 0 and self.inner_off_nm == 0


ITEM_COLUMNS: tuple[Any, ...] = (
    col(Item.id),
    *(col(getattr(Item, name)) for name in kept_fields(ItemDraft)),
    col(Item.version),
)


def items_with_offers(offers: Offers = "current") -> Select[Any]:
    """The statement that reads items, each with one of its offers where it has any; every row serves `item_in`."""
    if offers == "none":
        return columns(*ITEM_COLUMNS, null().label("offer_id"))
    taken: ColumnElement[bool] = col(Offer.current).is_(True)
    if offers == "last":
        other = aliased(Offer)
        newest = columns(col(other.id)).where(col(other.item_id) == col(Item.id)).correlate(Item)
        best = newest.order_by(col(other.current).desc(), col(other.id).desc()).limit(1)
        taken = col(Offer.id) == best.scalar_subquery()
    return (
        columns(*ITEM_COLUMNS, *OFFER_COLUMNS)
        .select_from(Item)
        .outerjoin(Offer, (col(Offer.item_id) == col(Item.id)) & taken)
        .outerjoin(Supplier, col(Supplier.id) == col(Offer.supplier_id))
    )


def item_in(row: Any, metals: Mapping[str, Metal], *, in_design: bool = False) -> Material:
    """The item in a row of `items_with_offers`."""
    metal = metals.get(row.metal) if row.metal else None
    body = body_in(row, metals)
    return Material(
        id=row.id,
        kind=row.kind,
        name=row.name,
        metal=row.metal,
        finish=row.finish,
        colour=row.colour,
        own_tint=row.tint,
        tint=row.tint or tint_of(row.colour, metal.tint if metal else BARE_TINT),
        wire_nm=row.wire_nm,
        inner_nm=row.inner_nm,
        wire_label=row.wire_label,
        inner_label=row.inner_label,
        hole_nm=row.hole_nm,
        unit=row.unit,
        measured_mass_ug=row.mass_ug,
        can_open=row.can_open,
        arrives=row.arrives,
        note=row.note,
        retired=row.retired,
        version=row.version,
        offer=offer_in(row, body, in_design=in_design),
        body=body,
    )


def in_order(rows: Iterable[Any]) -> list[Any]:
    """Items in the order of a well-kept drawer: kind, metal, wire, opening, colour, name."""
    place = {kind: number for number, kind in enumerate(ITEM_KINDS)}
    return sorted(
        rows,
        key=lambda row: (
            place.get(row.kind, 99),
            row.metal or "",
            row.wire_nm or 0,
            row.inner_nm or 0,
            row.colour.casefold(),
            row.name.casefold(),
            row.id,
        ),
    )


def item_view(session: Session, item_id: int) -> Material:
    """One item. Raises: Missing."""
    found = load_materials(session, (item_id,))
    if item_id not in found:
        raise Missing("item", item_id)
    return found[item_id]


def load_materials(
    session: Session,
    item_ids: Collection[int] | None = None,
    metals: Mapping[str, Metal] | None = None,
    *,
    offers: Offers = "current",
) -> dict[int, Material]:
    """Items by id: these (unknown ids are left out), or every one; in the usual order.

    Costs follow the current offer. A design is costed by the last one where none is current, and is then provisional.
    """
    if offers == "current" and (gathering := gathering_in(session)) is not None:
        return _from_held(gathering, item_ids)
    return _materials(session, item_ids, metals, offers)


def _from_held(gathering: Gathering, item_ids: Collection[int] | None) -> dict[int, Material]:
    """Items as they were before any row: in a file that takes them up their offers do not change."""
    known = gathering.once("items", lambda: _materials(gathering, None))
    if item_ids is None:
        return known
    metals = all_metals(gathering)
    for item_id in item_ids:
        if item_id not in known and (item := gathering.held(Item).get(item_id)) is not None:
            known[item_id] = item_in(_without_offer(item), metals)
    return {item_id: known[item_id] for item_id in item_ids if item_id in known}


def _without_offer(item: Item) -> SimpleNamespace:
    """An item that was just made, as a row of `items_with_offers`."""
    return SimpleNamespace(**dict.fromkeys(column.key for column in OFFER_COLUMNS) | item.model_dump())


def _materials(
    session: Session,
    item_ids: Collection[int] | None,
    metals: Mapping[str, Metal] | None = None,
    offers: Offers = "current",
) -> dict[int, Material]:
    if item_ids is not None and not item_ids:
        return {}
    found = items_with_offers(offers)
    if item_ids is not None:
        found = found.where(col(Item.id).in_(item_ids))
    known = all_metals(session) if metals is None else metals
    rows = in_order(session.execute(found).all())
    return {row.id: item_in(row, known, in_design=offers == "last") for row in rows}


def unit_costs(session: Session, item_ids: Collection[int] | None = None) -> dict[int, UnitCost]:
    """What one unit of each item costs by its current offer; items of which no offer says it are left out."""
    return {
        item_id: cost
        for item_id, item in load_materials(session, item_ids).items()
        if (cost := item.unit_cost) is not None
    }


def near_items(
    session: Session, size: RingSize, metal: str | None, tolerance_nm: int, *, colour: str | None = None
) -> tuple[NearItem, ...]:
    """The rings in stock (not retired) whose wire and opening are both within a tolerance of a size, nearest first.

    `metal` None takes any metal, `colour` None any colour; a colour is compared without regard to capitals.
    """
    if (gathering := gathering_in(session)) is not None:
        return _nearest(_held_rings(gathering, size, metal, tolerance_nm), size, colour)
    found = columns(
        col(Item.id),
        col(Item.name),
        col(Item.metal),
        col(Item.colour),
        col(Item.finish),
        col(Item.can_open),
        col(Item.wire_nm),
        col(Item.inner_nm),
    ).where(
        col(Item.kind) == "ring",
        col(Item.retired).is_(False),
        col(Item.wire_nm).between(size.wire_nm - tolerance_nm, size.wire_nm + tolerance_nm),
        col(Item.inner_nm).between(size.inner_nm - tolerance_nm, size.inner_nm + tolerance_nm),
    )
    if metal is not None:
        found = found.where(col(Item.metal) == metal)
    return _nearest(session.execute(found), size, colour)


def _held_rings(gathering: Gathering, size: RingSize, metal: str | None, tolerance_nm: int) -> Iterable[Item]:
    """The rings that are held within a tolerance of a size: looked up by both sizes in steps of that width."""
    step = tolerance_nm + 1

    def around(nm: int) -> range:
        return range((nm - tolerance_nm) // step, (nm + tolerance_nm) // step + 1)

    def place(item: Item) -> tuple[int, int] | None:
        return ((item.wire_nm or 0) // step, (item.inner_nm or 0) // step) if item.kind == "ring" else None

    rings = gathering.by(Item, f"rings by {step}", place)
    for item in (item for key in product(around(size.wire_nm), around(size.inner_nm)) for item in rings[key]):
        near = (
            abs((item.wire_nm or 0) - size.wire_nm) <= tolerance_nm
            and abs((item.inner_nm or 0) - size.inner_nm) <= tolerance_nm
        )
        if near and not item.retired and metal in (None, item.metal):
            yield item


def _nearest(rows: Iterable[Any], size: RingSize, colour: str | None) -> tuple[NearItem, ...]:
    rings = [
        NearItem(
            id=row.id,
            name=row.name,
            metal=row.metal,
            colour=row.colour,
            finish=row.finish,
            can_open=row.can_open,
            size=RingSize(row.wire_nm, row.inner_nm),
            wire_off_nm=abs(row.wire_nm - size.wire_nm),
            inner_off_nm=abs(row.inner_nm - size.inner_nm),
        )
        for row in rows
        if colour is None or row.colour.casefold() == colour.casefold()
    ]
    return tuple(sorted(rings, key=lambda ring: (ring.wire_off_nm + ring.inner_off_nm, ring.id)))


def near_wires(
    session: Session, wire_nm: int, metal: str | None, tolerance_nm: int, *, colour: str
) -> tuple[tuple[int, str], ...]:
    """The wire in stock (not retired) of a metal and colour within a tolerance of a thickness, as (id, name)."""
    if (gathering := gathering_in(session)) is not None:
        wires = gathering.by(Item, "wires", lambda item: item.kind == "wire" and (item.metal, item.colour.casefold()))
        return tuple(
            (item.id or 0, item.name)
            for item in wires[metal, colour.casefold()]
            if not item.retired and item.wire_nm and abs(item.wire_nm - wire_nm) <= tolerance_nm
        )
    found = select(Item.id, Item.name, Item.colour).where(
        Item.kind == "wire",
        Item.metal == metal,
        col(Item.retired).is_(False),
        col(Item.wire_nm).between(wire_nm - tolerance_nm, wire_nm + tolerance_nm),
    )
    return tuple(
        (number, name)
        for number, name, known in session.exec(found)
        if number is not None and known.casefold() == colour.casefold()
    )


def same_named(session: Session, kind: str, name: str) -> tuple[tuple[int, str], ...]:
    """The items of a kind (not retired) with this name, as (id, name); capitals do not matter."""
    if (gathering := gathering_in(session)) is not None:
        known = gathering.by(Item, "name", lambda item: item.name.casefold())
        return tuple(
            (item.id or 0, item.name) for item in known[name.casefold()] if item.kind == kind and not item.retired
        )
    # The database's own lower() knows only plain Latin letters.
    found = select(Item.id, Item.name).where(Item.kind == kind, col(Item.retired).is_(False))
    return tuple(
        (number, known)
        for number, known in session.exec(found)
        if number is not None and known.casefold() == name.casefold()
    )


def item_reader(session: Session, *, length_unit: str = "mm") -> Callable[[Raw], ItemDraft | Faults]:
    """`read_item` with what this shop knows: its metals and its currency; a bare number is in `length_unit`."""
    currency = session.exec(select(Shop.currency)).first() or ""
    return partial(read_item, metals=all_metals(session), currency=currency, length_unit=length_unit)


def near_nm(session: Session) -> int:
    """From how far apart two sizes count as different in this shop."""
    shop = session.get(Shop, SHOP_ID)
    return shop.near_nm if shop else 0


def export_items(session: Session) -> Iterable[dict[str, object]]:
    """Every item that does not come by itself, with its offer, as rows of `ITEM_COLUMNS`; reading gives the same."""
    items = tuple(item for item in load_materials(session).values() if item.kind in PART_KINDS)
    twins = _with_twins(items, near_nm(session))
    for item in items:
        offer = item.offer
        yield {
            **item.raw(),
            "name": item.name,
            "can_open": item.can_open if item.kind == "ring" else None,
            "supplier": offer.supplier if offer else None,
            "pack": offer.pack if offer else None,
            "pack_unit": offer.pack_unit if offer else None,
            "price": offer.price if offer else None,
            "currency": offer.currency if offer else None,
            "exchange_rate": offer.exchange_rate if offer and offer.foreign else None,
            "offer_note": offer.note if offer else None,
            # Without it a second shop would ask about every pair of near sizes that this one has already said yes to.
            "near_ok": True if item.id in twins else None,
        }


def _with_twins(items: Sequence[Material], tolerance_nm: int) -> set[int]:
    """The items that another one of the shop is near to, in size and metal or by name: those that were asked about."""
    names = Counter((item.kind, item.name.casefold()) for item in items)
    found = {item.id for item in items if names[item.kind, item.name.casefold()] > 1}
    sized = sorted(
        (item.kind, item.metal or "", item.wire_nm, item.inner_nm or 0, item.id)
        for item in items
        if ITEM_KINDS.term(item.kind).needs_metal and item.wire_nm
    )
    for place, (kind, metal, wire_nm, inner_nm, item_id) in enumerate(sized):
        for other_kind, other_metal, other_wire_nm, other_inner_nm, other_id in sized[place + 1 :]:
            # Sorted by metal and wire, nothing further on can be near once one is past the tolerance.
            if (other_kind, other_metal) != (kind, metal) or other_wire_nm - wire_nm > tolerance_nm:
                break
            if abs(other_inner_nm - inner_nm) <= tolerance_nm:
                found |= {item_id, other_id}
    return found
