"""The business day of an act: today unless another one was said, and never one that is yet to come."""

from __future__ import annotations

from datetime import date

from sqlmodel import Session

from models.errors import Unfit
from models.intake.faults import Faults
from models.operations.shop.clock import today
from models.queries.shop.shop import SHOP_ID
from models.tables import Shop
from models.trade.days import day_words


def resolve_day(session: Session, said: date | None, field: str) -> date:
    """The day that was said, else today by the shop's own clock. Raises: Unfit beside `field` for a day to come."""
    shop = session.get(Shop, SHOP_ID)
    now = today(shop.time_zone if shop else "UTC")
    if said is not None and said > now:
        raise Unfit(Faults.of(field, f"{day_words(said)} is yet to come. Give today or a day before."))
    return said or now
