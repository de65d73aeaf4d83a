"""Costs and prices kept beside the designs so that lists stay fast; written in the transaction that moves them."""

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from models.tables.columns import COMPUTED, Row, big


class DesignFigure(Row, table=True):
    """The cost of one piece of a design's latest revision: millionths of money, thousandths of minutes, micrograms."""

    __tablename__ = "design_figure"
    __table_args__ = (COMPUTED,)

    design_id: int = Field(primary_key=True, foreign_key="design.id")
    materials_micros: int = big()
    labour_micros: int = big()
    overhead_micros: int = big()
    total_micros: int = big()
    minutes_milli: int = big()
    low_minutes_milli: int = big()
    high_minutes_milli: int = big()
    mass_ug: int = big()
    provisional: bool = False
    unpriced: str = ""


class PriceFigure(Row, table=True):
    """The prices of one design at one outlet, as the outlet shows them; a null price means that none can pay.

    `profit_micros` and `hourly_micros` are for the listed price where there is one, else for the suggested one.
    """

    __tablename__ = "price_figure"
    __table_args__ = (UniqueConstraint("design_id", "outlet_id"), COMPUTED)

    id: int | None = Field(default=None, primary_key=True)
    design_id: int = Field(foreign_key="design.id", index=True)
    outlet_id: int = Field(foreign_key="outlet.id", index=True)
    break_even_micros: int | None = big(nullable=True, default=None)
    target_micros: int | None = big(nullable=True, default=None)
    suggested_micros: int | None = big(nullable=True, default=None)
    price_micros: int | None = big(nullable=True, default=None)
    profit_micros: int | None = big(nullable=True, default=None)
    hourly_micros: int | None = big(nullable=True, default=None)
