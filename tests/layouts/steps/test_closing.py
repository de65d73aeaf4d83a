"""Which rings may be closed beforehand, and the maker's own set."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chain_weaves import ROPE
from models.layouts.engine.chains import Chain, Stretch, chain_net
from models.layouts.engine.items import Item
from models.layouts.engine.links import net_of
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import lozenge
from models.layouts.steps.closing import BY_MATCHING, BY_SEARCH, closed_faults, largest_closed, may_close, prepared
from models.layouts.weaves.sheets import EUROPEAN_4
from tests.layouts.layouts import ITEMS, SIZE, rect, sheet


def test_half_a_lozenge_can_be_closed_and_the_method_is_told() -> None:
    found = largest_closed(net_of(sheet(lozenge(EUROPEAN_4, 5, "a"))), ITEMS)
    assert len(found.rings) == 13
    assert found.words == BY_MATCHING


def test_a_rope_is_settled_by_its_bound() -> None:
    found = largest_closed(chain_net(Chain(ROPE, (Stretch(300, ("a",)),))), ITEMS)
    assert (len(found.rings), found.bound) == (100, 100)
    assert found.words == BY_SEARCH


def test_rings_on_a_solid_finding_stay_open() -> None:
    layout = Layout(EUROPEAN_4, rect(2, 2).rows, (Attachment("b", "bail", Selection("first row"), finding="f"),))
    net = net_of(layout)
    solid = {**ITEMS, "f": Item("f", "cast bail", finding=True, opens=False)}
    free, soldered = may_close(net, solid)
    assert [net.names[index] for index in free] == ["2.1", "2.2"]
    assert soldered == set()
    assert len(largest_closed(net, solid).rings) == 2
    assert "cast bail, which never opens" in closed_faults(net, solid, [0])[0].message


def test_soldered_rings_are_closed_already_and_keep_their_neighbours_open() -> None:
    layout = Layout(EUROPEAN_4, rect(3, 3).rows, (Attachment("h", "hang", Selection("first row"), ring="s"),))
    net = net_of(layout)
    items = {**ITEMS, "s": Item("s", "soldered ring", SIZE, opens=False)}
    found = largest_closed(net, items)
    hung = set(net.groups["h"])
    assert hung <= found.rings
    assert not found.rings & {0, 1, 2}
    assert closed_faults(net, items, found.rings) == ()


def test_a_set_with_linked_rings_is_refused_pair_by_pair() -> None:
    net = net_of(rect(2, 3))
    faults = closed_faults(net, ITEMS, [net.index("1.1"), net.index("2.1"), net.index("1.2")])
    assert [each.message for each in faults] == [
        "Rings 1.1 and 2.1 are linked: one of them must stay open.",
        "Rings 1.2 and 2.1 are linked: one of them must stay open.",
    ]
    assert closed_faults(net, ITEMS, [99])[0].field == "closed"
    assert closed_faults(net, ITEMS, []) == ()


@given(st.integers(1, 6), st.integers(1, 6), st.data())
def test_any_set_with_no_two_linked_is_accepted_and_counted(rows: int, rings: int, data: st.DataObject) -> None:
    net = net_of(rect(rows, rings))
    chosen: set[int] = set()
    for index in data.draw(st.lists(st.integers(0, len(net) - 1), max_size=12)):
        if not chosen & set(net.neighbours[index]):
            chosen.add(index)
    assert closed_faults(net, ITEMS, chosen) == ()
    numbers = prepared(net, chosen)
    assert numbers.close == len(chosen)
    assert numbers.close + numbers.open == len(net)
    assert numbers.weave == numbers.open
