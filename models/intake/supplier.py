"""What people hand in about a supplier. Offers stand in `offer`."""

from __future__ import annotations

from dataclasses import dataclass

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader

MOST_LEAD_DAYS = 730


@dataclass(frozen=True, slots=True)
class SupplierDraft:
    """A supplier as handed in; `lead_days` is how long an order usually takes, None when unknown."""

    name: str
    note: str
    lead_days: int | None


def read_supplier(raw: Raw) -> SupplierDraft | Faults:
    """Read a supplier from a form, a JSON body or a CSV row."""
    reader = Reader(raw)
    draft = SupplierDraft(
        name=reader.text("name", required="Give the supplier a name.", most=120),
        note=reader.text("note", most=2000, lines=True),
        lead_days=reader.integer("lead_days", most=MOST_LEAD_DAYS, required=False),
    )
    return reader.faults() or draft
