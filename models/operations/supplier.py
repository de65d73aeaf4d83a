"""Taking suppliers down, and changing what is known of them."""

from __future__ import annotations

from sqlmodel import Session, select

from models.errors import Missing, Stale, Unfit
from models.intake.faults import Faults
from models.intake.supplier import SupplierDraft
from models.operations.clock import now
from models.tables import Supplier


def add_supplier(session: Session, draft: SupplierDraft) -> int:
    """Write a new supplier; answer its id. Raises: Unfit when there is one of this name."""
    if supplier_named(session, draft.name) is not None:
        raise Unfit(Faults.of("name", f"There is a supplier called '{draft.name}' already."))
    supplier = Supplier(name=draft.name, note=draft.note, lead_days=draft.lead_days, created_at=now())
    session.add(supplier)
    session.flush()
    return _id(supplier)


def edit_supplier(session: Session, supplier_id: int, draft: SupplierDraft, version: int) -> None:
    """Change a supplier. Raises: Missing, Stale, Unfit when another one has this name."""
    supplier = session.get(Supplier, supplier_id)
    if supplier is None:
        raise Missing("supplier", supplier_id)
    if supplier.version != version:
        raise Stale(
            "supplier",
            tuple(
                (label, str(saved if saved is not None else ""), str(typed if typed is not None else ""))
                for label, saved, typed in (
                    ("Name", supplier.name, draft.name),
                    ("Days until it is here", supplier.lead_days, draft.lead_days),
                    ("Note", supplier.note, draft.note),
                )
                if saved != typed
            ),
        )
    other = supplier_named(session, draft.name)
    if other not in (None, supplier_id):
        raise Unfit(Faults.of("name", f"There is another supplier called '{draft.name}'."))
    supplier.name, supplier.note, supplier.lead_days = draft.name, draft.note, draft.lead_days
    supplier.version += 1
    session.flush()


def supplier_named(session: Session, name: str) -> int | None:
    """The supplier of this name, without regard to capitals; None when there is none."""
    # The names are few, and the database's own lower() knows only plain Latin letters.
    rows = session.exec(select(Supplier.id, Supplier.name)).all()
    return next((number for number, known in rows if known.casefold() == name.casefold()), None)


def settle_supplier(session: Session, *, supplier_id: int | None, name: str) -> int | None:
    """The supplier meant by a number or a name; a new name is taken down. Raises: Unfit for an unknown number."""
    if supplier_id is not None:
        if session.get(Supplier, supplier_id) is None:
            raise Unfit(Faults.of("supplier_id", f"There is no supplier {supplier_id}."))
        return supplier_id
    if not name:
        return None
    known = supplier_named(session, name)
    return known if known is not None else add_supplier(session, SupplierDraft(name=name, note="", lead_days=None))


def _id(supplier: Supplier) -> int:
    if supplier.id is None:
        raise RuntimeError("a flushed row has its id")
    return supplier.id
