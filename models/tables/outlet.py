"""Where pieces are sold, what each outlet takes, and what is asked there for a design."""

from datetime import datetime
from decimal import Decimal

from sqlalchemy import UniqueConstraint
from sqlmodel import Field

from models.tables.columns import Row, at_least, big, moment, money, money_words, rate, word
from models.trade.vocabulary.selling import FEE_BASES, OUTLET_KINDS, PRICE_ENDINGS


class Outlet(Row, table=True):
    """One outlet. Its columns share the names of `OutletDraft`; percentages are numbers like 6.5.

    `ending` empty means the shop's own rule; `period_fee` is a fee per event or month, spread over `period_sales`.
    """

    __tablename__ = "outlet"
    __table_args__ = (
        at_least("shipping_micros", 0),
        at_least("postage_micros", 0),
        at_least("period_micros", 0),
        at_least("period_sales", 1),
        money_words("a fee or postage of an outlet"),
    )

    id: int | None = Field(default=None, primary_key=True)
    name: str = Field(unique=True)
    kind: str = word(OUTLET_KINDS)
    position: int = 0
    tax_percent: Decimal = rate(default=Decimal(0))
    prices_include_tax: bool = True
    shipping_charged: Decimal = money("shipping_micros", default=Decimal(0))
    postage_paid: Decimal = money("postage_micros", default=Decimal(0))
    period_fee: Decimal = money("period_micros", default=Decimal(0))
    period_sales: int = 1
    wanted_margin_percent: Decimal | None = rate(nullable=True, default=None)
    wanted_wage: Decimal | None = money("wanted_wage_micros", nullable=True, default=None)
    retail_multiple: Decimal = rate(default=Decimal(2))
    ending: str = word(PRICE_ENDINGS, or_nothing=True, default="")
    note: str = ""
    retired: bool = False
    created_at: datetime = moment()
    version: int = 1


class OutletFee(Row, table=True):
    """One fee of an outlet: a percentage of a base, a fixed sum per sale, or both."""

    __tablename__ = "outlet_fee"
    __table_args__ = (
        UniqueConstraint("outlet_id", "position"),
        at_least("fixed_micros", 0),
        money_words("a fee or postage of an outlet"),
    )

    id: int | None = Field(default=None, primary_key=True)
    outlet_id: int = Field(foreign_key="outlet.id", index=True)
    position: int
    label: str
    percent: Decimal = rate(default=Decimal(0))
    base: str = word(FEE_BASES, default="price")
    fixed: Decimal = money("fixed_micros", default=Decimal(0))


class ListedPrice(Row, table=True):
    """What the person asks for a design at an outlet today, as the outlet shows it, in millionths."""

    __tablename__ = "listed_price"
    __table_args__ = (
        UniqueConstraint("design_id", "outlet_id"),
        at_least("price_micros", 0),
        money_words("a listed price"),
    )

    id: int | None = Field(default=None, primary_key=True)
    design_id: int = Field(foreign_key="design.id", index=True)
    outlet_id: int = Field(foreign_key="outlet.id", index=True)
    price_micros: int = big()
    changed_at: datetime = moment()
    version: int = 1
