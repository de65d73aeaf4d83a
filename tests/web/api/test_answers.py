"""Answers that fill themselves: where a field is found, in which currency money is told, what is no answer at all."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

import pytest
from pydantic import Field, ValidationError

from models.costing.lines import Line
from webapp.api.answers import (
    Amount,
    AnswerModel,
    Asked,
    Currency,
    LineOut,
    Millimetres,
    PlainNumber,
    Units,
    beneath,
    either,
    filled,
    path,
    sent,
    together,
)


@dataclass(frozen=True)
class Lot:
    quantity_milli: int
    value_micros: int
    wire_nm: int | None = None


@dataclass(frozen=True)
class Bag:
    lot: Lot | None
    note: str = "in the bag"
    typed_wire_nm: int = 800_000


class BagOut(AnswerModel):
    """What a bag holds."""

    quantity: Units | None = path("lot", "quantity_milli")
    value: Amount | None = path("lot", "value_micros")
    wire_mm: Millimetres | None = either(("lot", "wire_nm"), "typed_wire_nm")
    note: str


def test_under_something_that_is_not_there_a_field_is_null() -> None:
    assert sent(BagOut, Bag(None), currency="EUR") == {
        "quantity": None, "value": None, "wire_mm": 0.8, "note": "in the bag",
    }  # fmt: skip


def test_what_is_there_but_empty_is_not_replaced_by_what_was_typed() -> None:
    assert filled(BagOut, Bag(Lot(1, 1)), currency="EUR").wire_mm is None
    assert filled(BagOut, Bag(Lot(1, 1, 1_200_000)), currency="EUR").wire_mm == 1.2


def test_a_field_that_no_view_has_is_an_error_and_never_null() -> None:
    class Misspelt(AnswerModel):
        quantity: Units | None = path("lot", "quantity_mili")

    with pytest.raises((ValidationError, TypeError)):
        filled(Misspelt, Bag(Lot(1, 1)))
    with pytest.raises(ValidationError):
        filled(BagOut, Lot(1, 1), currency="EUR")


def test_what_stands_beside_a_view_goes_before_what_it_has() -> None:
    assert filled(BagOut, Bag(Lot(2500, 1)), note="beside", currency="EUR").note == "beside"

    class BagsOut(AnswerModel):
        bags: list[BagOut]

    view = [Bag(None), together(Bag(None), note="beside")]
    assert [bag.note for bag in filled(BagsOut, bags=view, currency="EUR").bags] == ["in the bag", "beside"]


def test_a_field_is_found_beneath_only_where_the_view_itself_has_none() -> None:
    class Deep(AnswerModel, alias_generator=beneath("bag")):
        note: str
        typed_wire_nm: int

    view = together(None, bag=Bag(None), note="above")
    assert sent(Deep, view) == {"note": "above", "typed_wire_nm": 800_000}


def test_decimals_and_millionths_are_the_same_money() -> None:
    class Sums(AnswerModel):
        one: Amount
        other: Amount

    assert sent(Sums, one=Decimal("4.50"), other=4_500_000, currency="SEK") == {
        "one": {"amount": "4.50", "currency": "SEK"}, "other": {"amount": "4.50", "currency": "SEK"},
    }  # fmt: skip


@pytest.mark.parametrize(("named", "told"), [("USD", "USD"), ("", "EUR")])
def test_money_of_another_currency_is_told_in_it_and_the_hidden_field_is_not_sent(named: str, told: str) -> None:
    class Offer(AnswerModel):
        asks_in: Currency = Field(validation_alias="currency_code", exclude=True)
        price: Asked
        cost: Amount

    sums = sent(Offer, currency_code=named, price=Decimal(3), cost=Decimal(2), currency="EUR")
    assert sums == {"price": {"amount": "3", "currency": told}, "cost": {"amount": "2", "currency": "EUR"}}
    assert "asks_in" not in Offer.model_json_schema(mode="serialization")["properties"]


def test_a_line_is_told_with_all_that_stands_beneath_it() -> None:
    fact = Line("Mass", Decimal("0.5"), amount_unit="g")
    line = sent(
        LineOut, Line("Rings", Decimal("1.25"), lines=(Line("One", Decimal("1.25")),), because=(fact,)), currency="EUR"
    )
    assert (line["amount"], line["unit"]) == ("1.25", "EUR")
    assert [(one["label"], one["unit"]) for one in line["lines"]] == [("One", "EUR")]  # type: ignore[attr-defined]
    assert [(one["amount"], one["unit"]) for one in line["because"]] == [("0.5", "g")]  # type: ignore[attr-defined]


def test_plain_numbers_have_no_fraction_where_they_are_whole() -> None:
    class Number(AnswerModel):
        number: PlainNumber

    assert repr(filled(Number, number=Decimal("12.0")).number) == "12"
    assert repr(filled(Number, number=Decimal("12.5")).number) == "12.5"
