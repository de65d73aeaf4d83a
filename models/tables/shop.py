"""The shop itself: its one row of settings, its rates of work, and metals that the person added."""

from datetime import datetime
from decimal import Decimal

from sqlmodel import Field

from models.tables.columns import WITH_CURRENCY, Row, at_least, big, moment, money, one_of, rate, word
from models.trade.vocabulary.ledger import VALUATIONS
from models.trade.vocabulary.selling import GAUGE_SYSTEMS, LENGTH_UNITS, OVERHEAD_MODES, PRICE_ENDINGS


class Shop(Row, table=True):
    """The settings of the whole shop; there is exactly one row, with id 1.

    What is set on the page of settings has the names of `SettingsDraft`. Money is in `currency`, and where a name says
    so in millionths of it; percentages are numbers like 12.5; sizes are nanometres. Proposals of when to buy again rest
    on the last `reorder_days`: `service_percent` is how often nothing may run out while an order is on its way,
    `order_cost_micros` what placing and receiving one costs, `holding_percent` what keeping stock for a year costs of
    its price.
    """

    __tablename__ = "shop"
    __table_args__ = (
        one_of("length_unit", LENGTH_UNITS.codes),
        one_of("gauge_system", GAUGE_SYSTEMS.codes),
        one_of("overhead_mode", OVERHEAD_MODES.codes),
        one_of("valuation", VALUATIONS.codes),
        at_least("wage_micros", 0),
        at_least("overhead_micros", 0),
        at_least("once_pieces", 1),
        at_least("near_nm", 0),
        at_least("order_cost_micros", 1),
        at_least("reorder_days", 28),
    )

    id: int = Field(default=1, primary_key=True)
    name: str
    currency: str = Field(sa_column_kwargs={"info": WITH_CURRENCY})
    locale: str = "en"
    time_zone: str = "UTC"
    length_unit: str = "mm"
    gauge_system: str = "AWG"
    wage_per_hour: Decimal = money("wage_micros", info=WITH_CURRENCY)
    overhead_mode: str = "hour"
    overhead_per_hour: Decimal = money("overhead_micros", info=WITH_CURRENCY, default=Decimal(0))
    overhead_percent: Decimal = rate(default=Decimal(0))
    allowance_percent: Decimal = rate(default=Decimal(3))
    learning_percent: Decimal = rate(default=Decimal(100))
    wanted_margin_percent: Decimal = rate(default=Decimal(30))
    ending: str = word(PRICE_ENDINGS, default="x.00")
    one_price: bool = False
    once_pieces: int = 10
    kerf_nm: int = big(default=200_000)
    near_nm: int = big(default=30_000)
    valuation: str = "fifo"
    scale_step_ug: int = big(default=10_000)
    service_percent: Decimal = rate(default=Decimal(95))
    order_cost_micros: int = big(default=2_000_000)
    holding_percent: Decimal = rate(default=Decimal(20))
    reorder_days: int = 365
    demo: bool = False
    version: int = 1


class WorkRate(Row, table=True):
    """How long one unit of one kind of work takes: seconds, with the factors to the 10th and 90th percentile."""

    __tablename__ = "work_rate"

    kind: str = Field(primary_key=True)
    seconds: Decimal = rate()
    low_factor: Decimal = rate()
    high_factor: Decimal = rate()
    source: str
    version: int = 1


class OwnMetal(Row, table=True):
    """A metal or other ring material that the person added to the catalogue; density in g/cm3."""

    __tablename__ = "own_metal"

    code: str = Field(primary_key=True)
    name: str = Field(unique=True)
    density: Decimal = rate()
    source: str
    tint: str
    note: str = ""
    created_at: datetime = moment()
    version: int = 1
