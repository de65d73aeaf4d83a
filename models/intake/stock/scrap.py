"""What people hand in about scrap of precious metal that is put by: which metal, and what it weighs."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.intake.stock.item import find_metal, metal_trouble
from models.trade.metals import METALS, Metal

LEAST_UG = 1_000


@dataclass(frozen=True, slots=True)
class ScrapDraft:
    """Scrap that is put by, in micrograms; `kept_on` None means today."""

    metal: Metal
    mass_ug: int
    kept_on: date | None = None
    note: str = ""


def read_scrap(raw: Raw, *, metals: Mapping[str, Metal] = METALS) -> ScrapDraft | Faults:
    """Read scrap that is put by; only precious metal is kept by weight."""
    reader = Reader(raw)
    words = reader.text("metal", required="Choose its metal.", most=80)
    metal = find_metal(words, metals) if words else None
    if words and metal is None:
        reader.fault("metal", metal_trouble(words, metals))
    if metal is not None and not metal.precious:
        reader.fault("metal", "Only scrap of precious metal is kept by weight here.")
    mass_ug = reader.mass("weight")
    if mass_ug is not None and mass_ug < LEAST_UG:
        reader.fault("weight", "Give a milligram or more.")
    kept_on = reader.date("kept_on", required=False)
    note = reader.text("note", most=500, lines=True)
    faults = reader.faults()
    if faults is not None or metal is None or mass_ug is None:
        return faults or Faults.of("weight", "Give its weight.")
    return ScrapDraft(metal, mass_ug, kept_on, note)
