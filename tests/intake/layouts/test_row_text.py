"""Rows in words: what people type comes to rings, and rings are written so that they read back the same."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.intake.faults import Fault
from models.intake.layouts.row_text import read_rings, rings_in_words, short_words
from tests.budget import budget

WORDS = {"i1": "bronze", "i2": "blue", "t1": "bright silver"}


@pytest.mark.parametrize(
    ("text", "rings"),
    [
        ("5 bronze, 1 blue", ["i1"] * 5 + ["i2"]),
        ("bronze", ["i1"]),
        ("3x bronze; 2 × blue", ["i1"] * 3 + ["i2"] * 2),
        ("2 BRONZE, i2, 1 bright", ["i1"] * 2 + ["i2", "t1"]),
        ("(1 bronze, 1 blue) x 3, bronze", ["i1", "i2"] * 3 + ["i1"]),
        ("2 bronze, 3 gaps, 1 blue", ["i1"] * 2 + [""] * 3 + ["i2"]),
        ("2 blue, (bronze, 2 blue) × 2", ["i2"] * 2 + ["i1", "i2", "i2"] * 2),
    ],
)
def test_a_row_in_words_comes_to_its_rings(text: str, rings: list[str]) -> None:
    assert read_rings(text, WORDS, "row") == tuple(rings)


@pytest.mark.parametrize("typed", ["bronze 1.0 × 3.6", "bronze 1.0 x 3.6", "Bronze 1.0x3.6", "bronze 1"])
def test_a_size_is_typed_with_an_x_as_well_as_with_its_own_sign(typed: str) -> None:
    words = {"i1": "bronze 1.0 × 3.6", "i2": "bronze 2.0 × 3.6"}
    assert read_rings(f"4 {typed}", words, "row") == ("i1",) * 4
    assert read_rings(rings_in_words(["i1", "i2"] * 3, words), words, "row") == ("i1", "i2") * 3


def test_a_number_alone_means_the_only_ring() -> None:
    assert read_rings("7", {"i1": "bronze"}, "row") == ("i1",) * 7


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "Say which rings"),
        ("5 green", "“green” is none of the rings of this piece: bronze, blue, bright silver."),
        ("3 b", "none of the rings"),  # both bronze and blue begin so
        ("(1 bronze, 1 blue", "not understood"),
        ("999999 bronze", "up to"),
        ("(1 bronze, 1 blue) x 999999", "up to"),
        ("7", "none of the rings"),
    ],
)
def test_what_is_not_understood_is_said(text: str, says: str) -> None:
    found = read_rings(text, WORDS, "row")
    assert isinstance(found, Fault)
    assert found.field == "row"
    assert says in found.message


def test_places_without_a_ring_can_be_refused() -> None:
    assert isinstance(read_rings("2 gap", WORDS, "row", gaps=False), Fault)


@settings(max_examples=budget(60))
@given(st.lists(st.sampled_from(["i1", "i2", "t1", ""]), min_size=1, max_size=60), st.integers(1, 3))
def test_what_is_written_reads_back_the_same(items: list[str], times: int) -> None:
    whole = items * times
    assert read_rings(rings_in_words(whole, WORDS), WORDS, "row") == tuple(whole)


def test_a_repeat_is_written_as_one() -> None:
    assert rings_in_words(["i1", "i2"] * 6, WORDS) == "(1 bronze, 1 blue) × 6"
    assert rings_in_words(["i1"] * 12, WORDS) == "12 bronze"


def test_each_ring_gets_the_shortest_word_that_is_its_own() -> None:
    wanted = {
        "i1": ("bronze", "bronze 1.0 mm"),
        "i2": ("bronze", "bronze 1.2 mm"),
        "i3": ("blue",),
        "t1": ("copper", "copper"),
        "t2": ("copper",),
    }
    assert short_words(wanted) == {
        "i1": "bronze 1.0 mm",
        "i2": "bronze 1.2 mm",
        "i3": "blue",
        "t1": "copper A",
        "t2": "copper B",
    }
