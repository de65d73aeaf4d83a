"""What people hand in about when to buy again: the wishes behind proposals, and which proposals they accept."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from models.intake.faults import Faults
from models.intake.raw import LARGEST_COUNT, Raw, Reader

LEAST_DAYS: Final = 28
MOST_DAYS: Final = 1_825


@dataclass(frozen=True, slots=True)
class ReorderWishes:
    """What proposals rest on: per cent of deliveries during which nothing runs out, the sum that one order costs.

    `holding_percent` is what keeping stock for a year costs of its price; past use is looked at for `days`.
    """

    service_percent: Decimal
    order_cost: Decimal
    holding_percent: Decimal
    days: int


@dataclass(frozen=True, slots=True)
class Accepted:
    """A proposal that is accepted: from how few on to buy again and up to how much, in thousandths.

    None in both takes the reorder point away.
    """

    item_id: int
    reorder_milli: int | None
    target_milli: int | None


def read_reorder_wishes(raw: Raw) -> ReorderWishes | Faults:
    """Read the wishes behind proposals."""
    reader = Reader(raw)
    service = reader.percent("service", below=True)
    if service is not None and service < 50:
        reader.fault("service", "Give 50 % or more: less is no service at all.")
    order_cost = reader.money("order_cost")
    if order_cost is not None and not order_cost:
        reader.fault("order_cost", "Give more than 0: an order that costs nothing would be placed for every ring.")
    holding = reader.percent("holding")
    if holding is not None and not holding:
        reader.fault("holding", "Give more than 0: stock that costs nothing to keep would never be too much.")
    days = reader.integer("days", least=LEAST_DAYS, most=MOST_DAYS)
    wishes = ReorderWishes(service or Decimal(95), order_cost or Decimal(1), holding or Decimal(20), days or 365)
    return reader.faults() or wishes


def read_accepted(raw: Raw) -> tuple[Accepted, ...] | Faults:
    """Read accepted proposals: `items` with their number, `reorder` and `target` in the item's unit."""
    reader = Reader(raw)
    found = reader.each("items", _accepted)
    if not found and not reader.faults():
        reader.fault("items", "There is nothing to accept.")
    return reader.faults() or found


def _accepted(reader: Reader) -> Accepted:
    most = Decimal(LARGEST_COUNT)
    item_id = reader.identity("item_id")
    reorder = reader.quantity("reorder", most=most, required=False)
    target = reader.quantity("target", most=most, required=False)
    if reorder is not None and target is not None and target < reorder:
        reader.fault("target", f"This is under the reorder point of {reorder}; give as much or more.")
    if reorder is None and target is not None:
        reader.fault("reorder", "Say from how few on to buy again, so that the target is of use.")
    return Accepted(
        item_id or 0,
        None if reorder is None else int(reorder * 1000),
        None if target is None else int(target * 1000),
    )
