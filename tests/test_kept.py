"""Documents kept as JSON text: what is read is what was kept, of this format and of every older one."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

from models.intake.planning.make_plan import PLAN_QUESTION, Cap, KeepBack, PlanRequest
from models.kept import KeptDocument
from models.layouts.steps.route import METHODS, SIDES, TURNS, WAYS, WHENS, Route
from models.operations.check import DOCUMENTS
from models.queries.builds.parts import KEPT_PICKS, Picks
from models.queries.planning.answer import (
    KEPT_ANSWER,
    KEPT_LIMITS,
    FromBag,
    PlanAnswer,
    PlanLimit,
    PlanLimits,
    PlanLine,
    PlanUse,
)
from models.queries.planning.make_plan import KEPT_BOOKED, Booked
from models.queries.stock.item_words import ItemWords
from models.tables.columns import kept_columns

PICKS = st.builds(
    Picks,
    st.dictionaries(st.text(max_size=5), st.text(max_size=5), max_size=3),
    st.lists(st.integers(0, 99), max_size=3).map(tuple),
    st.lists(st.tuples(st.integers(1, 99), st.integers(1, 99)), max_size=2).map(tuple),
)
ASKS = st.builds(
    PlanRequest,
    seconds=st.none() | st.integers(0, 10**6),
    goal=st.sampled_from(["profit", "sales", "pieces"]),
    caps=st.lists(st.builds(Cap, st.text(max_size=5), st.integers(0, 9), st.none() | st.integers(0, 9))).map(tuple),
    keep_back=st.lists(st.builds(KeepBack, st.integers(1, 9), st.integers(1, 2**50)), max_size=2).map(tuple),
    allowance=st.booleans(),
)
ROUTES = st.builds(
    Route,
    st.integers(1, 9),
    st.sampled_from(SIDES),
    st.sampled_from(METHODS),
    st.sampled_from(TURNS),
    st.sampled_from(WHENS),
    st.sampled_from(WAYS),
)
RING = ItemWords(7, "Bronze ring 1.0 × 3.6 mm", "ring", "piece")


def test_every_column_of_documents_says_what_it_keeps() -> None:
    assert set(DOCUMENTS) == set(kept_columns())


@pytest.mark.parametrize(
    ("column", "values"),
    [
        (("build", "choices"), PICKS),
        (("make_plan", "question"), ASKS),
        (("layout", "route"), ROUTES),
        (("layout", "closed"), st.lists(st.text(max_size=5)).map(tuple)),
    ],
)
def test_what_is_kept_reads_back_the_same_and_names_its_format(column: tuple[str, str], values: Any) -> None:
    document = DOCUMENTS[column]

    @given(value=values)
    def same(value: Any) -> None:
        text = document.text(value)
        assert document.read(text) == value
        assert json.loads(text)["format"] == document.number

    same()


def test_a_whole_answer_reads_back_the_same() -> None:
    answer = PlanAnswer(
        "plan",
        value=2**40,
        lines=(PlanLine("1:a=b", 1, 2, "Leaf", "b", ("a=b",), 3, 60, 5, 9),),
        uses=(PlanUse(RING, 4000, 0, None, True, (FromBag(1, "tin", 4000),)),),
        late=("Later",),
    )
    limits = PlanLimits((PlanLimit("item", RING, 1000, 5, 7), PlanLimit("hours", None, 3600, 0, 0)), ("Silver",))
    assert KEPT_ANSWER.read(KEPT_ANSWER.text(answer)) == answer
    assert KEPT_LIMITS.read(KEPT_LIMITS.text(limits)) == limits
    booked = Booked((("1:a=b", 4),), (2, 3))
    assert KEPT_BOOKED.read(KEPT_BOOKED.text(booked)) == booked


def test_what_was_kept_before_formats_had_numbers_still_reads() -> None:
    assert KEPT_PICKS.read("{}") == Picks()
    old = '{"choices": {"colour": "green"}, "with": [2], "instead": [[3, 4]]}'
    assert KEPT_PICKS.read(old) == Picks({"colour": "green"}, (2,), ((3, 4),))
    old = '{"caps": [{"at_least": 1, "at_most": null, "key": "4"}], "goal": "sales", "keep_back": [], "seconds": null}'
    assert PLAN_QUESTION.read(old) == PlanRequest(goal="sales", caps=(Cap("4", 1),))
    assert KEPT_BOOKED.read('{"builds": [["1", 4]], "purchases": [2]}') == Booked((("1", 4),), (2,))
    assert KEPT_LIMITS.read('{"tried": [], "not_tried": ["Silver"]}') == PlanLimits((), ("Silver",))
    assert DOCUMENTS["layout", "closed"].read('["a1","a2"]') == ("a1", "a2")
    assert DOCUMENTS["layout", "palette"].read('[{"key":"a","item_id":1}]') == [{"key": "a", "item_id": 1}]
    assert DOCUMENTS["once", "result"].read('{"status": 200, "body": {"format": 3}}')["body"] == {"format": 3}


@pytest.mark.parametrize("text", ['{"goal":"sales","colour":"red"}', '{"format":1,"kept":{"goal":"sales","colour":1}}'])
def test_a_field_that_is_no_more_breaks_nothing(text: str) -> None:
    assert PLAN_QUESTION.read(text) == PlanRequest(goal="sales")


@dataclass(frozen=True)
class Label:
    """A shape in its third format: sides stood under 'w' at first, and in millimetres until the second."""

    width_nm: int
    colour: str = "white"


LABEL: KeptDocument[Label] = KeptDocument(
    Label,
    number=3,
    upgrades={
        0: lambda kept: {"width": kept["w"]},
        2: lambda kept: {"width_nm": kept["width"] * 1_000_000},
    },
)


@pytest.mark.parametrize(
    "text",
    [
        '{"w": 5}',
        '{"format": 1, "kept": {"width": 5}}',
        '{"format": 2, "kept": {"width": 5}}',
        '{"format": 3, "kept": {"width_nm": 5000000}}',
    ],
)
def test_every_older_format_becomes_the_newest_one(text: str) -> None:
    assert LABEL.read(text) == Label(5_000_000)


@pytest.mark.parametrize("number", ["4", "-1", '"1"', "null", "1.0"])
def test_a_format_that_nobody_knows_is_told(number: str) -> None:
    with pytest.raises(ValueError, match="this program knows those up to 3"):
        LABEL.read(f'{{"format": {number}, "kept": {{"width_nm": 5}}}}')


@pytest.mark.parametrize("text", ["", "nonsense", "[]", "{}", '{"format": 3, "kept": {"width_nm": "wide"}}'])
def test_what_is_no_such_document_is_told(text: str) -> None:
    with pytest.raises((ValueError, TypeError, KeyError)):
        LABEL.read(text)


def test_a_document_may_be_a_model_too() -> None:
    class Side(BaseModel):
        width_nm: int

    document: KeptDocument[Side] = KeptDocument(Side)
    assert document.read(document.text(Side(width_nm=3))) == Side(width_nm=3)
