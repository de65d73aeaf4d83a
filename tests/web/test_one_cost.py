"""What one unit of an item costs is the same figure on its page, in designs, in what can be made, and in what to buy."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from sqlmodel import Session

from models.costing.inputs import UnitCost
from models.database import Store
from models.operations.figures import refresh_figures
from models.queries.buying.market import planning_offers
from models.queries.costing.costing import cost_of_design
from models.queries.stock.item import load_materials, unit_costs
from models.tables import Item, Offer
from models.trade.money import millionth, to_micros
from tests.budget import budget
from tests.shops import NOON, a_design, a_listed_price, a_part, an_outlet
from tests.web.conftest import Client
from webapp.api.shapes import decimal_text
from webapp.web.filters import money_fine

UNITS = {"ring": "piece", "finding": "piece", "wire": "m", "consumable": "g"}
PACKS = {
    "ring": ("piece", "gross", "g", "kg"),
    "finding": ("piece", "dozen"),
    "wire": ("m", "ft", "g"),
    "consumable": ("g", "kg"),
}
LISTED = Decimal(1_000_000)
USED = 3


@dataclass(frozen=True)
class Bought:
    """An item as a supplier sells it; a measured mass wins over the computed one."""

    kind: str
    pack_milli: int
    pack_unit: str
    price_micros: int
    rate: Decimal = Decimal(1)
    mass_ug: int | None = None

    @property
    def counted(self) -> bool:
        """Whether the pack is sold by what the item is counted in."""
        return self.pack_unit == UNITS[self.kind]

    def kept(self, session: Session) -> int:
        """The item with its current offer."""
        sized = {"ring": (1_200_000, 4_000_000), "wire": (1_000_000, None)}.get(self.kind, (None, None))
        item = Item(
            kind=self.kind, name=f"Some {self.kind}", metal="bronze-c220" if sized[0] else None, wire_nm=sized[0],
            inner_nm=sized[1], unit=UNITS[self.kind], mass_ug=self.mass_ug, created_at=NOON,
        )  # fmt: skip
        session.add(item)
        session.flush()
        session.add(
            Offer(
                item_id=item.id or 0, pack_milli=self.pack_milli, pack_unit=self.pack_unit, price_micros=self.price_micros,
                currency="EUR" if self.rate == 1 else "USD", exchange_rate=self.rate, current=True, created_at=NOON,
            )
        )  # fmt: skip
        session.flush()
        return item.id or 0


@st.composite
def bought(draw: st.DrawFn) -> Bought:
    kind = draw(st.sampled_from(sorted(UNITS)))
    return Bought(
        kind,
        draw(st.integers(1, 3_000)) * 1000,
        draw(st.sampled_from(PACKS[kind])),
        draw(st.integers(0, 900_000_000)),
        draw(st.sampled_from([Decimal(1), Decimal("0.9217"), Decimal("1.37")])),
        draw(st.none() | st.integers(1_000, 900_000)) if kind != "consumable" else None,
    )


def lines_with_price(line: dict[str, Any]) -> list[str]:
    """What one costs in every line beneath this one that says it."""
    own = [line["unit_amount"]["amount"]] if line["unit_amount"] else []
    return own + [price for one in line["lines"] for price in lines_with_price(one)]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=budget(60, 4))
@example(Bought("ring", 50_000, "g", 4_950_000))
@example(Bought("ring", 1_000_000, "piece", 37_000_000, Decimal("0.9217")))
@example(Bought("wire", 250_000, "g", 18_400_000, Decimal("1.37")))
@given(bought=bought())
def test_an_item_costs_the_same_wherever_it_is_told(store: Store, client: Client, bought: Bought) -> None:
    with store.writing() as session:
        item_id = bought.kept(session)
        design_id = a_design(session, [a_part(item_id, USED, allowance_percent=Decimal(0))], work=())
        outlet_id = an_outlet(session, name=f"Fair {design_id}", fees=())
        a_listed_price(session, design_id, outlet_id, str(LISTED))
        refresh_figures(session)
    with store.reading() as session:
        cost = load_materials(session, [item_id])[item_id].unit_cost
        assert isinstance(cost, UnitCost)
        assert unit_costs(session, [item_id])[item_id] == cost
        design = cost_of_design(session, design_id).cost
        (part,) = design.materials.lines
        assert {line.unit_amount for line in (part, *part.lines) if line.quantity} == {cost.amount}
        (offer,) = planning_offers(session, {item_id: 1})[0]
    if bought.counted:
        assert offer.price_micros == to_micros(cost.amount * offer.pack_milli / 1000)
    told = client.get(f"/api/items/{item_id}").json()
    assert told["unit_cost"]["amount"] == told["offer"]["unit_cost"]["amount"] == decimal_text(cost.amount)
    shown = money_fine(cost.amount, "EUR")
    assert f"<span>{shown}</span></div>" in client.get(f"/stock/items/{item_id}").text
    assert f'class="num">{shown}</td>' in client.get(f"/designs/{design_id}").text
    costed = client.get(f"/api/designs/{design_id}/cost").json()
    assert set(lines_with_price(costed["materials"])) == {decimal_text(cost.amount)}
    made = client.get(f"/api/makeable?outlet={outlet_id}").json()["makeable"]
    (row,) = [row for row in made if row["design_id"] == design_id]
    spent = Decimal(row["price"]["amount"]) - Decimal(row["profit"]["amount"])
    assert spent - design.labour.amount - design.overhead.amount == millionth(cost.amount * USED)


def test_the_lines_of_a_cost_hold_the_same_figures_in_a_design_and_on_the_page(store: Store) -> None:
    with store.writing() as session:
        ids = [
            Bought("ring", 50_000, unit, 4_950_000, mass_ug=mass).kept(session)
            for unit in ("piece", "g")
            for mass in (None, 97_000)
        ]
    with store.reading() as session:
        told = load_materials(session, ids)
        designed = load_materials(session, ids, offers="last")
    for item_id in ids:
        one, other = told[item_id].unit_cost, designed[item_id].unit_cost
        assert one is not None
        assert other is not None
        assert one.amount == other.amount
        assert [(line.label, line.amount) for line in one.lines] == [(line.label, line.amount) for line in other.lines]
