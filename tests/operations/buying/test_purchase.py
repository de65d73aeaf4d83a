"""Purchases: what is on order, what of it came with its share of the postage, and what is taken back."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy import text
from sqlmodel import Session, col, select

from models.database import Store
from models.errors import Conflict, Missing, Stale, Unfit
from models.intake.buying.purchase import CameLine, GoodsReceiptDraft, PurchaseDraft, read_came, read_purchase
from models.intake.faults import Faults
from models.intake.how_much import HowMuch
from models.intake.stock.cost_correction import CostCorrectionDraft, RealCost
from models.intake.stock.offer import OfferDraft, read_offer
from models.intake.stock.supplier import read_supplier
from models.operations.buying.check import check_purchases
from models.operations.buying.purchase import (
    cancel_purchase,
    draft_purchase,
    draft_purchases,
    edit_purchase,
    send_purchase,
    uncancel_purchase,
    unsend_purchase,
)
from models.operations.buying.receipt import postage_left_micros, receive_purchase
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.cost_correction import correct_cost
from models.operations.stock.offer import add_offer
from models.operations.stock.supplier import add_supplier
from models.operations.undo import undo_act
from models.planning.offers import orders_of
from models.queries.buying.market import drafted_milli, on_order_milli, planning_offers
from models.queries.buying.purchase import purchase_page
from models.tables import Lot, Purchase, PurchaseLine
from tests.ledgers import on_hand
from tests.shops import a_ring

EURO = 1_000_000


def a_supplier(session: Session, name: str = "Kestrel Wire", **terms: object) -> int:
    draft = read_supplier({"name": name, **terms})
    assert not isinstance(draft, Faults), draft
    return add_supplier(session, draft)


def an_offer(session: Session, item_id: int, supplier_id: int, **fields: object) -> int:
    draft = read_offer({"pack": "100", "price": "4.00", "supplier_id": supplier_id, **fields}, currency="EUR")
    assert isinstance(draft, OfferDraft), draft
    return add_offer(session, item_id, draft)


def purchase(**fields: object) -> PurchaseDraft:
    draft = read_purchase(fields)
    assert isinstance(draft, PurchaseDraft), draft
    return draft


def came(**fields: object) -> GoodsReceiptDraft:
    draft = read_came(fields)
    assert isinstance(draft, GoodsReceiptDraft), draft
    return draft


@pytest.fixture
def ring(store: Store) -> int:
    """A ring of which Kestrel Wire sells bags of 100 for 4.00, five or more for 3.60; postage 3.00."""
    with store.writing() as session:
        item_id = a_ring(session, price=None)
        supplier_id = a_supplier(session, postage="3.00", free_from="40.00", lead_days=4)
        an_offer(session, item_id, supplier_id, breaks="5 at 3.60")
    return item_id


@pytest.fixture
def sent(store: Store, ring: int) -> int:
    """A purchase of four bags, sent."""
    with store.writing() as session:
        number = draft_purchase(session, purchase(supplier="Kestrel Wire", lines=[{"item_id": ring, "packs": 4}]))
        send_purchase(session, number, sent_on=date(2026, 3, 2))
    return number


def state(store: Store, purchase_id: int) -> str:
    with store.reading() as session:
        return session.get_one(Purchase, purchase_id).state


def line_of(store: Store, purchase_id: int) -> int:
    with store.reading() as session:
        found = session.exec(select(PurchaseLine.id).where(PurchaseLine.purchase_id == purchase_id)).one()
    assert found is not None
    return found


def test_a_draft_takes_pack_price_break_and_postage_from_the_offer_and_the_supplier(store: Store, ring: int) -> None:
    with store.writing() as session:
        few = draft_purchase(session, purchase(supplier_id=1, lines=[{"item_id": ring, "packs": 2}]))
        many = draft_purchase(session, purchase(supplier_id=1, lines=[{"item_id": ring, "packs": 12}]))
    with store.reading() as session:
        small, large = purchase_page(session, few), purchase_page(session, many)
        assert on_order_milli(session) == {}
        assert drafted_milli(session) == {ring: 1_400_000}
    assert (small.row.goods_micros, small.row.postage_micros, small.row.total_micros) == (8 * EURO, 3 * EURO, 11 * EURO)
    assert (large.row.goods_micros, large.row.postage_micros) == (int(43.2 * EURO), 0)
    assert large.lines[0].price_micros == 3_600_000


def test_a_sent_purchase_is_on_order_and_is_due_when_the_supplier_usually_delivers(
    store: Store, ring: int, sent: int
) -> None:
    with store.reading() as session:
        page = purchase_page(session, sent)
        assert on_order_milli(session) == {ring: 400_000}
        assert on_order_milli(session, [ring + 1]) == {}
    assert (page.row.state, page.row.due_on) == ("sent", date(2026, 3, 6))


def test_what_comes_is_a_lot_at_its_price_and_its_share_of_the_postage(store: Store, ring: int, sent: int) -> None:
    line = line_of(store, sent)
    with store.writing() as session:
        first = receive_purchase(
            session, sent, came(lines=[{"line_id": line, "packs": 1, "place": "drawer B4", "batch": "bath 7"}])
        )
        assert (first.state, first.words) == (
            "part",
            "Received 100 rings of “Bronze ring 1.0 × 3.6 mm” from Kestrel Wire.",
        )
        assert on_hand(session, ring) == (100, 4_750_000)
        assert on_order_milli(session) == {ring: 300_000}
        assert postage_left_micros(session, sent) == 2_250_000
        second = receive_purchase(session, sent, came(lines=[{"line_id": line, "packs": 3}]))
        assert second.state == "received"
        assert on_hand(session, ring) == (400, 19 * EURO)
        lot = session.exec(select(Lot).order_by(col(Lot.id))).first()
        assert lot is not None
        assert (lot.batch, lot.supplier_id, lot.freight_micros, lot.note) == ("bath 7", 1, 750_000, f"Purchase {sent}")
        assert (on_order_milli(session), check_ledger(session), check_purchases(session)) == ({}, (), ())


def test_correcting_what_came_of_a_purchase_leaves_its_postage_and_its_packs(
    store: Store, ring: int, sent: int
) -> None:
    """The supplier's invoice says another price: the lots cost that, with the share of the postage that they bore."""
    line = line_of(store, sent)
    with store.writing() as session:
        first = receive_purchase(session, sent, came(lines=[{"line_id": line, "packs": 1}]))
        draft = CostCorrectionDraft((RealCost(None, total_cost=Decimal(6)),))
        done = correct_cost(session, first.act_id, draft)
        assert on_hand(session, ring) == (100, 6_750_000)
        assert postage_left_micros(session, sent) == 2_250_000
        assert [each.corrected for each in purchase_page(session, sent).came] == [True]
        receive_purchase(session, sent, came(lines=[{"line_id": line, "packs": 3}]))
        # What is still bought costs what was ordered; only the receipt that was wrong was corrected.
        assert on_hand(session, ring) == (400, 21 * EURO)
        assert (check_ledger(session), check_purchases(session)) == ((), ())
        with pytest.raises(Conflict, match="was corrected since"):
            undo_act(session, first.act_id)
        undo_act(session, done.act_id)
        undo_act(session, first.act_id)
        assert [each.corrected for each in purchase_page(session, sent).came] == [False, False]
        assert on_order_milli(session) == {ring: 100_000}
        assert (check_ledger(session), check_purchases(session)) == ((), ())


def test_a_bag_that_was_counted_brings_what_was_counted_at_the_price_of_the_bag(
    store: Store, ring: int, sent: int
) -> None:
    line = line_of(store, sent)
    with store.writing() as session:
        receive_purchase(session, sent, came(lines=[{"line_id": line, "packs": 2, "quantity": "197"}], freight="0"))
        assert on_hand(session, ring) == (197, 8 * EURO)
        assert on_order_milli(session) == {ring: 200_000}
        assert check_purchases(session) == ()


def test_taking_a_receipt_back_puts_its_packs_on_order_again_from_wherever_it_is_asked(
    store: Store, ring: int, sent: int
) -> None:
    line = line_of(store, sent)
    with store.writing() as session:
        act_id = receive_purchase(session, sent, came(lines=[{"line_id": line, "packs": 4}])).act_id
    assert state(store, sent) == "received"
    with store.writing() as session:
        undo_act(session, act_id)
        assert on_hand(session, ring) == (0, 0)
        assert on_order_milli(session) == {ring: 400_000}
        assert (check_ledger(session), check_purchases(session)) == ((), ())
    assert state(store, sent) == "sent"
    with store.writing() as session, pytest.raises(Conflict, match="taken back already"):
        undo_act(session, act_id)


def test_cancelling_takes_the_rest_off_order_and_keeps_what_is_here(store: Store, ring: int, sent: int) -> None:
    line = line_of(store, sent)
    with store.writing() as session:
        receive_purchase(session, sent, came(lines=[{"line_id": line, "packs": 1}]))
        cancel_purchase(session, sent)
        assert (on_order_milli(session), on_hand(session, ring)[0], check_purchases(session)) == ({}, 100, ())
        with pytest.raises(Conflict, match="nothing to cancel"):
            cancel_purchase(session, sent)
        with pytest.raises(Conflict, match="Nothing of it is on its way"):
            receive_purchase(session, sent, came(lines=[{"line_id": line, "packs": 1}]))
        uncancel_purchase(session, sent)
        assert (state_in(session, sent), on_order_milli(session)) == ("part", {ring: 300_000})


def state_in(session: Session, purchase_id: int) -> str:
    return session.get_one(Purchase, purchase_id).state


def test_only_a_draft_is_changed_or_sent_and_only_what_has_not_come_goes_back_to_a_draft(
    store: Store, ring: int, sent: int
) -> None:
    line = line_of(store, sent)
    with store.writing() as session:
        changed = purchase(supplier="Kestrel Wire", lines=[{"item_id": ring, "packs": 9}])
        version = session.get_one(Purchase, sent).version
        with pytest.raises(Stale):
            edit_purchase(session, sent, changed, version - 1)
        with pytest.raises(Conflict, match="sent already"):
            edit_purchase(session, sent, changed, version)
        with pytest.raises(Conflict, match="Only a draft"):
            send_purchase(session, sent)
        unsend_purchase(session, sent)
        edit_purchase(session, sent, changed, version + 1)
        assert (drafted_milli(session), on_order_milli(session)) == ({ring: 900_000}, {})
        send_purchase(session, sent)
        line = session.exec(select(PurchaseLine.id)).one() or 0
        receive_purchase(session, sent, GoodsReceiptDraft((CameLine(line, 1),)))
        with pytest.raises(Conflict, match="nothing came"):
            unsend_purchase(session, sent)


def test_more_packs_than_are_still_to_come_are_refused_beside_the_line(store: Store, sent: int) -> None:
    line = line_of(store, sent)
    with store.writing() as session, pytest.raises(Unfit, match="Only 4 of 4 packs are still to come") as refused:
        receive_purchase(session, sent, came(lines=[{"line_id": line, "packs": 5}]))
    assert [fault.field for fault in refused.value.faults] == ["lines.0.packs"]
    with store.writing() as session, pytest.raises(Unfit, match="no line 99"):
        receive_purchase(session, sent, GoodsReceiptDraft((CameLine(99, 1),)))
    with store.writing() as session, pytest.raises(Unfit, match="there twice"):
        receive_purchase(session, sent, GoodsReceiptDraft((CameLine(line, 1), CameLine(line, 1, HowMuch(milli=1)))))


def test_an_order_abroad_is_priced_in_the_suppliers_money_and_received_at_its_rate(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, price=None)
        supplier = a_supplier(session, "Harbour Metals", currency="USD", exchange_rate="0.5", postage="8.00")
        an_offer(session, ring, supplier, price="10.00", currency="USD", exchange_rate="0.5")
        number = draft_purchase(session, purchase(supplier_id=supplier, lines=[{"item_id": ring, "packs": 2}]))
        page = purchase_page(session, number)
        assert (page.row.currency, page.row.total_micros, page.row.own_micros) == ("USD", 28 * EURO, 14 * EURO)
        send_purchase(session, number)
        receive_purchase(session, number, GoodsReceiptDraft((CameLine(page.lines[0].id, 2),)))
        assert on_hand(session, ring) == (200, 14 * EURO)
        assert check_purchases(session) == ()


def test_a_bag_sold_by_weight_is_on_order_in_whole_rings_and_may_be_typed_without_an_offer(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session, price=None)
        number = draft_purchase(
            session, purchase(lines=[{"item": "bronze RING 1.0 × 3.6 mm", "packs": 3, "pack": "50 g", "price": "6"}])
        )
        send_purchase(session, number)
        (line,) = purchase_page(session, number).lines
        assert (line.pack, line.pack_unit, line.unit_milli % 1000) == (Decimal(50), "g", 0)
        assert on_order_milli(session) == {ring: 3 * line.unit_milli}
        assert purchase_page(session, number).row.due_on is None


@pytest.mark.parametrize(
    ("line", "field", "words"),
    [
        ({"item_id": 99, "packs": 1, "pack": "10", "price": "1"}, "item_id", "no stock item 99"),
        ({"item": "Nothing such", "packs": 1}, "item_id", "no single stock item"),
        ({"item_id": 1, "packs": 1}, "pack", "No price"),
        ({"item_id": 1, "packs": 1, "pack": "33"}, "price", "No price of such a pack"),
    ],
)
def test_a_line_that_does_not_fit_is_told_beside_its_field(
    store: Store, ring: int, line: dict[str, object], field: str, words: str
) -> None:
    with store.writing() as session, pytest.raises(Unfit, match=words) as refused:
        draft_purchase(session, purchase(lines=[line]))
    assert [fault.field for fault in refused.value.faults] == [f"lines.0.{field}"]
    with store.reading() as session:
        assert session.exec(select(Purchase)).all() == []


@pytest.mark.parametrize(
    ("raw", "fields"),
    [
        ({}, ["lines.0.item_id"]),
        ({"lines": [{"item_id": 1, "packs": 0}]}, ["lines.0.packs"]),
        ({"lines": [{"item_id": 1, "packs": 1, "pack": "0", "price": "-1"}]}, ["lines.0.pack", "lines.0.price"]),
        ({"lines": [{"item_id": 1, "packs": 1}], "postage": "-2"}, ["postage"]),
        ({"lines": [{"packs": "2"}]}, ["lines.0.item_id"]),
    ],
)
def test_what_is_wrong_with_a_typed_purchase_is_said_beside_its_field(
    raw: dict[str, object], fields: list[str]
) -> None:
    found = read_purchase(raw)
    assert isinstance(found, Faults)
    assert [fault.field for fault in found] == fields


def test_planned_packs_become_one_draft_for_each_supplier(store: Store, ring: int) -> None:
    with store.writing() as session:
        other = a_supplier(session, "Harbour Metals", postage="1.00", minimum="2.00")
        an_offer(session, ring, other, price="5.00", pack="150", current="no")
        offers, suppliers = planning_offers(session)
        assert {(offer.supplier, offer.pack_milli, offer.price_micros) for offer in offers} == {
            ("1", 100_000, 4 * EURO),
            ("2", 150_000, 5 * EURO),
        }
        assert [(each.key, each.postage_micros, each.minimum_micros) for each in suppliers] == [
            ("1", 3 * EURO, 0),
            ("2", EURO, 2 * EURO),
        ]
        orders = orders_of({offers[0].key: 5, offers[1].key: 1}, offers, {each.key: each for each in suppliers})
        made = draft_purchases(session, orders, note="For Saturday")
    with store.reading() as session:
        pages = [purchase_page(session, number) for number in made]
    assert [(page.row.supplier, page.row.total_micros) for page in pages] == [
        ("Kestrel Wire", 21 * EURO),
        ("Harbour Metals", 6 * EURO),
    ]
    assert pages[0].row.note == "For Saturday"


def test_a_plan_whose_price_changed_since_is_not_drafted(store: Store, ring: int) -> None:
    with store.writing() as session:
        offers, suppliers = planning_offers(session)
        orders = orders_of({offers[0].key: 1}, offers, {each.key: each for each in suppliers})
        an_offer(session, ring, 1, price="4.40")
    with store.writing() as session, pytest.raises(Conflict, match="changed since"):
        draft_purchases(session, orders)
    with store.writing() as session, pytest.raises(Missing):
        send_purchase(session, 1)


@pytest.mark.parametrize(
    ("statement", "rule"),
    [
        ("UPDATE purchase_line SET received_packs = 2", "a line has here what its receipts brought"),
        ("UPDATE purchase_receipt SET quantity_milli = 99000", "what came for a purchase is what the ledger booked"),
        ("UPDATE purchase SET state = 'sent'", "the state of a purchase says what of it is here"),
        ("UPDATE purchase_line SET item_id = item_id + 1", "what came for a purchase is what the ledger booked"),
    ],
)
def test_a_purchase_that_does_not_agree_with_the_ledger_is_named(
    store: Store, ring: int, sent: int, statement: str, rule: str
) -> None:
    line = line_of(store, sent)
    with store.writing() as session:
        a_ring(session, name="Another", inner_nm=5_000_000)
        receive_purchase(session, sent, GoodsReceiptDraft((CameLine(line, 1),)))
        assert check_purchases(session) == ()
        session.connection().execute(text(statement))
        session.expire_all()
        assert rule in {breach.rule for breach in check_purchases(session)}
