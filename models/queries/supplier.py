"""Suppliers, and what each of them sells."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import case
from sqlalchemy import select as columns
from sqlmodel import Session, col, func, select

from models.errors import Missing
from models.queries.offer import ItemOffer, offers_of
from models.tables import Offer, Supplier


@dataclass(frozen=True, slots=True)
class SupplierView:
    """One supplier; `lead_days` is how long an order usually takes, None when unknown."""

    id: int
    name: str
    note: str
    lead_days: int | None
    version: int
    items: int
    """How many items are bought here now: those whose current offer is this supplier's."""

    def raw(self) -> dict[str, object]:
        """The supplier as its form and the API hand it in."""
        return {"name": self.name, "note": self.note, "lead_days": self.lead_days}


@dataclass(frozen=True, slots=True)
class SupplierPage:
    """One supplier with all offers, current ones first."""

    supplier: SupplierView
    offers: tuple[ItemOffer, ...]


def list_suppliers(session: Session) -> tuple[SupplierView, ...]:
    """Every supplier by name."""
    return tuple(_suppliers(session, None))


def supplier_names(session: Session) -> tuple[str, ...]:
    """The names that a field for a supplier offers."""
    return tuple(session.exec(select(Supplier.name).order_by(Supplier.name)).all())


def supplier_view(session: Session, supplier_id: int) -> SupplierView:
    """One supplier. Raises: Missing."""
    found = _suppliers(session, supplier_id)
    if not found:
        raise Missing("supplier", supplier_id)
    return found[0]


def supplier_page(session: Session, supplier_id: int) -> SupplierPage:
    """One supplier with its offers. Raises: Missing."""
    supplier = supplier_view(session, supplier_id)
    return SupplierPage(supplier, offers_of(session, supplier_id))


def _suppliers(session: Session, supplier_id: int | None) -> list[SupplierView]:
    current = func.sum(case((col(Offer.current), 1), else_=0)).label("items")
    found = (
        columns(
            col(Supplier.id),
            col(Supplier.name),
            col(Supplier.note),
            col(Supplier.lead_days),
            col(Supplier.version),
            func.coalesce(current, 0).label("items"),
        )
        .outerjoin(Offer, col(Offer.supplier_id) == col(Supplier.id))
        .group_by(
            col(Supplier.id), col(Supplier.name), col(Supplier.note), col(Supplier.lead_days), col(Supplier.version)
        )
        .order_by(func.lower(col(Supplier.name)))
    )
    if supplier_id is not None:
        found = found.where(col(Supplier.id) == supplier_id)
    return [
        SupplierView(row.id, row.name, row.note, row.lead_days, row.version, row.items)
        for row in session.execute(found)
    ]
