"""The shop as a whole: founding it, and changing its settings."""

from __future__ import annotations

from decimal import Decimal

from sqlmodel import Session

from models.costing.rates import STARTING_RATES
from models.errors import Conflict, Stale, Unfit
from models.intake.faults import Faults
from models.intake.shop.shop import SettingsDraft
from models.operations.figures import refresh_figures
from models.queries.shop.shop import SHOP_ID, ShopSettings, currency_lock, is_founded, shop_settings
from models.tables import Shop, WorkRate
from models.trade.measures import format_mm
from models.trade.money import to_micros

LABELS = {
    "name": "Studio name",
    "currency": "Currency",
    "locale": "Language of figures",
    "time_zone": "Time zone",
    "length_unit": "Sizes shown in",
    "gauge_system": "Wire gauge",
    "wage_per_hour": "Wage per hour",
    "overhead_mode": "Overhead counted",
    "overhead_per_hour": "Overhead per hour",
    "overhead_percent": "Overhead in per cent",
    "allowance_percent": "Allowance",
    "learning_percent": "Learning",
    "wanted_margin_percent": "Wanted margin",
    "ending": "Price ending",
    "one_price": "One price everywhere",
    "once_pieces": "Pieces that share the once-per-design work",
    "kerf_nm": "Width of a cut",
    "near_nm": "Nearly the same size",
}


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
            wage_micros=to_micros(wage_per_hour),
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
    before = shop_settings(session)
    if version != shop.version:
        raise Stale("page of settings", differences(before, draft))
    if draft.currency != shop.currency:
        locked = currency_lock(session)
        if locked:
            raise Unfit(Faults.of("currency", locked))
    shop.name, shop.currency = draft.name, draft.currency
    shop.locale, shop.time_zone = draft.locale, draft.time_zone
    shop.length_unit, shop.gauge_system = draft.length_unit, draft.gauge_system
    shop.wage_micros = to_micros(draft.wage_per_hour)
    shop.overhead_mode = draft.overhead_mode
    shop.overhead_micros = to_micros(draft.overhead_per_hour)
    shop.overhead_percent = draft.overhead_percent
    shop.allowance_percent = draft.allowance_percent
    shop.learning_percent = draft.learning_percent
    shop.wanted_margin_percent = draft.wanted_margin_percent
    shop.ending, shop.one_price = draft.ending, draft.one_price
    shop.once_pieces, shop.kerf_nm, shop.near_nm = draft.once_pieces, draft.kerf_nm, draft.near_nm
    shop.version += 1
    session.add(shop)
    refresh_figures(session)


def differences(saved: ShopSettings, typed: SettingsDraft) -> tuple[tuple[str, str, str], ...]:
    """Where what was typed is not what is saved: label, saved value, typed value."""
    found = []
    for field, label in LABELS.items():
        old, new = getattr(saved, field), getattr(typed, field)
        if old != new:
            found.append((label, shown(field, old), shown(field, new)))
    return tuple(found)


def shown(field: str, value: object) -> str:
    """A value of a field in words, for the list of what was changed meanwhile."""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int) and field.endswith("_nm"):
        return format_mm(value)
    if isinstance(value, Decimal):
        return format(value, "f")
    return "" if value is None else str(value)
