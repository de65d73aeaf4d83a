"""What is closed beforehand, worked out by hand through the whole house: from rows kept in a shop to the labour.

Source of every figure: the derivation that stands beside it. A lozenge of European 4-in-1 with rows of 1, 2 .. k .. 2, 1
rings is a square of k by k rings standing on its corner, and two rings are linked just where they are side by side in
that square. Coloured like a chequered board, linked rings always differ in colour, and the colours follow the rows in
turn. So each colour can be closed beforehand. No set can be larger than the more frequent colour: the square is covered
by dominoes of two linked rings, with one ring over where k is odd, and of each domino one ring at most is closed. That
is (k x k + 1) // 2.
"""

from __future__ import annotations

import pytest

from models.database import Store
from models.intake.designs.design import DesignDraft
from models.layouts.document.model import document_of
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import lozenge
from models.layouts.weaves.sheets import EUROPEAN_4
from models.operations.designs.design import add_design
from models.queries.costing.costing import cost_of_design
from models.queries.designs.order_of_work import order_view
from tests.laid import read, stock_two


@pytest.mark.parametrize("k", [2, 3, 6, 7])
def test_a_lozenge_closes_one_colour_of_a_chequered_board(store: Store, k: int) -> None:
    with store.writing() as session:
        ring, _ = stock_two(session)
        rows = document_of(Layout(EUROPEAN_4, lozenge(EUROPEAN_4, k, f"i{ring}").rows)).written()
        design = add_design(session, DesignDraft("Board", layout=read({**rows, "route": {"start_row": k}})))
        single, _ = order_view(session, design, {})
        adding, _ = order_view(session, design, {"method": "adding closed rings"})
    # The way that begins with the middle row closes that row alone, or every second row counted from it: the colour of
    # the middle row, k + 2 (k - 2) + 2 (k - 4) + .. rings. For an even k that is half of all rings, for an odd k the more
    # frequent colour.
    middle_colour = k + 2 * sum(range(k - 2, 0, -2))
    assert middle_colour == (k * k + 1) // 2
    assert single.work is not None
    assert adding.work is not None
    assert (single.work.prepared.close, single.work.prepared.open) == (k, k * k - k)
    assert (adding.work.prepared.close, adding.work.prepared.open) == (middle_colour, k * k - middle_colour)
    assert single.work.most == adding.work.most == (k * k + 1) // 2


def test_the_labour_of_a_lozenge_is_what_its_way_leaves_open(store: Store) -> None:
    with store.writing() as session:
        ring, _ = stock_two(session)
        rows = document_of(Layout(EUROPEAN_4, lozenge(EUROPEAN_4, 6, f"i{ring}").rows)).written()
        route = {"start_row": 6, "method": "adding closed rings"}
        design = add_design(session, DesignDraft("Board", layout=read({**rows, "route": route})))
        counts = cost_of_design(session, design).cost.counts
    # 36 rings: 18 are closed beforehand; 18 are opened, woven in and closed. Every ring is closed once.
    assert (counts.open, counts.weave, counts.close) == (18, 18, 36)
