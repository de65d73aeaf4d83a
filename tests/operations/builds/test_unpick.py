"""Unpicked pieces give their rings back, and rings that were taken first become a design."""

from __future__ import annotations

import pytest
from sqlmodel import select

from models.database import Store
from models.errors import Conflict, NotEnoughStock, Unfit
from models.intake.builds.build import (
    AbandonDraft,
    FinishDraft,
    LineDraft,
    NewDesignDraft,
    RingsFirstDraft,
    UnpickDraft,
)
from models.operations.builds.finish import abandon_build, finish_build
from models.operations.builds.rings_first import design_of_rings, take_rings
from models.operations.builds.undo import undo_build
from models.operations.builds.unpick import unpick_pieces
from models.queries.builds.unpick import pieces_left, unpick_lines
from models.queries.designs.design import draft_of
from models.tables import Build, Item, Movement
from tests.builds import a_bench, bags, is_sound, made, pieces_of, said, whole_state
from tests.ledgers import DAY, DRAWER, by_average, holds, in_bag, on_hand, undone


def test_an_unpicked_piece_gives_its_rings_back_at_the_value_they_left_with(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = made(session, bench, 2)
        assert [(line.lot_id, line.in_pieces_milli) for line in unpick_lines(session, build_id, 1)] == [
            (bench.old, 15_000),
            (bench.new, 5_000),
            (bench.silver_lot, 4_000),
        ]
        unpick_pieces(session, build_id, UnpickDraft(unpicked_on=DAY))
        assert holds(session, bench.old) == (15, 750_000)
        assert holds(session, bench.new) == (65, 4_550_000)
        assert holds(session, bench.silver_lot) == (36, 18_000_000)
        assert pieces_of(session, bench)[0] == 1
        assert is_sound(session)
        unpick_pieces(session, build_id, UnpickDraft(unpicked_on=DAY))
        assert holds(session, bench.old) == (30, 1_500_000)
        assert on_hand(session, bench.bronze) == (100, 6_400_000)
        assert pieces_of(session, bench) == (0, 0)
        assert is_sound(session)
        with pytest.raises(NotEnoughStock):
            unpick_pieces(session, build_id, UnpickDraft(unpicked_on=DAY))


def test_rings_that_break_at_unpicking_are_scrap(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = made(session, bench, 1)
        draft = UnpickDraft(lines=(said(bench.old, returned=12), said(bench.silver_lot, spoiled=1)), unpicked_on=DAY)
        unpick_pieces(session, build_id, draft)
        assert in_bag(session, bench.old) == 22
        assert in_bag(session, bench.silver_lot) == 39
        scrap = session.exec(select(Item.id).where(Item.kind == "scrap")).one()
        assert session.exec(select(Movement.quantity_milli).where(Movement.item_id == scrap)).one() == 118
        assert is_sound(session)


def test_no_more_comes_back_than_went_in(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = made(session, bench, 1)
        with pytest.raises(Unfit, match="more than went into"):
            unpick_pieces(session, build_id, UnpickDraft(lines=(said(bench.old, returned=21),)))
        with pytest.raises(Unfit, match="not part of the build"):
            unpick_pieces(session, build_id, UnpickDraft(lines=(said(bench.new, "tin", returned=1),)))


def test_unpicking_makes_no_value_when_pieces_are_worth_their_average(store: Store) -> None:
    with undone(store) as session:
        by_average(session)
        bench = a_bench(session)
        dear = made(session, bench, 1, minutes=60)
        # The same pieces for nothing: half the worth of the first by average.
        made(session, bench, 3, minutes=None, lines=(said(bench.old, used=0), said(bench.silver_lot, used=0)))
        lot = pieces_left(session, dear)
        assert lot is not None
        assert lot.value_micros < lot.received_micros
        unpick_pieces(session, dear, UnpickDraft(unpicked_on=DAY))
        assert is_sound(session)


@pytest.mark.parametrize("average", [False, True])
def test_unpicking_can_be_taken_back(store: Store, average: bool) -> None:
    with undone(store) as session:
        if average:
            by_average(session)
        bench = a_bench(session)
        build_id = made(session, bench, 2)
        before = whole_state(session)
        unpick_pieces(session, build_id, UnpickDraft(lines=(said(bench.silver_lot, spoiled=2),), unpicked_on=DAY))
        undo_build(session, build_id)
        assert whole_state(session) == before
        assert is_sound(session)


# --- rings first ---


def _taken(store_session: object, bench: object) -> int:
    lines = (said(bench.new, "tin", used=50), LineDraft(item_id=bench.silver, used_milli=6_000))
    return take_rings(store_session, RingsFirstDraft(lines, DAY)).build_id


def test_rings_are_taken_out_and_a_design_is_made_of_them(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = _taken(session, bench)
        assert bags(session)[(bench.new, "tin")] == (20, 0)
        with pytest.raises(Conflict, match="no design yet"):
            finish_build(session, build_id, FinishDraft())
        lines = (LineDraft(item_id=bench.bronze, used_milli=46_000),)
        design_id = design_of_rings(session, build_id, NewDesignDraft("Found by hand", lines=lines))
        parts = {part.item_id: part.quantity_milli for part in draft_of(session, design_id).parts}
        assert parts == {bench.bronze: 46_000, bench.silver: 6_000}
        finish_build(session, build_id, FinishDraft(finished_on=DAY))
        # Four of the fifty were not in the piece, so they went back.
        assert in_bag(session, bench.new, "tin") == 24
        assert in_bag(session, bench.silver_lot) == 34
        assert session.get_one(Build, build_id).good == 1
        assert is_sound(session)


def test_rings_that_were_taken_first_can_all_go_back(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        before = bags(session)
        undo_build(session, _taken(session, bench))
        assert bags(session) == before
        abandon_build(session, _taken(session, bench), AbandonDraft(abandoned_on=DAY))
        assert bags(session) == before
        assert on_hand(session, bench.bronze) == (100, 6_400_000)
        assert is_sound(session)


def test_a_design_holds_no_more_than_was_taken(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        build_id = _taken(session, bench)
        lines = (LineDraft(item_id=bench.bronze, used_milli=51_000),)
        with pytest.raises(Unfit, match="50 rings were taken out"):
            design_of_rings(session, build_id, NewDesignDraft("Too many", lines=lines))
        none = tuple(LineDraft(item_id=item, used_milli=0) for item in (bench.bronze, bench.silver))
        with pytest.raises(Unfit, match="at least one part"):
            design_of_rings(session, build_id, NewDesignDraft("Nothing", lines=none))
        with pytest.raises(Unfit, match="already a design called"):
            design_of_rings(session, build_id, NewDesignDraft("Copper leaf pendant"))


def test_taking_nothing_or_too_much_is_refused(store: Store) -> None:
    with undone(store) as session:
        bench = a_bench(session)
        with pytest.raises(Unfit, match="comes to nothing"):
            take_rings(session, RingsFirstDraft((said(bench.old, used=0),)))
        with pytest.raises(NotEnoughStock):
            take_rings(session, RingsFirstDraft((said(bench.old, DRAWER, used=31),)))
