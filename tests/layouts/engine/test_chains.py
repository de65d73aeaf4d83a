"""Chains: rings, links and lengths from units, in several ring sizes, open and closed."""

from __future__ import annotations

import json
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.document.model import document_of, read_chain
from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chain_weaves import BOX, BYZANTINE, CHAINS, FULL_6, HALF_3, HALF_4, ONE, ROPE, SPIRAL, TWO
from models.layouts.engine.chains import Chain, Stretch, chain_faults, chain_net, graduated, links_known, unit_formula
from models.layouts.engine.items import Item, items_of
from models.layouts.engine.piece import MOST_CHAIN_DRAWN, draw_chain, work_out_chain
from models.layouts.places.chain import DRAWN, place_chain
from models.layouts.places.chain_sizes import (
    PULLED,
    ChainSwatch,
    Choices,
    NoLength,
    PerRing,
    for_length,
    graduated_units,
    length_of,
    per_ring,
)
from models.layouts.places.sheet import Unplaced
from models.layouts.places.sizes import MEASURE, SWATCH
from models.trade.faults import Fault
from models.trade.rings import RingSize
from models.trade.weaves import WEAVES
from tests.layouts.layouts import ITEMS, SIZE

SURE = [code for code, kind in CHAINS.items() if kind.rules is not None]
chains = st.builds(
    lambda code, units, closed: Chain(code, (Stretch(units + (5 if closed else 0), ("a", "b")),), closed),
    st.sampled_from(SURE), st.integers(1, 9), st.booleans(),
)  # fmt: skip


def plain(code: str, units: int, *, closed: bool = False) -> Chain:
    return Chain(code, (Stretch(units, ("a",)),), closed)


def brute(chain: Chain) -> set[frozenset[int]]:
    """The links of a chain by what the weave is: rings or pairs in a line, each through the next (and next but one)."""
    total = chain.rings
    if chain.weave in (ONE, ROPE, SPIRAL):
        group, reach = 1, (1,) if chain.weave == ONE else (1, 2)
    else:
        group, reach = 2, (1,)
    groups = [range(at, at + group) for at in range(0, total, group)]
    found = set()
    for number, members in enumerate(groups):
        for step in reach:
            other = number + step
            if other >= len(groups):
                if not chain.closed:
                    continue
                other %= len(groups)
            found |= {frozenset((a, b)) for a in members for b in groups[other]}
    return found


@given(chains)
def test_the_links_of_a_chain_are_those_of_its_weave(chain: Chain) -> None:
    assert chain_faults(chain) == ()
    net = chain_net(chain)
    assert {frozenset(pair) for pair in net.links} == brute(chain)
    assert len(net.links) == len(set(net.links))
    assert unit_formula(chain) == (len(net), len(net.links))
    assert sum(net.degrees) == 2 * len(net.links)


@given(chains)
def test_every_ring_of_a_closed_loop_links_the_full_number(chain: Chain) -> None:
    net = chain_net(Chain(chain.weave, (Stretch(8, ("a",)),), closed=True))
    assert set(net.degrees) == {WEAVES[chain.weave].links}


def test_units_rings_and_ends() -> None:
    assert plain(ONE, 40).rings == 40
    assert plain(TWO, 10).rings == 20
    assert plain(BOX, 5).rings == 5 * 4 + 2
    assert plain(BYZANTINE, 5).rings == 5 * 6 + 2
    assert plain(BYZANTINE, 5, closed=True).rings == 30
    assert plain(FULL_6, 7).rings == 14
    assert Counter(chain_net(plain(BYZANTINE, 3)).degrees) == {2: 4, 4: 16}
    assert Counter(chain_net(plain(ROPE, 6)).degrees) == {2: 2, 3: 2, 4: 2}


def test_a_repeat_of_items_runs_ring_by_ring_and_on_to_the_end() -> None:
    chain = Chain(BYZANTINE, (Stretch(2, ("a", "a", "b", "b", "b", "b")),))
    assert chain.items == ["a", "a", "b", "b", "b", "b"] * 2 + ["a", "a"]
    assert Chain(TWO, (Stretch(2, ("a", "b")), Stretch(1, ("c",)))).items == ["a", "b", "a", "b", "c", "c"]
    assert chain_net(chain).counts == {"a": 6, "b": 8}


@pytest.mark.parametrize("code", [HALF_3, HALF_4, FULL_6])
def test_weaves_whose_links_are_not_sure_are_counted_without_them(code: str) -> None:
    chain = plain(code, 12)
    assert not links_known(chain)
    assert chain_net(chain).links == []
    assert unit_formula(chain) is None
    worked = work_out_chain(chain, ITEMS)
    assert worked.net.counts == {"a": chain.rings}
    assert worked.totals.mass_g > 0
    assert worked.size.source == MEASURE
    assert not any(each.kind == "few links" for each in worked.checks)
    assert "not certain" in CHAINS[code].note


def test_a_shop_may_give_its_own_links_for_them() -> None:
    chain = Chain(HALF_3, (Stretch(12, ("a",)),), own_links=(1, 3))
    assert links_known(chain)
    net = chain_net(chain)
    assert len(net.links) == 11 + 9
    assert unit_formula(chain) == (12, 20)
    loop = Chain(HALF_3, (Stretch(12, ("a",)),), closed=True, own_links=(1, 3))
    assert set(chain_net(loop).degrees) == {4}
    assert unit_formula(loop) == (12, 24)


@pytest.mark.parametrize(
    ("chain", "field"),
    [
        (plain("knit", 3), "weave"),
        (Chain(ONE, ()), "stretches"),
        (plain(ONE, 0), "stretches"),
        (Chain(ONE, (Stretch(3, ()),)), "stretches"),
        (plain(ONE, 60_001), "stretches"),
        (plain(ONE, 2, closed=True), "closed"),
        (plain(ROPE, 4, closed=True), "closed"),
        (Chain(ONE, (Stretch(3, ("a",)),), own_links=(1,)), "own_links"),
        (Chain(HALF_3, (Stretch(3, ("a",)),), own_links=(0,)), "own_links"),
        (Chain(HALF_3, (Stretch(6, ("a",)),), closed=True, own_links=(3,)), "closed"),
    ],
)
def test_a_chain_that_cannot_be_worked_out_says_why(chain: Chain, field: str) -> None:
    assert field in [fault.field for fault in chain_faults(chain)]


@given(chains)
def test_a_chain_survives_plain_values(chain: Chain) -> None:
    assert read_chain(json.loads(json.dumps(document_of(chain).written()))) == chain
    own = Chain(
        HALF_4,
        (Stretch(30, ("a",)),),
        own_links=(1, 2, 3),
        attachments=(Attachment("c", "clasp", Selection("row ends"), finding="f"),),
    )
    assert read_chain(document_of(own).written()) == own


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        (5, "layout"),
        ({"weave": "knit", "stretches": [{"units": 3, "repeat": ["a"]}]}, "weave"),
        ({"stretches": [{"units": "3", "repeat": ["a"]}]}, "stretches.1.units"),
        ({"stretches": [{"units": 3, "repeat": "a"}]}, "stretches.1.repeat"),
        ({"stretches": [{"units": 3, "repeat": ["a"]}], "closed": "yes"}, "closed"),
        ({"weave": HALF_3, "stretches": [{"units": 3, "repeat": ["a"]}], "own_links": [1, "2"]}, "own_links.2"),
        ({"stretches": []}, "stretches"),
    ],
)
def test_plain_values_that_are_no_chain_are_faults(raw: object, field: str) -> None:
    faults = read_chain(raw)
    assert isinstance(faults, tuple)
    assert all(isinstance(each, Fault) for each in faults)
    assert field in [each.field for each in faults]


@given(st.sampled_from([ONE, TWO, BYZANTINE, ROPE]), st.floats(60, 900), st.floats(0, 30), st.booleans(), st.booleans())
def test_a_wanted_length_is_surrounded_by_what_can_be_made(
    code: str, wanted: float, clasp: float, closed: bool, even: bool
) -> None:
    found = for_length(code, SIZE, wanted, clasp_mm=clasp, closed=closed, even=even)
    assert isinstance(found, Choices)
    assert found.source == PULLED
    assert found.above.mm > wanted - 1e-6 or found.above.units == CHAINS[code].least_loop
    if found.below is not None:
        assert found.below.mm <= wanted + 1e-6
        assert found.above.units - found.below.units >= (2 if even else 1)
    options = [each for each in (found.below, found.above) if each]
    assert abs(found.nearest.mm - wanted) <= min(abs(each.mm - wanted) for each in options) + 1e-9
    if even:
        assert found.nearest.units % 2 == 0
    length = length_of(plain(code, found.nearest.units, closed=closed), ITEMS).mm
    assert length is not None
    assert length + clasp == pytest.approx(found.nearest.mm)


def test_the_clasp_is_taken_off_first() -> None:
    bare, clasped = for_length(ONE, SIZE, 180), for_length(ONE, SIZE, 180, clasp_mm=20)
    assert isinstance(bare, Choices)
    assert isinstance(clasped, Choices)
    assert bare.nearest.units - clasped.nearest.units == 5  # 20 mm of 4 mm rings
    exact = for_length(ONE, SIZE, 42 * 4 + 2)
    assert isinstance(exact, Choices)
    assert (exact.nearest.units, exact.below and exact.below.units, exact.above.units) == (42, 41, 43)


def test_one_swatch_gives_the_pitch_and_two_give_the_ends_as_well() -> None:
    one = per_ring(BOX, SIZE, [ChainSwatch(SIZE, 42, 46.0)])
    assert isinstance(one, PerRing)
    assert one.source == SWATCH
    assert one.each_mm * 42 + one.ends_mm == pytest.approx(46.0)
    two = per_ring(BOX, SIZE, [ChainSwatch(SIZE, 22, 28.0), ChainSwatch(SIZE, 42, 48.0)])
    assert isinstance(two, PerRing)
    assert (two.each_mm, two.ends_mm) == (pytest.approx(1.0), pytest.approx(6.0))
    wrong = per_ring(BOX, SIZE, [ChainSwatch(SIZE, 22, 28.0), ChainSwatch(SIZE, 42, 20.0)])
    assert isinstance(wrong, NoLength)
    assert "contradict" in wrong.reason


def test_a_swatch_of_another_ring_does_not_count() -> None:
    assert isinstance(per_ring(BOX, SIZE, [ChainSwatch(RingSize(1_000_000, 3_500_000), 42, 46.0)]), NoLength)


def test_outside_its_table_a_length_is_measured_never_guessed() -> None:
    for code, ratio in ((BYZANTINE, 3.2), (SPIRAL, 5.5), (TWO, 2.5), (ONE, 1.9)):
        found = per_ring(code, RingSize(1_000_000, round(ratio * 1_000_000)))
        assert isinstance(found, NoLength)
        assert "measure a swatch" in found.reason
    assert isinstance(for_length(BOX, SIZE, 180), NoLength)
    found = length_of(plain(BOX, 5), ITEMS)
    assert (found.mm, found.source) == (None, MEASURE)
    assert "not known" in length_of(plain(ONE, 5), {"a": Item("a", "mystery")}).notes[0]


def test_a_closed_loop_is_measured_once_round() -> None:
    found = length_of(plain(ONE, 45, closed=True), ITEMS)
    assert found.mm == pytest.approx(45 * 4)
    assert "Once round" in found.notes[-1]


def test_a_graduated_chain_has_small_ends_and_a_large_middle() -> None:
    small, large = RingSize(900_000, 3_200_000), RingSize(1_200_000, 5_000_000)
    items = items_of([Item("a", "small", small), Item("b", "large", large)])
    for code in (ONE, TWO, BYZANTINE):
        units = graduated_units(code, small, large, 450, large_share=0.4, clasp_mm=12)
        assert isinstance(units, tuple)
        chain = graduated(Chain(code, ()), ("a",), ("b",), units)
        assert [each.units for each in chain.stretches] == [units[0], units[1], units[0]]
        length = length_of(chain, items)
        assert length.mm is not None
        unit_mm = CHAINS[code].unit_rings * 5.0
        assert length.mm + 12 == pytest.approx(450, abs=unit_mm)
        assert "several sizes" in length.notes[0]
        assert chain_net(chain).counts["b"] == units[1] * CHAINS[code].unit_rings
    assert isinstance(graduated_units(BOX, small, large, 450, large_share=0.4), NoLength)
    assert isinstance(graduated_units(ONE, small, RingSize(1_000_000, 1_500_000), 450, large_share=0.4), NoLength)


def test_only_verified_weaves_are_drawn_and_the_others_say_so() -> None:
    for code in CHAINS:
        chain = plain(code, 6)
        inner_nm = 2_900_000 if code == ROPE else 4_000_000
        drawn = draw_chain(chain, {"a": Item("a", "ring", RingSize(1_000_000, inner_nm))})
        assert (drawn.svg is not None) == (code in DRAWN)
        if code not in DRAWN:
            assert "not verified" in drawn.notes[0]


def test_a_solved_weave_is_drawn_within_its_aspect_ratios_and_of_one_size_only() -> None:
    for code, ratio in ((BYZANTINE, 3.3), (BYZANTINE, 5.2), (ROPE, 4.0), (SPIRAL, 3.5)):
        drawn = draw_chain(plain(code, 6), {"a": Item("a", "ring", RingSize(1_000_000, round(ratio * 1_000_000)))})
        assert drawn.svg is None
        assert "verified" in drawn.notes[0]
    mixed = draw_chain(Chain(BYZANTINE, (Stretch(3, ("a", "a", "c", "c", "c", "c")),)), ITEMS)
    assert mixed.svg is None


def test_a_long_chain_is_drawn_from_its_beginning() -> None:
    drawn = draw_chain(plain(ONE, 300), ITEMS)
    assert drawn.svg is not None
    assert f"first {MOST_CHAIN_DRAWN} of 300" in drawn.notes[0]
    assert 'data-of="48"' in drawn.svg
    assert 'data-of="49"' not in drawn.svg


def test_a_chain_that_ideal_rings_cannot_make_is_not_drawn() -> None:
    for code, inner in ((ONE, 1_900_000), (TWO, 2_500_000)):
        net = chain_net(plain(code, 4))
        found = place_chain(plain(code, 4), net, {"a": Item("a", "tight", RingSize(1_000_000, inner))})
        assert isinstance(found, Unplaced)
    mixed = Chain(TWO, (Stretch(4, ("a", "c")),))
    assert isinstance(place_chain(mixed, chain_net(mixed), ITEMS), Unplaced)
    unknown = place_chain(plain(ONE, 4), chain_net(plain(ONE, 4)), {})
    assert isinstance(unknown, Unplaced)


def test_clasps_hang_on_both_ends_of_a_chain() -> None:
    clasp = (
        Attachment("clasp", "clasp", Selection("row starts"), finding="f"),
        Attachment("tail", "hang", Selection("row ends"), ring="b"),
    )
    net = chain_net(Chain(TWO, (Stretch(5, ("a",)),), attachments=clasp))
    assert [net.names[host] for host in net.hosts["clasp"]] == ["1", "2"]
    assert [net.names[host] for host in net.hosts["tail"]] == ["9", "10"]
    drawn = draw_chain(Chain(TWO, (Stretch(5, ("a",)),), attachments=clasp), ITEMS)
    assert drawn.svg is not None
    assert "trace chain" in drawn.svg
