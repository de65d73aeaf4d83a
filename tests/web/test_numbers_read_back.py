"""What a page prints, a page can read: every filter's figures, in every locale that a shop can choose."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from decimal import Decimal

import pytest
from babel import localedata
from hypothesis import example, given, settings
from hypothesis import strategies as st

from models.intake.designs.part_text import read_line
from models.intake.raw import Reader
from models.queries.shop.shop import UNFOUNDED
from models.trade.number_shape import Typed, number_shape
from tests.budget import budget
from webapp.web import filters as show
from webapp.web.prefs import showing

EVERY = sorted(localedata.locale_identifiers())
NAMED = [
    "en_US",
    "en_GB",
    "de_DE",
    "de_AT",
    "de_CH",
    "fr_FR",
    "fr_CH",
    "it_IT",
    "sv_SE",
    "en_IN",
    "hi_IN",
    "pt_BR",
    "pl",
]
locales = st.one_of(st.sampled_from(NAMED), st.sampled_from(EVERY))
amounts = st.decimals(min_value=-9_999_999, max_value=9_999_999, places=3).map(lambda value: value + 0)
figures = st.one_of(amounts, st.integers(-3_000_000, 3_000_000).map(Decimal), st.sampled_from([Decimal(1000)]))
# A comma before three digits is asked where it parts thousands: whoever typed it may have meant a fraction.
ASKED = re.compile(r"-?[1-9][0-9]{0,2},[0-9]{3}")


def typed(text: str, locale: str, currency: str = "EUR") -> Reader:
    return Reader({"field": Typed(text, number_shape(locale, currency))})


def read(text: str, locale: str, how: Callable[[Reader], Decimal | None]) -> Decimal | None:
    """What the field says; None only where it asks which of two numbers is meant, and may."""
    reader = typed(text, locale)
    value = how(reader)
    faults = reader.faults()
    if faults:
        assert [fault.message[:11] for fault in faults] == ["Do you mean"], (text, faults)
        return None
    return value


@settings(max_examples=budget(1500, 40))
@given(locales, figures)
@example("de_DE", Decimal(1000))
@example("de_DE", Decimal("1250.5"))
@example("de_CH", Decimal("-1250.5"))
@example("fr_FR", Decimal("1250.5"))
@example("en_IN", Decimal(123_456))
@example("sv_SE", Decimal("-1234567.891"))
def test_every_figure_that_is_printed_reads_back_the_same(locale: str, value: Decimal) -> None:
    least = Decimal(-10_000_000)
    cent = value.quantize(Decimal("0.01"))
    # Small enough for the cost of a ring, which is shown to the millionth.
    small = (value / 10_000_000).quantize(Decimal("0.000001"))
    share = abs(value / 10_000_000).quantize(Decimal("0.001"))
    prefs = replace(UNFOUNDED, locale=locale, currency="EUR")
    kept = showing.set(prefs)
    try:
        printed = [
            (show.qty(value), value, lambda reader: reader.quantity("field", least=least)),
            (show.milli(int(value * 1000)), value, lambda reader: reader.quantity("field", least=least)),
            (show.amount(cent), cent, lambda reader: reader.money("field", least=least)),
            (show.amount_fine(small), small, lambda reader: reader.money("field", least=least)),
            (show.money_fine(small), small, lambda reader: reader.money("field", least=least)),
            (show.money(cent), cent, lambda reader: reader.money("field", least=least)),
            (show.figure(value, 3), value, lambda reader: reader.quantity("field", least=least)),
            (show.figure(cent), cent, lambda reader: reader.decimal("field", least=least)),
            (show.percent(share), share * 100, lambda reader: reader.percent("field")),
        ]
    finally:
        showing.reset(kept)
    for text, expected, how in printed:
        got = read(text, locale, how)
        if got is None:
            assert number_shape(locale).decimal == ".", (locale, text)
            assert ASKED.fullmatch(re.sub("[^0-9.,-]", "", text)), (locale, text)
        else:
            assert got == expected, (locale, text, got)


@settings(max_examples=budget(500, 40))
@given(locales, st.integers(1, 19_999_999), st.integers(1, 500_000_000), st.integers(10_000, 9_999_000_000))
def test_every_size_and_weight_that_is_printed_reads_back_the_same(
    locale: str, wire_nm: int, length_nm: int, mass_ug: int
) -> None:
    wire_nm, length_nm = max(1000, wire_nm // 1000 * 1000), max(1000, length_nm // 1000 * 1000)
    kept = showing.set(replace(UNFOUNDED, locale=locale))
    try:
        wire, length, mass = show.mm(wire_nm), show.mm(length_nm), show.grams(mass_ug)
    finally:
        showing.reset(kept)
    for text, how, expected in (
        (wire, lambda reader: reader.wire("field"), wire_nm),
        (length, lambda reader: reader.inner("field"), length_nm),
        (length, lambda reader: reader.length("field"), length_nm),
    ):
        reader = typed(text, locale)
        found = how(reader)
        assert reader.faults() is None, (text, reader.faults())
        assert found is not None
        assert found.nm == expected
    reader = typed(mass, locale)
    found_ug = reader.mass("field")
    assert reader.faults() is None, (mass, reader.faults())
    assert found_ug is not None
    # A weight is shown in four figures.
    assert abs(found_ug - mass_ug) <= mass_ug / 100 + 1, (mass, found_ug)


@settings(max_examples=budget(800, 40))
@given(locales, st.decimals(min_value=0, max_value=99_999, places=3))
def test_what_the_shop_fills_into_a_field_is_read_without_a_question(locale: str, value: Decimal) -> None:
    kept = showing.set(replace(UNFOUNDED, locale=locale))
    try:
        shown = [show.in_field(text, "amount") for text in (f"{value}", f"{value} mm", f"{value} g")]
        assert show.in_field("Ring 1.250", "text") == "Ring 1.250"
        already = Typed("1.250", number_shape(locale))
        assert show.in_field(already, "money") is already
    finally:
        showing.reset(kept)
    assert typed(shown[0], locale).quantity("field") == value
    assert typed(shown[0], locale).money("field") == value
    assert typed(shown[0], locale).decimal("field") == value
    length, mass = typed(shown[1], locale).length("field"), typed(shown[2], locale).mass("field")
    assert length is not None
    assert length.nm == value * 1_000_000
    assert mass == value * 1_000_000


@settings(max_examples=budget(800, 40))
@given(locales, st.integers(1, 999), st.sampled_from(list(".,")), st.integers(0, 999))
def test_no_mark_before_three_digits_is_guessed(locale: str, whole: int, mark: str, part: int) -> None:
    text, shape = f"{whole}{mark}{part:03}", number_shape(locale)
    thousands, fraction = Decimal(whole * 1000 + part), whole + Decimal(part) / 1000
    own = shape.decimal if not shape.own else "."
    for how, counted in (
        (lambda reader: reader.quantity("field"), True),
        (lambda reader: reader.money("field"), True),
        (lambda reader: reader.decimal("field"), False),
    ):
        value = read(text, locale, how)
        if mark == own:
            assert value == fraction
        elif counted and mark == "." and "." in shape.groups:
            assert value == thousands
        else:
            assert value is None
    for unit in ("mm", "g"):
        reader = typed(f"{text} {unit}", locale)
        found = reader.length("field") if unit == "mm" else reader.mass("field")
        got = None if found is None else Decimal(found if isinstance(found, int) else found.nm) / 1_000_000
        assert got == (fraction if mark == own else None)
    # A thousand millimetres is no ring's wire or opening, whoever writes it.
    size = typed(text, locale).inner("field")
    assert (size.nm if size else None) == (round(fraction * 1_000_000) if 0 < fraction <= 500 else None)


@pytest.mark.parametrize(
    ("locale", "text", "milli"),
    [
        ("de_DE", "1.000 bronze 1,0 x 3,6", 1_000_000),
        ("de_DE", "1.250,5 g wax", 1_250_500),
        ("de_DE", "45,5 cm chain", 455),
        ("de_DE", "1.250 m chain", None),
        ("de_DE", "bronze 1,0 x 3,6, 1.200", 1_200_000),
        ("de_CH", "1’000 bronze 1.0 x 3.6", 1_000_000),
        ("fr_FR", "1\u202f000 bronze 1,0 x 3,6", 1_000_000),
        ("fr_FR", "1 000 bronze 1,0 x 3,6", None),
        ("fr_FR", "1 925 silver 1,0 x 3,6", 1_000),
        ("fr_FR", "1.000 bronze 1,0 x 3,6", None),
        ("en_GB", "1,000 bronze 1.0 x 3.6", None),
        ("en_GB", "1,250 m chain", None),
        ("en_GB", "1,250.5 m chain", 1_250_500),
        ("en_IN", "12,345 bronze 1.0 x 3.6", None),
    ],
)
def test_a_line_of_parts_says_how_many_in_the_shops_own_shape(locale: str, text: str, milli: int | None) -> None:
    line = read_line(Typed(text, number_shape(locale)))
    assert line.quantity_milli == milli
    if milli is None:
        assert line.fault.startswith("Do you mean")
    elif "bronze" in text:
        assert line.size is not None
        assert (line.size.wire_nm, line.size.inner_nm) == (1_000_000, 3_600_000)
