"""Springback against the textbook's sheet, and the round wire against the stress integrated over its section.

Sources: Kalpakjian and Schmid, Manufacturing Processes for Engineering Materials, the springback example of a steel sheet of 20
gauge (0.0359 in) bent to 0.5 in, Y = 40 000 psi, E = 29e6 psi: ratio 0.942, final radius 0.531 in (from memory); scipy's
numerical integration. The tables are the closed forms' values to eight digits, computed apart with 30-digit arithmetic.
"""

import math

import pytest
from scipy import integrate

from models.trade.springback import (
    TEMPERS,
    bend_radius_mm,
    inner_from_ratio,
    sheet_ratio,
    wire_ratio,
    wire_ratio_short,
)

# temper, sheet ratio, inner diameter by it, round-wire ratio, inner diameter by it; 1.2 mm wire on a 5.0 mm mandrel.
TABLE = [
    ("copper-soft", 0.99528262, 5.029386, 0.99466103, 5.033279),
    ("copper-hard", 0.97911005, 5.132281, 0.97635817, 5.150129),
    ("brass-c260-hard", 0.96970866, 5.193673, 0.96571955, 5.220083),
    ("phosphor-bronze-c510-hard", 0.96125862, 5.249877, 0.9561586, 5.28428),
    ("aluminium-1100-hard", 0.98315288, 5.106242, 0.98093336, 5.120511),
    ("aluminium-5356-hard", 0.96900441, 5.19832, 0.96492267, 5.225385),
    ("stainless-304-quarter-hard", 0.97912052, 5.132213, 0.97637003, 5.150052),
    ("stainless-304-spring", 0.95584178, 5.286429, 0.95003034, 5.326107),
    ("sterling-925-soft", 0.98708365, 5.081129, 0.98538187, 5.091977),
    ("sterling-925-hard", 0.96384034, 5.232601, 0.9590796, 5.264531),
    ("titanium-grade-1", 0.98228654, 5.111804, 0.97995293, 5.126835),
    ("titanium-grade-2", 0.97453816, 5.161988, 0.97118448, 5.183957),
    ("niobium-soft", 0.99225007, 5.048425, 0.99122891, 5.054862),
]


def test_the_textbooks_sheet() -> None:
    ratio = sheet_ratio(0.5, 0.0359, 40_000, 29e6)
    assert round(ratio, 3) == 0.942
    assert round(0.5 / ratio, 3) == 0.531
    assert math.isclose(ratio, 0.942397006, rel_tol=1e-8)
    assert math.isclose(0.5 / ratio, 0.530561957, rel_tol=1e-8)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: row[0])
def test_worked_coils_of_every_starting_temper(row: tuple[str, float, float, float, float]) -> None:
    code, sheet, sheet_inner, wire, wire_inner = row
    temper = TEMPERS[code]
    radius = bend_radius_mm(5_000_000, 1_200_000)
    by_sheet = sheet_ratio(radius, 1.2, temper.yield_mpa, 1000 * temper.modulus_gpa)
    by_wire = wire_ratio(radius, 1.2, temper.yield_mpa, temper.modulus_gpa)
    assert math.isclose(by_sheet, sheet, abs_tol=1e-8)
    assert abs(inner_from_ratio(5_000_000, 1_200_000, by_sheet) / 1e6 - sheet_inner) <= 1e-6
    assert math.isclose(by_wire, wire, abs_tol=1e-8)
    assert abs(inner_from_ratio(5_000_000, 1_200_000, by_wire) / 1e6 - wire_inner) <= 1e-6


def test_every_starting_temper_is_in_the_table() -> None:
    assert {row[0] for row in TABLE} == set(TEMPERS)


@pytest.mark.parametrize("radius_mm", [1.2, 3.1, 6.0, 15.0])
@pytest.mark.parametrize("code", sorted(TEMPERS))
def test_the_closed_form_is_the_stress_integrated_over_the_section(code: str, radius_mm: float) -> None:
    """The moment of an elastic, perfectly plastic round section, strip by strip, and the elastic recovery from it."""
    temper, wire_mm = TEMPERS[code], 1.2
    r, modulus = wire_mm / 2, 1000 * temper.modulus_gpa
    yielded = radius_mm * temper.yield_mpa / modulus
    assert yielded < r

    def strip(y: float) -> float:
        stress = min(modulus * y / radius_mm, temper.yield_mpa)
        return stress * y * 2 * math.sqrt(r * r - y * y)

    moment = 2 * integrate.quad(strip, 0, r, points=[yielded], epsabs=1e-12, epsrel=1e-10, limit=200)[0]
    expected = 1 - radius_mm * moment / (modulus * math.pi * wire_mm**4 / 64)
    assert math.isclose(wire_ratio(radius_mm, wire_mm, temper.yield_mpa, temper.modulus_gpa), expected, abs_tol=1e-7)


def test_the_leading_constant_of_a_round_wire_is_not_a_sheets() -> None:
    loss = 1 - wire_ratio_short(3.1, 1.2, 100, 100)
    assert math.isclose(loss / (3.1 * 100 / (100_000 * 1.2)), 3.39531, rel_tol=2e-6)
