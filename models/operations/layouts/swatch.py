"""Swatches: keeping what was measured of a weave, and taking a measured swatch out again."""

from __future__ import annotations

from sqlmodel import Session

from models.errors import Unfit
from models.intake.faults import Faults
from models.intake.layouts.swatch import SwatchDraft, too_short
from models.operations.shop.day import resolve_day
from models.queries.fetch import fetch
from models.tables import Item, Swatch
from models.trade.rings import RingSize


def keep_swatch(session: Session, draft: SwatchDraft) -> int:
    """Keep a measured swatch, from which sizes of its weave are computed from now on; answer its id.

    Raises: Unfit for an item that is no ring with a size, a length under one ring, or a day that is yet to come.
    """
    size = _size(session, draft)
    wrong = too_short(size, draft)
    if wrong is not None:
        raise Unfit(wrong)
    swatch = Swatch(
        weave=draft.weave,
        kind=draft.kind,
        wire_nm=size.wire_nm,
        inner_nm=size.inner_nm,
        item_id=draft.item_id,
        rows=draft.rows,
        rings=draft.rings,
        along_nm=draft.along_nm,
        across_nm=draft.across_nm,
        length_nm=draft.length_nm,
        measured_on=resolve_day(session, draft.measured_on, "measured_on"),
        note=draft.note,
    )
    session.add(swatch)
    session.flush()
    if swatch.id is None:
        raise RuntimeError("a flushed row has its id")
    return swatch.id


def remove_swatch(session: Session, swatch_id: int) -> SwatchDraft:
    """Take a swatch out, so that sizes no longer follow it; answer it as it was, to be kept again. Raises: Missing."""
    swatch = fetch(session, Swatch, swatch_id, "swatch")
    draft = SwatchDraft(
        weave=swatch.weave,
        rings=swatch.rings,
        item_id=swatch.item_id,
        size=RingSize(swatch.wire_nm, swatch.inner_nm),
        rows=swatch.rows,
        along_nm=swatch.along_nm,
        across_nm=swatch.across_nm,
        length_nm=swatch.length_nm,
        measured_on=swatch.measured_on,
        note=swatch.note,
    )
    session.delete(swatch)
    session.flush()
    return draft


def _size(session: Session, draft: SwatchDraft) -> RingSize:
    if draft.item_id is None:
        if draft.size is None:
            raise Unfit(Faults.of("item_id", "Choose the ring from your stock, or type its wire and inner diameter."))
        return draft.size
    item = session.get(Item, draft.item_id)
    if item is None or item.kind != "ring" or not item.wire_nm or not item.inner_nm:
        raise Unfit(Faults.of("item_id", "This is no ring of your stock. Choose another one, or type its size."))
    return RingSize(item.wire_nm, item.inner_nm)
