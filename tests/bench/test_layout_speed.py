"""How long a large sheet takes: counts and checks, drawing, the largest set, the order of work; and that it is linear.

Processor time, the best of a few calls, so that a busy machine does not decide.
"""

from __future__ import annotations

import gc
from collections.abc import Callable
from time import process_time

from models.layouts.drawing.drawing import Look
from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chain_weaves import ONE
from models.layouts.engine.chains import Chain, Stretch, chain_net
from models.layouts.engine.links import net_of
from models.layouts.engine.patterns import checks
from models.layouts.engine.piece import draw_piece, work_out
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import rectangle
from models.layouts.steps.chain_work import chain_work
from models.layouts.steps.closing import largest_closed
from models.layouts.steps.route import Route
from models.layouts.steps.work import order_of_work
from models.layouts.weaves.sheets import EUROPEAN_4
from tests.layouts.layouts import ITEMS


def sheet(rings: int) -> Layout:
    """A sheet 100 rings wide in checks of two colours, the worst case for a drawing by tint."""
    layout = checks(Layout(EUROPEAN_4, rectangle(EUROPEAN_4, rings // 100, 100, "a").rows), ["a", "b"])
    assert isinstance(layout, Layout)
    return layout


def best(call: Callable[[], object], rounds: int = 5) -> float:
    """The least processor time of some calls, in seconds."""
    call()
    taken = []
    for _ in range(rounds):
        gc.collect()
        start = process_time()
        call()
        taken.append(process_time() - start)
    return min(taken)


def test_counts_and_checks_of_ten_thousand_rings_take_under_half_a_second_and_grow_in_line() -> None:
    ten, twenty = sheet(10_000), sheet(20_000)
    lots = {"a": [4_000, 3_000], "b": [9_000]}
    at_ten = best(lambda: work_out(ten, ITEMS, lots=lots))
    at_twenty = best(lambda: work_out(twenty, ITEMS, lots=lots))
    print(f"counts and checks {at_ten * 1000:.0f} ms, of 20,000 {at_twenty * 1000:.0f} ms")  # noqa: T201
    assert at_ten < 0.5
    assert at_twenty < 2.3 * at_ten


def test_drawing_ten_thousand_rings_takes_under_two_seconds_and_grows_in_line() -> None:
    ten, twenty = sheet(10_000), sheet(20_000)
    nets = {id(each): net_of(each) for each in (ten, twenty)}
    look = Look(answer=True)
    at_ten = best(lambda: draw_piece(ten, ITEMS, look, nets[id(ten)]))
    at_twenty = best(lambda: draw_piece(twenty, ITEMS, look, nets[id(twenty)]))
    print(f"drawing {at_ten * 1000:.0f} ms, of 20,000 {at_twenty * 1000:.0f} ms")  # noqa: T201
    assert at_ten < 2
    assert at_twenty < 2.3 * at_ten


def test_five_thousand_rings_are_counted_checked_and_drawn_well_under_a_second() -> None:
    five = sheet(5_000)

    def all_of_it() -> None:
        draw_piece(five, ITEMS, Look(answer=True), work_out(five, ITEMS).net)

    taken = best(all_of_it)
    print(f"5,000 rings {taken * 1000:.0f} ms")  # noqa: T201
    assert taken < 0.6


def test_a_long_fringe_does_not_hold_up_a_drawing() -> None:
    fringe = (
        Attachment("fringe", "hang", Selection("last row"), ring="b", each=2),
        Attachment("side", "hang", Selection("row ends"), ring="b"),
    )
    layout = Layout(EUROPEAN_4, sheet(5_000).rows, fringe)
    taken = best(lambda: draw_piece(layout, ITEMS, Look(answer=True)), 2)
    print(f"5,000 rings with 250 hung ones {taken * 1000:.0f} ms")  # noqa: T201
    assert taken < 1.5


def test_the_largest_set_and_the_order_of_work_grow_in_line() -> None:
    nets = [net_of(sheet(rings)) for rings in (10_000, 20_000)]
    at_ten, at_twenty = (best(lambda net=net: largest_closed(net, ITEMS), 3) for net in nets)  # type: ignore[misc]
    print(f"largest set {at_ten * 1000:.0f} ms, of 20,000 {at_twenty * 1000:.0f} ms")  # noqa: T201
    assert at_ten < 1
    assert at_twenty < 3 * at_ten
    layout = sheet(10_000)
    work = best(lambda: order_of_work(nets[0], layout, ITEMS, Route(50, method="adding closed rings")), 2)
    print(f"order of work {work * 1000:.0f} ms")  # noqa: T201
    assert work < 2


def test_a_long_chain_is_worked_through_quickly() -> None:
    chain = Chain(ONE, (Stretch(20_000, ("a",)),))
    net = chain_net(chain)
    taken = best(lambda: chain_work(net, chain, ITEMS), 2)
    print(f"chain of 20,000 rings {taken * 1000:.0f} ms")  # noqa: T201
    assert taken < 2
