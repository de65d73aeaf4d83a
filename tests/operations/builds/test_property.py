"""Whatever is built, spoiled, put back, given up, unpicked and taken back: the ledger holds, and no bag is below zero."""

from __future__ import annotations

from typing import ClassVar

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
    run_state_machine_as_test,
)
from sqlmodel import Session, col, select

from models.database import Store
from models.errors import Conflict, Unfit
from models.intake.builds.build import (
    AbandonDraft,
    BuildRequest,
    FinishDraft,
    LineDraft,
    MadeDraft,
    StartDraft,
    TakeOutDraft,
    UnpickDraft,
    WorkDone,
)
from models.operations.builds.check import check_builds
from models.operations.builds.finish import abandon_build, finish_build
from models.operations.builds.made import book_made
from models.operations.builds.start import start_build, take_out
from models.operations.builds.undo import undo_build
from models.operations.builds.unpick import unpick_pieces
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.valuation import choose_valuation
from models.queries.stock.conservation import conservation
from models.tables import Build, BuildLine, ItemBalance, Lot, LotPlace, Reservation
from tests.budget import budget
from tests.builds import a_bench, bags
from tests.ledgers import DAY, a_lot


class Studio(RuleBasedStateMachine):
    """A bench with one design, and everything that can happen to its builds."""

    store: ClassVar[Store]

    def __init__(self) -> None:
        super().__init__()
        self.session = Session(self.store.engine, autoflush=True)

    @initialize(average=st.booleans())
    def open(self, average: bool) -> None:
        self.bench = a_bench(self.session)
        a_lot(self.session, self.bench.bronze, 260, "9.99", place="sack")
        a_lot(self.session, self.bench.silver, 60, "33.33", place="sack")
        if average:
            choose_valuation(self.session, "average")

    def teardown(self) -> None:
        try:
            assert check_ledger(self.session) == ()
        finally:
            self.session.rollback()
            self.session.close()

    # --- helpers ---

    def try_it(self, act: object) -> None:
        """Do it, or be refused and leave no trace; nothing but a refusal is allowed."""
        before = bags(self.session)
        try:
            with self.session.begin_nested():
                act()  # type: ignore[operator]
        except (Conflict, Unfit):
            self.session.expire_all()
            assert bags(self.session) == before

    def some_build(self, data: st.DataObject, *states: str) -> int:
        ids = self.builds(*states)
        return data.draw(st.sampled_from(ids), "build")

    def builds(self, *states: str) -> list[int]:
        found = select(Build.id).where(col(Build.state).in_(states)).order_by(col(Build.id))
        return [number for number in self.session.exec(found) if number is not None]

    def some_lines(self, data: st.DataObject, build_id: int) -> tuple[LineDraft, ...]:
        rows = self.session.exec(select(BuildLine).where(BuildLine.build_id == build_id)).all()
        return tuple(
            LineDraft(
                row.lot_id,
                row.place,
                spoiled_milli=data.draw(st.sampled_from([None, 0, 1000, 3000, 9000])),
                returned_milli=data.draw(st.sampled_from([None, None, 0, 2000, 30_000])),
            )
            for row in rows
            if data.draw(st.booleans())
        )

    # --- what people do ---

    @rule(rings=st.integers(1, 40), micros=st.integers(0, 3_000_000), silver=st.booleans())
    def receive(self, rings: int, micros: int, silver: bool) -> None:
        item = self.bench.silver if silver else self.bench.bronze
        a_lot(self.session, item, rings, f"{micros / 1_000_000:.6f}", place="new")

    @precondition(lambda self: len(self.builds("started", "making")) < 3)
    @rule(pieces=st.integers(1, 3), spare=st.booleans(), out=st.booleans())
    def start(self, pieces: int, spare: bool, out: bool) -> None:
        def act() -> None:
            draft = StartDraft(BuildRequest(self.bench.design, pieces), spare=spare, started_on=DAY)
            build_id = start_build(self.session, draft).build_id
            if out:
                take_out(self.session, build_id, TakeOutDraft(taken_on=DAY))

        self.try_it(act)

    @precondition(lambda self: self.builds("started"))
    @rule(data=st.data(), used=st.none() | st.integers(0, 40))
    def take(self, data: st.DataObject, used: int | None) -> None:
        build_id = self.some_build(data, "started")
        row = self.session.exec(select(BuildLine).where(BuildLine.build_id == build_id)).first()
        lines = () if used is None or row is None else (LineDraft(row.lot_id, row.place, used_milli=used * 1000),)
        self.try_it(lambda: take_out(self.session, build_id, TakeOutDraft(lines, DAY)))

    @precondition(lambda self: self.builds("making", "started"))
    @rule(
        data=st.data(),
        spoiled=st.integers(0, 2),
        minutes=st.none() | st.integers(1, 900),
        give_up=st.sampled_from([False, False, False, True]),
    )
    def end(self, data: st.DataObject, spoiled: int, minutes: int | None, give_up: bool) -> None:
        build_id = self.some_build(data, "making", "started")
        lines = self.some_lines(data, build_id)
        if give_up:
            self.try_it(lambda: abandon_build(self.session, build_id, AbandonDraft(lines, DAY)))
            return
        work = WorkDone(None if minutes is None else minutes * 1000, timing="use")
        draft = FinishDraft(spoiled=spoiled, lines=lines, work=work, finished_on=DAY)
        self.try_it(lambda: finish_build(self.session, build_id, draft))

    @rule(pieces=st.integers(1, 3), spoiled=st.integers(0, 1), rings=st.none() | st.integers(0, 70))
    def make(self, pieces: int, spoiled: int, rings: int | None) -> None:
        lines = (
            () if rings is None else (LineDraft(self.bench.new, "tin", used_milli=rings * 1000, spoiled_milli=1000),)
        )
        draft = MadeDraft(BuildRequest(self.bench.design, pieces), lines, spoiled, made_on=DAY)
        self.try_it(lambda: book_made(self.session, draft))

    @precondition(lambda self: self.builds("finished"))
    @rule(data=st.data(), pieces=st.integers(1, 2))
    def unpick(self, data: st.DataObject, pieces: int) -> None:
        build_id = self.some_build(data, "finished")
        draft = UnpickDraft(pieces, self.some_lines(data, build_id), DAY)
        self.try_it(lambda: unpick_pieces(self.session, build_id, draft))

    @precondition(lambda self: self.builds("started", "making", "finished", "abandoned"))
    @rule(data=st.data())
    def take_back(self, data: st.DataObject) -> None:
        build_id = self.some_build(data, "started", "making", "finished", "abandoned")
        self.try_it(lambda: undo_build(self.session, build_id))

    @rule(method=st.sampled_from(["fifo", "average"]))
    def value_otherwise(self, method: str) -> None:
        choose_valuation(self.session, method)  # type: ignore[arg-type]

    # --- what holds after every step ---

    @invariant()
    def value_is_conserved(self) -> None:
        assert conservation(self.session).holds

    @invariant()
    def nothing_is_below_zero(self) -> None:
        for balance in self.session.exec(select(ItemBalance)):
            assert balance.on_hand_milli >= balance.reserved_milli >= 0
            assert balance.value_micros >= 0

    @invariant()
    def counters_are_the_sums_of_what_started_builds_keep(self) -> None:
        rows = self.session.exec(select(Reservation)).all()
        assert {row.holder_id for row in rows} <= set(self.builds("started"))
        for bag in self.session.exec(select(LotPlace)):
            sums = (row.quantity_milli for row in rows if (row.lot_id, row.place) == (bag.lot_id, bag.place))
            assert bag.reserved_milli == sum(sums)
        for balance in self.session.exec(select(ItemBalance)):
            lots = set(self.session.exec(select(Lot.id).where(Lot.item_id == balance.item_id)))
            assert balance.reserved_milli == sum(row.quantity_milli for row in rows if row.lot_id in lots)

    @invariant()
    def builds_say_what_they_took_and_what_their_pieces_are_worth(self) -> None:
        assert check_builds(self.session) == ()


@pytest.mark.property
def test_everything_holds_whatever_is_built(store: Store) -> None:
    Studio.store = store
    run_state_machine_as_test(
        Studio, settings=settings(max_examples=budget(10, 3), stateful_step_count=budget(25, 15), deadline=None)
    )
