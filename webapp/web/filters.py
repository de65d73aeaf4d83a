"""The template filters: exact integers and Decimals in, text for people out, in the shop's own currency and language.

The only place where pages turn values into words; what is computed from them does not live here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, date, datetime
from decimal import ROUND_FLOOR, ROUND_HALF_EVEN, ROUND_HALF_UP, Decimal
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo

from babel.dates import format_date, format_time
from babel.numbers import NumberPattern, parse_pattern
from jinja2 import Environment, pass_context

from models.trade.measures import format_length, format_mass, format_mm, format_wire
from models.trade.money import from_micros, minor_digits
from models.trade.number_shape import NumberShape, grouping_of, in_shape, locale_of, number_shape
from webapp.web.prefs import showing

MOST_PLACES = 6
"""The finest money that is ever shown: a millionth of the currency unit, which is also the finest that is stored."""

NUMBER_KINDS = frozenset({"money", "decimal", "whole", "percent", "size", "amount"})
"""The kinds of field that hold numbers; 'amount' is a number among words, such as 'about 400', '2.5 m' or '1:35'."""

FINE_PLACES = 4
"""As many places as a small amount of at least one whole unit is shown with."""


@lru_cache(maxsize=64)
def _money_pattern(locale_name: str, fewest: int, most: int) -> NumberPattern:
    standard = locale_of(locale_name).currency_formats["standard"]
    pattern = parse_pattern(standard.pattern)
    pattern.frac_prec = (fewest, most)
    pattern.grouping = grouping_of(locale_of(locale_name))
    return pattern


@lru_cache(maxsize=64)
def _number_pattern(locale_name: str, fewest: int, most: int) -> NumberPattern:
    pattern = parse_pattern("#,##0")
    pattern.frac_prec = (fewest, most)
    pattern.grouping = grouping_of(locale_of(locale_name))
    return pattern


def exact(value: Decimal | int) -> Decimal:
    """An amount as a Decimal: a Decimal as it is, a whole number as millionths.

    Raises TypeError for a float.
    """
    if isinstance(value, Decimal):
        return value
    if isinstance(value, bool) or not isinstance(value, int):
        raise TypeError(f"an amount is a Decimal or whole millionths, not {type(value).__name__}")
    return from_micros(value)


def money(value: Decimal | int, currency: str | None = None) -> str:
    """An amount with its currency, to the minor unit, half away from zero: '€38.00'."""
    code = currency or showing.get().currency
    digits = minor_digits(code)
    rounded = exact(value).quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP)
    return _in_currency(rounded, code, digits, digits)


def rounded(value: Decimal | int) -> Decimal:
    """An amount in the shop's currency as `money` shows it, to reckon with on a page whose figures must add up."""
    digits = minor_digits(showing.get().currency)
    return exact(value).quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP)


def adding_up(parts: Sequence[Decimal | int], total: Decimal) -> list[Decimal]:
    """Amounts to the minor unit that add up to a shown total: what roundings are off goes to the largest remainders."""
    unit = Decimal(1).scaleb(-minor_digits(showing.get().currency))
    whole = [exact(part).quantize(unit, rounding=ROUND_FLOOR) for part in parts]
    left = [exact(part) - floor for part, floor in zip(parts, whole, strict=True)]
    order = sorted(range(len(whole)), key=lambda place: -left[place])
    off = int((total - sum(whole)) / unit)
    for step in range(abs(off) if order else 0):
        place = order[step % len(order)] if off > 0 else order[-1 - step % len(order)]
        whole[place] += unit if off > 0 else -unit
    return whole


def money_fine(value: Decimal | int, currency: str | None = None) -> str:
    """A small amount to the millionth, without the zeros at its end: '€0.0312', for the cost of one ring.

    From one whole unit on, ten-thousandths say enough: '€7.0701'.
    """
    code = currency or showing.get().currency
    rounded = _fine(exact(value))
    return _in_currency(rounded, code, minor_digits(code), MOST_PLACES)


def amount(value: Decimal | int, currency: str | None = None) -> str:
    """An amount to the minor unit without its sign, for a column that names the currency in its heading: '38.00'."""
    digits = minor_digits(currency or showing.get().currency)
    rounded = exact(value).quantize(Decimal(1).scaleb(-digits), rounding=ROUND_HALF_UP)
    return _number(rounded, digits, digits)


def amount_fine(value: Decimal | int) -> str:
    """A small amount as `money_fine` rounds it, without its sign, for a column that names the currency: '0.0312'."""
    rounded = _fine(exact(value))
    return _number(rounded, minor_digits(showing.get().currency), MOST_PLACES)


def typed_money(value: Decimal | int | None) -> str:
    """An amount as it is kept: every digit that counts, a full stop, no grouping. `in_field` writes it for a field."""
    if value is None:
        return ""
    digits = minor_digits(showing.get().currency)
    number = exact(value).quantize(Decimal(1).scaleb(-MOST_PLACES), rounding=ROUND_HALF_EVEN)
    whole, _, fraction = format(number, "f").partition(".")
    fraction = fraction.rstrip("0").ljust(digits, "0")
    return f"{whole}.{fraction}" if fraction else whole


def in_field(value: object, kind: str = "amount") -> str:
    """What stands in a field: a plain number as the shop writes it where the field is of numbers, else as it is.

    What was typed is never touched; what the shop fills in has no marks between thousands, so that it reads back.
    """
    text = value if isinstance(value, str) else str(value)
    return in_shape(text, _shape()) if kind in NUMBER_KINDS else text


def mm(value_nm: int) -> str:
    """A length as the shop shows it, the real millimetres always in sight: '3.97 mm', '5/32 in (3.969 mm)'."""
    plain = in_shape(format_mm(value_nm), _shape())
    if showing.get().length_unit != "in":
        return plain
    return f"{in_shape(format_length(value_nm, 'in'), _shape())} ({plain})"


def wire(value_nm: int, label: str | None = None) -> str:
    """A wire diameter, with its gauge label where it was bought by one; millimetres always in sight."""
    if label:
        return in_shape(format_wire(value_nm, label), _shape())
    return mm(value_nm)


def grams(value: Decimal | int) -> str:
    """A mass: a Decimal is grams, a whole number is micrograms."""
    if isinstance(value, Decimal):
        value = int((value * 1_000_000).to_integral_value(rounding=ROUND_HALF_EVEN))
    return in_shape(format_mass(value), _shape())


def minutes(value: Decimal | int) -> str:
    """A span of minutes, to the whole minute from an hour on: '40 min', '2 h 05 min', '1.5 min' under ten minutes."""
    number = Decimal(value)
    sign = "−" if number < 0 else ""
    number = abs(number)
    if 0 < number < Decimal("0.05"):
        return in_shape("under 0.1 min", _shape())
    if number < 10:
        fine = number.quantize(Decimal("0.1"), rounding=ROUND_HALF_UP)
        if fine != fine.to_integral_value():
            return f"{sign}{_number(fine, 1, 1)} min"
    whole = int(number.to_integral_value(rounding=ROUND_HALF_UP))
    if whole < 60:
        return f"{sign}{whole} min"
    return f"{sign}{whole // 60} h {whole % 60:02d} min"


def percent(value: Decimal | int, places: int = 1) -> str:
    """A share as a percentage: Decimal('0.065') is '6.5 %'. Zeros at the end are dropped."""
    rounded = (Decimal(value) * 100).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    return f"{_number(rounded, 0, places)} %"


def qty(value: Decimal | int, unit: str = "") -> str:
    """A quantity, with a unit when one is given; whole numbers stay whole: '1,250', '2.5 m'."""
    shown = _number(Decimal(value), 0, 3)
    return f"{shown} {unit}" if unit else shown


def milli(value: int, unit: str = "") -> str:
    """A quantity kept in thousandths of its unit: 412000 is '412', 2500 with 'm' is '2.5 m'."""
    return qty(Decimal(value).scaleb(-3), unit)


def figure(value: Decimal | int, places: int = 2) -> str:
    """A plain figure such as an aspect ratio, with a fixed number of decimals."""
    rounded = Decimal(value).quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_UP)
    return _number(rounded, places, places)


def aspect_ratio(inner_nm: int, wire_nm: int) -> str:
    """The aspect ratio of a ring, to two decimals: `{{ inner_nm|aspect_ratio(wire_nm) }}`."""
    return figure(Decimal(inner_nm) / Decimal(wire_nm))


def day(value: date | datetime) -> str:
    """A business date, or the local day of an instant: '31 Mar 2026' in the shop's own language of numbers."""
    if isinstance(value, datetime):
        value = value.replace(tzinfo=value.tzinfo or UTC).astimezone(ZoneInfo(showing.get().time_zone)).date()
    return format_date(value, "medium", locale=locale_of(showing.get().locale))


def moment(value: datetime) -> str:
    """An instant in the shop's time zone, to the minute."""
    local = value.replace(tzinfo=value.tzinfo or UTC).astimezone(ZoneInfo(showing.get().time_zone))
    locale = locale_of(showing.get().locale)
    return f"{format_date(local, 'medium', locale=locale)}, {format_time(local, 'short', locale=locale)}"


def _fine(value: Decimal) -> Decimal:
    places = MOST_PLACES if abs(value) < 1 else FINE_PLACES
    return value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN)


def _in_currency(value: Decimal, code: str, fewest: int, most: int) -> str:
    prefs = showing.get()
    pattern = _money_pattern(prefs.locale, fewest, most)
    shown: str = pattern.apply(value, locale_of(prefs.locale), currency=code, currency_digits=False)
    return shown


def _number(value: Decimal, fewest: int, most: int) -> str:
    locale_name = showing.get().locale
    shown: str = _number_pattern(locale_name, fewest, most).apply(value, locale_of(locale_name))
    return shown


def _shape() -> NumberShape:
    return number_shape(showing.get().locale)


FILTERS: dict[str, Callable[..., object]] = {
    "money": money,
    "money_fine": money_fine,
    "rounded": rounded,
    "adding_up": adding_up,
    "amount": amount,
    "amount_fine": amount_fine,
    "typed_money": typed_money,
    "in_field": in_field,
    "mm": mm,
    "wire": wire,
    "grams": grams,
    "minutes": minutes,
    "percent": percent,
    "qty": qty,
    "milli": milli,
    "figure": figure,
    "aspect_ratio": aspect_ratio,
    "day": day,
    "moment": moment,
}


def register(environment: Environment) -> None:
    """Put the filters into a Jinja environment."""
    for name, function in FILTERS.items():
        environment.filters[name] = _late(function)


def _late(function: Callable[..., object]) -> Callable[..., object]:
    # A filter that takes the context is never folded into a constant when a template is compiled; ours must not be,
    # since the same template serves shops with other currencies.
    @pass_context
    def shown(_context: Any, /, *args: Any, **kwargs: Any) -> object:
        return function(*args, **kwargs)

    return shown
