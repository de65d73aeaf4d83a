"""Every list of words stands in one place: what is declared reaches all that uses it, and nobody keeps a copy."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any, get_args

import pytest
from sqlalchemy import CheckConstraint
from sqlalchemy.exc import StatementError

from models.database import Store
from models.tables import Shop, metadata
from models.tables.columns import Word
from models.trade import measures
from models.trade.vocabulary import bench, ledger, pieces, plans, selling, things
from models.trade.vocabulary.terms import Vocabulary
from tests.more_words import ADDED
from tests.vocabularies import ROOT, copies, declared, listed_in, listed_in_template

DECLARED = declared()
TYPES: dict[str, Any] = {
    "ACT_KINDS": ledger.ActKind, "ALLOWANCES": plans.Allowance, "BUILD_STATES": bench.BuildState,
    "COSTS": ledger.CostOf, "DESIGN_ORDERS": plans.DesignOrder, "FIT_VERDICTS": things.FitVerdict,
    "GAUGE_SYSTEMS": selling.GaugeSystem, "GOALS": plans.Goal, "HANGINGS": pieces.Hanging,
    "ITEM_KINDS": things.ItemKind, "JOB_KINDS": bench.JobKind, "LAYOUT_KINDS": pieces.LayoutKind,
    "LENGTH_UNITS": selling.LengthUnit, "MAKE_ORDERS": plans.MakeOrder, "MASS_SOURCES": ledger.MassSource,
    "METHODS": pieces.Method, "MOVEMENT_KINDS": ledger.MovementKind, "OVERHEAD_MODES": selling.OverheadMode,
    "PART_CHANGES": plans.PartChange, "PLAN_STATES": plans.PlanState, "PURCHASE_STATES": plans.PurchaseState,
    "ROW_ORDERS": pieces.Sides, "SHAPES": pieces.ShapeName, "SHELF_STATES": ledger.ShelfState,
    "STANDINGS": selling.Standing, "TURNS": pieces.Turn, "UNITS": things.Unit, "VALUATIONS": ledger.Valuation,
    "WAYS": pieces.Way, "WHENS": pieces.When, "WHERES": pieces.Where, "WHOSE": pieces.Whose,
}  # fmt: skip
"""The type that names the words of a closed vocabulary."""
NO_COPIES = {
    ("models/intake/designs/part_words.py", "METAL_FAMILIES"): "colours, which a family happens to be called by",
    ("models/operations/demo/designs.py", "WORK_KINDS"): "the work of one invented design",
    ("models/trade/measures.py", "PACK_UNITS"): "the units themselves by their names, more than packs are sold by",
    ("templates/layouts/_rows_fields.html", "SHAPES"): "the drawing of each shape",
}
"""Lists that only look like a copy, and what they are."""


@pytest.mark.long
def test_one_word_more_is_found_everywhere_and_can_be_kept() -> None:
    command = [sys.executable, "-m", "tests.more_words", "tests/web/more_words_cases.py"]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stdout[-8000:] + done.stderr[-2000:]


def test_every_open_vocabulary_is_tried_with_one_word_more() -> None:
    assert {name for name, one in DECLARED.items() if not one.closed} == set(ADDED)


def sources() -> list[Path]:
    found = [path for root in ("models", "webapp") for path in (ROOT / root).rglob("*.py")]
    own = ROOT / "models" / "trade" / "vocabulary"
    return sorted(path for path in found if own not in path.parents)


def test_no_other_module_keeps_a_list_of_declared_words() -> None:
    found = [
        f"{name}:{line} lists {words} of {vocabulary}"
        for path in sources()
        for name in [path.relative_to(ROOT).as_posix()]
        for line, words in listed_in(path.read_text(encoding="utf-8"))
        for vocabulary in copies(words, DECLARED)
        if (name, vocabulary) not in NO_COPIES
    ]
    assert found == []


def test_no_template_keeps_a_list_of_declared_words() -> None:
    found = [
        f"{name}:{line} lists {words} of {vocabulary}"
        for path in sorted((ROOT / "templates").rglob("*.html"))
        for name in [path.relative_to(ROOT).as_posix()]
        for line, words in listed_in_template(path.read_text(encoding="utf-8"))
        for vocabulary in copies(words, DECLARED)
        if (name, vocabulary) not in NO_COPIES
    ]
    assert found == []


@pytest.mark.parametrize(
    "source",
    [
        'KINDS = ("ring", "scale", "bead")',
        'KINDS = ["", "ring", "scale", "bead"]',
        'if kind in {"ring", "wire", "chain"}: pass',
        'WORDS = {"spoiled": "Spoiled", "lost": "Lost", "gift": "Given away"}',
        'WORDS = (("online", "Online"), ("market", "Market"), ("direct", "Direct"))',
        'State = Literal["started", "making", "finished", "abandoned"]',
    ],
)
def test_a_copy_of_three_words_is_seen(source: str) -> None:
    assert [name for _, words in listed_in(source) for name in copies(words, DECLARED)]


@pytest.mark.parametrize(
    "source",
    [
        'KINDS = ("ring", "scale")',
        'DO = {"lozenge": lay_lozenge, "strip": lay_strip, "fan": lay_fan}',
        'FIELDS = ("name", "kind", "unit", "metal")',
    ],
)
def test_what_is_no_list_of_words_is_let_be(source: str) -> None:
    assert [name for _, words in listed_in(source) for name in copies(words, DECLARED)] == []


@pytest.mark.parametrize(
    "source",
    [
        '{{ forms.choice(form, "Kind", "kind", [("ring", "Ring"), ("scale", "Scale"), ("bead", "Bead")]) }}',
        '{{ {"draft": "idle", "sent": "good", "part": "warn"}[row.state] }}',
        '{% if kind in ["wire", "finding", "chain"] %}',
    ],
)
def test_a_copy_in_a_template_is_seen(source: str) -> None:
    assert [name for _, words in listed_in_template(source) for name in copies(words, DECLARED)]


@pytest.mark.parametrize("name", sorted(TYPES))
def test_the_type_of_a_closed_vocabulary_names_its_words(name: str) -> None:
    assert set(get_args(TYPES[name])) == set(DECLARED[name])


def test_a_pack_holds_what_its_unit_measures() -> None:
    for code, unit in things.PACK_UNITS.terms.items():
        if unit.dimension == "mass":
            assert unit.size == measures.GRAMS_PER[code]
        elif unit.dimension == "length":
            assert unit.size * 1_000_000 == measures.parse_length(f"1 {code}").nm


def word_columns() -> list[tuple[str, Word]]:
    return [
        (f"{table.name}.{column.name}", column.type)
        for table in metadata.sorted_tables
        for column in table.columns
        if isinstance(column.type, Word)
    ]


def test_columns_of_open_words_are_in_no_check() -> None:
    found = dict(word_columns())
    assert len(found) == 8
    assert not any(column.vocabulary.closed for column in found.values())
    listed = {
        f"{table.name}.{str(one.name).removesuffix('_known')}"
        for table in metadata.sorted_tables
        for one in table.constraints
        if isinstance(one, CheckConstraint) and str(one.name).endswith("_known")
    }
    assert not listed & set(found)


@pytest.mark.parametrize(("name", "column"), word_columns())
def test_a_column_takes_each_of_its_words_and_no_other(name: str, column: Word, store: Store) -> None:
    dialect = store.engine.dialect
    for word in column.vocabulary:
        assert column.process_bind_param(word, dialect) == word
    for strange in ("a word of nobody", *(() if column.or_nothing else ("",))):
        with pytest.raises(ValueError, match=f"'{strange}' is no {column.vocabulary.noun}; known are"):
            column.process_bind_param(strange, dialect)
    if column.or_nothing:
        assert column.process_bind_param("", dialect) == ""


def test_a_word_that_is_not_known_is_refused_when_it_is_written(store: Store) -> None:
    with pytest.raises(StatementError, match=r"'x\.33' is no price ending"), store.writing() as session:
        session.get_one(Shop, 1).ending = "x.33"


def test_a_vocabulary_says_its_words_in_their_order_and_knows_no_other() -> None:
    words: Vocabulary[str, Any] = selling.FEE_BASES
    assert words.codes == ("price", "price+shipping", "price+shipping+tax")
    assert words.choices[0] == ("price", "The price")
    assert words["price"] == "the price"
    with pytest.raises(KeyError, match="'tip' is no base of a fee"):
        words.term("tip")
