"""Accepting proposals of when to buy again, and the wishes that they rest on."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import Session, col, select

from models.errors import Missing, Stale, Unfit
from models.intake.buying.reorder import Accepted, ReorderWishes
from models.intake.faults import Fault, Faults
from models.tables import Item, Shop
from models.trade.money import from_micros, to_micros


def accept_levels(session: Session, accepted: Sequence[Accepted]) -> tuple[Accepted, ...]:
    """Set reorder points and targets; answer what they were, in the same order, so that it can be put back.

    Raises: Missing; Unfit for a fraction of what is counted one by one.
    """
    found = {
        item.id: item for item in session.exec(select(Item).where(col(Item.id).in_([one.item_id for one in accepted])))
    }
    before = []
    for place, one in enumerate(accepted):
        item = found.get(one.item_id)
        if item is None:
            raise Missing("stock item", one.item_id)
        if item.unit == "piece" and any((milli or 0) % 1000 for milli in (one.reorder_milli, one.target_milli)):
            words = "These are counted one by one. Give a whole number."
            raise Unfit(Faults((Fault(f"items.{place}.reorder", words),)))
        before.append(Accepted(one.item_id, item.reorder_milli, item.target_milli))
        if (item.reorder_milli, item.target_milli) != (one.reorder_milli, one.target_milli):
            item.reorder_milli, item.target_milli = one.reorder_milli, one.target_milli
            item.version += 1
    session.flush()
    return tuple(before)


def set_reorder_wishes(session: Session, wishes: ReorderWishes, version: int) -> None:
    """Change what proposals rest on. Raises: Stale when the settings changed since."""
    shop = session.get_one(Shop, 1)
    if shop.version != version:
        saved = (
            ("Nothing runs out in", f"{shop.service_percent} %", f"{wishes.service_percent} %"),
            ("One order costs", str(from_micros(shop.order_cost_micros)), str(wishes.order_cost)),
            ("Keeping stock costs", f"{shop.holding_percent} %", f"{wishes.holding_percent} %"),
            ("Days looked at", str(shop.reorder_days), str(wishes.days)),
        )
        raise Stale("setting", tuple(each for each in saved if each[1] != each[2]))
    shop.service_percent, shop.holding_percent = wishes.service_percent, wishes.holding_percent
    shop.order_cost_micros, shop.reorder_days = to_micros(wishes.order_cost), wishes.days
    shop.version += 1
    session.flush()
