"""Where the strokes of the drawings go, and that each drawing says the same in words."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from webapp.web.drawings import cost_bar, price_line, range_bar, ring
from webapp.web.render import environment


@dataclass(frozen=True)
class Line:
    label: str
    amount: Decimal
    quantity: Decimal | None = None
    unit: str = ""
    unit_amount: Decimal | None = None
    reason: str = ""
    source: str = ""
    lines: tuple[Line, ...] = ()


@given(st.integers(100_000, 10_000_000), st.integers(200_000, 50_000_000))
def test_a_ring_is_drawn_in_true_proportion(wire_nm: int, inner_nm: int) -> None:
    drawn = ring(wire_nm, inner_nm, 400)
    assert drawn.outer_radius == pytest.approx(199, abs=0.02)
    assert drawn.wire / (2 * drawn.inner_radius) == pytest.approx(wire_nm / inner_nm, rel=0.15, abs=0.002)
    assert drawn.middle_radius == pytest.approx((drawn.inner_radius + drawn.outer_radius) / 2, abs=0.02)


def test_rings_on_one_scale_can_be_compared_by_eye() -> None:
    small, large = ring(1_000_000, 3_000_000, 52, 10_000_000), ring(1_000_000, 8_000_000, 52, 10_000_000)
    assert large.outer_radius == pytest.approx(2 * small.outer_radius, abs=0.02)
    assert large.wire == small.wire


def test_a_ring_larger_than_the_scale_still_fits_its_square() -> None:
    assert ring(1_000_000, 98_000_000, 40, 10_000_000).outer_radius <= 20


def test_the_segments_of_a_bar_fill_it() -> None:
    segments = cost_bar(
        [Line("a", Decimal("6.12")), Line("b", Decimal("17.45")), Line("none", Decimal(0)), Line("c", Decimal("0.43"))]
    )
    assert sum(s.width for s in segments) == pytest.approx(100, abs=0.01)
    assert segments[3].at == pytest.approx(segments[1].at + segments[1].width, abs=0.01)
    assert [s.width for s in segments if s.line.label == "none"] == [0]


def test_a_bar_of_nothing_is_drawn_without_dividing_by_it() -> None:
    assert [s.width for s in cost_bar([Line("a", Decimal(0))])] == [0]
    assert cost_bar([]) == ()


def test_prices_stand_in_their_order_on_one_scale() -> None:
    scale = price_line(Decimal("31.16"), Decimal("36.72"), Decimal("38"), Decimal("34.90"))
    at = {tick.kind: tick.at for tick in scale.ticks}
    assert 0 < at["break_even"] < at["listed"] < at["target"] < at["suggested"] < 100
    assert scale.loss_to == at["break_even"]
    assert len({tick.row for tick in scale.ticks}) == 4


def test_words_near_an_edge_turn_inwards() -> None:
    scale = price_line(Decimal(10), None, Decimal(90), None)
    assert {tick.kind: tick.anchor for tick in scale.ticks} == {"break_even": "start", "suggested": "end"}


@pytest.mark.parametrize("price", [Decimal(0), Decimal("12.5"), Decimal(-3)])
def test_a_single_price_stands_in_the_middle(price: Decimal) -> None:
    assert price_line(suggested=price).ticks[0].at == 50


def test_no_price_draws_no_tick() -> None:
    assert price_line().ticks == ()


def test_a_range_is_ordered_and_bounded() -> None:
    placed = range_bar(Decimal(35), 46, 63)
    assert 0 < placed.low < placed.likely < placed.high < 100
    assert range_bar(0, 0, 0).high == 0


def macro(text: str, **context: object) -> str:
    return environment().from_string(text).render(**context)


def test_the_price_line_says_its_prices_in_words() -> None:
    page = macro("{{ draw.price_line(a, b, c, none, 'EUR') }}", a=Decimal(31), b=Decimal(36), c=Decimal(38))
    assert 'aria-label="breaks even €31.00, target €36.00, suggested €38.00"' in page
    assert "listed" not in page


def test_the_cost_bar_says_its_shares_and_unfolds_to_reasons() -> None:
    bronze = Line(
        "Bronze rings",
        Decimal("1.50"),
        Decimal(48),
        "rings",
        Decimal("0.03125"),
        "48 of a pack of 500",
        "offer of 3 May",
    )
    page = macro(
        "{{ draw.cost_bar(lines) }}",
        lines=[Line("Materials", Decimal("1.50"), lines=(bronze,)), Line("Work", Decimal("4.50"))],
    )
    assert 'aria-label="Materials 25 %, Work 75 %"' in page
    assert "48 rings × €0.03125" in page
    assert "Source: offer of 3 May" in page
    assert page.count("<details") == 2


def test_a_line_of_time_unfolds_in_time() -> None:
    page = macro(
        "{{ draw.unfold(lines, 'minutes') }}",
        lines=[Line("Closing", Decimal(75), Decimal(300), "rings", Decimal("0.25"))],
    )
    assert "1 h 15 min" in page
    assert "300 rings × 0.3 min" in page


def test_a_bag_reads_like_its_label() -> None:
    page = macro("{{ draw.bag(1000000, 3600000, 'bronze', '#b08d57') }}")
    words = " ".join(environment().from_string("{{ page|striptags }}").render(page=page).split())
    assert words == "1.0 mm wire · 3.6 mm inside · AR 3.60 · bronze"


def test_a_tint_cannot_break_out_of_its_attribute() -> None:
    page = macro("{{ draw.ring(1000000, 3600000, tint) }}", tint='red"/><script>')
    assert "<script>" not in page


def test_an_empty_page_teaches_and_has_one_button() -> None:
    page = macro("{{ draw.empty('Nothing yet', 'Add one.', '/stock/new', 'Add an item') }}")
    assert page.count('class="button"') == 1
    assert 'href="/stock/new"' in page


def test_marks_say_their_state_in_a_word() -> None:
    for kind in ("good", "warn", "bad", "idle"):
        assert macro("{{ icons.mark('short', kind) }}", kind=SimpleNamespace(k=kind).k).endswith("</svg>short</span>")
