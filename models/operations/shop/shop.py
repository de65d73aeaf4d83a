"""The shop as a whole: founding it, and changing its settings."""

from __future__ import annotations

from decimal import Decimal

from sqlmodel import Session

from models.costing.rates import STARTING_RATES
from models.errors import Conflict, Stale, Unfit
from models.intake.faults import Faults
from models.intake.fields import differences, values_of
from models.intake.shop.shop import SettingsDraft
from models.operations.figures import refresh_figures
from models.queries.shop.shop import SHOP_ID, currency_lock, is_founded
from models.tables import Shop, WorkRate


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
    if is_founded(session):
        raise Conflict("This shop is set up already. Change its settings on the settings page.")
    session.add(
        Shop(
            id=SHOP_ID,
            name=name,
            currency=currency,
            locale=locale,
            time_zone=time_zone,
            wage_per_hour=wage_per_hour,
            length_unit=length_unit,
            gauge_system=gauge_system,
            demo=demo,
        )
    )
    for rate in STARTING_RATES.values():
        session.add(
            WorkRate(
                kind=rate.kind,
                seconds=rate.seconds,
                low_factor=rate.low_factor,
                high_factor=rate.high_factor,
                source=rate.source,
            )
        )
    session.flush()


def change_settings(session: Session, draft: SettingsDraft, *, version: int | None) -> None:
    """Replace the shop's settings, and every figure that rests on them.

    Raises `Conflict` before the shop is founded, `Stale` when somebody changed them since `version`, and `Unfit` for
    another currency once an amount is kept in the old one.
    """
    shop = session.get(Shop, SHOP_ID)
    if shop is None:
        raise Conflict("This shop is not set up yet. Start on its first page.")
    if version != shop.version:
        raise Stale("page of settings", differences(shop, draft))
    if draft.currency != shop.currency:
        locked = currency_lock(session)
        if locked:
            raise Unfit(Faults.of("currency", locked))
    shop.sqlmodel_update(values_of(draft))
    shop.version += 1
    session.add(shop)
    refresh_figures(session)
