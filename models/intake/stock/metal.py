"""What people hand in about a metal of their own."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.trade.colours import is_tint

LIGHTEST = Decimal("0.5")
HEAVIEST = Decimal(25)
USUAL_TINT = "#a3a3a3"


@dataclass(frozen=True, slots=True)
class MetalDraft:
    """A metal or other ring material as handed in; density in g/cm3, exact."""

    name: str
    density: Decimal
    source: str
    tint: str
    note: str


def read_tint(reader: Reader, field: str = "tint") -> str:
    """Read the tint of a drawn ring, such as #3b7d4f; empty when none was given."""
    tint = reader.text(field, most=20).lower()
    if tint and not is_tint(tint):
        reader.fault(field, "Give the tint as six hexadecimal digits, such as #3b7d4f, or leave it empty.")
        return ""
    return tint


def read_metal(raw: Raw) -> MetalDraft | Faults:
    """Read a metal from a form, a JSON body or a CSV row."""
    reader = Reader(raw)
    name = reader.text("name", required="Give the metal a name.", most=80)
    density = reader.decimal("density", least=LIGHTEST, most=HEAVIEST, places=4)
    source = reader.text(
        "source",
        required="Say where this density comes from, such as 'the maker's data sheet' or 'weighed myself'.",
        most=300,
    )
    tint = read_tint(reader) or USUAL_TINT
    note = reader.text("note", most=500, lines=True)
    faults = reader.faults()
    if faults is not None or density is None:
        return faults or Faults.of("density", "Give a density.")
    return MetalDraft(name=name, density=density, source=source, tint=tint, note=note)
