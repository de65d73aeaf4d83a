"""Correcting a receipt equals having booked it right, whatever was done before and after; nothing is made or lost.

Two kinds of rings get the same acts: of one the receipt was mistyped and is corrected on the way, of the other it was
right from the start. What is on hand of both is then worth the same, but for roundings of single movements.
"""

from __future__ import annotations

from dataclasses import dataclass, field

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select
from sqlmodel import Session, col

from models.database import Store
from models.errors import Conflict
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.count import count_bag
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.operations.stock.valuation import choose_valuation
from models.operations.undo import undo_act
from models.queries.builds.costs import line_costs
from models.queries.stock.conservation import conservation
from models.tables import Build, Movement
from models.trade.lots import share
from models.trade.money import from_micros
from tests.budget import budget
from tests.ledgers import DAY, DRAWER, a_lot, a_started_build, in_bag, on_hand, undone
from tests.operations.stock.test_cost_correction import correct, look
from tests.operations.stock.test_cost_undo import give
from tests.shops import a_design, a_part, a_ring

ACTS = ("receive", "give", "give", "take", "take", "put back", "count", "undo", "correct", "average", "fifo")


@dataclass
class Shelf:
    """One kind of rings: its lots, what was given away, and what builds took, each in the order in which it was done."""

    session: Session
    item: int
    design: int
    lots: list[int] = field(default_factory=list)
    gifts: list[int] = field(default_factory=list)
    taken: list[tuple[int, int, int]] = field(default_factory=list)

    def give(self, number: int, rings: int) -> None:
        self.gifts.append(give(self.session, self.lots[number], rings))

    def take(self, number: int, rings: int) -> None:
        build_id = a_started_build(self.session, self.design)
        self.session.get_one(Build, build_id).state = "making"
        deed = TransactionHeader("take_out", DAY, "Taken.", build_id=build_id)
        post(self.session, deed, [Posting(self.lots[number], DRAWER, "issue", -rings * 1000)])
        self.taken.append((build_id, self.lots[number], rings))

    def put_back(self, place: int, rings: int) -> None:
        """A part of what a build took comes back at its share of the value that it left with."""
        build_id, lot, out = self.taken[place]
        value = share(line_costs(self.session, build_id)[(lot, DRAWER)], rings, out)
        deed = TransactionHeader("finish", DAY, "Back.", build_id=build_id)
        post(self.session, deed, [Posting(lot, DRAWER, "return", rings * 1000, value)])
        self.taken[place] = (build_id, lot, out - rings)

    def count(self, number: int, rings: int) -> None:
        count_bag(self.session, CountDraft(HowMuch(milli=rings * 1000), lot_id=self.lots[number], place=DRAWER))


def out_of_stock(session: Session, item_id: int) -> int:
    """What left of an item less what came back, with what counts found, in millionths."""
    kinds = ("issue", "scrap", "return", "count", "reversal")
    rows = session.execute(
        select(col(Movement.value_micros)).where(col(Movement.item_id) == item_id, col(Movement.kind).in_(kinds))
    )
    return -sum(micros for (micros,) in rows)


@pytest.mark.parametrize("average", [False, True])
@given(
    booked=st.integers(0, 90_000_000),
    real=st.integers(0, 90_000_000),
    acts=st.lists(st.tuples(st.sampled_from(ACTS[:-2]), st.integers(0, 10**6), st.integers(0, 10**6)), max_size=14),
)
@settings(max_examples=budget(25, 4), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_correcting_equals_having_booked_it_right(
    store: Store, average: bool, booked: int, real: int, acts: list[tuple[str, int, int]]
) -> None:
    with undone(store) as session:
        if average:
            choose_valuation(session, "average")
        shelves = []
        for name, cost in (("Mistyped", booked), ("Right", real)):
            item = a_ring(session, name=name)
            shelf = Shelf(session, item, a_design(session, [a_part(item, 1)], name=name))
            shelf.lots = [a_lot(session, item, 50, "5.00"), a_lot(session, item, 40, str(from_micros(cost)))]
            shelves.append(shelf)
        wrong, right = shelves
        for what, one, other in (*acts, ("correct", 0, 0)):
            for shelf in shelves:
                _do(shelf, what, one, other)
            if what == "correct":
                _correct(session, wrong.lots[1], str(from_micros(real)))
        session.flush()
        assert check_ledger(session) == ()
        assert conservation(session).holds
        there, fair = on_hand(session, wrong.item), on_hand(session, right.item)
        assert there[0] == fair[0]
        # Each act rounds to a millionth in both, and shares of what was rounded are carried on.
        slack = 4 + 4 * len(acts)
        assert abs(there[1] - fair[1]) <= slack
        # What is named as left at the old cost is just what the other kind's leavings cost otherwise.
        carried = conservation(session, item_id=wrong.item).carried
        off = out_of_stock(session, right.item) - out_of_stock(session, wrong.item)
        assert abs(carried - off) <= slack


@given(
    acts=st.lists(st.tuples(st.sampled_from(ACTS), st.integers(0, 10**6), st.integers(0, 10**6)), max_size=14),
    average=st.booleans(),
    costs=st.lists(st.integers(0, 90_000_000), min_size=2, max_size=4),
)
@settings(max_examples=budget(40, 5), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_any_sequence_of_corrections_keeps_value_and_undoes_exactly(
    store: Store, acts: list[tuple[str, int, int]], average: bool, costs: list[int]
) -> None:
    """Corrections to and fro, with the way of valuing changed on the way; doing, undoing and doing again equals doing."""
    with undone(store) as session:
        if average:
            choose_valuation(session, "average")
        item = a_ring(session)
        shelf = Shelf(session, item, a_design(session, [a_part(item, 1)]))
        shelf.lots = [a_lot(session, item, 50, "5.00"), a_lot(session, item, 40, str(from_micros(costs[0])))]
        for what, one, other in (*acts, ("correct", 1, 1)):
            if what in ("average", "fifo"):
                choose_valuation(session, what)  # type: ignore[arg-type]
            elif what != "correct":
                _do(shelf, what, one, other)
            else:
                _do_undo_do(shelf, one, str(from_micros(costs[other % len(costs)])))
        session.flush()
        assert check_ledger(session) == ()
        assert conservation(session).holds


def _correct(session: Session, lot_id: int, total: str) -> None:
    """Correct what a receipt cost, as it was looked at, where it does not cost that already."""
    seen = look(session, lot_id, total)
    if not seen.changes_nothing:
        assert correct(session, lot_id, total).look == seen


def _do(shelf: Shelf, what: str, one: int, other: int) -> None:
    """Do one thing with one kind of rings, as far as there is anything to do it with."""
    number = one % len(shelf.lots)
    there = in_bag(shelf.session, shelf.lots[number])
    if what == "receive":
        shelf.lots.append(a_lot(shelf.session, shelf.item, 1 + one % 60, str(from_micros(other * 7))))
    elif what == "give" and there:
        shelf.give(number, 1 + other % there)
    elif what == "take" and there:
        shelf.take(number, 1 + other % there)
    elif what == "put back" and any(out for _, _, out in shelf.taken):
        place = next(place for place, (_, _, out) in enumerate(shelf.taken) if out)
        shelf.put_back(place, 1 + other % shelf.taken[place][2])
    elif what == "count" and there:
        shelf.count(number, max(1, there - 5 + other % 11))
    elif what == "undo" and shelf.gifts:
        undo_act(shelf.session, shelf.gifts.pop(one % len(shelf.gifts)))


def _do_undo_do(shelf: Shelf, one: int, total: str) -> None:
    lot = shelf.lots[one % len(shelf.lots)]
    before = on_hand(shelf.session, shelf.item)
    if look(shelf.session, lot, total).changes_nothing:
        with pytest.raises(Conflict, match="costs already"):
            correct(shelf.session, lot, total)
        return
    first = correct(shelf.session, lot, total)
    after = on_hand(shelf.session, shelf.item)
    assert after[1] - before[1] == first.look.here_micros
    undo_act(shelf.session, first.act_id)
    assert on_hand(shelf.session, shelf.item) == before
    second = correct(shelf.session, lot, total)
    assert on_hand(shelf.session, shelf.item) == after
    assert second.look == first.look
