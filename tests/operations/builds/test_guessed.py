"""What a build really cost holds parts that are no stock items too, named as guessed, as the design's estimate does."""

from __future__ import annotations

from decimal import Decimal

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import Session

from models.database import Store
from models.intake.builds.build import UnpickDraft
from models.operations.builds.undo import undo_build
from models.operations.builds.unpick import unpick_pieces
from models.operations.figures import refresh_figures
from models.queries.builds.build import build_view
from models.queries.builds.list import builds_of_design
from models.queries.stock.conservation import conservation
from models.tables import Build, Part, Shop
from models.trade.money import from_micros
from tests.budget import budget
from tests.builds import Bench, finished, is_sound, made, making, pieces_of
from tests.ledgers import a_lot, undone
from tests.shops import a_design, a_part, a_ring


def clasp(guess: int | None, quantity: int = 1, **more: object) -> Part:
    """A part that is no stock item; `guess` in millionths."""
    return a_part(None, quantity, typed_kind="finding", typed_name="Clasp", guess_micros=guess, **more)


def a_clasped(session: Session, *parts: Part, rings: int = 10) -> Bench:
    """A design of ten rings that cost what their offer asks, 0.04 each, and these parts; no allowance."""
    session.get_one(Shop, 1).allowance_percent = Decimal(0)
    ring = a_ring(session)
    lot = a_lot(session, ring, 1000, "40.00")
    design = a_design(session, [a_part(ring, rings), *parts])
    refresh_figures(session)
    return Bench(ring, ring, lot, lot, lot, design)


def view_of(session: Session, build_id: int) -> tuple[Build, dict[str, Decimal]]:
    view = build_view(session, build_id)
    assert sum(line.amount for line in view.real_cost) == from_micros(view.row.total_micros or 0)
    materials = view.real_cost[0]
    assert sum(line.amount for line in materials.lines) == materials.amount
    return session.get_one(Build, build_id), {line.label: line.amount for line in materials.lines}


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=budget(25, 4))
@given(
    guesses=st.lists(st.tuples(st.none() | st.integers(0, 3_000_000), st.integers(1, 3)), min_size=1, max_size=3),
    pieces=st.integers(1, 4),
    by=st.sampled_from(["made", "finish"]),
    mode=st.sampled_from(["hour", "percent"]),
)
def test_a_build_that_went_as_expected_really_cost_what_was_expected(
    store: Store, guesses: list[tuple[int | None, int]], pieces: int, by: str, mode: str
) -> None:
    with undone(store) as session:
        shop = session.get_one(Shop, 1)
        shop.overhead_mode, shop.overhead_percent = mode, Decimal(10)
        bench = a_clasped(session, *(clasp(guess, many) for guess, many in guesses))
        if by == "made":
            build_id = made(session, bench, pieces, minutes=None)
        else:
            build_id = finished(session, making(session, bench, pieces), minutes=None)
        guessed = sum((guess or 0) * many * pieces for guess, many in guesses)
        build, _ = view_of(session, build_id)
        assert build.guessed_micros == guessed
        (row,) = builds_of_design(session, bench.design)
        assert row.over is not None
        assert abs(row.over) < Decimal("0.0001")
        assert pieces_of(session, bench) == (pieces, row.total_micros)
        assert is_sound(session)
        assert conservation(session).holds


def test_the_guessed_part_is_named_and_goes_with_the_finish(store: Store) -> None:
    with store.writing() as session:
        bench = a_clasped(session, clasp(750_000), a_part(None, 2, typed_kind="finding", typed_name="Odd charm"))
        build_id = made(session, bench, 2)
        build, lines = view_of(session, build_id)
        assert (build.materials_micros, build.guessed_micros) == (800_000, 1_500_000)
        assert lines == {
            "Bronze ring 1.0 × 3.6 mm": Decimal("0.8"),
            "Clasp": Decimal("1.5"),
            "Odd charm": Decimal(0),
        }
        undo_build(session, build_id)
        assert session.get_one(Build, build_id).guessed_micros is None
        assert is_sound(session)


def test_spoiled_pieces_took_their_guessed_parts_too_and_rings_come_back_without_them(store: Store) -> None:
    with store.writing() as session:
        bench = a_clasped(session, clasp(750_000))
        build_id = finished(session, making(session, bench, 3), good=2, spoiled=1)
        assert session.get_one(Build, build_id).guessed_micros == 2_250_000
        unpick_pieces(session, build_id, UnpickDraft(1))
        assert is_sound(session)
        assert conservation(session).holds
        lost = finished(session, making(session, bench, 1), good=0, spoiled=1)
        assert session.get_one(Build, lost).guessed_micros == 750_000
        assert is_sound(session)


def test_a_build_without_guessed_parts_has_none(store: Store) -> None:
    with store.writing() as session:
        bench = a_clasped(session)
        assert session.get_one(Build, made(session, bench)).guessed_micros == 0
