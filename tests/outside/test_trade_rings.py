"""Ring arithmetic against worked examples and against a meshed torus."""

from decimal import Decimal
from itertools import pairwise

import pytest
import trimesh

from models.trade.measures import parse_inner, parse_wire
from models.trade.metals import metal
from models.trade.rings import PI, RingSize, ring_facts, wire_g_per_m

# Source: V = 2 pi^2 R r^2 worked out with mpmath at 30 digits, and confirmed by a symbolic triple integral.
# wire, opening, metal, saw cut mm; outer mm, aspect ratio, volume mm3, mass g, wire length mm, rings per kg, per troy
# ounce, per pound, wire g/m, lost share, mass after the cut, rings per kg after it, closed opening, closed aspect
# ratio, whole rings per metre.
WORKED = {
    "18 AWG as tabulated x 1/8 in, copper": (
        "0.0403 in", "1/8 in", "copper", "0.25", "5.22224", "3.10173697", "10.8548506", "0.0972594612", "13.1903537",
        "10281.7761", "319.798983", "4663.73517", "7.37352941", "0.0189532445", "0.0954160789", "10480.4", "3.09542253",
        "3.02399575", 75,
    ),
    "16 SWG x 1/4 in, aluminium 5356": (
        "16 SWG", "1/4 in", "aluminium-5356", "0.15", "9.6012", "3.90625", "52.0032516", "0.137288584", "25.0560864",
        "7283.92681", "226.555448", "3303.93362", "5.47925092", "0.0059865694", "0.136466697", "7327.80", "6.30225352",
        "3.87687839", 39,
    ),
    "20 AWG x 3.5 mm, sterling": (
        "20 AWG", "3.5 mm", "sterling-925", "0.15", "5.12364194", "4.31129538", "7.01166253", "0.0726408238",
        "13.5459851", "13766.3637", "428.181774", "6244.31754", "5.36253535", "0.0110733918", "0.0718364435", "13920.5",
        "3.45225352", "4.25248133", 73,
    ),
    "1.2 x 5.0 mm, stainless 304": (
        "1.2 mm", "5.0 mm", "stainless-304", "0.25", "7.4", "4.16666667", "22.028957", "0.174689629", "19.4778745",
        "5724.43828", "178.049933", "2596.56153", "8.96861871", "0.0128350761", "0.172447475", "5798.87", "4.92042253",
        "4.10035211", 51,
    ),
    "0.8 x 2.8 mm, titanium": (
        "0.8 mm", "2.8 mm", "titanium", "0.15", "4.4", "3.5", "5.68489214", "0.0256388635", "11.3097336", "39003.2888",
        "1213.13789", "17691.5942", "2.26697326", "0.0132629119", "0.0252988175", "39527.5", "2.75225352", "3.4403169",
        88,
    ),
    "14 SWG x 7/16 in, brass C260": (
        "14 SWG", "7/16 in", "brass-c260", "0.25", "15.1765", "5.46875", "133.915619", "1.14230023", "41.2946646",
        "875.426596", "27.2288108", "397.086825", "27.6621747", "0.00605405086", "1.13538468", "880.759", "11.0329225",
        "5.42958786", 24,
    ),
}  # fmt: skip


def size_of(case: str) -> RingSize:
    row = WORKED[case]
    return RingSize(parse_wire(str(row[0])).nm, parse_inner(str(row[1])).nm)


@pytest.mark.parametrize("case", WORKED)
def test_the_six_worked_rings(case: str) -> None:
    _, _, code, kerf, *figures, per_metre = WORKED[case]
    facts = ring_facts(size_of(case), metal(str(code)), Decimal(str(kerf)))
    found = (
        facts.outer_mm,
        facts.aspect_ratio,
        facts.size.volume_mm3,
        facts.mass_g,
        facts.wire_length_mm,
        facts.rings_per_kg,
        facts.rings_per_ozt,
        facts.rings_per_lb,
        facts.wire_g_per_m,
        facts.lost_share,
        facts.mass_after_cut_g,
        facts.rings_per_kg_after_cut,
        facts.closed_inner_mm,
        facts.closed_aspect_ratio,
    )
    # 20 AWG is held to the nanometre, which moves the last digits of an example worked with the endless formula.
    allowed = Decimal("1e-7")
    for ours, worked in zip(found, figures, strict=True):
        value = Decimal(str(worked))
        printed = Decimal(5).scaleb(value.as_tuple().exponent - 1)  # type: ignore[operator]
        assert abs(ours - value) <= max(printed, value * allowed), (ours, worked)
    assert facts.rings_per_metre == per_metre


def torus_volume(size: RingSize, sections: int) -> float:
    mesh = trimesh.creation.torus(
        major_radius=(size.inner_nm + size.wire_nm) / 2e6,
        minor_radius=size.wire_nm / 2e6,
        major_sections=sections,
        minor_sections=sections,
    )
    return float(mesh.volume)


@pytest.mark.parametrize("case", WORKED)
def test_the_volume_is_that_of_a_meshed_torus(case: str) -> None:
    # Source: trimesh, a torus in 32 to 256 sections; the error falls as 1/n^2, 1/n^4 ..., so the rows are extrapolated.
    size = size_of(case)
    row = [torus_volume(size, sections) for sections in (32, 64, 128, 256)]
    assert row == sorted(row)
    assert float(size.volume_mm3) == pytest.approx(row[-1], rel=3e-4)
    factor = 4
    while len(row) > 1:
        row = [(factor * finer - coarser) / (factor - 1) for coarser, finer in pairwise(row)]
        factor *= 4
    assert float(size.volume_mm3) == pytest.approx(row[0], rel=1e-9)


def test_the_mass_of_ten_metres_of_wire_is_its_cylinder() -> None:
    # Source: trimesh, a cylinder of 512 sections, whose area is low by 2.5e-5.
    mesh = trimesh.creation.cylinder(radius=0.6, height=10_000, sections=512)
    assert float(wire_g_per_m(1_200_000, Decimal("7.93")) * 10) == pytest.approx(mesh.volume * 7.93 / 1000, rel=3e-5)


def test_pi_is_pi() -> None:
    # Source: published digits of pi (from memory), and Machin's formula in exact integers.
    unity = 10**60

    def arctangent(inverse: int) -> int:
        total, power, step = 0, unity // inverse, 1
        while power:
            total += power // step if step % 4 == 1 else -(power // step)
            power //= inverse * inverse
            step += 2
        return total

    machin = 4 * (4 * arctangent(5) - arctangent(239))
    assert str(PI).replace(".", "") == str(machin)[:50]
