"""The order of work: every ring once, nothing passed through that is not there, the words of a maker."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chain_weaves import BYZANTINE, HALF_3, ONE, ROPE, TWO
from models.layouts.engine.chains import Chain, Stretch, chain_net
from models.layouts.engine.links import net_of
from models.layouts.engine.net import Net
from models.layouts.engine.rows import Layout, Row
from models.layouts.engine.shapes import disc, fan, lozenge, rectangle
from models.layouts.places.sheet import Placement, place_sheet
from models.layouts.steps.chain_work import chain_work
from models.layouts.steps.closing import largest_closed
from models.layouts.steps.route import (
    METHODS,
    SIDES,
    TURNS,
    WAYS,
    WHENS,
    Leg,
    Progress,
    Route,
    View,
    closed_on_route,
    legs_of,
)
from models.layouts.steps.words import edge_of, side_of, way_of
from models.layouts.steps.work import OrderOfWork, order_of_work
from models.layouts.weaves.sheets import EUROPEAN_4, JAPANESE_12
from tests.layouts.layouts import EUROPEAN, ITEMS, SIZE, rect, sheet

routes = st.builds(
    Route,
    st.integers(1, 4),
    st.sampled_from(SIDES),
    st.sampled_from(METHODS),
    st.sampled_from(TURNS),
    st.sampled_from(WHENS),
    st.sampled_from(WAYS),
)
HUNG = (
    Attachment("bail ring", "hang", Selection("first row"), ring="b"),
    Attachment("tie", "join", Selection("attachment", of="bail ring"), ring="b", finding="f", each=2),
    Attachment("gather", "gather", Selection("last row"), ring="c"),
)
layouts = st.sampled_from(
    [
        *(sheet(lozenge(weave, 4, "a"), weave) for weave in EUROPEAN), rect(4, 3), rect(5, 6), sheet(fan(EUROPEAN_4, 7, 5, "a")),
        sheet(disc(EUROPEAN_4, 7, "a", pitch_share=0.7)), sheet(rectangle(JAPANESE_12, 4, 3, "a"), JAPANESE_12),
        Layout(EUROPEAN_4, lozenge(EUROPEAN_4, 4, "a").rows, HUNG),
    ]
)  # fmt: skip


def done(found: OrderOfWork | tuple[object, ...]) -> OrderOfWork:
    assert isinstance(found, OrderOfWork), found
    return found


@given(layouts, routes)
def test_every_ring_and_finding_comes_on_once(layout: Layout, route: Route) -> None:
    net = net_of(layout)
    route = replace(route, start_row=min(route.start_row, len(layout.rows)))
    work = done(order_of_work(net, layout, ITEMS, route))
    added = [index for step in work.steps for index in step.added]
    assert sorted(added) == list(range(len(net)))
    assert work.prepared.close + work.prepared.open + net.roles.count("finding") == len(net)
    assert work.prepared.close <= work.most


@given(layouts, st.data())
def test_any_set_of_the_makers_own_works_too(layout: Layout, data: st.DataObject) -> None:
    net = net_of(layout)
    chosen: set[int] = set()
    for index in data.draw(st.lists(st.integers(0, len(net) - 1), max_size=20)):
        if net.roles[index] != "finding" and not chosen & set(net.neighbours[index]):
            chosen.add(index)
    route = data.draw(routes)
    route = replace(route, start_row=min(route.start_row, len(layout.rows)))
    work = done(order_of_work(net, layout, ITEMS, route, chosen))
    assert work.closed == chosen
    assert sorted(index for step in work.steps for index in step.added) == list(range(len(net)))


@given(layouts, routes)
def test_no_two_rings_that_a_route_closes_are_linked(layout: Layout, route: Route) -> None:
    net = net_of(layout)
    closed = closed_on_route(net, ITEMS, route, len(layout.rows))
    assert closed
    assert not any(a in closed and b in closed for a, b in net.links)


@given(layouts, routes)
def test_an_open_ring_makes_all_its_links_with_what_is_there_or_is_picked_up(layout: Layout, route: Route) -> None:
    """Replayed with the rings alone: each link is made exactly once, by the open ring that comes later."""
    net = net_of(layout)
    closed = closed_on_route(net, ITEMS, route, len(layout.rows))
    progress = Progress.start(net, closed)
    made = 0
    rows: list[list[int]] = [[] for _ in layout.rows]
    for index in range(net.woven):
        rows[net.rows[index]].append(index)
    for leg in legs_of(len(layout.rows), route):
        if leg.side == 0:
            progress.lay([index for index in rows[leg.row] if index in closed])
        acts = progress.weave([i for i in rows[leg.row] if not progress.present[i] and i not in closed])
        made += sum(sum(count for _, count in act.through) + act.also + len(act.picks) for act in acts)
    assert made == sum(1 for a, b in net.links if a < net.woven and b < net.woven)


def test_the_route_chooses_start_and_order_of_sides() -> None:
    def order(sides: str) -> list[int]:
        return [leg.row for leg in legs_of(5, Route(3, sides))]  # type: ignore[arg-type]

    assert order("rows after first") == [2, 3, 4, 1, 0]
    assert order("rows before first") == [2, 1, 0, 3, 4]
    assert order("in turn") == [2, 3, 1, 4, 0]
    assert [leg.row for leg in legs_of(2, Route(9))] == [1, 0]


def test_single_rings_close_the_first_row_only_and_the_other_method_every_second_row() -> None:
    layout = rect(5, 4)
    net = net_of(layout)
    single = closed_on_route(net, ITEMS, Route(2), 5)
    assert {net.rows[index] for index in single} == {1}
    adding = closed_on_route(net, ITEMS, Route(2, method="adding closed rings"), 5)
    assert {net.rows[index] for index in adding} == {1, 3}


def test_the_words_say_what_to_pick_up_and_pass_through() -> None:
    layout = sheet(lozenge(EUROPEAN_4, 3, "a"))
    work = done(order_of_work(net_of(layout), layout, ITEMS, Route(3, method="adding closed rings")))
    first, below, above = work.steps
    assert first.lines == ("Lay out the closed rings of row 3: 3 of bronze.",)
    assert below.title == "Rows 4 and 5"
    assert below.lines == (
        "Work along the lower edge from left to right.",
        "One ring of bronze: pick up one closed ring of bronze, pass from the back through two rings of row 3, close.",
        "One ring of bronze: pass from the back through two rings of row 3 and the ring just added, close.",
    )
    assert above.rows == (1, 2)
    assert above.lines[0] == "Work along the upper edge from left to right."


def test_end_of_row_extras_are_named() -> None:
    layout = rect(3, 4)
    work = done(order_of_work(net_of(layout), layout, ITEMS))
    assert work.steps[1].extras == ("Ring 2.4, at the edge, passes through only one ring of row 1.",)
    wide = Layout(EUROPEAN_4, (Row(0, ("a",) * 2), Row(-5, ("a",) * 6), Row(-4, ("a",) * 5)))
    stands_out = done(order_of_work(net_of(wide), wide, ITEMS)).steps[1].extras
    assert "Ring 2.1 stands out past row 1: the next row or its neighbours hold it." in stands_out


def test_colours_are_told_ring_by_ring_in_the_way_of_the_row() -> None:
    layout = Layout(EUROPEAN_4, (Row(0, ("a",) * 4), Row(1, ("a", "b", "b"))))
    rightward = done(order_of_work(net_of(layout), layout, ITEMS)).steps[1]
    assert [(len(each.rings), each.item) for each in rightward.groups] == [(1, "a"), (2, "b")]
    leftward = done(order_of_work(net_of(layout), layout, ITEMS, Route(way="right to left"))).steps[1]
    assert [(len(each.rings), each.item) for each in leftward.groups] == [(2, "b"), (1, "a")]
    assert leftward.lines[0].endswith("from right to left.")


def crossing(layout: Layout, ring: int, other: int, net: Net, *, forward: bool) -> float:
    """Which way (towards the person: above 0) a wire that is led along the row crosses the disc of another ring."""
    placed = place_sheet(layout, net, SIZE)
    assert isinstance(placed, Placement)
    normal, own = placed.pose(other).normal, placed.pose(ring).normal
    # The wire runs in its own ring's plane, sideways: the direction in that plane with no part down the page.
    along = (own[2], 0.0, -own[0]) if forward else (-own[2], 0.0, own[0])
    return sum(a * b for a, b in zip(along, normal, strict=True))


@pytest.mark.parametrize(("weave", "rows", "way"), list(product(EUROPEAN, (2, 3), WAYS[:2])))
def test_front_and_back_are_those_of_the_rings_in_space(weave: str, rows: int, way: str) -> None:
    layout = rect(rows, 4, weave)
    net = net_of(layout)
    for leg in legs_of(rows, Route(way=way))[1:]:  # type: ignore[arg-type]
        ring = net.index(f"{leg.row + 1}.2")
        before = net.index(f"{leg.row}.2")
        towards = crossing(layout, ring, before, net, forward=leg.forward)
        assert side_of(leg) == ("back" if towards > 0 else "front")


def test_turning_the_piece_changes_words_as_it_changes_what_one_sees() -> None:
    plain = Leg(1, 1, View(), True, False)
    assert (side_of(plain), way_of(plain), edge_of(plain)) == ("back", "left to right", "lower")
    sideways = Leg(1, 1, View().turned("sideways"), True, True)
    assert (side_of(sideways), way_of(sideways), edge_of(sideways)) == ("front", "right to left", "lower")
    over = Leg(1, 1, View().turned("end over end"), True, True)
    assert (side_of(over), way_of(over), edge_of(over)) == ("front", "left to right", "upper")
    around = Leg(1, 1, View().turned("round"), True, True)
    assert (side_of(around), way_of(around), edge_of(around)) == ("back", "right to left", "upper")
    for turn in TURNS:
        assert View().turned(turn).turned(turn) == View()


def test_turns_come_before_each_row_or_only_when_the_side_changes() -> None:
    each = legs_of(5, Route(3, turn="sideways"))
    assert [leg.turned for leg in each] == [False, False, True, True, True]
    side = legs_of(5, Route(3, turn="round", when="each side"))
    assert [leg.turned for leg in side] == [False, False, False, True, False]
    # Turned round, the rows before the first are added to the lower edge as well.
    assert [edge_of(leg) for leg in side[1:]] == ["lower"] * 4
    layout = rect(3, 3)
    work = done(order_of_work(net_of(layout), layout, ITEMS, Route(2, turn="end over end", when="each side")))
    assert work.steps[2].lines[0] == "Turn the piece over end over end."


def test_back_and_forth_always_passes_from_the_same_side() -> None:
    sides = {side_of(leg) for leg in legs_of(8, Route(way="back and forth"))[1:]}
    assert len(sides) == 1
    assert {side_of(leg) for leg in legs_of(8, Route())[1:]} == {"back", "front"}


def test_a_wrong_start_or_set_is_a_fault() -> None:
    layout = rect(3, 3)
    net = net_of(layout)
    assert order_of_work(net, layout, ITEMS, Route(4))[0].field == "start_row"  # type: ignore[index]
    assert order_of_work(net, layout, ITEMS, closed=[0, 3])[0].field == "closed"  # type: ignore[index]


def test_what_hangs_is_told_last_and_findings_are_hooked_in() -> None:
    layout = Layout(EUROPEAN_4, lozenge(EUROPEAN_4, 2, "a").rows, HUNG)
    work = done(order_of_work(net_of(layout), layout, ITEMS))
    bail, tie, gather = work.steps[-3:]
    assert bail.lines == ("One ring of blue niobium: pass through one ring of row 1, close.",)
    assert tie.lines == (
        "Two rings of blue niobium, each: hook in trace chain, pass through one ring hanging there, close.",
    )
    assert gather.title == "Gather"
    direct = Layout(
        EUROPEAN_4, lozenge(EUROPEAN_4, 2, "a").rows, (Attachment("bail", "bail", Selection("first row"), finding="f"),)
    )
    assert done(order_of_work(net_of(direct), direct, ITEMS)).steps[-1].lines == (
        "Hang trace chain on ring 1.1, opening what opens.",
    )


def test_rings_that_nothing_holds_are_told() -> None:
    layout = Layout(EUROPEAN_4, (Row(0, ("a",) * 3), Row(21, ("a",))))
    net = net_of(layout)
    work = done(order_of_work(net, layout, ITEMS, closed=[net.index("2.1")]))
    assert work.steps[-1].title == "Left over"


@given(st.sampled_from([ONE, TWO, BYZANTINE, ROPE, HALF_3]), st.integers(1, 30), st.booleans())
def test_every_ring_of_a_chain_comes_on_once(code: str, units: int, closed: bool) -> None:
    chain = Chain(code, (Stretch(units + 5, ("a", "b")),), closed, HUNG[:2])
    net = chain_net(chain)
    work = done(chain_work(net, chain, ITEMS))
    assert sorted(index for step in work.steps for index in step.added) == list(range(len(net)))
    assert work.prepared.close == work.most


def test_what_hangs_on_a_chain_is_told_by_its_ends_and_units() -> None:
    ends = (
        Attachment("first end", "gather", Selection("row starts"), ring="b"),
        Attachment("charm", "hang", Selection("every ring", rings=("9",)), ring="b"),
        Attachment("last end", "gather", Selection("row ends"), ring="b"),
    )
    chain = Chain(BYZANTINE, (Stretch(27, ("a",)),), attachments=ends)
    net = chain_net(chain)
    first, charm, last = done(chain_work(net, chain, ITEMS, closed=[2])).steps[-3:]
    assert (first.title, last.title) == ("First end", "Last end")
    assert first.lines == ("One ring of blue niobium: pass through two rings where the chain begins, close.",)
    # Six rings a unit, so the ninth is one of the second.
    assert charm.lines == ("One ring of blue niobium: pass through one ring of unit 2, close.",)
    assert last.lines == ("One ring of blue niobium: pass through two rings where the chain ends, close.",)


def test_what_repeats_along_a_chain_is_told_once() -> None:
    chain = Chain(ONE, (Stretch(200, ("a",)),))
    net = chain_net(chain)
    work = done(chain_work(net, chain, ITEMS))
    assert len(work.steps) <= 6
    assert work.prepared.close == 100
    assert any("again and again" in line for step in work.steps for line in step.lines)
    own = done(chain_work(net, chain, ITEMS, closed=[0]))
    assert own.prepared.close == 1
    assert chain_work(net, chain, ITEMS, closed=[0, 1])[0].field == "closed"  # type: ignore[index]
    loop = Chain(ONE, (Stretch(20, ("a",)),), closed=True)
    assert any(step.title == "The loop" for step in done(chain_work(chain_net(loop), loop, ITEMS)).steps)


def test_the_largest_set_is_shown_as_the_most_possible_only() -> None:
    layout = rect(4, 5)
    net = net_of(layout)
    work = done(order_of_work(net, layout, ITEMS))
    assert (work.prepared.close, work.most) == (5, len(largest_closed(net, ITEMS).rings))
    assert work.most == 10
