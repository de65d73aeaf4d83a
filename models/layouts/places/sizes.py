"""Finished sizes: a sheet opened flat, corrected by a measured swatch, and the row numbers nearest a wanted size.

Lengths in millimetres as floats: they are measured at the bench, never paid. Not here: lengths of chain (chain_sizes).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from models.layouts.engine.edits import extent
from models.layouts.engine.nesting import staggered
from models.layouts.engine.rows import Layout
from models.layouts.places.geometry import ring_mm
from models.layouts.weaves.sheets import SHEETS
from models.trade.rings import RingSize
from models.trade.vocabulary.pieces import WHERES

MEASURE = "measure"
COMPUTED = "computed for ideal rings opened flat"
SWATCH = "from your measured swatch"


@dataclass(frozen=True, slots=True)
class Pitch:
    """How a sheet measures: pitch along a row and from row to row, and what the end rings add to each.

    width = (steps between the outermost rings) / (steps per ring) x along + end_along;
    height = (rows - 1) x across + end_across.
    """

    along_mm: float
    across_mm: float
    end_along_mm: float
    end_across_mm: float
    source: str
    note: str = ""


@dataclass(frozen=True, slots=True)
class NoPitch:
    """Why no size can be computed: the size says 'measure', with this reason."""

    reason: str


@dataclass(frozen=True, slots=True)
class Swatch:
    """A measured rectangle of a weave: rows by rings, laid opened flat. `size` is the ring it was made of."""

    size: RingSize
    rows: int
    rings: int
    along_mm: float
    across_mm: float


def pitch_of(
    weave: str, size: RingSize, swatch: Swatch | None = None, connector: RingSize | None = None
) -> Pitch | NoPitch:
    """Return how a sheet of this ring measures; the shop's own swatch wins over what is computed.

    A swatch of another ring size corrects by the same factors, and the note says so.
    """
    ideal = _ideal(weave, size, connector)
    if swatch is None:
        return ideal
    of_swatch = ideal if swatch.size == size else _ideal(weave, swatch.size, connector)
    if isinstance(ideal, Pitch) and isinstance(of_swatch, Pitch):
        along, across = rectangle_mm(weave, swatch.rows, swatch.rings, of_swatch)
        return _scaled(ideal, swatch.along_mm / along, swatch.across_mm / across, other=swatch.size != size)
    if swatch.size != size:
        return NoPitch("Your swatch is of another ring size, and this weave is not computed: measure one of this ring.")
    return _from_swatch(weave, swatch)


def _scaled(ideal: Pitch, along: float, across: float, *, other: bool) -> Pitch:
    note = "Your swatch is of another ring size; the same correction is used." if other else ""
    return Pitch(
        ideal.along_mm * along,
        ideal.across_mm * across,
        ideal.end_along_mm * along,
        ideal.end_across_mm * across,
        SWATCH,
        note,
    )


def _ideal(weave: str, size: RingSize, connector: RingSize | None) -> Pitch | NoPitch:
    ring = ring_mm(size)
    ratio = size.inner_nm / size.wire_nm
    sheet = SHEETS.get(weave)
    if sheet is None:
        return NoPitch("This weave is not computed: measure a swatch.")
    if sheet.joined and connector is not None and connector != size:
        reason = sheet.why_no_room(size, connector)
        if reason:
            return NoPitch(f"{reason} Its size is not computed: measure a swatch.")
    elif ratio < sheet.clear_from:
        return NoPitch(
            f"Below AR {sheet.clear_from:.2f} ideal rings do not lie flat in this weave, so its size is not computed: "
            "measure a swatch."
        )
    flat = sheet.flat(ring, ring_mm(connector or size))
    return Pitch(flat.along_mm, flat.across_mm, *sheet.ends_mm(ring, flat), COMPUTED, sheet.size_note(ratio))


def _from_swatch(weave: str, swatch: Swatch) -> Pitch | NoPitch:
    """Return the pitch of a swatch alone: one outer diameter stands at the ends, the rest is divided evenly."""
    outer = ring_mm(swatch.size).outer_mm
    gaps_along = swatch.rings - 1 + (0.5 if staggered(weave) and swatch.rows > 1 else 0)
    gaps_across = swatch.rows - 1
    if gaps_along < 1 or gaps_across < 1 or swatch.along_mm <= outer or swatch.across_mm <= outer:
        return NoPitch("The swatch is too small to measure by: make it at least 2 rows of 3 rings.")
    return Pitch((swatch.along_mm - outer) / gaps_along, (swatch.across_mm - outer) / gaps_across, outer, outer, SWATCH)


def rectangle_mm(weave: str, rows: int, rings: int, pitch: Pitch) -> tuple[float, float]:
    """Return the size of a flush rectangle, along its rows and across them."""
    half = 0.5 if staggered(weave) and rows > 1 else 0.0
    return (rings - 1 + half) * pitch.along_mm + pitch.end_along_mm, (rows - 1) * pitch.across_mm + pitch.end_across_mm


@dataclass(frozen=True, slots=True)
class Finished:
    """The size of a piece as it hangs, in millimetres; None where it must be measured, with the reason in `notes`."""

    width_mm: float | None
    height_mm: float | None
    source: str
    notes: tuple[str, ...] = ()


def finished(layout: Layout, pitch: Pitch | NoPitch) -> Finished:
    """Return the finished width and height of a piece opened flat, as it hangs.

    An edge that is gathered on one ring draws in, so the size along it says 'measure'.
    """
    if isinstance(pitch, NoPitch):
        return Finished(None, None, MEASURE, (pitch.reason,))
    first, last = extent(layout)
    along: float | None = (last - first) / SHEETS[layout.weave].steps_per_ring * pitch.along_mm + pitch.end_along_mm
    across: float | None = (len(layout.rows) - 1) * pitch.across_mm + pitch.end_across_mm
    notes = [pitch.note] if pitch.note else []
    for attachment in layout.attachments:
        where = attachment.on.where
        if where == "attachment":
            where = next((each.on.where for each in layout.attachments if each.name == attachment.on.of), where)
        # One ring at the tip of a piece cannot be drawn together.
        tip = {"first row": layout.rows[0], "last row": layout.rows[-1]}.get(where)
        if tip is not None and tip.rings == 1:
            continue
        if attachment.kind == "gather" and not attachment.on.rings and where != "every ring":
            notes.append(f"The {where} is gathered, which draws the piece in: measure it there.")
            if WHERES.term(where).along:
                along = None
            if WHERES.term(where).across:
                across = None
    if any(attachment.kind != "gather" for attachment in layout.attachments):
        notes.append("What hangs on the piece adds to this size.")
    upright = layout.up in ("first row", "last row")
    width, height = (along, across) if upright else (across, along)
    return Finished(width, height, pitch.source, tuple(notes))


@dataclass(frozen=True, slots=True)
class Reach:
    """How many rows or rings, and the size that gives, in millimetres."""

    count: int
    mm: float


@dataclass(frozen=True, slots=True)
class Nearest:
    """The count nearest a wanted size, and the ones on either side of the wanted size."""

    nearest: Reach
    below: Reach | None
    above: Reach


def rows_for(wanted_mm: float, pitch: Pitch) -> Nearest:
    """Return how many rows come nearest a wanted size across the rows."""
    return _nearest(wanted_mm, pitch.across_mm, pitch.end_across_mm)


def rings_for(wanted_mm: float, weave: str, pitch: Pitch, rows: int = 2) -> Nearest:
    """Return how many rings a row of a flush rectangle needs to come nearest a wanted size along the rows."""
    half = pitch.along_mm / 2 if staggered(weave) and rows > 1 else 0.0
    return _nearest(wanted_mm, pitch.along_mm, pitch.end_along_mm + half)


def _nearest(wanted_mm: float, each_mm: float, end_mm: float) -> Nearest:
    """Return the whole counts n with (n - 1) x each + end around a wanted size."""
    count = math.floor((wanted_mm - end_mm) / each_mm + 1 + 1e-9)
    below = Reach(count, (count - 1) * each_mm + end_mm) if count >= 1 else None
    above_count = max(1, count + 1)
    above = Reach(above_count, (above_count - 1) * each_mm + end_mm)
    if below is not None and abs(below.mm - wanted_mm) < 1e-9:
        above = below
    nearest = above if below is None or above.mm - wanted_mm < wanted_mm - below.mm else below
    return Nearest(nearest, below, above)
