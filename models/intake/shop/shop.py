"""What people hand in about the shop itself: how it is founded, and its settings. Work rates stand in `rate`."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from typing import Annotated
from zoneinfo import available_timezones

from babel import Locale, UnknownLocaleError

from models.intake.faults import Faults
from models.intake.fields import Choice, Flag, Money, Percent, Size, Text, Whole, read_fields
from models.intake.raw import Raw, Reader
from models.trade.money import is_currency
from models.trade.vocabulary.selling import (
    GAUGE_SYSTEMS,
    LENGTH_UNITS,
    OVERHEAD_MODES,
    PRICE_ENDINGS,
    OverheadMode,
)

MOST_KERF_NM = 5_000_000
MOST_NEAR_NM = 500_000
LEAST_LEARNING = Decimal(50)
ZERO = Decimal(0)


def is_locale(code: str) -> bool:
    """Whether figures and dates can be shown the way of this language and country ('de', 'en_GB')."""
    try:
        Locale.parse(code)
    except (UnknownLocaleError, ValueError, TypeError):
        return False
    return True


def is_time_zone(name: str) -> bool:
    """Whether this is a zone of the IANA time zone database that this machine knows."""
    return name in _time_zones()


@lru_cache(maxsize=1)
def _time_zones() -> frozenset[str]:
    # Asking the machine walks through every file of its database, so it is asked once.
    return frozenset(available_timezones())


def _no_currency(code: str) -> str:
    if is_currency(code):
        return ""
    return f"“{code}” is not a currency. Give the three letters of ISO 4217, such as EUR, GBP or USD."


def _or_english(code: str) -> str:
    return code.replace("-", "_") or "en"


def _no_locale(code: str) -> str:
    if is_locale(code):
        return ""
    return f"“{code}” is not a language that figures can be shown in. Give something like en, en_GB or de."


def _no_time_zone(name: str) -> str:
    return "" if is_time_zone(name) else f"“{name}” is not a known time zone. Give something like Europe/Berlin or UTC."


NAME = Text(label="Studio name", required="Give the studio a name.", most=80)
CURRENCY = Text(
    label="Currency",
    says="ISO 4217; fixed once an amount is kept in it.",
    required="Choose the currency that you sell in.",
    most=40,
    tidy=str.upper,
    wrong=_no_currency,
)
LOCALE = Text(label="Language of figures", most=40, tidy=_or_english, wrong=_no_locale)
TIME_ZONE = Text(
    label="Time zone", required="Choose the time zone that your days begin in.", most=80, wrong=_no_time_zone
)
WAGE = Money(label="Wage per hour")


@dataclass(frozen=True, slots=True)
class Founding:
    """The few things that a new shop must know; money per hour in `currency`."""

    name: Annotated[str, NAME]
    currency: Annotated[str, CURRENCY]
    locale: Annotated[str, LOCALE]
    time_zone: Annotated[str, TIME_ZONE]
    wage_per_hour: Annotated[Decimal, WAGE]


@dataclass(frozen=True, slots=True)
class SettingsDraft:
    """All settings of the shop as handed in. Percentages are numbers like 12.5; without learning it is 100 per cent."""

    name: Annotated[str, NAME]
    currency: Annotated[str, CURRENCY]
    locale: Annotated[str, LOCALE]
    time_zone: Annotated[str, TIME_ZONE]
    length_unit: Annotated[str, Choice(label="Sizes shown in", among=LENGTH_UNITS)]
    gauge_system: Annotated[str, Choice(label="Wire gauge", among=GAUGE_SYSTEMS)]
    wage_per_hour: Annotated[Decimal, WAGE]
    overhead_mode: Annotated[OverheadMode, Choice(label="Overhead counted", among=OVERHEAD_MODES)]
    overhead_per_hour: Annotated[Decimal, Money(label="Overhead per hour", default=ZERO)]
    overhead_percent: Annotated[Decimal, Percent(label="Overhead in per cent", most=Decimal(1000), default=ZERO)]
    allowance_percent: Annotated[Decimal, Percent(label="Allowance")]
    learning_percent: Annotated[
        Decimal,
        Percent(
            label="Learning",
            least=LEAST_LEARNING,
            too_small="Give 50 to 100: twice as many together never take less than half the time each.",
        ),
    ]
    wanted_margin_percent: Annotated[Decimal, Percent(label="Wanted margin", below=True)]
    ending: Annotated[str, Choice(label="Price ending", among=PRICE_ENDINGS)]
    one_price: Annotated[bool, Flag(label="One price everywhere")]
    once_pieces: Annotated[int, Whole(label="Pieces that share the once-per-design work", least=1, most=100_000)]
    kerf_nm: Annotated[
        int,
        Size(
            label="Width of a cut",
            says="Millimetres, or text with a unit.",
            typed="kerf",
            most_nm=MOST_KERF_NM,
            too_large="A cut is not wider than 5 mm; give what your saw or cutter takes away, such as 0.3 mm.",
        ),
    ]
    near_nm: Annotated[
        int,
        Size(
            label="Nearly the same size",
            says="Millimetres, or text with a unit.",
            typed="near",
            most_nm=MOST_NEAR_NM,
            too_large="Sizes more than 0.5 mm apart are not nearly the same; give something like 0.03 mm.",
        ),
    ]


def read_founding(raw: Raw) -> Founding | Faults:
    """Read what the first page asks for."""
    reader = Reader(raw)
    draft = read_fields(Founding, reader)
    return reader.faults() or draft


def read_settings(raw: Raw, *, length_unit: str = "mm") -> SettingsDraft | Faults:
    """Read all settings from a form or a JSON body. `length_unit` is the unit of sizes typed without one."""
    reader = Reader(raw, length_unit=length_unit)
    draft = read_fields(SettingsDraft, reader)
    return reader.faults() or draft
