"""Declaring stand-ins, and a build that uses one where its design names another ring."""

from __future__ import annotations

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.errors import Missing, Unfit
from models.intake.builds.build import BuildRequest, MadeDraft, StartDraft, read_start
from models.intake.stock.stand_in import StandInDraft, read_stand_in
from models.operations.builds.check import check_builds
from models.operations.builds.finish import finish_build
from models.operations.builds.made import book_made
from models.operations.builds.start import start_build, take_out
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.stand_in import declare_stand_in, drop_stand_in
from models.queries.builds.build import build_view
from models.queries.builds.plan import plan_build
from models.queries.stock.stand_ins import stand_ins_of
from models.tables import StandIn
from tests.builds import FinishDraft, TakeOutDraft, a_bench, bags
from tests.ledgers import DAY, a_lot
from tests.shops import a_finding, a_ring


def declared(session: Session) -> list[tuple[int, int, bool]]:
    return [(row.item_id, row.stand_in_id, row.both_ways) for row in session.exec(select(StandIn).order_by(StandIn.id))]


def test_a_stand_in_is_declared_shown_on_both_pages_and_taken_back(store: Store) -> None:
    with store.writing() as session:
        one, other = a_ring(session, name="One"), a_ring(session, name="Other")
        done = declare_stand_in(session, one, StandInDraft(other))
        assert done.words == "Other may stand in for One."
        assert [(row.other, row.way) for row in stand_ins_of(session, one).declared] == [("Other", "for this")]
        assert [(row.other, row.way) for row in stand_ins_of(session, other).declared] == [("One", "for that")]
        assert stand_ins_of(session, one).choices == ()
        both = declare_stand_in(session, other, StandInDraft(one, both_ways=True))
        assert declared(session) == [(other, one, True)]
        assert drop_stand_in(session, both.id).words == "One no longer stands in for Other."
        assert declared(session) == []
        with pytest.raises(Missing):
            drop_stand_in(session, both.id)


def test_a_circle_of_stand_ins_is_refused_and_nothing_is_stored(store: Store) -> None:
    with store.writing() as session:
        rings = [a_ring(session, name=name) for name in ("Ash", "Birch", "Cedar")]
        declare_stand_in(session, rings[0], StandInDraft(rings[1]))
        declare_stand_in(session, rings[1], StandInDraft(rings[2]))
    with store.writing() as session:
        with pytest.raises(Unfit, match="Ash, Birch and Cedar would stand in for one another in a circle"):
            declare_stand_in(session, rings[2], StandInDraft(rings[0]))
        with pytest.raises(Unfit, match="can't stand in for itself"):
            declare_stand_in(session, rings[0], StandInDraft(rings[0]))
        assert len(declared(session)) == 2
        # Exchangeable both ways is no circle: the two are one kind.
        declare_stand_in(session, rings[1], StandInDraft(rings[0], both_ways=True))


def test_only_rings_that_are_there_stand_in(store: Store) -> None:
    with store.writing() as session:
        ring, wire = a_ring(session), a_finding(session)
        with pytest.raises(Unfit, match="Only a ring"):
            declare_stand_in(session, ring, StandInDraft(wire))
        with pytest.raises(Unfit, match="no such ring"):
            declare_stand_in(session, ring, StandInDraft(999))
        with pytest.raises(Missing):
            declare_stand_in(session, 999, StandInDraft(ring))
        assert read_stand_in({}).by_field() == {"stand_in_id": "Choose the ring that may stand in."}


def test_a_build_uses_another_ring_and_its_design_stays(store: Store) -> None:
    with store.writing() as session:
        bench = a_bench(session)
        other = a_ring(session, name="Bronze ring 1.0 × 3.7 mm", inner_nm=3_700_000)
        lot = a_lot(session, other, 60, "3.00")
        ask = BuildRequest(bench.design, 2, instead=((bench.bronze, other),))
        plan = plan_build(session, ask)
        assert {one.item.id: one.need.need_milli for one in plan.items} == {other: 40_000, bench.silver: 8000}
        build = start_build(session, StartDraft(ask, started_on=DAY)).build_id
        assert bags(session)[lot, "drawer B4"] == (60, 40)
        view = build_view(session, build)
        assert view.parts is not None
        assert [(old.item_id, new.item_id) for old, new in view.parts.swaps] == [(bench.bronze, other)]
        take_out(session, build, TakeOutDraft(taken_on=DAY))
        finish_build(session, build, FinishDraft(finished_on=DAY))
        assert bags(session)[lot, "drawer B4"] == (20, 0)
        assert check_ledger(session) == ()
        assert check_builds(session) == ()
        assert {one.item.id for one in plan_build(session, BuildRequest(bench.design, 1)).items} == {
            bench.bronze,
            bench.silver,
        }
        made = book_made(
            session, MadeDraft(BuildRequest(bench.design, 1, instead=((bench.bronze, other),)), made_on=DAY)
        )
        assert made.words.startswith("Made 1 piece")
        assert bags(session).get((lot, "drawer B4"), (0, 0)) == (0, 0)


def test_a_ring_that_is_not_in_the_piece_or_no_ring_at_all_is_refused(store: Store) -> None:
    with store.writing() as session:
        bench = a_bench(session)
        other, wire = a_ring(session, name="Spare"), a_finding(session)
        for instead, words in (
            (((other, bench.bronze),), "not in this piece"),
            (((bench.bronze, wire),), "Only another ring"),
            (((bench.bronze, 999),), "Only another ring"),
        ):
            with pytest.raises(Unfit, match=words):
                plan_build(session, BuildRequest(bench.design, 1, instead=instead))
    faults = read_start({"design_id": "1", "instead": "12"})
    assert faults.by_field() == {"instead": "Name the item and what is used in its place, such as 12:15."}
