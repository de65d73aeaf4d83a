"""What the shop knows of weaves: the catalogue, its own bands, and its own records of what fitted."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import cast

from sqlalchemy import select as columns
from sqlmodel import Session, col, func, select

from models.errors import Missing
from models.tables import FitRecord, Shop, WeaveBand
from models.trade.rings import RingSize
from models.trade.weaves import COMMON_PRACTICE, NEAR_NM, WEAVES, Band, Fit, FitNote, Verdict, Weave, fit, fits


@dataclass(frozen=True, slots=True)
class ShopWeaves:
    """All that decides a fit in this shop: its own bands by weave, its records, and the tolerance of a near size."""

    bands: Mapping[str, Band]
    records: tuple[FitNote, ...]
    near_nm: int

    def fit(self, weave: str, size: RingSize) -> Fit:
        """How a ring suits one weave. Raises: KeyError for an unknown weave."""
        return fit(WEAVES[weave], size, band=self.bands.get(weave), records=self.records, near_nm=self.near_nm)

    def fits(self, size: RingSize) -> tuple[Fit, ...]:
        """How a ring suits every weave of the catalogue, in its order."""
        return tuple(fits(size, bands=dict(self.bands), records=self.records, near_nm=self.near_nm))

    def fit_rows(self, size: RingSize) -> tuple[FitRow, ...]:
        """The same with the band that each was held against."""
        return tuple(
            FitRow(fit, self.bands.get(fit.weave.code, fit.weave.band), fit.weave.code in self.bands)
            for fit in self.fits(size)
        )


@dataclass(frozen=True, slots=True)
class FitRow:
    """One fit, with the band of aspect ratios that counts for its weave here."""

    fit: Fit
    band: Band
    own_band: bool

    @property
    def why(self) -> str:
        """The reason, without the source that all bands of the catalogue share and that is said once for all."""
        return self.fit.reason.replace(f" ({COMMON_PRACTICE})", "")


@dataclass(frozen=True, slots=True)
class WeaveRow:
    """One weave as the Weaves page lists it, with the band that counts here."""

    weave: Weave
    band: Band
    own_band: bool
    records: int
    """How many records of what fitted the shop has for it."""


@dataclass(frozen=True, slots=True)
class RecordRow:
    """One record of what fitted."""

    id: int
    weave: str
    weave_name: str
    size: RingSize
    metal: str | None
    verdict: str
    note: str
    noted_on: date


@dataclass(frozen=True, slots=True)
class WeavePage:
    """One weave: the band that counts, the catalogue's beside it, and the shop's records."""

    weave: Weave
    band: Band
    own_band: bool
    version: int
    """The version of the shop's own band; 0 while it has none."""
    records: tuple[RecordRow, ...]

    def raw(self) -> dict[str, object]:
        """The band as its form and the API hand it in."""
        return {name: plain_ratio(getattr(self.band, name)) for name in ("smallest", "low", "high", "largest")}


def shop_weaves(session: Session) -> ShopWeaves:
    """All that decides a fit in this shop."""
    near_nm = session.exec(select(Shop.near_nm)).first()
    found = columns(
        col(FitRecord.weave),
        col(FitRecord.wire_nm),
        col(FitRecord.inner_nm),
        col(FitRecord.verdict),
        col(FitRecord.note),
    )
    records = session.execute(found.order_by(col(FitRecord.noted_on), col(FitRecord.id)))
    return ShopWeaves(
        bands=_bands(session),
        records=tuple(
            FitNote(weave, RingSize(wire_nm, inner_nm), cast(Verdict, verdict), note)
            for weave, wire_nm, inner_nm, verdict, note in records
        ),
        near_nm=NEAR_NM if near_nm is None else near_nm,
    )


def list_weaves(session: Session) -> tuple[WeaveRow, ...]:
    """Every weave of the catalogue, in its order."""
    bands = _bands(session)
    counted = select(FitRecord.weave, func.count()).group_by(col(FitRecord.weave))
    counts: dict[str, int] = dict(session.exec(counted).all())
    return tuple(
        WeaveRow(weave, bands.get(code, weave.band), code in bands, counts.get(code, 0))
        for code, weave in WEAVES.items()
    )


def weave_page(session: Session, code: str) -> WeavePage:
    """One weave with the shop's records. Raises: Missing."""
    weave = WEAVES.get(code)
    if weave is None:
        raise Missing("weave", code)
    own = session.get(WeaveBand, code)
    return WeavePage(
        weave=weave,
        band=Band(own.smallest, own.low, own.high, own.largest) if own else weave.band,
        own_band=own is not None,
        version=own.version if own else 0,
        records=fit_records(session, weave=code),
    )


def fit_records(
    session: Session, *, weave: str | None = None, near: RingSize | None = None, tolerance_nm: int = NEAR_NM
) -> tuple[RecordRow, ...]:
    """The shop's records, latest first: of one weave, or of sizes within a tolerance of one ring."""
    found = columns(
        col(FitRecord.id),
        col(FitRecord.weave),
        col(FitRecord.wire_nm),
        col(FitRecord.inner_nm),
        col(FitRecord.metal),
        col(FitRecord.verdict),
        col(FitRecord.note),
        col(FitRecord.noted_on),
    ).order_by(col(FitRecord.noted_on).desc(), col(FitRecord.id).desc())
    if weave is not None:
        found = found.where(col(FitRecord.weave) == weave)
    if near is not None:
        found = found.where(
            col(FitRecord.wire_nm).between(near.wire_nm - tolerance_nm, near.wire_nm + tolerance_nm),
            col(FitRecord.inner_nm).between(near.inner_nm - tolerance_nm, near.inner_nm + tolerance_nm),
        )
    return tuple(
        RecordRow(
            id=number,
            weave=code,
            weave_name=WEAVES[code].name if code in WEAVES else code,
            size=RingSize(wire_nm, inner_nm),
            metal=metal,
            verdict=verdict,
            note=note,
            noted_on=noted_on,
        )
        for number, code, wire_nm, inner_nm, metal, verdict, note, noted_on in session.execute(found).all()
    )


def plain_ratio(value: Decimal) -> str:
    """An aspect ratio without zeros at its end: '3.4', '3'."""
    return format(value.normalize(), "f")


def _bands(session: Session) -> dict[str, Band]:
    rows = session.execute(
        columns(
            col(WeaveBand.weave),
            col(WeaveBand.smallest),
            col(WeaveBand.low),
            col(WeaveBand.high),
            col(WeaveBand.largest),
        )
    )
    return {code: Band(smallest, low, high, largest) for code, smallest, low, high, largest in rows}
