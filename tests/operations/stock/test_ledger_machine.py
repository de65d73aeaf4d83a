"""The ledger under random sequences of everything that a person can do: what must hold holds after every step.

The bench and its model stand in `tests/ledger_bench.py`; here are the acts that do not say which bag is meant.
"""

from __future__ import annotations

import pytest
from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import precondition, rule, run_state_machine_as_test

from models.database import Store
from models.errors import Conflict, Missing, Unfit
from models.intake.builds.build import LineDraft
from models.intake.how_much import HowMuch
from models.intake.stock.cost_correction import CostCorrectionDraft, RealCost
from models.intake.stock.count import CountDraft
from models.intake.stock.stock_out import StockOutDraft
from models.intake.stock.transfer import TransferDraft
from models.operations.builds.bags import bags_said
from models.operations.stock.cost_correction import correct_cost, look_at_cost
from models.operations.stock.count import count_bag
from models.operations.stock.stock_out import remove_stock
from models.operations.stock.transfer import move_bag
from models.queries.stock.conservation import conservation
from models.trade.money import from_micros
from tests.budget import budget
from tests.ledger_bench import PLACES, Bag, Bench


class UnnamedBags(Bench):
    """The bench where people also correct a cost, and count, lose, move and build without saying from which bag."""

    @precondition(lambda self: bool(self.receipts))
    @rule(data=st.data(), micros=st.integers(0, 5_000_000))
    def correct_a_receipt(self, data: st.DataObject, micros: int) -> None:
        """What is left is worth as much more as was shown before, and the rest of the difference is named."""
        self.stir(data)
        act_id = data.draw(st.sampled_from(self.receipts), "receipt")
        if act_id not in self.acts:
            return
        draft = CostCorrectionDraft((RealCost(None, total_cost=from_micros(micros)),))
        look = look_at_cost(self.session, act_id, draft)
        if look.changes_nothing:
            self.refused(lambda: correct_cost(self.session, act_id, draft), Conflict)
            return
        worth = conservation(self.session).on_hand
        done = correct_cost(self.session, act_id, draft)
        assert conservation(self.session).on_hand - worth == look.here_micros
        assert look.more_micros == look.here_micros + look.carried_micros
        self.done(done.act_id)

    @precondition(lambda self: bool(self.lots))
    @rule(data=st.data(), found=st.integers(0, 90), of_item=st.booleans())
    def count_unnamed(self, data: st.DataObject, found: int, of_item: bool) -> None:
        """Whole lots and items are counted where they lie; what could be several bags is asked about."""
        self.stir(data)
        lot_id = data.draw(st.sampled_from(sorted(self.lots)), "lot")
        item_id = self.lots[lot_id]
        much = HowMuch(milli=found * 1000)
        draft = CountDraft(much, item_id=item_id) if of_item else CountDraft(much, lot_id=lot_id)
        if of_item:
            known = [each for each, item in self.lots.items() if item == item_id]
            known = [each for each in known if self.lies(each)] or known
            if len(known) > 1:
                self.refused(lambda: count_bag(self.session, draft), Unfit)
                return
            (lot_id,) = known
        places = self.lies(lot_id) or [self.lay[lot_id]]
        if len(places) > 1:
            self.refused(lambda: count_bag(self.session, draft), Unfit)
            return
        bag = (lot_id, places[0])
        if found < self.reserved.get(bag, 0):
            self.refused(lambda: count_bag(self.session, draft), Conflict)
            return
        counted = count_bag(self.session, draft)
        assert (counted.lot_id, counted.place, counted.expected_milli) == (*bag, self.bags[bag] * 1000)
        self.put(bag, found - self.bags[bag])
        self.done(counted.act_id)

    def from_the_fullest(self, lot_id: int, rings: int) -> list[tuple[str, int]] | None:
        """What is taken of a lot without a word; None where too little is free."""
        free = sorted((-self.free(bag), bag[1]) for bag in self.bags if bag[0] == lot_id and self.free(bag))
        found = []
        for less, place in free:
            if rings:
                found.append((place, min(rings, -less)))
                rings -= found[-1][1]
        return None if rings else found

    @precondition(lambda self: bool(self.lots))
    @rule(data=st.data(), rings=st.integers(1, 60))
    def lose_unnamed(self, data: st.DataObject, rings: int) -> None:
        self.stir(data)
        lot_id = data.draw(st.sampled_from(sorted(self.lots)), "lot")
        draft = StockOutDraft(HowMuch(milli=rings * 1000), "lost", lot_id=lot_id)
        expected = self.from_the_fullest(lot_id, rings)
        if expected is None:
            self.refused(lambda: remove_stock(self.session, draft))
            return
        left = remove_stock(self.session, draft)
        assert [(one.place, one.quantity_milli // 1000) for one in left.takings] == expected
        for place, gone in expected:
            self.put((lot_id, place), -gone)
        self.done(left.act_id)

    @precondition(lambda self: bool(self.lots))
    @rule(data=st.data(), to=st.sampled_from(PLACES))
    def move_unnamed(self, data: st.DataObject, to: str) -> None:
        self.stir(data)
        lot_id = data.draw(st.sampled_from(sorted(self.lots)), "lot")
        places = self.lies(lot_id)
        place = "" if "" in places else places[0] if places else ""
        draft = TransferDraft(lot_id, None, to)
        for wrong, error in (
            (not places, Missing),
            (len(places) > 1 and place != "", Unfit),
            (place == to, Unfit),
            (bool(places) and self.reserved.get((lot_id, place), 0) > 0, Conflict),
        ):
            if wrong:
                self.refused(lambda: move_bag(self.session, draft), error)
                return
        moved = move_bag(self.session, draft)
        rings = self.bags[(lot_id, place)]
        assert (moved.from_place, moved.quantity_milli) == (place, rings * 1000)
        self.put((lot_id, place), -rings)
        self.put((lot_id, to), rings)
        self.done(moved.act_id)

    @precondition(lambda self: bool(self.lots))
    @rule(data=st.data(), rings=st.integers(1, 30))
    def ask_for_a_build(self, data: st.DataObject, rings: int) -> None:
        """Two lines that name the same lot find its bags as one of both would; none that is empty, none twice."""
        self.stir(data)
        lot_id = data.draw(st.sampled_from(sorted(self.lots)), "lot")
        expected = self.from_the_fullest(lot_id, 2 * rings)
        lines = (LineDraft(lot_id, used_milli=rings * 1000), LineDraft(lot_id, used_milli=rings * 1000))
        if expected is None:
            self.refused(lambda: bags_said(self.session, lines))
            return
        found: dict[Bag, int] = {}
        for said in bags_said(self.session, lines):
            found[said.bag] = found.get(said.bag, 0) + (said.used_milli or 0) // 1000
        assert sum(found.values()) == 2 * rings
        assert all(taken <= self.free(bag) for bag, taken in found.items())


@pytest.mark.property
def test_everything_holds_whatever_people_do(store: Store) -> None:
    UnnamedBags.store = store
    run_state_machine_as_test(
        UnnamedBags, settings=settings(max_examples=budget(10, 3), stateful_step_count=budget(40, 15), deadline=None)
    )
