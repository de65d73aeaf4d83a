"""A shop's proposal of how much to order, from its ledger, against the library stockpyl.

Source: stockpyl (the code companion of Snyder and Shen, Fundamentals of Supply Chain Theory, 2nd edition),
`economic_order_quantity`; costs of whole packs beside the optimum by the same function with the quantity given.
"""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest
from stockpyl.eoq import economic_order_quantity

from models.database import Store
from models.intake.buying.reorder import ReorderWishes
from models.operations.buying.reorder import set_reorder_wishes
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.queries.buying.reorder import reorder_page
from models.tables import Shop
from tests.ledgers import DRAWER, a_lot
from tests.operations.buying.test_purchase import a_supplier, an_offer
from tests.shops import a_ring

TODAY = date(2026, 3, 2)


@pytest.mark.parametrize(
    ("each", "price", "order"), [(50, "4.00", "2.00"), (130, "2.20", "6.50"), (400, "9.75", "3.10")]
)
def test_the_packs_ordered_at_once_are_the_cheapest_near_the_economic_order(
    store: Store, each: int, price: str, order: str
) -> None:
    with store.writing() as session:
        ring = a_ring(session, price=None)
        an_offer(session, ring, a_supplier(session, lead_days=10), price=price)
        lot = a_lot(session, ring, 30_000, "900.00", day=TODAY - timedelta(days=365))
        for week in range(52):
            sale = Posting(lot, DRAWER, "sale", -each * 1000)
            post(session, TransactionHeader("sell", TODAY - timedelta(days=7 * week + 1), "Sold."), [sale])
        wishes = ReorderWishes(Decimal(95), Decimal(order), Decimal(20), 365)
        set_reorder_wishes(session, wishes, session.get_one(Shop, 1).version)
        (row,) = reorder_page(session, TODAY).rows
    # In packs of 100: demand a year, and what holding one pack for a year costs.
    demand = each * 52 * 365 / 364 / 100
    holding = 0.2 * float(price)
    best, _ = economic_order_quantity(float(order), holding, demand)
    near = {max(int(best), 1), int(best) + 1}
    costs = {packs: economic_order_quantity(float(order), holding, demand, packs)[1] for packs in near}
    assert row.proposal.packs == min(costs, key=lambda packs: costs[packs])
    goods = demand * float(price)
    assert float(row.proposal.yearly_micros) / 1_000_000 == pytest.approx(goods + min(costs.values()), abs=0.005)
