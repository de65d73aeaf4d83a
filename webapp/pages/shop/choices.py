"""What can be chosen when a shop is set up: currencies, languages of figures, time zones, and good first picks.

Names come from CLDR by Babel. What is allowed is decided in `models/intake/shop/shop`, not here.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from zoneinfo import available_timezones

from babel import Locale, UnknownLocaleError
from babel.numbers import format_decimal, get_territory_currencies

from models.intake.shop.shop import is_locale, is_time_zone
from models.trade.money import is_currency

Options = tuple[tuple[str, str], ...]

# Languages and countries with their own way to write figures; any other CLDR code can be kept through the API.
_LOCALES = (
    "en", "en_AU", "en_CA", "en_GB", "en_IE", "en_IN", "en_NZ", "en_US", "en_ZA", "af", "ar", "az", "be",
    "bg", "bn", "bs", "ca", "cs", "cy", "da", "de", "de_AT", "de_CH", "el", "es", "es_AR", "es_CL", "es_CO",
    "es_MX", "es_US", "et", "eu", "fa", "fi", "fil", "fr", "fr_BE", "fr_CA", "fr_CH", "ga", "gl", "he", "hi",
    "hr", "hu", "hy", "id", "is", "it", "it_CH", "ja", "ka", "kk", "ko", "lb", "lt", "lv", "mk", "ms", "mt",
    "nb", "nl", "nl_BE", "nn", "pl", "pt", "pt_PT", "ro", "ru", "sk", "sl", "sq", "sr", "sv", "sw", "ta",
    "te", "th", "tr", "uk", "ur", "uz", "vi", "zh_Hans", "zh_Hant",
)  # fmt: skip
_REGIONS = frozenset(
    ("Africa", "America", "Antarctica", "Arctic", "Asia", "Atlantic", "Australia", "Europe", "Indian", "Pacific")
)


@lru_cache(maxsize=1)
def currencies() -> Options:
    """Every currency of ISO 4217 that one can pay in, by its code."""
    names = Locale("en").currencies
    return tuple((code, f"{code} · {names[code]}") for code in sorted(names) if is_currency(code))


@lru_cache(maxsize=1)
def _locales() -> Options:
    return tuple((code, locale_words(code)) for code in _LOCALES)


@lru_cache(maxsize=256)
def locale_words(code: str) -> str:
    """A locale's name in its own language, with a figure written its way."""
    found = Locale.parse(code)
    name = found.get_display_name(found) or code
    return f"{name[:1].upper() + name[1:]} · {format_decimal(Decimal('1234.5'), '#,##0.00', locale=found)}"


def locales(kept: str) -> Options:
    """The languages that figures can be shown in, with the one that is kept."""
    known = _locales()
    if kept and is_locale(kept) and kept not in _LOCALES:
        return ((kept, locale_words(kept)), *known)
    return known


@lru_cache(maxsize=1)
def _time_zones() -> Options:
    named = sorted(name for name in available_timezones() if name.partition("/")[0] in _REGIONS)
    return (("UTC", "UTC"), *((name, name.replace("_", " ")) for name in named))


def time_zones(kept: str) -> Options:
    """The IANA time zones by region, UTC first, with the one that is kept."""
    known = _time_zones()
    if kept and is_time_zone(kept) and all(name != kept for name, _ in known):
        return ((kept, kept), *known)
    return known


def put_into_words() -> None:
    """Make the long lists, each of which is made only once."""
    currencies()
    _locales()
    _time_zones()


def locale_of_browser(accept_language: str) -> str:
    """The first language that a browser asks for and that figures can be shown in; 'en' when there is none."""
    wanted = [part.partition(";")[0].strip().replace("-", "_") for part in accept_language[:500].split(",")]
    for code in wanted:
        if code and is_locale(code):
            return str(Locale.parse(code))
    return "en"


def currency_of_locale(code: str, day: date) -> str:
    """The currency that is paid with in a locale's country on a day; empty where it names no country or has none."""
    try:
        territory = Locale.parse(code).territory
    except (UnknownLocaleError, ValueError):
        return ""
    found = get_territory_currencies(territory, start_date=day, end_date=day) if territory else []
    return next((one for one in found if is_currency(one)), "")


def time_zone_here(env: Mapping[str, str] = os.environ, link: Path = Path("/etc/localtime")) -> str:
    """The time zone of this machine as an IANA name; UTC where it does not say."""
    named = env.get("TZ", "").removeprefix(":")
    if named and is_time_zone(named):
        return named
    try:
        target = os.path.realpath(link)
    except OSError:
        return "UTC"
    name = target.partition("zoneinfo/")[2].removeprefix("posix/")
    return name if name not in {"", "Etc/UTC"} and is_time_zone(name) else "UTC"
