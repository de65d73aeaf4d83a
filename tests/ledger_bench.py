"""A bench as a state machine: everything that a person can do to the ledger, with a model of its bags kept by hand.

What must hold is asserted after every step. Before every act some bag may be moved, emptied or filled again, so that the second of two bags and the bag that was
emptied are met by all of them. No test lives here.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Any, ClassVar

import pytest
from hypothesis import strategies as st
from hypothesis.stateful import (
    RuleBasedStateMachine,
    initialize,
    invariant,
    precondition,
    rule,
)
from sqlalchemy import func, select
from sqlmodel import Session, col

from models.database import Store
from models.errors import Conflict, NotEnoughStock
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.intake.stock.stock_out import StockOutDraft
from models.intake.stock.transfer import TransferDraft
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.count import count_bag
from models.operations.stock.ledger import Posting, TransactionHeader, costs_of, open_lot, post, release, reserve
from models.operations.stock.lot_state import valuation
from models.operations.stock.stock_out import remove_stock
from models.operations.stock.transfer import move_bag
from models.operations.stock.valuation import choose_valuation
from models.operations.undo import undo_act, undoable
from models.queries.stock.bag_choice import only_place
from models.queries.stock.balance import balances
from models.queries.stock.conservation import conservation
from models.queries.stock.lot import lot_view
from models.tables import Build, BuildLine, ItemBalance, Lot, LotPlace, Movement
from models.trade.lots import next_share
from models.trade.money import from_micros
from tests.ledgers import DAY, a_lot, a_started_build, kept
from tests.shops import a_design, a_part, a_ring

PLACES = ("drawer B4", "tin", "")
Bag = tuple[int, str]


@dataclass
class Taken:
    """What a build took from a bag, and what each later act returned of it."""

    act_id: int
    build_id: int
    bag: Bag
    rings: int
    cost: int
    returned: dict[int, int] = field(default_factory=dict)

    @property
    def back(self) -> int:
        return sum(self.returned.values())

    @property
    def left(self) -> int:
        return self.rings - self.back


class Bench(RuleBasedStateMachine):
    """A bench with two kinds of rings, one of them of silver, and a model of its bags kept by hand."""

    store: ClassVar[Store]

    def __init__(self) -> None:
        super().__init__()
        self.session = Session(self.store.engine, autoflush=True)
        self.bags: dict[Bag, int] = {}
        self.lay: dict[int, str] = {}
        self.lots: dict[int, int] = {}
        self.reserved: dict[Bag, int] = {}
        self.acts: dict[int, int | None] = {}
        self.taken: list[Taken] = []
        self.builds: list[tuple[int, Bag, int]] = []
        self.receipts: list[int] = []

    @initialize(average=st.booleans())
    def open(self, average: bool) -> None:
        session = self.session
        self.rings = [a_ring(session), a_ring(session, name="Silver", metal="sterling-925", inner_nm=4_000_000)]
        self.design = a_design(session, [a_part(self.rings[0], 1)])
        if average:
            choose_valuation(session, "average")
        self.receive(0, 40, 1_000_000, "")
        self.receive(1, 30, 4_000_000, "tin")

    def teardown(self) -> None:
        self.session.rollback()
        self.session.close()

    # --- helpers ---

    def snapshot(self) -> tuple[object, ...]:
        """All that an exact reversal restores; bags and lots that hold nothing are as good as none."""
        session = self.session
        lots = session.execute(
            select(col(Lot.id), col(Lot.quantity_milli), col(Lot.value_micros)).where(col(Lot.quantity_milli) > 0)
        ).all()
        bags = session.execute(
            select(
                col(LotPlace.lot_id), col(LotPlace.place), col(LotPlace.quantity_milli), col(LotPlace.reserved_milli)
            )
            .where(col(LotPlace.quantity_milli) > 0)
            .order_by(col(LotPlace.lot_id), col(LotPlace.place))
        ).all()
        items = session.execute(
            select(col(ItemBalance.item_id), col(ItemBalance.on_hand_milli), col(ItemBalance.value_micros)).where(
                col(ItemBalance.on_hand_milli) > 0
            )
        ).all()
        return tuple(map(tuple, lots)), tuple(map(tuple, bags)), tuple(map(tuple, items))

    def put(self, bag: Bag, rings: int) -> None:
        """Change the model: what lies in a bag, and where its lot was touched last."""
        self.bags[bag] = self.bags.get(bag, 0) + rings
        if rings:
            self.lay[bag[0]] = bag[1]

    def lies(self, lot_id: int) -> list[str]:
        """Where anything of a lot lies."""
        return sorted(place for (lot, place), rings in self.bags.items() if lot == lot_id and rings)

    def stir(self, data: st.DataObject) -> bool:
        """Move, empty or fill some bag before what is done next; answer whether any bag holds anything after it."""
        how = data.draw(st.sampled_from(["no", "whole", "whole", "part", "empty", "refill"]), "stir")
        bags = sorted(
            bag for bag in self.bags if self.reserved.get(bag, 0) == 0 and (self.bags[bag] == 0) == (how == "refill")
        )
        if how != "no" and bags:
            lot_id, place = bag = data.draw(st.sampled_from(bags), "stirred")
            if how in {"empty", "refill"}:
                found = data.draw(st.integers(1, 30), "again") if how == "refill" else 0
                counted = count_bag(self.session, CountDraft(HowMuch(milli=found * 1000), lot_id=lot_id, place=place))
                self.put(bag, found - self.bags[bag])
                self.done(counted.act_id)
            else:
                to = data.draw(st.sampled_from([other for other in PLACES if other != place]), "to")
                rings = self.bags[bag] if how == "whole" else data.draw(st.integers(1, self.bags[bag]), "part")
                much = None if how == "whole" else HowMuch(milli=rings * 1000)
                moved = move_bag(self.session, TransferDraft(lot_id, place, to, much))
                self.put(bag, -rings)
                self.put((lot_id, to), rings)
                self.done(moved.act_id)
        return any(self.bags.values())

    def some_bag(self, data: st.DataObject) -> Bag:
        return data.draw(st.sampled_from(sorted(bag for bag, rings in self.bags.items() if rings)), "bag")

    def free(self, bag: Bag) -> int:
        return self.bags[bag] - self.reserved.get(bag, 0)

    def some_of(self, data: st.DataObject, bag: Bag) -> int:
        """Some rings of a bag: mostly of what is free, at times more than that."""
        free = self.free(bag)
        too_many = st.integers(free + 1, free + 20)
        return data.draw(st.integers(1, free) | st.integers(1, free) | too_many if free else too_many, "rings")

    def refused(self, act: Callable[[], object], error: type[Exception] = NotEnoughStock) -> None:
        before = self.snapshot()
        with pytest.raises(error), self.session.begin_nested():
            act()
        assert self.snapshot() == before

    def done(self, act_id: int, build_id: int | None = None) -> None:
        self.acts[act_id] = build_id

    # --- what a person does ---

    @rule(
        ring=st.integers(0, 1),
        rings=st.integers(1, 60),
        micros=st.integers(0, 5_000_000),
        place=st.sampled_from(PLACES),
    )
    def receive(self, ring: int, rings: int, micros: int, place: str) -> None:
        lot_id = a_lot(self.session, self.rings[ring], rings, str(from_micros(micros)), place=place)
        self.lots[lot_id] = self.rings[ring]
        self.put((lot_id, place), rings)
        self.receipts.append(int(self.session.scalar(select(func.max(col(Movement.act_id)))) or 0))
        self.done(self.receipts[-1])

    @precondition(lambda self: any(self.bags.values()))
    @rule(
        data=st.data(),
        how=st.sampled_from(["issue", "spoiled", "lost", "gift", "sample", "sold"]),
    )
    def take(self, data: st.DataObject, how: str) -> None:
        if not self.stir(data):
            return
        lot_id, place = bag = self.some_bag(data)
        rings = self.some_of(data, bag)
        lot = self.session.get_one(Lot, lot_id)
        share = round(Fraction(lot.value_micros * rings * 1000, lot.quantity_milli))

        def act() -> tuple[int, int]:
            if how == "issue":
                posted = post(
                    self.session, TransactionHeader("take_out", DAY), [Posting(lot_id, place, "issue", -rings * 1000)]
                )
                return posted.act_id, posted.cost_micros
            price = from_micros(5) if how == "sold" else None
            draft = StockOutDraft(HowMuch(milli=rings * 1000), how, lot_id=lot_id, place=place, price=price)
            left = remove_stock(self.session, draft)
            return left.act_id, left.cost_micros

        if rings > self.free(bag):
            self.refused(act)
            return
        act_id, cost = act()
        if valuation(self.session) == "fifo":
            assert cost == share
        self.put(bag, -rings)
        self.done(act_id)

    @precondition(lambda self: any(taken.left for taken in self.taken))
    @rule(data=st.data())
    def put_back(self, data: st.DataObject) -> None:
        """What a build did not use goes back at the very value that it left with, part by part."""
        self.stir(data)
        taken = data.draw(st.sampled_from([one for one in self.taken if one.left]))
        self.return_some(taken, data.draw(st.integers(1, taken.left)))

    def return_some(self, taken: Taken, rings: int) -> None:
        value = next_share(taken.cost, taken.rings, taken.back, rings)
        deed = TransactionHeader("finish", DAY, build_id=taken.build_id)
        posted = post(self.session, deed, [Posting(*taken.bag, "return", rings * 1000, value)])
        taken.returned[posted.act_id] = rings
        self.put(taken.bag, rings)
        self.done(posted.act_id, taken.build_id)

    @precondition(lambda self: any(self.bags.values()))
    @rule(data=st.data(), found=st.integers(0, 90), rough=st.sampled_from(["", "about", "plenty"]))
    def count(self, data: st.DataObject, found: int, rough: str) -> None:
        if not self.stir(data):
            return
        lot_id, place = bag = self.some_bag(data)
        draft = CountDraft(HowMuch(milli=found * 1000, rough=rough), lot_id=lot_id, place=place)
        if found < self.reserved.get(bag, 0):
            self.refused(lambda: count_bag(self.session, draft), Conflict)
            return
        counted = count_bag(self.session, draft)
        assert counted.difference_milli == (found - self.bags[bag]) * 1000
        self.put(bag, found - self.bags[bag])
        self.done(counted.act_id)

    @precondition(lambda self: any(self.bags.values()))
    @rule(data=st.data(), to=st.sampled_from(PLACES))
    def move(self, data: st.DataObject, to: str) -> None:
        if not self.stir(data):
            return
        lot_id, place = bag = self.some_bag(data)
        if to == place:
            return
        rings = self.some_of(data, bag)
        draft = TransferDraft(lot_id, place, to, HowMuch(milli=rings * 1000))
        if rings > self.free(bag):
            self.refused(lambda: move_bag(self.session, draft))
            return
        moved = move_bag(self.session, draft)
        self.put(bag, -rings)
        self.put((lot_id, to), rings)
        self.done(moved.act_id)

    @precondition(lambda self: any(self.bags.values()))
    @rule(data=st.data(), micros=st.integers(0, 900_000))
    def make(self, data: st.DataObject, micros: int) -> None:
        """A lot turned into another one at its real cost, with the work that went into it."""
        if not self.stir(data):
            return
        lot_id, place = bag = self.some_bag(data)
        rings = self.some_of(data, bag)
        if rings > self.free(bag):
            self.refused(lambda: costs_of(self.session, [Posting(lot_id, place, "issue", -rings * 1000)]))
            return
        (cost,) = costs_of(self.session, [Posting(lot_id, place, "issue", -rings * 1000)])
        made = open_lot(self.session, Lot(item_id=self.rings[1], received_on=DAY))
        posted = post(
            self.session,
            TransactionHeader("process", DAY),
            [
                Posting(lot_id, place, "issue", -rings * 1000),
                Posting(made, "tin", "receipt", rings * 1000, cost + micros, labour_micros=micros),
            ],
        )
        assert posted.value_micros == micros
        self.put(bag, -rings)
        self.lots[made] = self.rings[1]
        self.put((made, "tin"), rings)
        self.done(posted.act_id)

    # --- builds ---

    @precondition(lambda self: any(self.bags.values()))
    @rule(data=st.data())
    def start_build(self, data: st.DataObject) -> None:
        if not self.stir(data):
            return
        bag = self.some_bag(data)
        rings = self.some_of(data, bag)
        if rings > self.free(bag):
            self.refused(lambda: reserve(self.session, [kept(*bag, rings * 1000)]))
            return
        build_id = a_started_build(self.session, self.design)
        item_id = self.session.get_one(Lot, bag[0]).item_id
        self.session.add(
            BuildLine(
                build_id=build_id, position=0, item_id=item_id, lot_id=bag[0], place=bag[1], planned_milli=rings * 1000
            )
        )
        reserve(self.session, [kept(*bag, rings * 1000, build_id=build_id)])
        self.reserved[bag] = self.reserved.get(bag, 0) + rings
        self.builds.append((build_id, bag, rings))

    @precondition(lambda self: bool(self.builds))
    @rule(data=st.data(), abandon=st.sampled_from([False, False, True]))
    def end_build(self, data: st.DataObject, abandon: bool) -> None:
        self.stir(data)
        build_id, bag, rings = self.builds.pop(data.draw(st.integers(0, len(self.builds) - 1)))
        hold = kept(*bag, rings * 1000, build_id=build_id)
        build = self.session.get_one(Build, build_id)
        if abandon:
            build.state = "abandoned"
            release(self.session, [hold])
        else:
            build.state = "making"
            deed = TransactionHeader("take_out", DAY, build_id=build_id)
            posted = post(self.session, deed, [Posting(*bag, "issue", -rings * 1000)], releases=[hold])
            self.taken.append(Taken(posted.act_id, build_id, bag, rings, posted.cost_micros))
            self.put(bag, -rings)
            self.done(posted.act_id, build_id)
        self.reserved[bag] -= rings

    @precondition(lambda self: any(self.bags.values()))
    @rule(data=st.data())
    def make_at_once(self, data: st.DataObject) -> None:
        """A build that takes out without reserving first, and returns some of it at once or later."""
        if not self.stir(data):
            return
        bag = self.some_bag(data)
        rings = self.some_of(data, bag)
        if rings > self.free(bag):
            return
        build_id = a_started_build(self.session, self.design)
        self.session.get_one(Build, build_id).state = "making"
        deed = TransactionHeader("take_out", DAY, build_id=build_id)
        posted = post(self.session, deed, [Posting(*bag, "issue", -rings * 1000)])
        self.put(bag, -rings)
        self.taken.append(Taken(posted.act_id, build_id, bag, rings, posted.cost_micros))
        self.done(posted.act_id, build_id)
        if data.draw(st.booleans(), "returns some"):
            self.return_some(self.taken[-1], data.draw(st.integers(1, rings), "returned"))

    # --- taking back, and another way of valuing ---

    @precondition(lambda self: any(self.bags.values()))
    @rule(data=st.data())
    def scrap_and_take_back(self, data: st.DataObject) -> None:
        if not self.stir(data):
            return
        bag = self.some_bag(data)
        rings = self.some_of(data, bag)
        if rings > self.free(bag):
            return
        before = self.snapshot()
        left = remove_stock(
            self.session, StockOutDraft(HowMuch(milli=rings * 1000), "spoiled", lot_id=bag[0], place=bag[1])
        )
        assert self.snapshot() != before
        undo_act(self.session, left.act_id)
        self.lay[bag[0]] = bag[1]
        assert self.snapshot() == before

    @precondition(lambda self: bool(self.acts))
    @rule(data=st.data())
    def take_back(self, data: st.DataObject) -> None:
        self.stir(data)
        act_id = data.draw(st.sampled_from(sorted(self.acts)), "act")
        build_id = self.acts[act_id]
        moved = self.session.execute(
            select(col(Movement.lot_id), col(Movement.place), col(Movement.quantity_milli)).where(
                col(Movement.act_id) == act_id, col(Movement.place) != "scrap"
            )
        ).all()
        says = undoable(self.session, act_id, build_id=build_id)
        if not says.possible:
            assert says.reason
            self.refused(lambda: undo_act(self.session, act_id, build_id=build_id), Conflict)
            return
        if build_id is not None:
            self.refused(lambda: undo_act(self.session, act_id), Conflict)
        undo_act(self.session, act_id, build_id=build_id)
        # What comes back comes first.
        for lot_id, place, milli in sorted(moved, key=lambda row: row.quantity_milli > 0):
            self.put((lot_id, place), -milli // 1000)
        self.taken = [taken for taken in self.taken if taken.act_id != act_id]
        for taken in self.taken:
            taken.returned.pop(act_id, None)
        del self.acts[act_id]
        self.refused(lambda: undo_act(self.session, act_id, build_id=build_id), Conflict)

    @rule(data=st.data(), method=st.sampled_from(["fifo", "average"]))
    def value_otherwise(self, data: st.DataObject, method: Any) -> None:
        self.stir(data)
        worth = conservation(self.session).on_hand
        choose_valuation(self.session, method)
        assert conservation(self.session).on_hand == worth

    # --- what holds after every step ---

    @invariant()
    def bags_are_as_the_model_says(self) -> None:
        rows = self.session.execute(
            select(
                col(LotPlace.lot_id), col(LotPlace.place), col(LotPlace.quantity_milli), col(LotPlace.reserved_milli)
            ).where(col(LotPlace.place) != "scrap")
        )
        kept = {(lot_id, place): (milli // 1000, reserved // 1000) for lot_id, place, milli, reserved in rows}
        model = {bag: (rings, self.reserved.get(bag, 0)) for bag, rings in self.bags.items()}
        assert {bag: both for bag, both in kept.items() if any(both)} == {
            bag: both for bag, both in model.items() if any(both)
        }

    @invariant()
    def lots_and_items_lie_where_the_model_says(self) -> None:
        for lot_id in self.lots:
            places = self.lies(lot_id)
            assert only_place(self.session, lot_id) == (None if len(places) > 1 else [*places, self.lay[lot_id]][0])
            assert lot_view(self.session, lot_id).quantity_milli == 1000 * sum(
                rings for bag, rings in self.bags.items() if bag[0] == lot_id
            )
        for item_id, balance in balances(self.session, set(self.lots.values())).items():
            there = {bag: rings for bag, rings in self.bags.items() if self.lots[bag[0]] == item_id and rings}
            assert set(balance.places) == {place for _, place in there if place}
            assert (balance.lots, balance.on_hand_milli) == (len({lot for lot, _ in there}), 1000 * sum(there.values()))

    @invariant()
    def the_ledger_holds_and_value_is_conserved(self) -> None:
        assert check_ledger(self.session) == ()

    @invariant()
    def balances_are_the_sums_of_movements(self) -> None:
        sums = (
            select(
                col(Movement.lot_id),
                func.sum(col(Movement.quantity_milli)).label("milli"),
                func.sum(col(Movement.value_micros)).label("micros"),
            )
            .group_by(col(Movement.lot_id))
            .subquery()
        )
        for row in self.session.execute(
            select(col(Lot.id), col(Lot.quantity_milli), col(Lot.value_micros), sums.c.milli, sums.c.micros).join(
                sums, sums.c.lot_id == col(Lot.id)
            )
        ):
            assert (row.quantity_milli, row.value_micros) == (row.milli, row.micros)
            assert row.quantity_milli >= 0
            assert row.value_micros >= 0
            assert row.quantity_milli > 0 or row.value_micros == 0
