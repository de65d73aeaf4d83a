"""The shop as a whole: founding it, and changing its settings."""

from __future__ import annotations

from decimal import Decimal

from sqlmodel import Session

from models.errors import Conflict
from models.tables import Shop

SHOP_ID = 1


def found_shop(
    session: Session,
    *,
    name: str,
    currency: str,
    locale: str = "en",
    time_zone: str = "UTC",
    wage_per_hour: Decimal = Decimal(20),
    length_unit: str = "mm",
    gauge_system: str = "AWG",
    demo: bool = False,
) -> None:
    """Write the shop's one row of settings and the starting rates of work.

    Raises `Conflict` when the shop is there already; nothing is changed then.
    """
    if session.get(Shop, SHOP_ID) is not None:
        raise Conflict("This shop is set up already. Change its settings on the settings page.")
    session.add(
        Shop(
            id=SHOP_ID,
            name=name,
            currency=currency,
            locale=locale,
            time_zone=time_zone,
            wage_micros=int(wage_per_hour * 1_000_000),
            length_unit=length_unit,
            gauge_system=gauge_system,
            demo=demo,
        )
    )
    session.flush()
