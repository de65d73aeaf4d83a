"""Short words for tests of the ledger: rings in lots, what is on hand, what an act did. No test lives here."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

from sqlmodel import Session, col, select

from models.database import Store
from models.intake.how_much import HowMuch
from models.intake.stock.receipt import ReceiptDraft, ReceiptLine
from models.operations.stock.ledger import PostedTransaction, Posting, TransactionHeader, post
from models.operations.stock.receipt import receive_lots
from models.operations.stock.reservation import Hold, for_build
from models.tables import Build, ItemBalance, Lot, LotPlace, Movement, Revision, Shop
from models.trade.money import amount

DAY = date(2026, 3, 2)
DRAWER = "drawer B4"


@contextmanager
def undone(store: Store) -> Iterator[Session]:
    """A session that writes and is taken back at the end, for many short cases on one shop."""
    with Session(store.engine, autoflush=True) as session:
        yield session
        session.rollback()


def a_lot(
    session: Session,
    item_id: int,
    rings: int,
    cost: str = "0",
    *,
    place: str = DRAWER,
    day: date = DAY,
    batch: str = "",
) -> int:
    """Rings received in one lot at a total cost; answers the lot's id."""
    line = ReceiptLine(HowMuch(milli=rings * 1000), item_id=item_id, total_cost=amount(cost), place=place, batch=batch)
    return receive_lots(session, ReceiptDraft((line,), received_on=day)).lots[0].lot_id


def take_out(session: Session, lot_id: int, rings: int, *, place: str = DRAWER, day: date = DAY) -> PostedTransaction:
    """Rings issued from one bag."""
    return post(session, TransactionHeader("take_out", day, "Taken."), [Posting(lot_id, place, "issue", -rings * 1000)])


def by_average(session: Session) -> None:
    """Value by weighted average from the first lot on."""
    session.get_one(Shop, 1).valuation = "average"
    session.flush()


def holds(session: Session, lot_id: int) -> tuple[int, int]:
    """A lot's quantity in whole units and its value in millionths."""
    lot = session.get_one(Lot, lot_id)
    return lot.quantity_milli // 1000, lot.value_micros


def in_bag(session: Session, lot_id: int, place: str = DRAWER) -> int:
    """What lies in one bag, in whole units."""
    bag = session.exec(select(LotPlace).where(LotPlace.lot_id == lot_id, LotPlace.place == place)).first()
    return bag.quantity_milli // 1000 if bag else 0


def on_hand(session: Session, item_id: int) -> tuple[int, int]:
    """An item's quantity in whole units and its value in millionths."""
    balance = session.get(ItemBalance, item_id)
    return (balance.on_hand_milli // 1000, balance.value_micros) if balance else (0, 0)


def movements(session: Session, act_id: int) -> list[tuple[str, int, int]]:
    """Kind, whole units and millionths of the movements of an act, in order."""
    rows = session.exec(select(Movement).where(Movement.act_id == act_id).order_by(col(Movement.id)))
    return [(row.kind, row.quantity_milli // 1000, row.value_micros) for row in rows]


def kept(lot_id: int, place: str, milli: int, *, build_id: int = 1) -> Hold:
    """What a build keeps of one bag, in thousandths."""
    return Hold(lot_id, place, milli, for_build(build_id))


def a_started_build(session: Session, design_id: int) -> int:
    """A build of one piece of a design's revision, started; its lines are up to the test."""
    revision = session.exec(select(Revision).where(Revision.design_id == design_id)).one()
    build = Build(
        design_id=design_id, revision_id=revision.id or 0, pieces=1, started_on=DAY, created_at=revision.made_at
    )
    session.add(build)
    session.flush()
    return build.id or 0
