"""Founds the invented studio in an empty shop, by the same operations that a person's own input goes through."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import TypeVar

from sqlmodel import Session

from models.intake.costing.listed_price import ListedPriceDraft
from models.intake.costing.outlet import OutletDraft, read_outlet
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft, WorkDraft
from models.intake.faults import Faults
from models.intake.stock.item import ItemDraft, read_item
from models.intake.stock.supplier import SupplierDraft, read_supplier
from models.operations.costing.listed_price import list_price
from models.operations.costing.outlet import add_outlet
from models.operations.demo.designs import DESIGNS, OUTLETS, D, P
from models.operations.demo.layouts import layout_for
from models.operations.demo.ledger import fill_drawers
from models.operations.demo.stock import OTHERS, RING_BAGS, SUPPLIERS, Ring
from models.operations.designs.design import add_design
from models.operations.shop.shop import found_shop
from models.operations.stock.item import add_item
from models.operations.stock.supplier import add_supplier
from models.queries.shop.shop import SHOP_ID
from models.tables import Shop
from models.trade.measures import parse_length

STUDIO = "Lantern Quay Maille (an invented studio)"
CURRENCY = "EUR"
TIME_ZONE = "Europe/Dublin"
T = TypeVar("T")


class DemoFault(Exception):
    """The demo's own data no longer reads; the message names the row and its faults."""


def found_demo(session: Session) -> None:
    """Write the invented studio: settings, suppliers, stock items, outlets, designs with listed prices, stock."""
    found_shop(session, name=STUDIO, currency=CURRENCY, time_zone=TIME_ZONE, wage_per_hour=Decimal("18.50"), demo=True)
    shop = session.get_one(Shop, SHOP_ID)
    shop.overhead_per_hour = Decimal("3.20")
    for supplier in SUPPLIERS:
        add_supplier(session, _read(SupplierDraft, read_supplier(supplier), supplier))
    items = _stock_items(session)
    outlets = _outlets(session)
    for design in DESIGNS:
        design_id = add_design(session, _design(design, items))
        for outlet, price in design.listed:
            list_price(session, design_id, ListedPriceDraft(outlets[outlet], Decimal(price)), None)
    fill_drawers(session, items, TIME_ZONE)


def _stock_items(session: Session) -> dict[str, int]:
    found: dict[str, int] = {}
    for bag in RING_BAGS:
        raw = _ring(bag)
        found[stock_key(bag)] = add_item(session, _read(ItemDraft, read_item(raw, currency=CURRENCY), raw))
    for other in OTHERS:
        raw = _with_pack(other)
        found[other["name"]] = add_item(session, _read(ItemDraft, read_item(raw, currency=CURRENCY), raw))
    return found


def stock_key(bag: Ring) -> str:
    """How a design of the demo names a bag: 'bronze-c226 1.0 3.6' or 'niobium 0.8 2.8 teal'."""
    wire = bag.wire.removesuffix(" mm").replace(" ", "-")
    inner = bag.inner.removesuffix(" mm").removesuffix(" in")
    return " ".join(word for word in (bag.metal, wire, inner, bag.colour) if word)


def _ring(bag: Ring) -> dict[str, str]:
    return _with_pack(
        {
            "kind": "ring",
            "metal": bag.metal,
            "wire": bag.wire,
            "inner": bag.inner,
            "colour": bag.colour,
            "finish": bag.finish,
            "wire_label": bag.label,
            "arrives": bag.arrives,
            "tint": bag.tint,
            "pack": bag.pack,
            "supplier": bag.supplier,
            "near_ok": "yes",
        }
    )


def _with_pack(row: Mapping[str, str]) -> dict[str, str]:
    """Take a pack such as '50 g 6.80' apart into the offer's fields."""
    pack, unit, price = row["pack"].split()
    return {**row, "pack": pack, "pack_unit": unit, "price": price, "currency": CURRENCY}


def _outlets(session: Session) -> dict[str, int]:
    return {str(raw["name"]): add_outlet(session, _read(OutletDraft, read_outlet(raw), raw)) for raw in OUTLETS}


def _design(design: D, items: Mapping[str, int]) -> DesignDraft:
    return DesignDraft(
        name=design.name,
        piece=design.piece,
        note=f"{design.note} Invented for this demo.",
        weave=design.weave,
        skill=design.skill,
        width_nm=_nm(design.width),
        height_nm=_nm(design.height),
        length_nm=_nm(design.length),
        once_pieces=design.once_pieces,
        change_note="first saved",
        parts=tuple(_part(part, items) for part in design.parts),
        work=tuple(WorkDraft(kind) for kind in design.work),
        layout=layout_for(design.name, items),
    )


def _part(part: P, items: Mapping[str, int]) -> PartDraft:
    return PartDraft(
        quantity_milli=int(Decimal(part.quantity).scaleb(3)),
        item_id=items[part.item],
        purpose=part.purpose,
        optional=part.optional,
        choice_group=part.group,
        choice_name=part.choice,
        joined=part.joined,
    )


def _nm(text: str) -> int | None:
    return parse_length(text).nm if text else None


def _read(_kind: type[T], read: T | Faults, raw: object) -> T:
    if isinstance(read, Faults):
        raise DemoFault(f"{raw}: {read.by_field()}")
    return read
