"""The settings of the shop: for its page, for costing, and for how figures are shown."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import exists
from sqlalchemy import select as columns
from sqlmodel import Session, select

from models.costing.inputs import DifficultyFactors, Rate, ShopRates, SmallRings
from models.costing.rates import STARTING_DIFFICULTY, STARTING_RATES, STARTING_SMALL_RINGS, kind_words
from models.intake.fields import values_in_row
from models.intake.shop.shop import SettingsDraft
from models.tables import DesignPace, LearnedRate, Shop, WorkRate
from models.tables.money_kept import money_kept

SHOP_ID = 1


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


@dataclass(frozen=True, slots=True)
class ShopSettings(SettingsDraft):
    """All settings of the shop. Money in its currency, percentages as numbers like 12.5, sizes in nanometres."""

    demo: bool
    version: int


@dataclass(frozen=True, slots=True)
class RateView:
    """One kind of work: seconds per unit, the factors to the 10th and 90th of a hundred, and where they come from."""

    kind: str
    words: str
    per: str
    seconds: Decimal
    low_factor: Decimal
    high_factor: Decimal
    source: str
    guessed: bool
    version: int


@dataclass(frozen=True, slots=True)
class SettingsPage:
    """The settings page: the settings, why the currency is fixed ('' while it is not), and the rates of work."""

    settings: ShopSettings
    locked: str
    rates: tuple[RateView, ...]
    small_rings: SmallRings
    difficulty: DifficultyFactors


def is_founded(session: Session) -> bool:
    """Whether the shop has its settings."""
    return session.get(Shop, SHOP_ID) is not None


def display_prefs(session: Session) -> DisplayPrefs:
    """How the shop likes figures to be shown; plain defaults before it is founded."""
    shop = session.get(Shop, SHOP_ID)
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


def currency_of(session: Session) -> str:
    """The currency of every amount of the shop."""
    return shop_settings(session).currency


def shop_settings(session: Session) -> ShopSettings:
    """All settings, with the starting ones while the shop is not founded."""
    shop = session.get(Shop, SHOP_ID) or Shop(
        name=UNFOUNDED.shop_name, currency=UNFOUNDED.currency, wage_per_hour=Decimal(0), version=0
    )
    return ShopSettings(**values_in_row(SettingsDraft, shop), demo=shop.demo, version=shop.version)


def settings_page(session: Session) -> SettingsPage:
    """Everything that the settings page shows."""
    return SettingsPage(
        settings=shop_settings(session),
        locked=currency_lock(session),
        rates=work_rates(session),
        small_rings=STARTING_SMALL_RINGS,
        difficulty=STARTING_DIFFICULTY,
    )


def currency_lock(session: Session) -> str:
    """Why the currency can no longer be changed: what is kept in it; empty while there is nothing."""
    kept = money_kept()
    found = session.execute(columns(*(exists().where(some) for _, some in kept))).one()
    words = [words for (words, _), is_there in zip(kept, found, strict=True) if is_there]
    if not words:
        return ""
    return (
        f"The currency is fixed, because {words[0]} is kept in it already. "
        "Another word for it would not change the amount, so a shop with another currency is a new shop."
    )


def work_rates(session: Session) -> tuple[RateView, ...]:
    """Every kind of work with its time, in the order of the work at the bench; a kind without a row shows the guess."""
    rows = {row.kind: row for row in session.exec(select(WorkRate))}
    found = []
    for kind, guess in STARTING_RATES.items():
        row = rows.get(kind)
        found.append(
            RateView(
                kind=kind,
                words=kind_words(kind),
                per=guess.per,
                seconds=row.seconds if row else guess.seconds,
                low_factor=row.low_factor if row else guess.low_factor,
                high_factor=row.high_factor if row else guess.high_factor,
                source=row.source if row else guess.source,
                guessed=row is None or row.source == guess.source,
                version=row.version if row else 0,
            )
        )
    return tuple(found)


def starting_rates(session: Session) -> dict[str, Rate]:
    """How long each kind of work takes before the shop's own builds say more: guesses, or the person's figures."""
    return {
        rate.kind: Rate(rate.kind, rate.seconds, rate.per, rate.low_factor, rate.high_factor, rate.source)
        for rate in work_rates(session)
    }


def learned_rates(session: Session) -> dict[str, Rate]:
    """The rates that the shop's own builds have moved, by kind; none before the first build."""
    return {
        row.kind: Rate(row.kind, row.seconds, STARTING_RATES[row.kind].per, row.low_factor, row.high_factor, row.source)
        for row in session.exec(select(LearnedRate))
        if row.kind in STARTING_RATES
    }


def design_paces(session: Session) -> dict[int, Decimal]:
    """How many times as long a design takes as its work says, for the designs whose own builds have taught that."""
    return {row.design_id: row.factor for row in session.exec(select(DesignPace))}


def shop_rates(session: Session) -> ShopRates:
    """What costing needs of the shop: wage, overhead, allowance, learning, and how long each kind of work takes."""
    settings = shop_settings(session)
    return ShopRates(
        rates={**starting_rates(session), **learned_rates(session)},
        wage_per_hour=settings.wage_per_hour,
        overhead_mode=settings.overhead_mode,
        overhead_per_hour=settings.overhead_per_hour,
        overhead_percent=settings.overhead_percent,
        allowance=settings.allowance_percent.scaleb(-2),
        learning=settings.learning_percent.scaleb(-2),
        small_rings=STARTING_SMALL_RINGS,
        difficulty=STARTING_DIFFICULTY,
    )
