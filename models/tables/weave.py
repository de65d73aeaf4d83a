"""What the shop itself knows of weaves: its own bands of aspect ratio and its records of what fitted."""

from datetime import date, datetime
from decimal import Decimal

from sqlmodel import Field

from models.tables.columns import Row, at_least, big, day, moment, one_of, rate
from models.trade.vocabulary.things import FIT_VERDICTS


class WeaveBand(Row, table=True):
    """The shop's own band of aspect ratios for one weave of the catalogue; it replaces the catalogue's."""

    __tablename__ = "weave_band"

    weave: str = Field(primary_key=True)
    smallest: Decimal = rate()
    low: Decimal = rate()
    high: Decimal = rate()
    largest: Decimal = rate()
    version: int = 1


class FitRecord(Row, table=True):
    """How one ring size really worked in one weave at this bench; it wins over any band."""

    __tablename__ = "fit_record"
    __table_args__ = (one_of("verdict", FIT_VERDICTS.codes), at_least("wire_nm", 1), at_least("inner_nm", 1))

    id: int | None = Field(default=None, primary_key=True)
    weave: str = Field(index=True)
    wire_nm: int = big()
    inner_nm: int = big()
    metal: str | None = None
    verdict: str
    note: str = ""
    noted_on: date = day()
    created_at: datetime = moment()
