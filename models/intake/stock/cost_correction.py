"""What people hand in about a receipt that cost something else than was booked: its lines, and its freight."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader

LINE_COSTS: Final = ("unit_cost", "total_cost")


@dataclass(frozen=True, slots=True)
class RealCost:
    """What one line of a receipt really cost without freight, in the receipt's currency: all of it, or one unit.

    `at` is where its fields stand in what was handed in ('lines.0.', or nothing), so that faults land beside them.
    """

    lot_id: int | None
    total_cost: Decimal | None = None
    unit_cost: Decimal | None = None
    at: str = ""

    @property
    def field(self) -> str:
        """The field in which the cost was handed in."""
        return self.at + ("unit_cost" if self.unit_cost is not None else "total_cost")


@dataclass(frozen=True, slots=True)
class CostCorrectionDraft:
    """What a receipt really cost: the lines that differ, and its freight in all (None: as it was).

    Amounts are in the receipt's currency, at the rate that it was booked with.
    """

    lines: tuple[RealCost, ...]
    freight: Decimal | None = None
    note: str = ""


def read_cost_correction(raw: Raw) -> CostCorrectionDraft | Faults:
    """Read what a receipt really cost: with `lines`, of which those without a cost are passed over, or as one line."""
    reader = Reader(raw)
    if "lines" in raw:
        lines = tuple(line for line in reader.each("lines", _line) if line is not None)
    else:
        only = _line(reader, alone=True)
        lines = (only,) if only is not None else ()
    freight = reader.money("freight", required=False)
    note = reader.text("note", most=500, lines=True)
    if not lines and freight is None and not reader.faults():
        reader.fault("lines.0.total_cost" if "lines" in raw else "total_cost", "Say what it really cost.")
    return reader.faults() or CostCorrectionDraft(lines, freight, note)


def _line(reader: Reader, *, alone: bool = False) -> RealCost | None:
    """One line; None when no cost was said, or it has a fault. A receipt of one line needs no lot."""
    given = [field for field in LINE_COSTS if reader.has(field)]
    costs: Mapping[str, Decimal | None] = {field: reader.money(field, required=False) for field in given}
    lot_id = reader.identity("lot_id", required=bool(given) and not alone)
    if len(given) > 1:
        reader.fault(given[1], "Give one cost only: of one, or of the whole line.")
    if not given or costs[given[0]] is None:
        return None
    return RealCost(lot_id, at=reader.prefix, **{given[0]: costs[given[0]]})
