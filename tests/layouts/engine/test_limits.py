"""How large a piece may be: counted from its shape as it comes out when it is built, and refused with both numbers."""

from __future__ import annotations

from time import process_time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.document.model import read_sheet
from models.layouts.engine.attach import KINDS, WHERES, Attachment, Selection
from models.layouts.engine.chain_weaves import BYZANTINE, FULL_6, ONE
from models.layouts.engine.chains import Chain, Stretch, chain_net
from models.layouts.engine.limits import MOST_AT_HAND, asked_of, not_at_hand, too_large, woven_rings
from models.layouts.engine.links import net_of
from models.layouts.engine.nesting import faults_of
from models.layouts.engine.patterns import border
from models.layouts.engine.rows import GAP, MAX_PLACES, MAX_RINGS, Layout, Row
from models.layouts.engine.shapes import by_edges, disc, lozenge, rectangle
from models.layouts.steps.matching import largest_set
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6, JAPANESE_12
from tests.layouts.layouts import rect, sheet


@st.composite
def selections(draw: st.DrawFn, earlier: list[str]) -> Selection:
    where = draw(st.sampled_from(WHERES if earlier else WHERES[:-1]))
    names = st.sampled_from(["1.1", "1.2", "2.1", "3", "a1.1", "a1.2", "a2.1", "a1.9"])
    return Selection(
        where=where,
        item=draw(st.sampled_from(["", "", "a", "b"])),
        every=draw(st.integers(1, 3)),
        skip=draw(st.integers(0, 2)),
        rows=draw(st.none() | st.just((1, 2))),
        of=draw(st.sampled_from(earlier)) if where == "attachment" else "",
        rings=tuple(draw(st.lists(names, max_size=3))),
    )


@st.composite
def plans(draw: st.DrawFn) -> Layout | Chain:
    attachments: list[Attachment] = []
    for number in range(draw(st.integers(0, 4))):
        on = draw(selections([each.name for each in attachments]))
        kind = draw(st.sampled_from(KINDS))
        ring = draw(st.sampled_from(["a", "b"] if kind in ("hang", "gather") else ["", "a", "b"]))
        finding = "f" if kind not in ("hang", "gather") else draw(st.sampled_from(["", "f"])) if kind == "hang" else ""
        attachments.append(Attachment(f"n{number}", kind, on, ring, finding, draw(st.integers(1, 3))))
    if draw(st.booleans()):
        weave = draw(st.sampled_from([ONE, BYZANTINE]))
        return Chain(weave, (Stretch(draw(st.integers(1, 4)), ("a", "b")),), attachments=tuple(attachments))
    weave = draw(st.sampled_from([EUROPEAN_4, EUROPEAN_6, JAPANESE_12]))
    rows = []
    for number in range(draw(st.integers(1, 4))):
        items = draw(st.lists(st.sampled_from(["a", "b", GAP]), min_size=1, max_size=5))
        rows.append(Row(number % 2, ("a", *items)))
    return Layout(weave, tuple(rows), tuple(attachments), connector="b")


@given(plans())
def test_what_a_piece_takes_is_known_before_it_is_built(plan: Layout | Chain) -> None:
    net = net_of(plan) if isinstance(plan, Layout) else chain_net(plan)
    asked = asked_of(plan)
    woven = sum(1 for a, b in net.links if a < net.woven and b < net.woven)
    if plan.attachments:
        assert (asked.rings, asked.held) == (len(net), len(net.links) - woven)
    # Connectors beside gaps are counted too, so that nothing is built to count them.
    assert woven_rings(plan) >= net.woven
    if not isinstance(plan, Layout) or plan.weave != JAPANESE_12:
        assert woven_rings(plan) == net.woven


def fringe(count: int, layout: Layout, **on: object) -> Layout:
    attachments = tuple(
        Attachment(f"n{number}", "hang", Selection("every ring", **on), ring="a", each=20)  # type: ignore[arg-type]
        for number in range(count)
    )
    return Layout(layout.weave, layout.rows, attachments)


@pytest.mark.parametrize(
    ("layout", "words"),
    [
        (sheet(rectangle(JAPANESE_12, 100, 100, "a"), JAPANESE_12), "up to 60,000 rings here; this one would have 79,"),
        (
            fringe(200, rect(50, 50)),
            "up to 60,000 rings and findings here, with all that hangs on it; this one would h",
        ),
        (fringe(200, rect(80, 80), skip=6_399), "up to 1,000,000 of its rings are looked through; this one would take"),
        (
            Layout(
                EUROPEAN_4,
                rect(100, 100).rows,
                tuple(Attachment(f"g{n}", "gather", Selection("every ring"), ring="a") for n in range(20)),
            ),
            "held by up to 120,000 links here; this one would have 200,000",
        ),
    ],
    ids=["hubs", "fringe", "looked", "held"],
)
def test_a_piece_that_is_too_large_is_refused_with_the_limit_and_what_was_asked(layout: Layout, words: str) -> None:
    began = process_time()
    (fault,) = too_large(layout)
    assert words in fault.message
    assert process_time() - began < 0.5


def test_pieces_of_fifty_thousand_rings_are_taken() -> None:
    assert too_large(rect(200, 250)) == ()
    assert too_large(fringe(1, rect(50, 50))) == ()
    assert too_large(sheet(rectangle(JAPANESE_12, 80, 80, "a"), JAPANESE_12)) == ()
    assert too_large(Chain(ONE, (Stretch(MAX_RINGS, ("a",)),))) == ()


def test_rows_of_gaps_are_counted_as_they_are_read() -> None:
    raw = {"weave": EUROPEAN_4, "rows": [{"runs": [["a", 1], ["", 59_000], ["a", 1]]}] * 2_000}
    began = process_time()
    found = read_sheet(raw)
    assert process_time() - began < 0.5
    assert isinstance(found, tuple)
    assert f"up to {MAX_PLACES:,} places here" in found[0].message


def test_rows_that_share_their_rings_are_counted_without_looking_at_each() -> None:
    row = Row(0, ("a",) * MAX_RINGS)
    began = process_time()
    (fault,) = faults_of(Layout(EUROPEAN_4, (row,) * 2_000))
    assert process_time() - began < 0.1
    assert "these have 120,000,000" in fault.message


@pytest.mark.parametrize(
    "shape",
    [
        lambda: by_edges(EUROPEAN_4, 2_000, 3_000, "a", starts=99, ends=99),
        lambda: by_edges(EUROPEAN_4, 2_000, 3_000, "a", first=1),
        lambda: lozenge(EUROPEAN_4, 3_000, "a"),
        lambda: disc(EUROPEAN_4, 2_000, "a", pitch_share=19.0),
    ],
)
def test_a_shape_without_end_is_refused_before_it_is_laid(shape: object) -> None:
    began = process_time()
    found = shape()  # type: ignore[operator]
    assert process_time() - began < 0.5
    assert "A piece has up to 60,000 rings here" in found.faults[0]


@pytest.mark.long
def test_many_small_pieces_are_closed_as_quickly_as_one_large_one() -> None:
    alone: list[list[int]] = [[] for _ in range(40_000)]
    pairs = [[index ^ 1] for index in range(40_000)]
    triangles = [[index - index % 3 + (index + step) % 3 for step in (1, 2)] for index in range(39_999)]
    for graph, most in ((alone, 40_000), (pairs, 20_000), (triangles, 13_333)):
        began = process_time()
        assert len(largest_set(graph, range(len(graph))).nodes) == most
        assert process_time() - began < 2


def test_a_border_to_the_middle_takes_no_longer_than_a_narrow_one_for_its_rings() -> None:
    large = rect(200, 200)
    began = process_time()
    whole = border(large, "b", 500)
    assert process_time() - began < 2
    assert isinstance(whole, Layout)
    assert {item for row in whole.rows for item in row.items} == {"b"}


def test_a_chain_with_a_rule_of_its_own_has_so_many_links_at_most() -> None:
    twelve = tuple(range(1, 13))
    assert too_large(Chain(FULL_6, (Stretch(5_000, ("a",)),), own_links=twelve)) == ()
    (fault,) = too_large(Chain(FULL_6, (Stretch(5_001, ("a",)),), own_links=twelve))
    assert fault.field == "own_links"
    assert "up to 120,000 links here; this one would have 120,024" in fault.message


@pytest.mark.parametrize(
    ("plan", "more"),
    [
        (rect(300, 100), rect(301, 100)),
        (fringe(1, rect(15, 50)), fringe(2, rect(15, 1000))),
        (Chain(ONE, (Stretch(MOST_AT_HAND, ("a",)),)), Chain(ONE, (Stretch(MOST_AT_HAND + 1, ("a",)),))),
    ],
    ids=["rows", "fringe", "chain"],
)
def test_whether_a_piece_is_small_enough_for_a_page_is_known_from_its_shape(
    plan: Layout | Chain, more: Layout | Chain
) -> None:
    assert not_at_hand(plan) == ""
    words = not_at_hand(more)
    assert f"up to {MOST_AT_HAND:,} are laid out on a page" in words
    assert f"it has {asked_of(more).rings:,} rings" in words


@given(plans())
def test_a_piece_that_is_built_is_as_large_as_its_shape_says(plan: Layout | Chain) -> None:
    net = net_of(plan) if isinstance(plan, Layout) else chain_net(plan)
    assert not_at_hand(plan, net) == not_at_hand(plan) == ""
