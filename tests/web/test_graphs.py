"""Where the strokes of a stock graph go."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from webapp.web.graphs import stock_graph

START = datetime(2026, 3, 1, tzinfo=UTC)
END = START + timedelta(days=10)


def test_a_step_holds_until_the_next_and_to_the_end() -> None:
    points = [(START, 0), (START + timedelta(days=5), 400_000), (START + timedelta(days=8), 300_000)]
    graph = stock_graph(points, START, END, reorder_milli=100_000, target_milli=400_000)
    assert graph.path == "M0.0 1000.0H500.0V0.0H800.0V250.0H1000"
    assert graph.area == f"{graph.path}V1000H0.0Z"
    assert (graph.reorder, graph.target) == (75.0, 0.0)
    assert [mark.value for mark in graph.amounts] == [0, 200_000, 400_000]
    assert [mark.at for mark in graph.times] == [0, 50, 100]
    assert [mark.value for mark in graph.times] == [START, START + timedelta(days=5), END]


@pytest.mark.parametrize(
    ("most", "top"), [(412_000, 500_000), (61_000, 80_000), (1_000, 1_000), (999_000, 1_000_000), (0, 1), (90, 100)]
)
def test_the_scale_ends_at_a_round_amount_above_the_most(most: int, top: int) -> None:
    assert stock_graph([(START, most)], START, END).amounts[2].value == top


def test_nothing_at_all_and_no_time_at_all_draw_nothing_that_breaks() -> None:
    empty = stock_graph([], START, END)
    assert (empty.path, empty.area) == ("", "")
    assert stock_graph([(START, 5_000)], START, START).path == "M0.0 0.0H1000"
    outside = stock_graph([(START - timedelta(days=1), 5_000), (END + timedelta(days=1), 2_000)], START, END)
    assert outside.path == "M0.0 0.0H1000.0V600.0H1000"
