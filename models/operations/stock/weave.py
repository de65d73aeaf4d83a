"""What the shop learns about weaves: its own bands of aspect ratio, and records of what fitted."""

from __future__ import annotations

from decimal import Decimal

from sqlmodel import Session, select

from models.errors import Missing, Stale, Unfit
from models.intake.faults import Faults
from models.intake.stock.weave import BAND_FIELDS, BandDraft, FitDraft
from models.operations.shop.clock import now, today
from models.queries.fetch import fetch
from models.queries.stock.metal import all_metals
from models.queries.stock.weave import plain_ratio
from models.tables import FitRecord, Shop, WeaveBand
from models.trade.weaves import WEAVES

BAND_WORDS = {
    "smallest": "Smallest that works",
    "low": "Comfortable from",
    "high": "Comfortable to",
    "largest": "Largest",
}


def set_band(session: Session, weave: str, draft: BandDraft, version: int) -> None:
    """Put the shop's own band in the place of the catalogue's. `version` is 0 while there is none.

    Raises: Missing for an unknown weave, Stale.
    """
    band = _band(session, weave)
    typed = {field: getattr(draft, field) for field in BAND_FIELDS}
    _refuse_stale(weave, band, typed, version)
    if band is None:
        session.add(WeaveBand(weave=weave, **typed))
    else:
        for field, value in typed.items():
            setattr(band, field, value)
        band.version += 1
    session.flush()


def reset_band(session: Session, weave: str, version: int) -> None:
    """Go back to the catalogue's band. Raises: Missing for an unknown weave, Stale."""
    band = _band(session, weave)
    catalogue = WEAVES[weave].band
    _refuse_stale(weave, band, {field: getattr(catalogue, field) for field in BAND_FIELDS}, version)
    if band is not None:
        session.delete(band)
        session.flush()


def record_fit(session: Session, draft: FitDraft) -> int:
    """Keep how a ring worked in a weave; answer the record's id. Raises: Unfit for an unknown metal."""
    if draft.metal is not None and draft.metal not in all_metals(session):
        raise Unfit(Faults.of("metal", "This metal is not known here. Choose one of the list."))
    zone = session.exec(select(Shop.time_zone)).first() or "UTC"
    record = FitRecord(
        weave=draft.weave,
        wire_nm=draft.size.wire_nm,
        inner_nm=draft.size.inner_nm,
        metal=draft.metal,
        verdict=draft.verdict,
        note=draft.note,
        noted_on=draft.noted_on or today(zone),
        created_at=now(),
    )
    session.add(record)
    session.flush()
    if record.id is None:
        raise RuntimeError("a flushed row has its id")
    return record.id


def forget_fit(session: Session, record_id: int) -> str:
    """Take a record out again; answer the weave it was about. Raises: Missing."""
    record = fetch(session, FitRecord, record_id, "record of a fit")
    weave = record.weave
    session.delete(record)
    session.flush()
    return weave


def _band(session: Session, weave: str) -> WeaveBand | None:
    if weave not in WEAVES:
        raise Missing("weave", weave)
    return session.get(WeaveBand, weave)


def _refuse_stale(weave: str, band: WeaveBand | None, typed: dict[str, Decimal], version: int) -> None:
    if (band.version if band else 0) == version:
        return
    saved = band if band is not None else WEAVES[weave].band
    raise Stale(
        "weave's band",
        tuple(
            (BAND_WORDS[field], plain_ratio(getattr(saved, field)), plain_ratio(value))
            for field, value in typed.items()
            if getattr(saved, field) != value
        ),
    )
