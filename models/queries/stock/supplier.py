"""Suppliers, and what each of them sells."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from sqlalchemy import case
from sqlalchemy import select as columns
from sqlmodel import Session, col, func, select

from models.errors import Missing
from models.intake.fields import kept_fields, raw_of, values_in_row
from models.intake.stock.supplier import SupplierDraft
from models.queries.stock.offer import ItemOffer, offers_of
from models.tables import Offer, Supplier

_COLUMNS: tuple[Any, ...] = (
    col(Supplier.id),
    *(col(getattr(Supplier, name)) for name in kept_fields(SupplierDraft)),
    col(Supplier.version),
)


@dataclass(frozen=True, slots=True)
class SupplierView:
    """One supplier; `lead_days` is how long an order usually takes, None when unknown.

    Sums are in `currency` (empty: the shop's own), of which one unit costs `exchange_rate` of the shop's own.
    """

    id: int
    name: str
    note: str
    lead_days: int | None
    version: int
    items: int
    """How many items are bought here now: those whose current offer is this supplier's."""
    postage: Decimal = Decimal(0)
    free_from: Decimal | None = None
    minimum: Decimal = Decimal(0)
    currency: str = ""
    exchange_rate: Decimal = Decimal(1)

    def raw(self) -> dict[str, object]:
        """The supplier as its form and the API hand it in."""
        return raw_of(
            SupplierDraft,
            self,
            postage=self.postage if self.postage or self.free_from is not None else None,
            minimum=self.minimum or None,
            exchange_rate=self.exchange_rate if self.currency else None,
        )


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
        columns(*_COLUMNS, func.coalesce(current, 0).label("items"))
        .outerjoin(Offer, col(Offer.supplier_id) == col(Supplier.id))
        .group_by(*_COLUMNS)
        .order_by(func.lower(col(Supplier.name)))
    )
    if supplier_id is not None:
        found = found.where(col(Supplier.id) == supplier_id)
    return [
        SupplierView(id=row.id, version=row.version, items=row.items, **values_in_row(SupplierDraft, row))
        for row in session.execute(found)
    ]
