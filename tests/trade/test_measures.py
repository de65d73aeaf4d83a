"""Sizes and masses: what people type is read exactly or refused in plain words, and what is printed reads back."""

from contextlib import suppress
from decimal import Decimal
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.trade.measures import (
    GRAMS_PER,
    LENGTH_UNITS,
    MASS_UNITS,
    Length,
    Unreadable,
    exact_mass_text,
    exact_text,
    format_length,
    format_mass,
    format_mm,
    format_wire,
    from_mm,
    parse_inner,
    parse_length,
    parse_mass,
    parse_wire,
    to_grams,
    to_mm,
)

any_ring_nm = st.integers(1, 500_000_000)


@pytest.mark.parametrize(
    ("typed", "nm", "label"),
    [
        ("1.0", 1_000_000, None),
        ("1", 1_000_000, None),
        ("1.", 1_000_000, None),
        ("1.0 mm", 1_000_000, None),
        ("1mm", 1_000_000, None),
        ("  1,0mm ", 1_000_000, None),
        ("1.0 Millimetres", 1_000_000, None),
        ("0.1 cm", 1_000_000, None),
        ("0.001 m", 1_000_000, None),
        ("+1.0 mm", 1_000_000, None),
        ("1,0\u00a0mm", 1_000_000, None),
        ("１.０ mm", 1_000_000, None),
        ("20 AWG", 811_821, "20 AWG"),
        ("16 swg", 1_625_600, "16 SWG"),
        ("awg20", 811_821, "20 AWG"),
        ("5/32", 3_968_750, None),
        ("5/32 in", 3_968_750, None),
        ('5/32"', 3_968_750, None),
        ("5/32″", 3_968_750, None),
        ("5/32''", 3_968_750, None),
        ("5⁄32 inch", 3_968_750, None),
        ("3 1/2 mm", 3_500_000, None),
        ("3-1/2 mm", 3_500_000, None),
        ("3½ mm", 3_500_000, None),
        ("½ in", 12_700_000, None),
        (".16in", 4_064_000, None),
        ("0,16 in.", 4_064_000, None),
        ("3,97 mm", 3_970_000, None),
        ("1/2 ft", 152_400_000, None),
        ("5/32 mm", 156_250, None),
    ],
)
def test_reads_what_people_type(typed: str, nm: int, label: str | None) -> None:
    assert parse_length(typed, gauges=True) == Length(nm, label)


def test_reads_numbers_from_a_program_as_millimetres() -> None:
    assert parse_wire(1).nm == 1_000_000
    assert parse_inner(Decimal("3.96875")).nm == 3_968_750
    assert parse_inner(Decimal("3.5"), default_unit="in").nm == 3_500_000


def test_a_bare_number_takes_the_shops_unit_and_a_bare_fraction_is_inches() -> None:
    assert parse_inner("0.25", default_unit="in").nm == 6_350_000
    assert parse_inner("1/4", default_unit="mm").nm == 6_350_000


def test_rounds_once_and_half_to_even() -> None:
    assert parse_length("0.0000005 mm").nm == 0
    assert parse_length("0.0000015 mm").nm == 2
    assert parse_length("0.0000025 mm").nm == 2
    assert parse_length("1/3 mm").nm == 333_333
    assert parse_length("2/3 mm").nm == 666_667


@pytest.mark.parametrize("typed", ["16ga", "16 gauge", "16g", "16 ga.", "16-gauge", "#16", "gauge 16", "No. 16 ga"])
def test_a_gauge_without_its_system_gets_a_question(typed: str) -> None:
    with pytest.raises(Unreadable) as refused:
        parse_wire(typed)
    assert "Which gauge system?" in refused.value.message
    assert "16 AWG is 1.29 mm" in refused.value.message
    assert "16 SWG is 1.63 mm" in refused.value.message


@pytest.mark.parametrize("typed", ["16 AWG", "16ga", "16 swg", "16g"])
def test_an_opening_has_no_gauge(typed: str) -> None:
    with pytest.raises(Unreadable, match="A gauge names a wire"):
        parse_inner(typed)


@pytest.mark.parametrize(
    ("typed", "part"),
    [
        ("", "Nothing was typed"),
        ("   ", "Nothing was typed"),
        ("abc", "not a number"),
        ("mm", "not a number"),
        ("nan", "not a number"),
        ("inf", "not a number"),
        ("1e3", "plain digits"),
        ("1e3 mm", "plain digits"),
        ("1E-3", "plain digits"),
        ("9**9**9 mm", "not a number"),
        ("1+1 mm", "not a number"),
        ("1.2.3", "more than one separator"),
        ("1,234.5 mm", "more than one separator"),
        ("1 0 mm", "more than one separator"),
        ("-1 mm", "below zero"),
        ("−1 mm", "below zero"),
        ("-1/2 in", "below zero"),
        ("1/0 in", "divides by zero"),
        ("1 furlong", "not a unit of length"),
        ("1 mm 2 mm", "not a number"),
        ("10²", "not a unit of length"),
        ("9" * 25, "too many digits"),
        ("1" * 61, "too long"),
        ("1" * 100_000, "too long"),
        ("٣ mm", "not a number"),
        (Decimal("NaN"), "not a number"),
        (Decimal("Infinity"), "not a number"),
        (Decimal("1E+400"), "too long"),
        (Decimal("1E-400"), "too long"),
        (10**40, "too long"),
        (True, "as text"),
        (1.5, "as text"),
        (None, "as text"),
        ([], "as text"),
    ],
)
def test_refuses_in_plain_words_and_says_what_would_be_right(typed: object, part: str) -> None:
    with pytest.raises(Unreadable) as refused:
        parse_wire(typed)  # type: ignore[arg-type]
    assert part in refused.value.message
    assert "1.0 mm" in refused.value.message
    assert len(refused.value.message) < 200
    assert str(refused.value) == refused.value.message


@pytest.mark.parametrize("typed", ["0", "0 mm", "0.0000001 mm"])
def test_a_ring_has_no_zero_size(typed: str) -> None:
    with pytest.raises(Unreadable, match="thicker than zero"):
        parse_wire(typed)
    with pytest.raises(Unreadable, match="wider than zero"):
        parse_inner(typed)
    assert parse_length(typed).nm == 0


def test_sizes_far_from_any_ring_are_refused_with_the_limit() -> None:
    assert parse_wire("20 mm").nm == 20_000_000
    with pytest.raises(Unreadable, match="up to 20 mm"):
        parse_wire("20.000001 mm")
    assert parse_inner("500").nm == 500_000_000
    with pytest.raises(Unreadable, match="up to 500 mm"):
        parse_inner("500.000001")
    assert parse_length("100000 m").nm == 10**14
    with pytest.raises(Unreadable, match="longer than 100 km"):
        parse_length("100000.1 m")


def test_the_millimetres_stay_visible_beside_a_gauge() -> None:
    assert format_wire(1_000_000) == "1.0 mm"
    assert format_wire(1_625_600, "16 SWG") == "16 SWG (1.626 mm)"
    assert format_wire(1_600_000, "16 SWG") == "16 SWG (1.6 mm)"
    assert format_wire(811_821, gauge_system="AWG") == "20 AWG (0.812 mm)"
    assert format_wire(1_000_000, gauge_system="AWG") == "1.0 mm (near 18 AWG)"
    assert format_wire(1_000_000, gauge_system="SWG") == "1.0 mm (near 19 SWG)"


@pytest.mark.parametrize(
    ("nm", "text"),
    [
        (1_000_000, "1.0 mm"),
        (3_970_000, "3.97 mm"),
        (3_968_750, "3.969 mm"),
        (0, "0.0 mm"),
        (120_000_000, "120.0 mm"),
        (1_000_500, "1.0 mm"),
        (1_001_500, "1.002 mm"),
    ],
)
def test_millimetres_are_short_for_people(nm: int, text: str) -> None:
    assert format_mm(nm) == text
    assert format_length(nm) == text


@pytest.mark.parametrize(
    ("nm", "text"),
    [
        (3_968_750, "5/32 in"),
        (396_875, "1/64 in"),
        (25_400_000, "1 in"),
        (31_750_000, "1 1/4 in"),
        (0, "0 in"),
        (1_000_000, "0.0394 in"),
        (198_437, "0.0078 in"),
    ],
)
def test_inches_are_fractions_where_they_are_exact(nm: int, text: str) -> None:
    assert format_length(nm, "in") == text


def test_lengths_are_shown_in_two_units_only() -> None:
    with pytest.raises(ValueError, match="not furlong"):
        format_length(1, "furlong")
    with pytest.raises(ValueError, match="not cm"):
        exact_text(1, "cm")


@given(any_ring_nm)
def test_any_size_printed_in_full_and_read_again_is_the_same(nm: int) -> None:
    assert parse_inner(exact_text(nm)) == Length(nm)
    assert parse_inner(exact_text(nm, "in")) == Length(nm)
    assert parse_inner(exact_text(nm).replace(".", ",")) == Length(nm)
    assert parse_inner(to_mm(nm)) == Length(nm)
    assert from_mm(to_mm(nm)) == nm


@given(any_ring_nm, st.sampled_from(["mm", "in"]))
def test_what_is_shown_is_within_its_last_place(nm: int, unit: str) -> None:
    shown_nm = parse_length(format_length(nm, unit)).nm
    assert abs(shown_nm - nm) <= (500 if unit == "mm" else 1270)
    assert format_length(shown_nm, unit) == format_length(nm, unit)


@given(st.integers(0, 40 * 64))
def test_every_64th_of_an_inch_reads_back_exactly(sixty_fourths: int) -> None:
    nm = sixty_fourths * 396_875
    assert parse_length(format_length(nm, "in")).nm == nm
    assert parse_length(f"{Fraction(sixty_fourths, 64)} in").nm == nm


@given(st.text(max_size=80) | st.text(alphabet="0123456789.,/ -+eE\"'aAwgGmMiIn", max_size=14))
def test_any_text_is_read_or_refused_and_never_anything_else(text: str) -> None:
    for parse, most in ((parse_wire, 20_000_000), (parse_inner, 500_000_000), (parse_length, 10**14)):
        with suppress(Unreadable):
            assert 0 <= parse(text).nm <= most
    with suppress(Unreadable):
        assert 0 <= parse_mass(text) <= 10**12


@pytest.mark.parametrize(
    ("typed", "ug"),
    [
        ("1", 1_000_000),
        ("12,5 g", 12_500_000),
        ("250mg", 250_000),
        ("1 kg", 10**9),
        ("1 oz", 28_349_523),
        ("1 ozt", 31_103_477),
        ("1 troy ounce", 31_103_477),
        ("1 oz t", 31_103_477),
        ("1 dwt", 1_555_174),
        ("1 lb", 453_592_370),
        ("2 lbs", 907_184_740),
        ("1 gr", 64_799),
        ("1/2 ozt", 15_551_738),
        (Decimal("0.25"), 250_000),
        (3, 3_000_000),
    ],
)
def test_reads_masses(typed: str | int | Decimal, ug: int) -> None:
    assert parse_mass(typed) == ug


def test_a_bare_mass_takes_the_given_unit() -> None:
    assert parse_mass("1", "ozt") == 31_103_477
    assert parse_mass(1, "ozt") == 1_000_000


@pytest.mark.parametrize(
    ("typed", "part"),
    [
        ("-1 g", "below zero"),
        ("1 stone", "not a unit of weight"),
        ("1 mm", "not a unit of weight"),
        ("1000.1 kg", "more than 1,000 kg"),
        ("heavy", "not a number"),
        ("", "Nothing was typed"),
        ("1e3 g", "plain digits"),
    ],
)
def test_refuses_masses_in_plain_words(typed: str, part: str) -> None:
    with pytest.raises(Unreadable) as refused:
        parse_mass(typed)
    assert part in refused.value.message
    assert "12.5 g" in refused.value.message


@pytest.mark.parametrize(
    ("ug", "text"),
    [
        (0, "0 g"),
        (25, "0.025 mg"),
        (97_259, "0.0973 g"),
        (1_000_000, "1 g"),
        (12_345_678, "12.35 g"),
        (245_600_000, "245.6 g"),
        (12_345_678_901, "12.35 kg"),
    ],
)
def test_masses_are_short_for_people(ug: int, text: str) -> None:
    assert format_mass(ug) == text


@given(st.integers(0, 10**12))
def test_any_mass_printed_in_full_and_read_again_is_the_same(ug: int) -> None:
    assert parse_mass(exact_mass_text(ug)) == ug
    assert parse_mass(to_grams(ug)) == ug


def test_every_unit_has_a_word_and_a_factor() -> None:
    assert set(GRAMS_PER) == set(MASS_UNITS)
    for code, word in MASS_UNITS.items():
        assert parse_mass(f"1 {code}") == parse_mass(f"1 {word}")
    for code, word in LENGTH_UNITS.items():
        assert parse_length(f"1 {code}") == parse_length(f"1 {word}")
