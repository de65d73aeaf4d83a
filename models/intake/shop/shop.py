"""What people hand in about the shop itself: how it is founded, and its settings. Work rates stand in `rate`."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from functools import lru_cache
from zoneinfo import available_timezones

from babel import Locale, UnknownLocaleError

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.trade.money import is_currency
from models.trade.vocabulary.selling import GAUGE_SYSTEMS, LENGTH_UNITS, OVERHEAD_MODES, PRICE_ENDINGS

MOST_KERF_NM = 5_000_000
MOST_NEAR_NM = 500_000
LEAST_LEARNING = Decimal(50)
HUNDRED = Decimal(100)
ZERO = Decimal(0)


@dataclass(frozen=True, slots=True)
class Founding:
    """The few things that a new shop must know; money per hour in `currency`."""

    name: str
    currency: str
    locale: str
    time_zone: str
    wage_per_hour: Decimal


@dataclass(frozen=True, slots=True)
class SettingsDraft:
    """All settings of the shop as handed in. Percentages are numbers like 12.5; without learning it is 100 per cent."""

    name: str
    currency: str
    locale: str
    time_zone: str
    length_unit: str
    gauge_system: str
    wage_per_hour: Decimal
    overhead_mode: str
    overhead_per_hour: Decimal
    overhead_percent: Decimal
    allowance_percent: Decimal
    learning_percent: Decimal
    wanted_margin_percent: Decimal
    ending: str
    one_price: bool
    once_pieces: int
    kerf_nm: int
    near_nm: int


def read_founding(raw: Raw) -> Founding | Faults:
    """Read what the first page asks for."""
    reader = Reader(raw)
    draft = Founding(
        name=_name(reader),
        currency=_currency(reader),
        locale=_locale(reader),
        time_zone=_time_zone(reader),
        wage_per_hour=reader.money("wage_per_hour") or ZERO,
    )
    return reader.faults() or draft


def read_settings(raw: Raw, *, length_unit: str = "mm") -> SettingsDraft | Faults:
    """Read all settings from a form or a JSON body. `length_unit` is the unit of sizes typed without one."""
    reader = Reader(raw, length_unit=length_unit)
    kerf = reader.length("kerf")
    near = reader.length("near")
    learning = reader.percent("learning_percent") or ZERO
    if learning < LEAST_LEARNING and not _faulty(reader, "learning_percent"):
        reader.fault(
            "learning_percent", "Give 50 to 100: twice as many together never take less than half the time each."
        )
    if kerf is not None and kerf.nm > MOST_KERF_NM:
        reader.fault("kerf", "A cut is not wider than 5 mm; give what your saw or cutter takes away, such as 0.3 mm.")
    if near is not None and near.nm > MOST_NEAR_NM:
        reader.fault("near", "Sizes more than 0.5 mm apart are not nearly the same; give something like 0.03 mm.")
    draft = SettingsDraft(
        name=_name(reader),
        currency=_currency(reader),
        locale=_locale(reader),
        time_zone=_time_zone(reader),
        length_unit=reader.choice("length_unit", LENGTH_UNITS.codes),
        gauge_system=reader.choice("gauge_system", GAUGE_SYSTEMS.codes),
        wage_per_hour=reader.money("wage_per_hour") or ZERO,
        overhead_mode=reader.choice("overhead_mode", OVERHEAD_MODES.codes),
        overhead_per_hour=reader.money("overhead_per_hour", default=ZERO) or ZERO,
        overhead_percent=reader.percent("overhead_percent", most=Decimal(1000), default=ZERO) or ZERO,
        allowance_percent=reader.percent("allowance_percent") or ZERO,
        learning_percent=learning,
        wanted_margin_percent=reader.percent("wanted_margin_percent", below=True) or ZERO,
        ending=reader.choice("ending", PRICE_ENDINGS.codes),
        one_price=reader.flag("one_price"),
        once_pieces=reader.integer("once_pieces", least=1, most=100_000) or 1,
        kerf_nm=kerf.nm if kerf else 0,
        near_nm=near.nm if near else 0,
    )
    return reader.faults() or draft


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


def _faulty(reader: Reader, field: str) -> bool:
    faults = reader.faults()
    return faults is not None and field in faults.by_field()


def _name(reader: Reader) -> str:
    return reader.text("name", required="Give the studio a name.", most=80)


def _currency(reader: Reader) -> str:
    code = reader.text("currency", required="Choose the currency that you sell in.", most=40).upper()
    if code and not is_currency(code):
        reader.fault(
            "currency", f"“{code}” is not a currency. Give the three letters of ISO 4217, such as EUR, GBP or USD."
        )
    return code


def _locale(reader: Reader) -> str:
    code = reader.text("locale", most=40).replace("-", "_") or "en"
    if not is_locale(code):
        reader.fault(
            "locale", f"“{code}” is not a language that figures can be shown in. Give something like en, en_GB or de."
        )
    return code


def _time_zone(reader: Reader) -> str:
    name = reader.text("time_zone", required="Choose the time zone that your days begin in.", most=80)
    if name and not is_time_zone(name):
        reader.fault("time_zone", f"“{name}” is not a known time zone. Give something like Europe/Berlin or UTC.")
    return name
