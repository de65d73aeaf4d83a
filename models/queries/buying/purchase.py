"""Purchases: the list of them, and one with its lines, what of it is here and by which receipts."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal
from typing import Any, Final

from sqlalchemy import Select, func, select
from sqlalchemy.orm import aliased
from sqlmodel import Session, col

from models.errors import Missing
from models.intake.csv_file import Column
from models.intake.stock.offer import from_milli
from models.queries.buying.market import NOBODY_NAMED, at_rate
from models.queries.stock.bag_choice import last_places
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.tables import (
    CostCorrection,
    Lot,
    LotPlace,
    Offer,
    Purchase,
    PurchaseLine,
    PurchaseReceipt,
    StockTransaction,
    Supplier,
)
from models.trade.money import from_micros
from models.trade.vocabulary.plans import ON_ORDER_STATES, OPEN_STATES, PURCHASE_STATES

MOST_LISTED = 200


@dataclass(frozen=True, slots=True)
class PurchaseRow:
    """One purchase as it is listed; sums in millionths of its currency.

    `said_postage_micros` is the postage as it was ordered, `noted_postage_micros` what its receipts have noted of it.
    """

    id: int
    supplier_id: int | None
    supplier: str
    state: str
    currency: str
    exchange_rate: Decimal
    goods_micros: int
    said_postage_micros: int
    noted_postage_micros: int
    packs: int
    received_packs: int
    reference: str
    note: str
    sent_on: date | None
    due_on: date | None
    closed_on: date | None
    created_at: datetime
    version: int

    @property
    def postage_micros(self) -> int:
        """What the postage comes to: as receipts noted it once all of it is here, till then no less than was said."""
        if self.received_packs and not self.state_runs:
            return self.noted_postage_micros
        return max(self.said_postage_micros, self.noted_postage_micros)

    @property
    def state_runs(self) -> bool:
        """Whether any of it may still come."""
        return self.state in OPEN_STATES

    @property
    def postage_differs(self) -> bool:
        """Whether receipts noted something else than was said, so that both are shown."""
        return self.postage_micros != self.said_postage_micros

    @property
    def postage_left_micros(self) -> int:
        """The postage that what is still to come will bear."""
        return self.postage_micros - self.noted_postage_micros

    @property
    def total_micros(self) -> int:
        """Goods and postage, in its own currency."""
        return self.goods_micros + self.postage_micros

    @property
    def own_micros(self) -> int:
        """The same in the shop's currency."""
        return at_rate(self.total_micros, self.exchange_rate)

    @property
    def supplier_name(self) -> str:
        """The supplier's name; empty where nobody was named."""
        return self.supplier if self.supplier_id is not None else ""

    @property
    def state_words(self) -> str:
        """Its state in words."""
        return PURCHASE_STATES.term(self.state).says

    @property
    def coming(self) -> bool:
        """Whether any of it is on its way."""
        return self.state in ON_ORDER_STATES

    def overdue(self, today: date) -> bool:
        """Whether it should be here by now."""
        return self.coming and self.due_on is not None and self.due_on < today


@dataclass(frozen=True, slots=True)
class LineView:
    """One line of a purchase; the pack as it is sold, the price of one in millionths of the purchase's currency."""

    id: int
    item: Material
    offer_id: int | None
    offer_note: str
    packs: int
    received_packs: int
    pack: Decimal
    pack_unit: str
    unit_milli: int
    price_micros: int

    @property
    def amount_micros(self) -> int:
        """What its packs cost."""
        return self.packs * self.price_micros

    @property
    def left(self) -> int:
        """How many packs have not come."""
        return self.packs - self.received_packs

    @property
    def left_milli(self) -> int:
        """How much the packs hold that have not come."""
        return self.left * self.unit_milli

    @property
    def pack_words(self) -> str:
        """What one pack holds, such as '50 g'."""
        return f"{self.pack:f} {self.pack_unit}"

    @property
    def milli(self) -> int:
        """How much was ordered, in thousandths of the item's unit."""
        return self.packs * self.unit_milli


@dataclass(frozen=True, slots=True)
class CameView:
    """One receipt of a purchase: when, what in words, the postage it noted, and whether it was taken back.

    `corrected` tells that what it cost was corrected since; the purchase keeps what was ordered at what price.
    """

    act_id: int
    done_on: date
    words: str
    packs: int
    freight_micros: int
    undone: bool
    corrected: bool = False


@dataclass(frozen=True, slots=True)
class PurchasePage:
    """One purchase with its lines and what came of it, the latest first."""

    row: PurchaseRow
    lines: tuple[LineView, ...]
    came: tuple[CameView, ...]


@dataclass(frozen=True, slots=True)
class PurchaseList:
    """Purchases, those that still run first, then the latest; `counts` by state, of all."""

    rows: tuple[PurchaseRow, ...]
    counts: dict[str, int]
    on_order_micros: int
    """What is on its way, in millionths of the shop's currency, for packs that have not come."""
    item: Material | None = None


def purchase_list(session: Session, *, state: str = "", item_id: int | None = None) -> PurchaseList:
    """The purchases in one state ('open' for those that still run, '' for all), or those of one item."""
    found = _rows()
    if state == "open":
        found = found.where(col(Purchase.state).in_(OPEN_STATES))
    elif state:
        found = found.where(col(Purchase.state) == state)
    item = None
    if item_id is not None:
        with_item = select(col(PurchaseLine.purchase_id)).where(col(PurchaseLine.item_id) == item_id)
        found = found.where(col(Purchase.id).in_(with_item))
        item = load_materials(session, (item_id,)).get(item_id)
        if item is None:
            raise Missing("stock item", item_id)
    counts = {
        each: int(many)
        for each, many in session.execute(select(col(Purchase.state), func.count()).group_by(col(Purchase.state)))
    }
    rows = [_row(row) for row in session.execute(found.limit(MOST_LISTED))]
    rows.sort(key=lambda row: (row.state not in OPEN_STATES, -row.id))
    return PurchaseList(
        tuple(rows), {each: counts.get(each, 0) for each in PURCHASE_STATES}, on_order_micros(session), item
    )


def on_order_micros(session: Session) -> int:
    """What packs that are on their way cost, in millionths of the shop's currency, without postage."""
    rest = (col(PurchaseLine.packs) - col(PurchaseLine.received_packs)) * col(PurchaseLine.price_micros)
    rows = session.execute(
        select(col(Purchase.exchange_rate), func.sum(rest))
        .join(PurchaseLine, col(PurchaseLine.purchase_id) == col(Purchase.id))
        .where(col(Purchase.state).in_(ON_ORDER_STATES))
        .group_by(col(Purchase.exchange_rate))
    )
    return sum(at_rate(int(micros), rate) for rate, micros in rows)


def coming(session: Session) -> tuple[PurchaseRow, ...]:
    """The purchases that are on their way, the earliest due first."""
    found = _rows().where(col(Purchase.state).in_(ON_ORDER_STATES))
    rows = [_row(row) for row in session.execute(found)]
    return tuple(sorted(rows, key=lambda row: (row.due_on or date.max, row.id)))


def purchase_page(session: Session, purchase_id: int) -> PurchasePage:
    """One purchase. Raises: Missing."""
    found = session.execute(_rows().where(col(Purchase.id) == purchase_id)).first()
    if found is None:
        raise Missing("purchase", purchase_id)
    return PurchasePage(_row(found), lines_of(session, purchase_id), _came(session, purchase_id))


def lines_of(session: Session, purchase_id: int) -> tuple[LineView, ...]:
    """The lines of a purchase in their order."""
    rows = session.execute(
        select(
            col(PurchaseLine.id), col(PurchaseLine.item_id), col(PurchaseLine.offer_id), col(PurchaseLine.packs),
            col(PurchaseLine.received_packs), col(PurchaseLine.pack_milli), col(PurchaseLine.pack_unit),
            col(PurchaseLine.unit_milli), col(PurchaseLine.price_micros), col(Offer.note),
        )
        .outerjoin(Offer, col(Offer.id) == col(PurchaseLine.offer_id))
        .where(col(PurchaseLine.purchase_id) == purchase_id)
        .order_by(col(PurchaseLine.position))
    ).all()  # fmt: skip
    items = load_materials(session, {row.item_id for row in rows})
    return tuple(
        LineView(
            id=row.id,
            item=items[row.item_id],
            offer_id=row.offer_id,
            offer_note=row.note or "",
            packs=row.packs,
            received_packs=row.received_packs,
            pack=from_milli(row.pack_milli),
            pack_unit=row.pack_unit,
            unit_milli=row.unit_milli,
            price_micros=row.price_micros,
        )
        for row in rows
    )


def purchase_typed(page: PurchasePage) -> dict[str, object]:
    """A purchase as its form and the API hand it in."""
    row = page.row
    return {
        "supplier": row.supplier if row.supplier_id is not None else "",
        "postage": format(from_micros(row.said_postage_micros), "f"),
        "reference": row.reference,
        "note": row.note,
        "due_on": row.due_on.isoformat() if row.due_on else "",
        "lines": [
            {
                "item_id": line.item.id,
                "item": line.item.name,
                "offer_id": line.offer_id or "",
                "packs": line.packs,
                "pack": f"{format(line.pack, 'f')} {line.pack_unit}",
                "price": format(from_micros(line.price_micros), "f"),
            }
            for line in page.lines
        ],
    }


@dataclass(frozen=True, slots=True)
class NotedPostage:
    """The postage that receipts of a purchase noted, without those taken back.

    `micros` in the purchase's currency, `own_micros` as it stands in the values of their lots.
    """

    micros: int
    own_micros: int


def noted_postage(session: Session, purchase_id: int) -> NotedPostage:
    """What receipts of a purchase that still hold have noted as postage."""
    undo = aliased(StockTransaction)
    row = session.execute(
        select(
            func.coalesce(func.sum(PurchaseReceipt.freight_micros), 0), func.coalesce(func.sum(Lot.freight_micros), 0)
        )
        .join(PurchaseLine, col(PurchaseLine.id) == col(PurchaseReceipt.line_id))
        .join(Lot, col(Lot.id) == col(PurchaseReceipt.lot_id))
        .outerjoin(undo, col(undo.undoes_id) == col(PurchaseReceipt.act_id))
        .where(col(PurchaseLine.purchase_id) == purchase_id, col(undo.id).is_(None))
    ).one()
    return NotedPostage(int(row[0]), int(row[1]))


def bags_there(session: Session, item_ids: Collection[int]) -> dict[int, str]:
    """Where each item lies by the fullest bag of its latest lot, else where it lay last: the next one may go there."""
    rows = session.execute(
        select(col(Lot.item_id), col(LotPlace.place))
        .join(Lot, col(Lot.id) == col(LotPlace.lot_id))
        .where(col(Lot.item_id).in_(item_ids), col(LotPlace.place) != "", col(LotPlace.quantity_milli) > 0)
        .order_by(col(Lot.id), col(LotPlace.quantity_milli), col(LotPlace.place).desc())
    )
    found = {row.item_id: row.place for row in rows}
    gone = select(col(Lot.item_id), func.max(col(Lot.id)).label("lot_id")).group_by(col(Lot.item_id))
    last = session.execute(gone.where(col(Lot.item_id).in_(set(item_ids) - found.keys()))).all()
    lay = last_places(session, [row.lot_id for row in last])
    return found | {row.item_id: place for row in last if (place := lay.get(row.lot_id, ""))}


_GOODS = func.sum(col(PurchaseLine.packs) * col(PurchaseLine.price_micros))
_noted_line, _noted_undo = aliased(PurchaseLine), aliased(StockTransaction)
_NOTED = (
    select(func.coalesce(func.sum(PurchaseReceipt.freight_micros), 0))
    .join(_noted_line, col(_noted_line.id) == col(PurchaseReceipt.line_id))
    .outerjoin(_noted_undo, col(_noted_undo.undoes_id) == col(PurchaseReceipt.act_id))
    .where(col(_noted_line.purchase_id) == col(Purchase.id), col(_noted_undo.id).is_(None))
    .correlate(Purchase)
    .scalar_subquery()
)
_LISTED: tuple[Any, ...] = (
    Purchase.__table__,  # type: ignore[attr-defined]
    col(Supplier.name).label("supplier"),
    func.coalesce(_GOODS, 0).label("goods"),
    func.coalesce(func.sum(PurchaseLine.packs), 0).label("packs"),
    func.coalesce(func.sum(PurchaseLine.received_packs), 0).label("came"),
    _NOTED.label("noted"),
)


def _rows() -> Select[Any]:
    return (
        select(*_LISTED)
        .outerjoin(PurchaseLine, col(PurchaseLine.purchase_id) == col(Purchase.id))
        .outerjoin(Supplier, col(Supplier.id) == col(Purchase.supplier_id))
        .group_by(col(Purchase.id), col(Supplier.name))
        .order_by(col(Purchase.id).desc())
    )


def _row(row: Any) -> PurchaseRow:
    return PurchaseRow(
        id=row.id,
        supplier_id=row.supplier_id,
        supplier=row.supplier or NOBODY_NAMED,
        state=row.state,
        currency=row.currency,
        exchange_rate=row.exchange_rate,
        goods_micros=int(row.goods),
        said_postage_micros=row.postage_micros,
        noted_postage_micros=int(row.noted),
        packs=int(row.packs),
        received_packs=int(row.came),
        reference=row.reference,
        note=row.note,
        sent_on=row.sent_on,
        due_on=row.due_on,
        closed_on=row.closed_on,
        created_at=row.created_at,
        version=row.version,
    )


def _came(session: Session, purchase_id: int) -> tuple[CameView, ...]:
    undo = aliased(StockTransaction)
    rows = session.execute(
        select(
            col(StockTransaction.id),
            col(StockTransaction.done_on),
            col(StockTransaction.words),
            func.sum(PurchaseReceipt.packs).label("packs"),
            func.sum(PurchaseReceipt.freight_micros).label("freight"),
            func.max(undo.id).label("undo"),
        )
        .join(PurchaseReceipt, col(PurchaseReceipt.act_id) == col(StockTransaction.id))
        .join(PurchaseLine, col(PurchaseLine.id) == col(PurchaseReceipt.line_id))
        .outerjoin(undo, col(undo.undoes_id) == col(StockTransaction.id))
        .where(col(PurchaseLine.purchase_id) == purchase_id)
        .group_by(col(StockTransaction.id), col(StockTransaction.done_on), col(StockTransaction.words))
        .order_by(col(StockTransaction.id).desc())
    )
    correction, back = aliased(StockTransaction), aliased(StockTransaction)
    corrected = set(
        session.scalars(
            select(col(PurchaseReceipt.act_id))
            .join(PurchaseLine, col(PurchaseLine.id) == col(PurchaseReceipt.line_id))
            .join(CostCorrection, col(CostCorrection.lot_id) == col(PurchaseReceipt.lot_id))
            .join(correction, col(correction.id) == col(CostCorrection.act_id))
            .outerjoin(back, col(back.undoes_id) == col(correction.id))
            .where(col(PurchaseLine.purchase_id) == purchase_id, col(back.id).is_(None))
        )
    )
    return tuple(
        CameView(
            act_id=row.id,
            done_on=row.done_on,
            words=row.words,
            packs=int(row.packs),
            freight_micros=int(row.freight),
            undone=row.undo is not None,
            corrected=row.id in corrected,
        )
        for row in rows
    )


PURCHASE_COLUMNS: Final = (
    Column("purchase", "The purchase's number.", holds="number"),
    Column("supplier", "Who it goes to."),
    Column("item", "The stock item's name."),
    Column("their_note", "What was noted beside the offer, such as the supplier's order number."),
    Column("packs", "How many packs.", holds="number"),
    Column("pack", "What one pack holds."),
    Column("price", "What one pack costs.", holds="number"),
    Column("amount", "What the packs cost.", holds="number"),
    Column("currency", "What it is priced in."),
    Column("received_packs", "How many of them are here.", holds="number"),
)
"""The columns of the file of one purchase, which is only handed out."""


def purchase_file(page: PurchasePage) -> tuple[dict[str, object], ...]:
    """One purchase as rows of `PURCHASE_COLUMNS`, its postage as the last."""
    rows: list[dict[str, object]] = [
        {
            "purchase": page.row.id,
            "supplier": page.row.supplier,
            "item": line.item.name,
            "their_note": line.offer_note,
            "packs": line.packs,
            "pack": f"{format(line.pack, 'f')} {line.pack_unit}",
            "price": from_micros(line.price_micros),
            "amount": from_micros(line.amount_micros),
            "currency": page.row.currency,
            "received_packs": line.received_packs,
        }
        for line in page.lines
    ]
    if page.row.postage_micros:
        postage = {
            "purchase": page.row.id,
            "supplier": page.row.supplier,
            "item": "Postage",
            "currency": page.row.currency,
        }
        rows.append({**postage, "amount": from_micros(page.row.postage_micros)})
    return tuple(rows)
