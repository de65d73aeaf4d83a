"""Whatever is drafted, sent, received in parts, counted, cancelled and taken back: on order and the ledger agree."""

from __future__ import annotations

from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hypothesis import settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, precondition, rule
from sqlmodel import Session, select

from models.database import Store
from models.errors import Conflict, Unfit
from models.intake.buying.purchase import CameLine, GoodsReceiptDraft, PurchaseDraft, PurchaseLineDraft
from models.intake.how_much import HowMuch
from models.operations.buying import purchase as operations
from models.operations.buying.check import check_purchases
from models.operations.buying.receipt import receive_purchase
from models.operations.shop.shop import found_shop
from models.operations.stock.check_ledger import check_ledger
from models.operations.undo import undo_act
from models.queries.buying.market import drafted_milli, on_order_milli
from models.queries.stock.balance import balances
from models.tables import Purchase, PurchaseLine
from tests.budget import budget
from tests.operations.buying.test_purchase import a_supplier, an_offer
from tests.shops import a_ring

PACK = 100


class Buying(RuleBasedStateMachine):
    """A shop of two rings and one supplier, and a plain model of what is ordered and here."""

    def __init__(self) -> None:
        super().__init__()
        self.folder = TemporaryDirectory()
        self.store = Store(Path(self.folder.name) / "shop")
        self.store.prepare()
        self.states: dict[int, str] = {}
        self.ordered: dict[int, dict[int, int]] = {}
        self.came: dict[int, dict[int, int]] = {}
        self.acts: dict[int, tuple[int, dict[int, int], dict[int, int]]] = {}

    def teardown(self) -> None:
        self.store.close()
        self.folder.cleanup()

    @initialize()
    def found(self) -> None:
        with self.store.writing() as session:
            found_shop(session, name="Test bench", currency="EUR")
            supplier = a_supplier(session, postage="3.33")
            self.items = [
                a_ring(session, name=f"Ring {n}", inner_nm=3_000_000 + n * 500_000, price=None) for n in range(2)
            ]
            for item_id in self.items:
                an_offer(session, item_id, supplier, price="3.37")
        self.supplier = supplier

    @rule(packs=st.lists(st.integers(1, 4), min_size=1, max_size=2))
    def draft(self, packs: list[int]) -> None:
        lines = tuple(PurchaseLineDraft(each, item_id=item) for each, item in zip(packs, self.items, strict=False))
        with self.store.writing() as session:
            number = operations.draft_purchase(session, PurchaseDraft(lines, supplier_id=self.supplier))
        self.states[number] = "draft"
        self.ordered[number] = dict(zip(self.items, packs, strict=False))
        self.came[number] = dict.fromkeys(self.ordered[number], 0)

    def chosen(self, data: Any) -> int:
        return int(data.draw(st.sampled_from(sorted(self.states))))

    def settled(self, number: int) -> str:
        came, ordered = sum(self.came[number].values()), sum(self.ordered[number].values())
        return "received" if came == ordered else "part" if came else "sent"

    @precondition(lambda self: self.states)
    @rule(data=st.data())
    def send(self, data: Any) -> None:
        number = self.chosen(data)
        if self.acts_or(
            number, lambda session: operations.send_purchase(session, number), self.states[number] == "draft"
        ):
            self.states[number] = "sent"

    @precondition(lambda self: self.states)
    @rule(data=st.data())
    def unsend(self, data: Any) -> None:
        number = self.chosen(data)
        if self.acts_or(
            number, lambda session: operations.unsend_purchase(session, number), self.states[number] == "sent"
        ):
            self.states[number] = "draft"

    @precondition(lambda self: self.states)
    @rule(data=st.data())
    def cancel(self, data: Any) -> None:
        number = self.chosen(data)
        possible = self.states[number] in ("draft", "sent", "part")
        if self.acts_or(number, lambda session: operations.cancel_purchase(session, number), possible):
            self.states[number] = "cancelled"

    @precondition(lambda self: self.states)
    @rule(data=st.data())
    def uncancel(self, data: Any) -> None:
        number = self.chosen(data)
        with self.store.reading() as session:
            was_sent = session.get_one(Purchase, number).sent_on is not None
        if self.acts_or(
            number, lambda session: operations.uncancel_purchase(session, number), self.states[number] == "cancelled"
        ):
            self.states[number] = self.settled(number) if was_sent else "draft"

    @precondition(lambda self: self.states)
    @rule(data=st.data(), counted=st.sampled_from([None, 0, -3]))
    def receive(self, data: Any, counted: int | None) -> None:
        number = self.chosen(data)
        with self.store.reading() as session:
            lines = {
                line.item_id: line.id or 0
                for line in session.exec(select(PurchaseLine).where(PurchaseLine.purchase_id == number))
            }
        packs = {item: data.draw(st.integers(0, 3)) for item in lines}
        packs = {item: many for item, many in packs.items() if many}
        if not packs:
            return
        got = {item: many * PACK + (counted or 0) for item, many in packs.items()}
        came = tuple(
            CameLine(lines[item], many, None if counted is None else HowMuch(milli=got[item] * 1000))
            for item, many in packs.items()
        )
        left = {item: self.ordered[number][item] - self.came[number][item] for item in lines}
        possible = self.states[number] in ("sent", "part") and all(many <= left[item] for item, many in packs.items())
        made: list[int] = []
        if self.acts_or(
            number,
            lambda session: made.append(receive_purchase(session, number, GoodsReceiptDraft(came)).act_id),
            possible,
        ):
            self.acts[made[0]] = (number, packs, got)
            for item, many in packs.items():
                self.came[number][item] += many
            self.states[number] = self.settled(number)

    @precondition(lambda self: self.acts)
    @rule(data=st.data())
    def take_back(self, data: Any) -> None:
        act_id = data.draw(st.sampled_from(sorted(self.acts)))
        number, packs, _ = self.acts.pop(act_id)
        with self.store.writing() as session:
            undo_act(session, act_id)
        for item, many in packs.items():
            self.came[number][item] -= many
        if self.states[number] != "cancelled":
            self.states[number] = self.settled(number)

    def acts_or(self, number: int, act: Any, possible: bool) -> bool:
        """Do it, which must go well just when it is possible."""
        try:
            with self.store.writing() as session:
                act(session)
        except (Conflict, Unfit):
            assert not possible, number
            return False
        assert possible, number
        return True

    @invariant()
    def everything_agrees(self) -> None:
        if not hasattr(self, "items"):
            return
        with self.store.reading() as session:
            assert (check_ledger(session), check_purchases(session)) == ((), ())
            assert {one.id: one.state for one in session.exec(select(Purchase))} == self.states
            assert on_order_milli(session) == self.coming(("sent", "part"))
            assert drafted_milli(session) == self.coming(("draft",))
            held = {item: balance.on_hand_milli // 1000 for item, balance in balances(session, self.items).items()}
            assert held == {item: sum(got.get(item, 0) for _, _, got in self.acts.values()) for item in self.items}
            self.nothing_but_what_was_paid(session)

    def nothing_but_what_was_paid(self, session: Session) -> None:
        """What is on the shelf is worth its packs and, once all of a purchase is here, all of its postage."""
        worth = sum(balance.value_micros for balance in balances(session, self.items).values())
        packs = sum(sum(each.values()) for each in self.came.values())
        postage = worth - packs * 3_370_000
        whole = sum(
            1 for number in self.states if self.settled(number) == "received" and sum(self.came[number].values())
        )
        begun = sum(1 for number in self.states if sum(self.came[number].values()))
        assert whole * 3_330_000 <= postage <= begun * 3_330_000

    def coming(self, states: tuple[str, ...]) -> dict[int, int]:
        found = dict.fromkeys(self.items, 0)
        for number, ordered in self.ordered.items():
            if self.states[number] in states:
                for item, packs in ordered.items():
                    found[item] += (packs - self.came[number][item]) * PACK * 1000
        return {item: milli for item, milli in found.items() if milli}


TestBuying = Buying.TestCase
TestBuying.settings = settings(max_examples=budget(8, 2), stateful_step_count=budget(16, 10), deadline=None)
