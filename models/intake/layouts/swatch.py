"""What people hand in about a swatch: a piece of a weave that they made and measured, of one size of ring.

A sheet is measured along its rows and across them, a chain by its length. Whether an item exists is asked where the
database is.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.layouts.engine.chain_weaves import CHAINS
from models.layouts.weaves.sheets import SHEETS
from models.trade.measures import Length, format_mm
from models.trade.rings import RingSize, absurd

SHEET_WEAVES = tuple(SHEETS)
CHAIN_WEAVES = tuple(CHAINS)
LEAST_ROWS = 2
LEAST_RINGS = 3
"""A smaller sheet is mostly its edges, so that it says little of the pitch."""
MOST_COUNT = 10_000
MOST_NM = 10_000_000_000


@dataclass(frozen=True, slots=True)
class SwatchDraft:
    """A measured swatch as handed in; sizes in nanometres, `measured_on` None means today.

    The ring is a stock item or a size. A sheet has rows, rings in a row, and two lengths; a chain has rings and one.
    """

    weave: str
    rings: int
    item_id: int | None = None
    size: RingSize | None = None
    rows: int | None = None
    along_nm: int | None = None
    across_nm: int | None = None
    length_nm: int | None = None
    measured_on: date | None = None
    note: str = ""

    @property
    def kind(self) -> str:
        """'sheet' or 'chain', as the weave is."""
        return "sheet" if self.weave in SHEET_WEAVES else "chain"


def read_swatch(raw: Raw, *, length_unit: str = "mm") -> SwatchDraft | Faults:
    """Read a measured swatch; a length that cannot be of so many rings is refused with the reason."""
    reader = Reader(raw, length_unit=length_unit)
    weave = reader.text("weave", required="Choose the weave.", most=60)
    if weave and weave not in (*SHEET_WEAVES, *CHAIN_WEAVES):
        reader.fault("weave", "This weave is not laid out here. Choose one of the list.")
    item_id = reader.identity("item_id", required=False)
    size = None if item_id is not None else _size(reader)
    note = reader.text("note", most=500, lines=True)
    measured_on = reader.date("measured_on", required=False)
    draft = None
    if weave in SHEET_WEAVES:
        draft = _sheet(reader, weave)
    elif weave in CHAIN_WEAVES:
        draft = _chain(reader, weave)
    faults = reader.faults()
    if faults is not None or draft is None:
        return faults or Faults.of("weave", "Choose the weave.")
    return SwatchDraft(
        weave=weave,
        rings=draft.rings,
        item_id=item_id,
        size=size,
        rows=draft.rows,
        along_nm=draft.along_nm,
        across_nm=draft.across_nm,
        length_nm=draft.length_nm,
        measured_on=measured_on,
        note=note,
    )


def too_short(size: RingSize, draft: SwatchDraft) -> Faults | None:
    """Say which length is under one ring's outer diameter, which no swatch of such rings can be."""
    outer = format_mm(size.outer_nm)
    for field, nm in (("along", draft.along_nm), ("across", draft.across_nm), ("length", draft.length_nm)):
        if nm is not None and nm <= size.outer_nm:
            return Faults.of(field, f"One ring alone is {outer} across, so a swatch of them is longer.")
    return None


def _size(reader: Reader) -> RingSize | None:
    if not reader.has("wire") and not reader.has("inner"):
        reader.fault("item_id", "Choose the ring from your stock, or type its wire and inner diameter.")
        return None
    wire, inner = reader.wire("wire"), reader.inner("inner")
    if wire is None or inner is None:
        return None
    size = RingSize(wire.nm, inner.nm)
    wrong = absurd(size)
    if wrong:
        reader.fault("inner", wrong)
        return None
    return size


def _sheet(reader: Reader, weave: str) -> SwatchDraft:
    rows = reader.integer("rows", least=LEAST_ROWS, most=MOST_COUNT, default=None)
    rings = reader.integer("rings", least=LEAST_RINGS, most=MOST_COUNT, default=None)
    along, across = _long(reader, "along"), _long(reader, "across")
    return SwatchDraft(weave, rings or 0, rows=rows, along_nm=along, across_nm=across)


def _chain(reader: Reader, weave: str) -> SwatchDraft:
    least = max(LEAST_RINGS, CHAINS[weave].abreast + 1)
    rings = reader.integer("rings", least=least, most=MOST_COUNT, default=None)
    return SwatchDraft(weave, rings or 0, length_nm=_long(reader, "length"))


def _long(reader: Reader, field: str) -> int | None:
    found: Length | None = reader.length(field)
    if found is None:
        return None
    if not 0 < found.nm <= MOST_NM:
        reader.fault(field, "Give a length between 0 and 10 m.")
        return None
    return found.nm
