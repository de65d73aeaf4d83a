"""How somebody asks what a design costs: pieces made together, choices, optional parts, and prices to try.

A page's address and the API's are read alike. Whether a choice exists is checked where the design is known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from decimal import Decimal

from models.costing.learning import MOST_TOGETHER
from models.intake.faults import Fault, Faults
from models.intake.raw import Raw, Reader
from models.trade.money import minor_digits

PRICE_FIELD = "price."
"""A price to try at one outlet is the field 'price.' and the outlet's number."""
MOST_ASKED = 200
BASES = ("again", "stock")
"""What materials count at: what they cost to buy again, or what those in stock cost the shop."""


@dataclass(frozen=True, slots=True)
class CostRequest:
    """What is asked: `choices` as 'group=choice', `with_optional` as positions of parts, `prices` by outlet number.

    `by` is what materials count at: one of `BASES`.
    """

    pieces: int = 1
    choices: tuple[str, ...] = ()
    with_optional: tuple[int, ...] = ()
    prices: Mapping[int, Decimal] = field(default_factory=dict)
    retail: Decimal | None = None
    by: str = "again"


def read_cost_request(raw: Raw, *, currency: str, pieces_field: str = "pieces") -> tuple[CostRequest, Faults | None]:
    """Read what can be read; what is wrong is left at its usual value and named beside its field."""
    reader = Reader(raw)
    faults: list[Fault] = []
    pieces = reader.integer(pieces_field, least=1, most=MOST_TOGETHER, default=1)
    prices: dict[int, Decimal] = {}
    for name in raw:
        number = name.removeprefix(PRICE_FIELD)
        if name.startswith(PRICE_FIELD) and number.isascii() and number.isdigit() and len(number) < 10:
            price = read_price(reader, name, currency=currency, required=False)
            if price is not None:
                prices[int(number)] = price
    optional: list[int] = []
    for value in _several(raw, "with"):
        if value.isascii() and value.isdigit() and len(value) < 6:
            optional.append(int(value))
        else:
            faults.append(Fault("with", "An optional part is asked for by its place, such as 2."))
    question = CostRequest(
        pieces=pieces or 1,
        choices=_several(raw, "choice"),
        with_optional=tuple(optional),
        prices=prices,
        retail=read_price(reader, "retail", currency=currency, required=False),
        by=reader.choice("by", BASES, default="again"),
    )
    found = (*(reader.faults() or ()), *faults)
    return question, Faults(found) if found else None


def read_price(reader: Reader, field_name: str, *, currency: str, required: bool = True) -> Decimal | None:
    """A price that can be asked: above zero, in what the currency's smallest coin can pay."""
    digits = minor_digits(currency)
    coin = Decimal(1).scaleb(-digits)
    price = reader.money(field_name, required=required)
    if price is None:
        return None
    if price <= 0:
        reader.fault(field_name, "Give a price above zero.")
        return None
    if price != price.quantize(coin):
        reader.fault(
            field_name, f"The smallest amount that can be paid in {currency} is {coin}; give a price in those."
        )
        return None
    return price.quantize(coin)


def _several(raw: Raw, name: str) -> tuple[str, ...]:
    value = raw.get(name)
    if value is None or value == "":
        return ()
    values = value if isinstance(value, (list, tuple)) else (value,)
    return tuple(str(one).strip() for one in values[:MOST_ASKED] if str(one).strip())
