"""Which ring links which: the rows' own formulas against trying every pair, and what hangs on a piece."""

from __future__ import annotations

import math
from collections import Counter
from decimal import Decimal, localcontext

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.items import Item, totals
from models.layouts.engine.links import count_links, net_of, preview, row_links
from models.layouts.engine.net import FINDING, Net
from models.layouts.engine.patterns import checks
from models.layouts.engine.rows import GAP, Layout, Row
from models.layouts.engine.shapes import Shape, by_edges, disc, fan, lozenge, rectangle, triangle
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6, EUROPEAN_8, JAPANESE_12
from tests.layouts.layouts import BRONZE, CHAIN, EUROPEAN, ITEMS, brute_links, rect, rows_of, sheet

shapes = st.one_of(
    st.builds(
        lambda w, m, n: (w, rectangle(w, m, n, "a")), st.sampled_from(EUROPEAN), st.integers(1, 7), st.integers(1, 7)
    ),
    st.builds(
        lambda w, n, t: (w, lozenge(w, n + t, "a", tips=t)),
        st.sampled_from(EUROPEAN),
        st.integers(0, 6),
        st.integers(1, 3),
    ),
    st.builds(lambda w, n: (w, triangle(w, n, "a")), st.sampled_from(EUROPEAN), st.integers(1, 8)),
    st.builds(
        lambda w, m, s: (w, disc(w, m, "a", pitch_share=s)),
        st.sampled_from(EUROPEAN),
        st.integers(1, 9),
        st.floats(0.4, 1.2),
    ),
    st.builds(lambda w, m: (w, by_edges(w, m, 7, "a", first=1, ends=1)), st.sampled_from(EUROPEAN), st.integers(1, 8)),
)
free_rows = st.lists(
    st.builds(Row, st.integers(-6, 6), st.lists(st.sampled_from(["a", "b", GAP]), min_size=1, max_size=7).map(tuple)),
    min_size=1,
    max_size=6,
)


def named(net: Net) -> set[frozenset[str]]:
    return {frozenset((net.names[a], net.names[b])) for a, b in net.links}


@given(shapes)
def test_the_links_of_every_shape_are_those_that_trying_all_pairs_finds(case: tuple[str, Shape]) -> None:
    weave, shape = case
    layout = sheet(shape, weave)
    net = net_of(layout)
    assert named(net) == brute_links(layout)
    assert len(net.links) == count_links(layout) == len(set(net.links))


@given(st.sampled_from(EUROPEAN), free_rows)
def test_so_are_those_of_any_rows_with_gaps_and_torn_rows(weave: str, rows: list[Row]) -> None:
    layout = Layout(weave, tuple(rows))
    net = net_of(layout)
    assert named(net) == brute_links(layout)
    assert net.degrees == [len(each) for each in net.neighbours]
    assert sum(net.degrees) == 2 * len(net.links)


def test_the_row_formula_refuses_gaps() -> None:
    with pytest.raises(ValueError, match="gaps"):
        count_links(Layout(EUROPEAN_4, (Row(0, ("a", GAP)),)))


def test_two_rows_that_do_not_nest_have_no_links() -> None:
    assert row_links(EUROPEAN_4, Row(0, ("a",) * 5), Row(0, ("a",) * 5)) == 0
    assert row_links(EUROPEAN_4, Row(0, ("a",) * 5), Row(1, ("a",) * 5)) == 9


@given(st.integers(3, 9), st.integers(3, 9))
def test_inner_rings_link_the_full_number_and_edges_fewer(rows: int, rings: int) -> None:
    for weave, full in ((EUROPEAN_4, 4), (EUROPEAN_6, 6), (EUROPEAN_8, 8)):
        net = net_of(rect(rows, rings + 2, weave))
        far = 2 if weave == EUROPEAN_8 else 1
        for index, degree in enumerate(net.degrees):
            row, place = net.rows[index], net.places[index]
            if 0 < row < rows - 1 and far <= place <= rings + 1 - far:
                assert degree == full
            assert degree <= full


@given(st.integers(2, 9), st.integers(2, 9))
def test_the_degrees_of_a_european_rectangle_are_all_accounted_for(rows: int, rings: int) -> None:
    # Two corners link one ring (row 1 at the row starts; the last row on the side where it stands out); the other two
    # link two; each further row swings in at one end and links two there, full at the other.
    net = net_of(rect(rows, rings))
    found = Counter(net.degrees)
    assert found[1] == 2
    assert found[3] == 0
    assert found[2] == (rows - 2) + 2 * (rings - 2) + 2
    assert found[4] == rows * rings - found[1] - found[2]


@given(shapes)
def test_a_sheet_in_the_plane_keeps_eulers_count(case: tuple[str, Shape]) -> None:
    # Source: Euler, V - E + F = 1 + pieces, outer face not counted as F: each hole is bounded by four rings.
    weave, shape = case
    if weave != EUROPEAN_4:
        return
    layout = sheet(shape, weave)
    net = net_of(layout)
    spots = {(row, step) for row, step in zip(net.rows, net.steps, strict=True)}
    faces = sum({(r, s), (r + 1, s - 1), (r + 1, s + 1), (r + 2, s)} <= spots for r, s in spots)
    assert len(net) - len(net.links) + faces == pieces(net)


def pieces(net: Net) -> int:
    left = set(range(len(net)))
    count = 0
    while left:
        count += 1
        waiting = [left.pop()]
        while waiting:
            for other in net.neighbours[waiting.pop()]:
                if other in left:
                    left.discard(other)
                    waiting.append(other)
    return count


def test_counts_are_by_item() -> None:
    layout = checks(rect(4, 5), ["a", "b"])
    assert isinstance(layout, Layout)
    net = net_of(layout)
    assert net.counts == {"a": 10, "b": 10}
    assert net.links_of_rings == {1: 2, 2: 10, 4: 8}
    assert net.index("4.5") == 19
    with pytest.raises(KeyError):
        net.index("9.9")


def test_mass_and_wire_are_sums_over_the_rings() -> None:
    found = totals({"a": 10, "b": 5, "f": 1}, ITEMS)
    one = BRONZE.one_mass_g
    assert one is not None
    blue = ITEMS["b"].one_mass_g
    assert blue is not None
    with localcontext() as exact:
        exact.prec = 60
        assert abs(found.mass_g - (10 * one + 5 * blue + 3)) < Decimal("1e-40")
    assert BRONZE.size is not None
    assert float(found.wire_mm) == pytest.approx(15 * math.pi * 5)
    assert (found.rings, found.findings, found.unweighed) == (15, 1, ())
    assert totals({"x": 2, "y": 1}, {"y": Item("y", "loose clasp", finding=True)}).unweighed == ("x", "loose clasp")


def test_a_japanese_sheet_doubles_hubs_and_connectors() -> None:
    net = net_of(sheet(rectangle(JAPANESE_12, 3, 3, "a"), JAPANESE_12))
    # 9 places; 2 a row x 3 rows along, 5 x 2 across rows: 16 ways between neighbours.
    assert net.counts == {"a": 18, "c": 32}
    assert len(net.links) == 32 * 4 == count_links(sheet(rectangle(JAPANESE_12, 3, 3, "a"), JAPANESE_12))
    middle = net.index("2.2a")
    assert net.degrees[middle] == 12
    assert all(net.degrees[index] == 4 for index, role in enumerate(net.roles) if role == "connector")


def with_hung(*attachments: Attachment) -> Layout:
    return Layout(EUROPEAN_4, rect(5, 6).rows, attachments)


@pytest.mark.parametrize(
    ("selection", "expected"),
    [
        (Selection("first row"), ["1.1", "1.2", "1.3", "1.4", "1.5", "1.6"]),
        (Selection("last row", every=2), ["5.1", "5.3", "5.5"]),
        (Selection("last row", every=2, skip=1), ["5.2", "5.4", "5.6"]),
        (Selection("row starts"), ["1.1", "2.1", "3.1", "4.1", "5.1"]),
        (Selection("row ends", rows=(2, 4)), ["2.6", "3.6", "4.6"]),
        (Selection("every ring", item="b"), []),
        (Selection("every ring", rings=("2.3", "4.1", "9.9")), ["2.3", "4.1"]),
        (Selection("attachment", of="nothing"), []),
    ],
)
def test_rings_are_chosen_by_edge_item_row_and_every_k_th(selection: Selection, expected: list[str]) -> None:
    found = preview(with_hung(), Attachment("x", "hang", selection, ring="c", each=2))
    assert list(found.chosen) == expected
    assert found.rings == 2 * len(expected)


def test_the_outline_is_all_round() -> None:
    found = preview(with_hung(), Attachment("x", "hang", Selection("outline"), ring="c"))
    assert len(found.chosen) == 6 + 6 + 3 * 2


def test_a_preview_changes_nothing_and_counts_findings_apart() -> None:
    layout = with_hung()
    join = Attachment("j", "join", Selection("first row", every=3), ring="b", finding="f", each=2)
    found = preview(layout, join)
    assert (found.chosen, found.rings, found.findings) == (("1.1", "1.4"), 4, 1)
    assert layout.attachments == ()


def test_hung_rings_link_their_host_and_a_gathering_ring_all_of_them() -> None:
    layout = with_hung(
        Attachment("fringe", "hang", Selection("last row"), ring="b", each=2),
        Attachment("gather", "gather", Selection("attachment", of="fringe"), ring="c"),
    )
    net = net_of(layout)
    assert net.counts == {"a": 30, "b": 12, "c": 1}
    gather = net.groups["gather"][0]
    assert net.degrees[gather] == 12
    assert all(net.degrees[index] == 2 for index in net.groups["fringe"])
    assert net.degrees[net.index("5.1")] == 1 + 2  # a corner of the sheet, and what hangs on it


def test_findings_count_as_links_and_are_counted_once_for_all_their_rings() -> None:
    layout = with_hung(
        Attachment("ties", "join", Selection("first row", every=5), ring="b", finding="f"),
        Attachment("bail", "bail", Selection("last row", rings=("5.3",)), finding="f"),
        Attachment("drops", "hang", Selection("row ends", rows=(3, 3)), ring="b", finding="f"),
    )
    net = net_of(layout)
    assert net.counts == {"a": 30, "f": 3, "b": 3}
    assert all(net.degrees[index] == 2 for index in net.groups["ties"])
    assert net.roles.count(FINDING) == 3
    assert net.degrees[net.index("a1.f")] == 2
    assert net.degrees[net.index("5.3")] == 3
    assert net.degrees[net.groups["drops"][0]] == 2


def test_an_attachment_that_chooses_nothing_adds_nothing() -> None:
    net = net_of(with_hung(Attachment("x", "join", Selection("every ring", item="none"), ring="b", finding="f")))
    assert len(net) == 30


def test_hubs_are_chosen_by_the_name_of_their_place() -> None:
    layout = sheet(lozenge(JAPANESE_12, 2, "a"), JAPANESE_12)
    found = preview(layout, Attachment("x", "hang", Selection("every ring", rings=("1.1", "3.1")), ring="b"))
    assert found.chosen == ("1.1a", "3.1a")


def test_a_chain_item_knows_its_mass() -> None:
    assert CHAIN.one_mass_g == 3
    assert Item("x", "x").one_mass_g is None


def test_fans_and_torn_rows_count_too() -> None:
    assert count_links(sheet(fan(EUROPEAN_4, 8, 5, "a"))) == len(brute_links(sheet(fan(EUROPEAN_4, 8, 5, "a"))))
    assert count_links(Layout(EUROPEAN_4, rows_of((0, 5), (0, 5)))) == 0
