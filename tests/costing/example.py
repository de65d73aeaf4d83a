"""A small invented design and its invented outlets, as the tests of this folder cost them."""

from decimal import Decimal

from models.costing.inputs import Fee, OutletInput, PartInput, ShopRates, UnitCost, WorkInput
from models.costing.rates import STARTING_DIFFICULTY, STARTING_RATES, STARTING_SMALL_RINGS
from models.costing.unit_cost import Body, typed_unit_cost, unit_cost_of_offer
from models.trade.metals import metal
from models.trade.rings import RingSize

BRONZE = metal("bronze-c220")
SIZE = RingSize(1_200_000, 4_000_000)
SMALL = RingSize(600_000, 2_200_000)


def cost_of(amount: str, *, guessed: bool = False) -> UnitCost:
    return typed_unit_cost(Decimal(amount), guessed=guessed, source="a test")


def rings(count: int = 48, **changes: object) -> PartInput:
    by_weight = unit_cost_of_offer(Decimal("4.95"), Decimal(50), "g", body=Body(size=SIZE, metal=BRONZE))
    assert isinstance(by_weight, UnitCost)
    given = {
        "name": "bronze ring",
        "kind": "ring",
        "quantity": Decimal(count),
        "unit_cost": by_weight,
        "size": SIZE,
        "mass_g": SIZE.mass_g(BRONZE.density),
        "arrives": "open",
        "metal": "bronze",
    }
    return PartInput(**(given | changes))  # type: ignore[arg-type]


def pendant() -> tuple[PartInput, ...]:
    return (
        rings(),
        PartInput("small niobium ring", "ring", Decimal(12), unit_cost=cost_of("0.09"), size=SMALL, mass_g=Decimal("0.02"),
                  arrives="closed"),
        PartInput("bail ring", "ring", Decimal(1), unit_cost=cost_of("0.04"), size=SIZE, arrives="open"),
        PartInput("rubber ring", "ring", Decimal(6), unit_cost=cost_of("0.03"), can_open=False, mass_g=Decimal("0.01")),
        PartInput("ear wire", "finding", Decimal(2), unit_cost=cost_of("0.35"), mass_g=Decimal("0.3")),
        PartInput("neck chain", "chain", Decimal("0.45"), "m", unit_cost=cost_of("3.10"), mass_g=Decimal("4")),
        PartInput("box", "packaging", Decimal(1), unit_cost=cost_of("0.62")),
    )  # fmt: skip


def shop_rates(**changes: object) -> ShopRates:
    given = {
        "rates": STARTING_RATES,
        "wage_per_hour": Decimal(18),
        "overhead_per_hour": Decimal("3.50"),
        "allowance": Decimal("0.03"),
        "small_rings": STARTING_SMALL_RINGS,
        "difficulty": STARTING_DIFFICULTY,
    }
    return ShopRates(**(given | changes))  # type: ignore[arg-type]


def work(**changes: object) -> WorkInput:
    given = {"finish": {"tumble": None}, "once": {"photograph": None, "listing": Decimal(20)}, "once_pieces": 10}
    return WorkInput(**(given | changes))  # type: ignore[arg-type]


def nothing_to_do() -> WorkInput:
    return WorkInput(Decimal(0), Decimal(0), Decimal(0), Decimal(0), pack=False, setup=False)


def outlet(**changes: object) -> OutletInput:
    given = {
        "code": "web",
        "name": "Web shop",
        "kind": "online",
        "tax": Decimal("0.2"),
        "shipping_charged": Decimal("3.50"),
        "postage_paid": Decimal("4.10"),
        "fees": (
            Fee("Selling fee", Decimal("0.065"), "price+shipping"),
            Fee("Card payment", Decimal("0.029"), "price+shipping+tax", Decimal("0.30")),
        ),
        "wanted_margin": Decimal("0.25"),
        "wanted_wage": Decimal(25),
        "ending": "x.90",
    }
    return OutletInput(**(given | changes))  # type: ignore[arg-type]


def plain_outlet(**changes: object) -> OutletInput:
    """An outlet that takes nothing: no tax, fees, postage or wishes."""
    return OutletInput(**({"code": "plain", "name": "At the door"} | changes))  # type: ignore[arg-type]
