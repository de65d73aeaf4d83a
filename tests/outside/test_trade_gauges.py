"""Sizes against the outside world: the two gauge tables, inch fractions, and the exact pound, inch and ounce."""

import math
from decimal import Decimal
from fractions import Fraction

import pytest
from fluids.piping import t_from_gauge
from scipy import constants

from models.trade.measures import GRAMS_PER, awg_nm, nearest_gauge, parse_inner, parse_length, parse_mass, swg_nm
from models.trade.rings import RingSize

# Source: ASTM B258, the tabulated inches (no finer than 0.0001 in), as a public encyclopaedia summarises the standard.
AWG_TABULATED_IN = {
    10: "0.1019", 11: "0.0907", 12: "0.0808", 13: "0.0720", 14: "0.0641", 15: "0.0571", 16: "0.0508", 17: "0.0453",
    18: "0.0403", 19: "0.0359", 20: "0.0320", 21: "0.0285", 22: "0.0253", 23: "0.0226", 24: "0.0201", 25: "0.0179",
    26: "0.0159", 27: "0.0142", 28: "0.0126", 29: "0.0113", 30: "0.0100",
}  # fmt: skip
# Source: the same formula worked out to six decimals with another program.
AWG_FORMULA_MM = {
    10: "2.588187", 11: "2.304847", 12: "2.052525", 13: "1.827827", 14: "1.627727", 15: "1.449532", 16: "1.290846",
    17: "1.149531", 18: "1.023687", 19: "0.911620", 20: "0.811821", 21: "0.722947", 22: "0.643803", 23: "0.573323",
    24: "0.510559", 25: "0.454666", 26: "0.404892", 27: "0.360567", 28: "0.321094", 29: "0.285942", 30: "0.254639",
}  # fmt: skip
# Source: BS 3737:1964 (withdrawn) as public tables print it, in inches, 7/0 to 50.
SWG_IN = [
    "0.5",
    "0.464",
    "0.432",
    "0.4",
    "0.372",
    "0.348",
    "0.324",
    "0.3",
    "0.276",
    "0.252",
    "0.232",
    "0.212",
    "0.192",
    "0.176",
    "0.16",
    "0.144",
    "0.128",
    "0.116",
    "0.104",
    "0.092",
    "0.08",
    "0.072",
    "0.064",
    "0.056",
    "0.048",
    "0.04",
    "0.036",
    "0.032",
    "0.028",
    "0.024",
    "0.022",
    "0.02",
    "0.018",
    "0.0164",
    "0.0148",
    "0.0136",
    "0.0124",
    "0.0116",
    "0.0108",
    "0.01",
    "0.0092",
    "0.0084",
    "0.0076",
    "0.0068",
    "0.006",
    "0.0052",
    "0.0048",
    "0.0044",
    "0.004",
    "0.0036",
    "0.0032",
    "0.0028",
    "0.0024",
    "0.002",
    "0.0016",
    "0.0012",
    "0.001",
]


def in_inches(nm: int) -> Fraction:
    return Fraction(nm, 25_400_000)


def test_awg_is_fixed_by_two_sizes() -> None:
    # Source: ASTM B258: No. 36 is 0.005 in and No. 4/0 is 0.46 in, with 38 sizes between.
    assert awg_nm(36) == 127_000
    assert awg_nm(-3) == 11_684_000


@pytest.mark.parametrize(("number", "mm"), AWG_FORMULA_MM.items())
def test_awg_is_the_formula_to_the_nanometre(number: int, mm: str) -> None:
    assert Decimal(awg_nm(number)) == Decimal(mm) * 1_000_000


@pytest.mark.parametrize(("number", "inches"), AWG_TABULATED_IN.items())
def test_awg_rounds_to_the_tabulated_inches(number: int, inches: str) -> None:
    assert round(in_inches(awg_nm(number)), 4) == Fraction(inches)


def test_the_tabulated_awg_differs_from_the_formula_by_up_to_0_4_per_cent() -> None:
    off = {n: abs(Fraction(inches) / in_inches(awg_nm(n)) - 1) for n, inches in AWG_TABULATED_IN.items()}
    assert max(off, key=lambda n: off[n]) == 29
    assert Fraction("0.0037") < off[29] < Fraction("0.0038")


@pytest.mark.parametrize("number", range(1, 41))
def test_awg_agrees_with_the_fluids_library_at_its_own_rounding(number: int) -> None:
    # Source: fluids.piping, schedule 'AWG': four or five decimals of an inch, some of them cut and not rounded.
    printed = Fraction(str(t_from_gauge(number, SI=False, schedule="AWG")))
    last_place = Fraction(1, 10_000 if printed >= Fraction("0.01") else 100_000)
    assert abs(printed - in_inches(awg_nm(number))) < last_place


def test_ten_awg_steps_and_the_ratio_of_neighbours() -> None:
    # Source: ASTM B258: the ratio of neighbours is the 39th root of 92, 1.1229322.
    for number in range(-3, 30):
        ratio = Fraction(awg_nm(number), awg_nm(number + 1))
        assert abs(ratio - Fraction("1.1229322")) < Fraction("0.000005")


def test_swg_is_the_published_table_exactly() -> None:
    assert [swg_nm(number) for number in range(-6, 51)] == [int(Decimal(inches) * 25_400_000) for inches in SWG_IN]


@pytest.mark.parametrize("number", range(51))
def test_swg_agrees_with_the_fluids_library_but_for_no_28(number: int) -> None:
    # Source: fluids.piping, schedule 'BSWG' (its 'SWG' is the American steel wire gauge). It prints 0.0149 in for No. 28;
    # published tables of BS 3737 print 0.0148 in, which also keeps the even steps of the table on either side.
    printed = Fraction(str(t_from_gauge(number, SI=False, schedule="BSWG")))
    if number == 28:
        assert printed == Fraction("0.0149")
        assert in_inches(swg_nm(28)) == Fraction("0.0148")
        assert swg_nm(26) - swg_nm(27) == swg_nm(27) - swg_nm(28) == 16 * 2540
        assert swg_nm(28) - swg_nm(29) == swg_nm(29) - swg_nm(30) == 12 * 2540
    else:
        assert printed == in_inches(swg_nm(number))


@pytest.mark.parametrize(("number", "name"), [(0.5, -1), (0.33, -2), (0.25, -3), (0.2, -4), (0.167, -5), (0.143, -6)])
def test_the_thick_swg_sizes_agree_with_the_fluids_library(number: float, name: int) -> None:
    # Source: fluids.piping, schedule 'BSWG', which names 2/0 as 1/2 and so on.
    assert Fraction(str(t_from_gauge(number, SI=False, schedule="BSWG"))) == in_inches(swg_nm(name))


def test_swg_is_not_the_american_steel_wire_gauge() -> None:
    # Source: fluids.piping, schedule 'SWG' (Washburn & Moen).
    assert Fraction(str(t_from_gauge(16, SI=False, schedule="SWG"))) != in_inches(swg_nm(16))


@pytest.mark.parametrize(("swg", "awg"), [(16, "14.011"), (18, "16.493"), (19, "18.065"), (20, "18.974")])
def test_a_british_number_is_a_thicker_wire(swg: int, awg: str) -> None:
    # Source: the formula of ASTM B258 turned round: n = 36 - 39 ln(d / 0.127 mm) / ln 92.
    number = 36 - 39 * math.log(swg_nm(swg) / 127_000) / math.log(92)
    assert number == pytest.approx(float(awg), abs=0.0006)
    label, _ = nearest_gauge(swg_nm(swg), "AWG")
    assert abs(float(label.removesuffix(" AWG")) - number) < 0.52


def test_for_ring_wire_the_british_number_is_always_thicker() -> None:
    # Source: the two tables above.
    assert all(swg_nm(number) > awg_nm(number) for number in range(10, 31))


def test_a_gauge_without_its_system_changes_the_ring() -> None:
    # Source: worked out from the two tables with another program: 18 gauge, 5.0 mm; 16 gauge, 6.35 mm.
    for number, inner, american, british, mass in (
        (18, 5_000_000, "4.8843", "4.1010", "1.46449"),
        (16, 6_350_000, "4.9193", "3.9063", "1.65539"),
    ):
        thin, thick = RingSize(awg_nm(number), inner), RingSize(swg_nm(number), inner)
        assert abs(thin.aspect_ratio - Decimal(american)) < Decimal("0.00006")
        assert abs(thick.aspect_ratio - Decimal(british)) < Decimal("0.00006")
        assert abs(thick.volume_mm3 / thin.volume_mm3 - Decimal(mass)) < Decimal("0.000006")


@pytest.mark.parametrize(
    ("fraction", "mm"),
    [
        ("1/32", "0.79375"), ("3/32", "2.38125"), ("7/64", "2.778125"), ("1/8", "3.175"), ("9/64", "3.571875"),
        ("5/32", "3.96875"), ("11/64", "4.365625"), ("3/16", "4.7625"), ("13/64", "5.159375"), ("7/32", "5.55625"),
        ("1/4", "6.35"), ("9/32", "7.14375"), ("5/16", "7.9375"), ("3/8", "9.525"), ("7/16", "11.1125"),
        ("1/2", "12.7"), ("1/64", "0.396875"),
    ],
)  # fmt: skip
def test_inch_fractions_are_exact_millimetres(fraction: str, mm: str) -> None:
    # Source: the inch is 25.4 mm exactly, international yard and pound agreement of 1959 (from memory).
    assert Decimal(parse_inner(f"{fraction} in").nm) == Decimal(mm) * 1_000_000


@pytest.mark.parametrize(
    ("unit", "grams"),
    [("lb", constants.pound), ("oz", constants.oz), ("gr", constants.grain), ("ozt", constants.troy_ounce)],
)
def test_masses_agree_with_the_scipy_constants(unit: str, grams: float) -> None:
    # Source: scipy.constants, in kilograms.
    assert float(GRAMS_PER[unit]) == pytest.approx(grams * 1000, rel=1e-15)


def test_masses_are_the_exact_definitions() -> None:
    # Source: NIST Special Publication 811 and Handbook 44 (from memory).
    assert GRAMS_PER["lb"] == Decimal("453.59237")
    assert GRAMS_PER["oz"] == Decimal("28.349523125")
    assert GRAMS_PER["ozt"] == Decimal("31.1034768")
    assert GRAMS_PER["dwt"] == Decimal("1.55517384")
    assert GRAMS_PER["gr"] == Decimal("0.06479891")
    assert 480 * GRAMS_PER["gr"] == GRAMS_PER["ozt"] == 20 * GRAMS_PER["dwt"]
    assert 7000 * GRAMS_PER["gr"] == GRAMS_PER["lb"]
    assert parse_mass("1 kg") == 10**9


def test_the_foot_and_the_inch_agree_with_the_scipy_constants() -> None:
    # Source: scipy.constants, in metres.
    assert parse_length("1 in").nm == round(constants.inch * 1e9)
    assert parse_length("1 ft").nm == round(constants.foot * 1e9)
