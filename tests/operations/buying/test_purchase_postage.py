"""What receipts note as postage is known to the purchase: in any split all of it is borne, once, to the millionth."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import Session, select

from models.database import Store
from models.intake.buying.purchase import CameLine, GoodsReceiptDraft, PurchaseDraft, PurchaseLineDraft
from models.operations.buying.check import check_purchases
from models.operations.buying.purchase import cancel_purchase, draft_purchase, send_purchase
from models.operations.buying.receipt import postage_left_micros, receive_purchase
from models.operations.stock.check_ledger import check_ledger
from models.operations.undo import undo_act
from models.queries.buying.market import at_rate
from models.queries.buying.purchase import noted_postage, purchase_page
from models.tables import Lot, StockTransaction
from models.trade.money import from_micros, to_micros
from tests.budget import budget
from tests.ledgers import undone
from tests.operations.buying.test_purchase import a_supplier
from tests.shops import a_ring

EURO = 1_000_000


def a_purchase(session: Session, packs: list[int], prices: list[int], postage: int, rate: str = "1") -> int:
    """A sent purchase of so many packs of a line at these prices, in millionths."""
    currency = {} if rate == "1" else {"currency": "USD", "exchange_rate": rate}
    supplier = a_supplier(session, "Kestrel Wire", **currency)
    lines = []
    for number, (many, price) in enumerate(zip(packs, prices, strict=True)):
        ring = a_ring(session, name=f"Ring {number}", inner_nm=3_000_000 + number * 500_000, price=None)
        lines.append(
            PurchaseLineDraft(many, item_id=ring, pack_milli=100_000, pack_unit="piece", price=from_micros(price))
        )
    number = draft_purchase(session, PurchaseDraft(tuple(lines), supplier_id=supplier, postage=from_micros(postage)))
    send_purchase(session, number)
    return number


def borne(session: Session) -> int:
    """The freight in the values of all lots whose receipt still holds, in the shop's millionths."""
    gone = {act.undoes_id for act in session.exec(select(StockTransaction)) if act.undoes_id}
    acts = [act.id for act in session.exec(select(StockTransaction)) if act.kind == "receive" and act.id not in gone]
    return sum(lot.freight_micros for lot in session.exec(select(Lot)) if lot.quantity_milli) if acts else 0


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=budget(60, 5))
@given(data=st.data())
def test_receipts_in_any_split_bear_all_of_the_postage_to_the_millionth(store: Store, data: st.DataObject) -> None:
    packs = data.draw(st.lists(st.integers(1, 4), min_size=1, max_size=3))
    prices = data.draw(st.lists(st.sampled_from([0, 1, 333_333, 3_370_000]), min_size=len(packs), max_size=len(packs)))
    postage = data.draw(st.sampled_from([0, 1, 7, 3_330_000, 9_999_999]))
    rate = data.draw(st.sampled_from(["1", "0.913", "1.37"]))
    with undone(store) as session:
        number = a_purchase(session, packs, prices, postage, rate)
        lines = [line.id for line in purchase_page(session, number).lines]
        left = dict(zip(lines, packs, strict=True))
        acts: list[tuple[int, dict[int, int]]] = []
        takes_back = data.draw(st.integers(0, 3))
        while any(left.values()):
            came = {line: data.draw(st.integers(0, many)) for line, many in left.items()}
            came = {line: many for line, many in came.items() if many}
            came = came or {next(line for line, many in left.items() if many): 1}
            draft = GoodsReceiptDraft(tuple(CameLine(line, many) for line, many in came.items()))
            acts.append((receive_purchase(session, number, draft).act_id, came))
            for line, many in came.items():
                left[line] -= many
            if takes_back and data.draw(st.booleans()):
                # Any of them, not only the last: the others keep what they bear.
                act_id, back = acts.pop(data.draw(st.integers(0, len(acts) - 1)))
                before = noted_postage(session, number).micros
                undo_act(session, act_id)
                takes_back -= 1
                for line, many in back.items():
                    left[line] += many
                assert noted_postage(session, number).micros <= before
            noted = noted_postage(session, number)
            assert noted.micros + postage_left_micros(session, number) == postage
            assert purchase_page(session, number).row.postage_micros == postage
        assert noted_postage(session, number).micros == postage
        # A share of less than a millionth of the shop's money cannot be taken from a lot again.
        assert abs(borne(session) - at_rate(postage, Decimal(rate))) <= (1 if postage < 10 and rate != "1" else 0)
        assert (check_ledger(session), check_purchases(session)) == ((), ())


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=budget(40, 5))
@given(
    typed=st.lists(st.none() | st.integers(0, 5 * EURO), min_size=2, max_size=4),
    postage=st.integers(0, 5 * EURO),
)
def test_a_typed_postage_is_taken_off_what_the_rest_bears(store: Store, typed: list[int | None], postage: int) -> None:
    with undone(store) as session:
        number = a_purchase(session, [len(typed)], [3_370_000], postage)
        (line,) = purchase_page(session, number).lines
        noted = 0
        for place, micros in enumerate(typed):
            freight = None if micros is None else from_micros(micros)
            receive_purchase(session, number, GoodsReceiptDraft((CameLine(line.id, 1),), freight=freight))
            row = purchase_page(session, number).row
            if micros is not None:
                noted += micros
            else:
                left, packs = max(0, postage - noted), len(typed) - place
                assert abs((row.noted_postage_micros - noted) * packs - left) < packs
                noted = row.noted_postage_micros
            assert row.noted_postage_micros == noted == borne(session)
            if place + 1 < len(typed):
                assert row.postage_micros == max(postage, noted)
        assert row.postage_micros == noted
        assert row.total_micros == len(typed) * 3_370_000 + noted
        if typed[-1] is None:
            assert noted >= postage


def test_a_purchase_knows_the_postage_that_its_receipt_noted_and_forgets_it_with_the_receipt(store: Store) -> None:
    with store.writing() as session:
        number = a_purchase(session, [2], [4 * EURO], 0)
        (line,) = purchase_page(session, number).lines
        first = receive_purchase(session, number, GoodsReceiptDraft((CameLine(line.id, 1),), freight=Decimal("5.00")))
        row = purchase_page(session, number).row
        assert (row.said_postage_micros, row.postage_micros, row.total_micros) == (0, 5 * EURO, 13 * EURO)
        assert purchase_page(session, number).came[0].freight_micros == 5 * EURO
        undo_act(session, first.act_id)
        row = purchase_page(session, number).row
        assert (row.postage_micros, row.total_micros) == (0, 8 * EURO)
        receive_purchase(session, number, GoodsReceiptDraft((CameLine(line.id, 1),), freight=Decimal("1.50")))
        cancel_purchase(session, number)
        assert purchase_page(session, number).row.postage_micros == to_micros(Decimal("1.50"))


@pytest.mark.parametrize("first", ["3.00", "4.00"])
def test_what_comes_later_does_not_bear_again_what_was_noted_at_first(store: Store, first: str) -> None:
    with store.writing() as session:
        number = a_purchase(session, [4], [4 * EURO], 3 * EURO)
        (line,) = purchase_page(session, number).lines
        receive_purchase(session, number, GoodsReceiptDraft((CameLine(line.id, 1),), freight=Decimal(first)))
        assert postage_left_micros(session, number) == 0
        receive_purchase(session, number, GoodsReceiptDraft((CameLine(line.id, 3),)))
        assert noted_postage(session, number).micros == to_micros(Decimal(first)) == borne(session)
