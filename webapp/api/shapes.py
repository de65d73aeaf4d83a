"""Shapes that several API answers share: money with its currency, numbers and versions as they are read."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal

from pydantic import BaseModel, Field

from models.costing.exact import EXACT
from models.intake.fields import ANY_NUMBER

__all__ = ["ANY_NUMBER", "VERSION", "MoneyOut", "decimal_text", "mm", "money_out", "with_plain_price"]

FINEST = 12
"""As many decimals as an amount is ever sent with."""


class MoneyOut(BaseModel):
    """An exact amount as decimal text, with its currency."""

    amount: str = Field(examples=["0.045"])
    currency: str = Field(examples=["EUR"])


def decimal_text(amount: Decimal) -> str:
    """An exact amount as it is; one that never ends, such as a share of a pack, to twelve decimals, half to even."""
    exponent = amount.as_tuple().exponent
    if isinstance(exponent, int) and exponent < -FINEST:
        amount = EXACT.quantize(amount, Decimal(1).scaleb(-FINEST)).normalize()
    return format(amount, "f")


def money_out(amount: Decimal, currency: str) -> MoneyOut:
    """Money as the API sends it."""
    return MoneyOut(amount=decimal_text(amount), currency=currency)


def mm(length_nm: int | None) -> float | None:
    """Nanometres as a millimetre number; no length stays none."""
    return None if length_nm is None else length_nm / 1_000_000


def with_plain_price(body: Mapping[str, object]) -> dict[str, object]:
    """The body with a price given as an object (amount, currency) taken apart into the two plain fields."""
    price = body.get("price")
    if isinstance(price, Mapping) and set(price) == {"amount", "currency"}:
        return {**body, "price": price["amount"], "currency": body.get("currency", price["currency"])}
    return dict(body)


VERSION: dict[str, object] = {
    "type": "integer",
    "description": "The version that was read; when a newer one was kept since, the answer is 409 with both values.",
}
