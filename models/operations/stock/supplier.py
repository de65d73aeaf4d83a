"""Taking suppliers down, and changing what is known of them."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

from sqlmodel import Session, select

from models.errors import Stale, Unfit
from models.intake.faults import Faults
from models.intake.fields import differences, values_of
from models.intake.stock.supplier import SupplierDraft, resolve_supplier_currency
from models.operations.shop.clock import now
from models.queries.fetch import fetch
from models.queries.shop.gathering import gathering_in
from models.queries.shop.shop import SHOP_ID
from models.tables import Shop, Supplier


def add_supplier(session: Session, draft: SupplierDraft) -> int:
    """Write a new supplier; answer its id. Raises: Unfit when there is one of this name, or its rate is missing."""
    draft = _resolve_currency(session, draft)
    if supplier_named(session, draft.name) is not None:
        raise Unfit(Faults.of("name", f"There is a supplier called '{draft.name}' already."))
    supplier = Supplier(name=draft.name, created_at=now())
    _write(supplier, draft)
    session.add(supplier)
    session.flush()
    return _id(supplier)


def edit_supplier(session: Session, supplier_id: int, draft: SupplierDraft, version: int) -> None:
    """Change a supplier. Raises: Missing, Stale, Unfit when another one has this name, or its rate is missing."""
    draft = _resolve_currency(session, draft)
    supplier = fetch(session, Supplier, supplier_id, "supplier")
    if supplier.version != version:
        raise Stale("supplier", differences(supplier, _with_own_rate(draft)))
    other = supplier_named(session, draft.name)
    if other not in (None, supplier_id):
        raise Unfit(Faults.of("name", f"There is another supplier called '{draft.name}'."))
    _write(supplier, draft)
    supplier.version += 1
    session.flush()


def supplier_named(session: Session, name: str) -> int | None:
    """The supplier of this name, without regard to capitals; None when there is none."""
    if (gathering := gathering_in(session)) is not None:
        named = gathering.by(Supplier, "name", lambda supplier: supplier.name.casefold())[name.casefold()]
        return named[0].id if named else None
    # The names are few, and the database's own lower() knows only plain Latin letters.
    rows = session.exec(select(Supplier.id, Supplier.name)).all()
    return next((number for number, known in rows if known.casefold() == name.casefold()), None)


def resolve_supplier(
    session: Session, *, supplier_id: int | None, name: str, currency: str = "", exchange_rate: Decimal | None = None
) -> int | None:
    """The supplier meant by a number or a name; a new name is taken down. Raises: Unfit for an unknown number.

    A new one deals in `currency`; one that deals in it already takes over the newest rate.
    """
    if supplier_id is not None:
        if session.get(Supplier, supplier_id) is None:
            raise Unfit(Faults.of("supplier_id", f"There is no supplier {supplier_id}."))
        return _with_rate(session, supplier_id, currency, exchange_rate)
    if not name:
        return None
    known = supplier_named(session, name)
    if known is not None:
        return _with_rate(session, known, currency, exchange_rate)
    draft = SupplierDraft(name=name, note="", lead_days=None, currency=currency, exchange_rate=exchange_rate)
    return add_supplier(session, draft)


def _with_rate(session: Session, supplier_id: int, currency: str, exchange_rate: Decimal | None) -> int:
    supplier = session.get_one(Supplier, supplier_id)
    if currency and exchange_rate and supplier.currency == currency and supplier.exchange_rate != exchange_rate:
        supplier.exchange_rate = exchange_rate
        supplier.version += 1
    return supplier_id


def _resolve_currency(session: Session, draft: SupplierDraft) -> SupplierDraft:
    shop = session.get(Shop, SHOP_ID)
    settled = resolve_supplier_currency(draft, shop.currency if shop else draft.currency)
    if isinstance(settled, Faults):
        raise Unfit(settled)
    return settled


def _write(supplier: Supplier, draft: SupplierDraft) -> None:
    supplier.sqlmodel_update(values_of(_with_own_rate(draft)))


def _with_own_rate(draft: SupplierDraft) -> SupplierDraft:
    """The draft as its row keeps it, where the shop's own currency costs 1."""
    return replace(draft, exchange_rate=draft.exchange_rate or Decimal(1))


def _id(supplier: Supplier) -> int:
    if supplier.id is None:
        raise RuntimeError("a flushed row has its id")
    return supplier.id
