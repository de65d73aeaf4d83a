"""How somebody asks for a cost: what is right is taken, what is wrong is named beside its field."""

from __future__ import annotations

from decimal import Decimal

from models.intake.costing.cost_request import CostRequest, read_cost_request


def test_an_empty_question_asks_for_one_usual_piece() -> None:
    assert read_cost_request({}, currency="EUR") == (CostRequest(), None)


def test_everything_that_can_be_asked() -> None:
    raw = {
        "pieces": "12",
        "choice": ["colour=green", "clasp=hook"],
        "with": ["2", "5"],
        "price.3": "38,50",
        "price.4": "",
        "retail": "40",
    }
    question, faults = read_cost_request(raw, currency="EUR")
    assert faults is None
    assert question == CostRequest(
        12, ("colour=green", "clasp=hook"), (2, 5), {3: Decimal("38.50")}, Decimal("40.00")
    )  # fmt: skip


def test_what_is_wrong_is_named_and_the_rest_is_kept() -> None:
    raw = {"pieces": "0", "with": "first", "price.3": "much", "price.x": "1", "choice": "colour=green"}
    question, faults = read_cost_request(raw, currency="EUR")
    assert question == CostRequest(choices=("colour=green",))
    assert faults is not None
    assert set(faults.by_field()) == {"pieces", "with", "price.3"}


def test_the_number_of_pieces_can_have_another_name() -> None:
    question, faults = read_cost_request({"quantity": 10_001}, currency="EUR", pieces_field="quantity")
    assert faults is not None
    assert set(faults.by_field()) == {"quantity"}
    assert question.pieces == 1
