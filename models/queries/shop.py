"""The settings of the shop: for its page, for costing, and for how figures are shown."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from models.tables import Shop


@dataclass(frozen=True, slots=True)
class DisplayPrefs:
    """How figures are shown; `founded` is False while the shop has no settings yet."""

    founded: bool
    shop_name: str
    currency: str
    locale: str
    length_unit: str
    gauge_system: str
    time_zone: str
    demo: bool


UNFOUNDED = DisplayPrefs(False, "Ringbench", "EUR", "en", "mm", "AWG", "UTC", False)


def display_prefs(session: Session) -> DisplayPrefs:
    """How the shop likes figures to be shown; plain defaults before it is founded."""
    shop = session.get(Shop, 1)
    if shop is None:
        return UNFOUNDED
    return DisplayPrefs(
        founded=True,
        shop_name=shop.name,
        currency=shop.currency,
        locale=shop.locale,
        length_unit=shop.length_unit,
        gauge_system=shop.gauge_system,
        time_zone=shop.time_zone,
        demo=shop.demo,
    )
