"""What people hand in about weaves: their own band of aspect ratios, and what really fitted at the bench."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from itertools import pairwise

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.trade.rings import RingSize, absurd
from models.trade.vocabulary.things import FIT_VERDICTS
from models.trade.weaves import WEAVES

BAND_FIELDS = ("smallest", "low", "high", "largest")
LEAST_AR = Decimal(1)
MOST_AR = Decimal(50)


@dataclass(frozen=True, slots=True)
class BandDraft:
    """Aspect ratios as handed in: too small under the first, comfortable between the middle two."""

    smallest: Decimal
    low: Decimal
    high: Decimal
    largest: Decimal


@dataclass(frozen=True, slots=True)
class FitDraft:
    """How a ring worked in a weave, as handed in; `noted_on` None means today."""

    weave: str
    size: RingSize
    metal: str | None
    verdict: str
    note: str
    noted_on: date | None


def read_band(raw: Raw) -> BandDraft | Faults:
    """Read a band; its four numbers must not fall."""
    reader = Reader(raw)
    found = {field: reader.decimal(field, least=LEAST_AR, most=MOST_AR, places=3) for field in BAND_FIELDS}
    for lower, upper in pairwise(BAND_FIELDS):
        below, above = found[lower], found[upper]
        if below is not None and above is not None and above < below:
            reader.fault(upper, f"The numbers go upwards: this cannot be under {below}.")
    faults = reader.faults()
    if faults is not None:
        return faults
    return BandDraft(**{field: value for field, value in found.items() if value is not None})


def read_fit(raw: Raw, *, length_unit: str = "mm") -> FitDraft | Faults:
    """Read a record of what fitted."""
    reader = Reader(raw, length_unit=length_unit)
    weave = reader.text("weave", required="Choose a weave.", most=60)
    if weave and weave not in WEAVES:
        reader.fault("weave", "This weave is not in the catalogue. Choose one of the list.")
    wire = reader.wire("wire")
    inner = reader.inner("inner")
    metal = reader.text("metal", most=60) or None
    verdict = reader.choice("verdict", FIT_VERDICTS.codes)
    note = reader.text("note", most=500, lines=True)
    noted_on = reader.date("noted_on", required=False)
    size = RingSize(wire.nm, inner.nm) if wire and inner else None
    wrong = absurd(size) if size else None
    if wrong:
        reader.fault("inner", wrong)
    faults = reader.faults()
    if faults is not None or size is None:
        return faults or Faults.of("inner", "Give a size.")
    return FitDraft(weave=weave, size=size, metal=metal, verdict=verdict, note=note, noted_on=noted_on)
