"""Rings that may stand in for others are proposed with what would differ, and never used silently."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.planning.makeable import makeable
from models.planning.recipes import Recipe, RecipeLine, Stock
from models.planning.substitutes import Declared, Ring, StandIn, StandIns, declared_troubles, propose
from models.trade.rings import RingSize
from models.trade.weaves import Fit, fit, weave

TOLERANCE_NM = 30_000

# 16 SWG is 1.6256 mm; a bag sold by that number is often 1.6 mm wire.
SWG = Ring(1, "16 SWG copper", RingSize(1_625_600, 6_350_000), "copper")
METRIC = Ring(2, "1.6 mm copper", RingSize(1_600_000, 6_350_000), "copper")
BRONZE = Ring(3, "1.6 mm bronze", RingSize(1_600_000, 6_350_000), "bronze")
THIN = Ring(4, "1.2 mm copper", RingSize(1_200_000, 4_800_000), "copper")
RINGS = (SWG, METRIC, BRONZE, THIN)
CHAIN = Recipe("c", "Plain chain", (RecipeLine(1, 20_000), RecipeLine(9, 1000)))


def stock(**counts: int) -> dict[int, Stock]:
    return {int(item[1:]): Stock(int(item[1:]), count * 1000) for item, count in counts.items()}


def proposals(
    have: dict[int, Stock], declared: tuple[Declared, ...] = (), weave_code: str = "", rings: tuple[Ring, ...] = RINGS
) -> tuple[StandIn, ...]:
    (answer,) = makeable([CHAIN], have)

    def fit_of(size: RingSize) -> Fit:
        return fit(weave(weave_code), size)

    stand_ins = StandIns(rings, declared, TOLERANCE_NM)
    return propose(CHAIN, answer, have, stand_ins, fit_of=fit_of if weave_code else None)


def test_a_near_size_is_proposed_with_the_pieces_it_would_add_and_never_used() -> None:
    have = stock(i1=50, i2=70, i9=9)
    (answer,) = makeable([CHAIN], have)
    assert (answer.pieces, answer.limiting) == (2, (1,))
    (only,) = proposals(have)
    assert (only.item, only.stand_in, only.why, only.more_pieces) == (1, 2, "near size", 3)
    assert only.differences == (
        "The wire is 1.6 mm instead of 1.626 mm.",
        "The aspect ratio is 3.97 instead of 3.91.",
    )
    assert only.same_look
    assert only.aspect_ratio == Decimal("3.96875")


def test_another_metal_of_the_same_size_is_not_proposed_unless_declared() -> None:
    have = stock(i1=10, i3=50, i9=9)
    assert proposals(have) == ()
    (only,) = proposals(have, (Declared(1, 3),))
    assert (only.stand_in, only.why, only.same_look) == (3, "declared", False)
    assert "The metal is bronze instead of copper." in only.differences


def test_the_pieces_it_adds_stop_at_what_else_the_design_takes() -> None:
    (only,) = proposals(stock(i1=50, i2=500, i9=3))
    assert only.more_pieces == 1


def test_a_stand_in_goes_one_way_unless_the_rings_are_exchangeable() -> None:
    other = Recipe("o", "Other", (RecipeLine(3, 20_000),))
    have = stock(i1=60, i3=10)
    (answer,) = makeable([other], have)
    assert propose(other, answer, have, StandIns(RINGS, (Declared(1, 3),), TOLERANCE_NM)) == ()
    both = propose(other, answer, have, StandIns(RINGS, (Declared(1, 3, both_ways=True),), TOLERANCE_NM))
    assert [(each.stand_in, each.more_pieces) for each in both] == [(1, 3)]


def test_declared_ones_come_first_and_a_ring_is_told_once() -> None:
    told = proposals(stock(i1=10, i2=40, i3=40, i9=9), (Declared(1, 3), Declared(1, 2)))
    assert [(each.stand_in, each.why) for each in told] == [(3, "declared"), (2, "declared")]


def test_the_weave_is_asked_and_a_near_size_that_is_too_small_is_left_out() -> None:
    ring = Ring(1, "ring", RingSize(1_000_000, 3_010_000), "copper")
    tighter = Ring(2, "tighter", RingSize(1_000_000, 2_990_000), "copper")
    have = stock(i1=10, i2=40, i9=9)
    # The Byzantine weave takes aspect ratio 3.0 at the least.
    assert proposals(have, weave_code="byzantine", rings=(ring, tighter)) == ()
    (declared,) = proposals(have, (Declared(1, 2),), weave_code="byzantine", rings=(ring, tighter))
    assert not declared.fits
    assert any("smallest that works" in each for each in declared.differences)
    assert len(proposals(have, rings=(ring, tighter))) == 1


def test_nothing_is_proposed_for_stand_ins_of_which_none_is_free() -> None:
    assert proposals(stock(i1=10, i2=0, i9=9)) == ()


def test_nothing_is_proposed_where_another_thing_limits() -> None:
    assert proposals(stock(i1=100, i2=100, i9=1)) == ()


@given(st.integers(-40_000, 40_000), st.integers(-40_000, 40_000), st.integers(1, 60_000))
def test_near_sizes_are_found_whatever_the_tolerance(wire: int, inner: int, tolerance_nm: int) -> None:
    a = Ring(1, "a", RingSize(1_000_000, 4_000_000))
    b = Ring(2, "b", RingSize(1_000_000 + wire, 4_000_000 + inner))
    found = StandIns((a, b), (), tolerance_nm).of(1)
    near_enough = abs(wire) <= tolerance_nm and abs(inner) <= tolerance_nm
    assert [ring.item for ring, _ in found] == ([2] if near_enough else [])


def test_a_tolerance_of_nothing_finds_equal_sizes_only() -> None:
    twin = Ring(5, "twin", SWG.size, "copper")
    assert [ring.item for ring, _ in StandIns((*RINGS, twin), (), 0).of(1)] == [5]


def test_a_circle_of_stand_ins_is_refused_with_their_names() -> None:
    names = {1: "16 SWG copper", 2: "1.6 mm copper", 3: "1.6 mm bronze"}
    circle = (Declared(1, 2), Declared(2, 3), Declared(3, 1), Declared(3, 4))
    troubles = declared_troubles(circle, names)
    assert [each.field for each in troubles] == ["stand_ins.0", "stand_ins.1", "stand_ins.2"]
    assert troubles[0].message == (
        "16 SWG copper, 1.6 mm copper and 1.6 mm bronze would stand in for one another in a circle. "
        "Declare them exchangeable both ways, or leave one of these out."
    )
    with pytest.raises(ValueError, match="circle"):
        StandIns(RINGS, circle, TOLERANCE_NM)


def test_exchangeable_rings_are_no_circle_but_an_arrow_inside_them_is() -> None:
    exchangeable = (Declared(1, 2, both_ways=True), Declared(2, 3, both_ways=True), Declared(3, 1, both_ways=True))
    assert declared_troubles(exchangeable, {}) == ()
    stand_ins = StandIns(RINGS, exchangeable, TOLERANCE_NM)
    assert {ring.item for ring, _ in stand_ins.of(1)} == {2, 3}
    assert [each.field for each in declared_troubles((*exchangeable, Declared(1, 3)), {})] == ["stand_ins.3"]


def test_a_ring_for_itself_is_refused() -> None:
    (trouble,) = declared_troubles([Declared(2, 2)], {2: "1.6 mm copper"})
    assert (trouble.field, trouble.message) == (
        "stand_ins.0", "1.6 mm copper can't stand in for itself. Pick another ring.",
    )  # fmt: skip


@given(st.lists(st.tuples(st.integers(1, 8), st.integers(1, 8)), max_size=14))
def test_a_circle_is_found_exactly_when_one_can_walk_back(arrows: list[tuple[int, int]]) -> None:
    arrows = [(a, b) for a, b in arrows if a != b]
    reach = {a: {b for c, b in arrows if c == a} for a in range(1, 9)}
    for _ in range(8):
        reach = {a: bs | {c for b in bs for c in reach[b]} for a, bs in reach.items()}
    circular = any(a in bs for a, bs in reach.items())
    assert bool(declared_troubles([Declared(a, b) for a, b in arrows], {})) == circular
