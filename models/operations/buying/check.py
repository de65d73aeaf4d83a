"""Proving purchases: what came for them is what the ledger booked, and their states say what of them is here."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import and_, func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.operations.shop.breach import Breach
from models.tables import Lot, Movement, Offer, Purchase, PurchaseLine, PurchaseReceipt, StockTransaction


def check_purchases(session: Session) -> tuple[Breach, ...]:
    """The first row that breaks each rule of purchases and offers; empty when all of them hold."""
    first: dict[str, Breach] = {}
    for breach in (*_receipts(session), *_lines(session), *_states(session), *_offers(session)):
        first.setdefault(breach.rule, breach)
    return tuple(first.values())


def _receipts(session: Session) -> Iterator[Breach]:
    """What a purchase says came in by a lot is what that lot received by that act."""
    moved = func.coalesce(func.sum(Movement.quantity_milli), 0).label("moved")
    rows = session.execute(
        select(
            col(PurchaseReceipt.id), col(PurchaseReceipt.quantity_milli), col(PurchaseReceipt.act_id),
            col(PurchaseLine.item_id), col(Lot.item_id).label("lot_item_id"), col(Lot.supplier_id),
            col(Purchase.supplier_id).label("bought_of"), moved,
        )
        .join(PurchaseLine, col(PurchaseLine.id) == col(PurchaseReceipt.line_id))
        .join(Purchase, col(Purchase.id) == col(PurchaseLine.purchase_id))
        .join(Lot, col(Lot.id) == col(PurchaseReceipt.lot_id))
        .outerjoin(
            Movement,
            and_(
                col(Movement.lot_id) == col(PurchaseReceipt.lot_id),
                col(Movement.act_id) == col(PurchaseReceipt.act_id),
                col(Movement.kind) == "receipt",
            ),
        )
        .group_by(
            col(PurchaseReceipt.id), col(PurchaseReceipt.quantity_milli), col(PurchaseReceipt.act_id),
            col(PurchaseLine.item_id), col(Lot.item_id), col(Lot.supplier_id), col(Purchase.supplier_id),
        )
        .order_by(col(PurchaseReceipt.id))
    )  # fmt: skip
    rule = "what came for a purchase is what the ledger booked"
    for row in rows:
        if row.moved != row.quantity_milli:
            words = f"It says that {row.quantity_milli} thousandths came, and act {row.act_id} received {row.moved}."
            yield Breach(rule, "purchase_receipt", row.id, words)
        if row.item_id != row.lot_item_id or row.supplier_id != row.bought_of:
            words = (
                f"It was bought as item {row.item_id}, and its lot is of item {row.lot_item_id} or another supplier."
            )
            yield Breach(rule, "purchase_receipt", row.id, words)


def _lines(session: Session) -> Iterator[Breach]:
    """A line has here what receipts that were not taken back brought."""
    undo = aliased(StockTransaction)
    came = {
        line_id: int(packs)
        for line_id, packs in session.execute(
            select(col(PurchaseReceipt.line_id), func.sum(PurchaseReceipt.packs))
            .outerjoin(undo, col(undo.undoes_id) == col(PurchaseReceipt.act_id))
            .where(col(undo.id).is_(None))
            .group_by(col(PurchaseReceipt.line_id))
        )
    }
    rows = session.execute(
        select(col(PurchaseLine.id), col(PurchaseLine.received_packs), col(PurchaseLine.packs)).order_by(
            col(PurchaseLine.id)
        )
    )
    for row in rows:
        if row.received_packs != came.get(row.id, 0):
            words = f"It says that {row.received_packs} packs are here, and its receipts brought {came.get(row.id, 0)}."
            yield Breach("a line has here what its receipts brought", "purchase_line", row.id, words)


def _states(session: Session) -> Iterator[Breach]:
    rows = session.execute(
        select(
            col(Purchase.id), col(Purchase.state), func.sum(PurchaseLine.packs).label("packs"),
            func.sum(PurchaseLine.received_packs).label("came"),
        )
        .join(PurchaseLine, col(PurchaseLine.purchase_id) == col(Purchase.id))
        .group_by(col(Purchase.id), col(Purchase.state))
        .order_by(col(Purchase.id))
    )  # fmt: skip
    for row in rows:
        here = "received" if row.came == row.packs else "part" if row.came else "sent"
        wrong = bool(row.came) if row.state == "draft" else row.state != here
        if wrong and row.state != "cancelled":
            words = f"It is {row.state}, and {row.came} of its {row.packs} packs are here."
            yield Breach("the state of a purchase says what of it is here", "purchase", row.id, words)


def _offers(session: Session) -> Iterator[Breach]:
    """Of an item at most one offer is current, and of one supplier and pack at most one stands."""
    for column, rule, also in (
        (col(Offer.current), "costs follow one offer of an item", ()),
        (
            col(Offer.standing),
            "one offer of a supplier and pack stands",
            (col(Offer.supplier_id), col(Offer.pack_milli), col(Offer.pack_unit)),
        ),
    ):
        rows = session.execute(
            select(col(Offer.item_id), func.count().label("many"), func.max(Offer.id).label("last"))
            .where(column)
            .group_by(col(Offer.item_id), *also)
            .having(func.count() > 1)
        )
        for row in rows:
            yield Breach(rule, "offer", row.last, f"It is one of {row.many} of item {row.item_id}.")
