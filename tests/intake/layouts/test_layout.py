"""Layouts as they are handed in: by a program, by a form, as JSON text; the same draft and the same faults."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft, read_design
from models.intake.faults import Faults
from models.intake.layouts.layout import LayoutDraft, read_layout, read_layout_text, rekeyed
from models.intake.layouts.parts import parts_of_layout, plain_parts
from models.intake.layouts.plain import from_stored, layout_to_plain, stored_texts
from models.layouts.engine.items import Item
from models.layouts.steps.route import Route
from models.trade.rings import RingSize
from tests.budget import budget
from tests.laid import BLUE, chain_raw, lozenge_raw, raw_layouts, read
from webapp.web.forms import RawForm

ITEMS = {
    "i1": Item("i1", "bronze", RingSize(1_000_000, 4_000_000)),
    "t1": Item("t1", "blue", RingSize(1_000_000, 4_000_000)),
    "i2": Item("i2", "ear wire", finding=True),
}


def as_form(raw: dict[str, Any]) -> dict[str, object]:
    """The same as a browser's form sends it: rows and palette as numbered fields, all of it text."""
    items: list[tuple[str, str]] = []
    for name, value in raw.items():
        if name in {"rows", "palette"}:
            for place, row in enumerate(value):
                for field, inner in row.items():
                    text = json.dumps(inner) if isinstance(inner, (list, dict)) else str(inner)
                    items.append((f"{name}.{place}.{field}", text))
        else:
            items.append((name, json.dumps(value) if isinstance(value, (list, dict)) else str(value)))
    return RawForm(tuple(items)).raw()


def as_text(raw: dict[str, Any]) -> str:
    return json.dumps(raw, default=str)


def test_a_program_a_form_and_json_text_make_the_same_layout() -> None:
    by_program = read(lozenge_raw())
    assert read_layout(as_form(lozenge_raw())) == by_program
    assert read_layout_text(as_text(lozenge_raw())) == by_program
    assert read_layout({**lozenge_raw(), "rows": as_text(lozenge_raw()["rows"])}) == by_program  # type: ignore[arg-type]
    assert by_program.rings == 9
    assert by_program.route == Route(start_row=3)
    assert by_program.kind == "sheet"


WRONG: list[tuple[dict[str, Any], str]] = [
    ({"weave": "cloth"}, "weave"),
    ({"rows": []}, "rows"),
    ({"rows": [{"start": "x", "items": ["i1"]}]}, "rows.1.start"),
    ({"rows": [{"start": 0, "items": ["i1"]}, {"start": 1, "rings": 3}]}, "rows.2.item"),
    ({"palette": [{"key": "t1", "kind": "ring", "wire": "1 mm", "inner": "big"}]}, "palette.0.inner"),
    ({"palette": [{"key": "t1", "name": "hook", "each": "0.5"}]}, "palette.0.each"),
    ({"palette": [{"key": "i1", "each": "-1"}]}, "palette.0.each"),
    ({"palette": []}, "palette"),
    ({"route": {"start_row": 6}}, "route.start_row"),
    ({"route": {"sides": "inside out"}}, "route.sides"),
    ({"closed_beforehand": ["9.9"]}, "closed_beforehand"),
    ({"closed_beforehand": ["1.1", "2.1"]}, "closed_beforehand"),
    ({"closed_beforehand": 4}, "closed_beforehand"),
    ({"attachments": [{"name": "", "kind": "hang", "ring": "i1"}]}, "attachments.1.name"),
]


@pytest.mark.parametrize(("change", "field"), WRONG)
def test_what_is_wrong_stands_beside_its_field_whichever_way_it_came(change: dict[str, Any], field: str) -> None:
    raw = {**lozenge_raw(), **change}
    found = read_layout(raw)
    assert isinstance(found, Faults)
    assert field in found.by_field()
    assert read_layout_text(as_text(raw)) == found
    within = read_design({"name": "Lozenge", "rows": raw})
    assert isinstance(within, Faults)
    assert f"rows.{field}" in within.by_field()


@pytest.mark.parametrize("text", ["", "[]", "5", "{", "[" * 5000, '{"rows": NaN}', "1" * 5000])
def test_text_that_is_no_layout_is_refused_without_a_stumble(text: str) -> None:
    assert isinstance(read_layout_text(text), Faults)


def test_stock_items_need_no_palette_and_other_words_get_keys_of_the_shop() -> None:
    plain = read(
        {"weave": "european-4-in-1", "rows": [{"rings": 3, "item": "i7"}, {"start": 1, "rings": 2, "item": "i7"}]}
    )
    assert [(entry.key, entry.item_id) for entry in plain.palette] == [("i7", 7)]
    named = read(
        {
            "weave": "european-4-in-1",
            "rows": [{"rings": 2, "repeat": ["bronze", "sky"]}],
            "attachments": [
                {"name": "bail", "kind": "hang", "ring": "bronze", "on": {"where": "first row", "item": "sky"}}
            ],
            "palette": [{"key": "bronze", "item_id": 12}, dict(BLUE, key="sky"), dict(BLUE, key="t1", colour="green")],
        }
    )
    assert [entry.key for entry in named.palette] == ["i12", "t2", "t1"]
    assert named.net().counts == {"i12": 2, "t2": 1}
    assert named.plan.attachments[0].on.item == "t2"


def test_a_key_that_nothing_explains_is_kept_only_for_counting() -> None:
    raw = {"weave": "european-4-in-1", "rows": [{"rings": 4, "item": "a"}]}
    assert isinstance(read_layout(raw), Faults)
    loose = read_layout(raw, loose=True)
    assert isinstance(loose, LayoutDraft)
    assert loose.net().counts == {"a": 4}


def test_the_rows_make_parts_with_what_is_closed_beforehand() -> None:
    lozenge = read(lozenge_raw())
    parts = {part.layout_key: part for part in parts_of_layout(lozenge, ITEMS)}
    # Row 3 is laid first and closed: its ring of bronze and two of blue. The bail ring stays open.
    assert {key: (part.quantity_milli, part.closed_milli) for key, part in parts.items()} == {
        "i1": (2000, 1000),
        "t1": (8000, 2000),
        "i2": (1000, None),
    }
    assert parts["t1"].typed_colour == "blue"
    assert parts["t1"].guess == Decimal("0.12")
    chosen = replace(lozenge, closed=("1.1", "5.1", "a1.1"))
    # The hung ring is linked to ring 1.1, so it is the makers own faults that refuse it, not the counting.
    assert isinstance(read_layout({**lozenge_raw(), "closed_beforehand": ["1.1", "a1.1"]}), Faults)
    assert {part.layout_key: part.closed_milli for part in parts_of_layout(chosen, ITEMS)}["t1"] == 2000
    single = {part.layout_key: part.closed_milli for part in parts_of_layout(replace(lozenge, closed=()), ITEMS)}
    assert single == {"i1": 0, "t1": 0, "i2": None}


def test_chain_by_the_metre_counts_as_a_length() -> None:
    raw = lozenge_raw()
    raw["palette"][2] = {"key": "t2", "kind": "chain", "name": "fine chain", "unit": "m", "each": "0.45", "guess": "8"}
    raw["attachments"][1]["finding"] = "t2"
    parts = {part.layout_key: part for part in parts_of_layout(read(raw), ITEMS)}
    assert (parts["t2"].quantity_milli, parts["t2"].typed_unit, parts["t2"].closed_milli) == (450, "m", None)


def test_a_part_with_both_kinds_of_ring_becomes_two_in_a_plain_list() -> None:
    part = PartDraft(8000, item_id=1, layout_key="i1", closed_milli=3000, purpose="leaf")
    whole = replace(part, closed_milli=8000)
    assert plain_parts([part, whole, replace(part, closed_milli=None)]) == (
        PartDraft(5000, item_id=1, purpose="leaf"),
        PartDraft(3000, item_id=1, purpose="leaf", joined=False),
        PartDraft(8000, item_id=1, purpose="leaf", joined=False),
        PartDraft(8000, item_id=1, purpose="leaf"),
    )


def test_a_design_brings_its_rows_in_a_form_or_a_body() -> None:
    body = read_design({"name": "Lozenge", "rows": lozenge_raw()})
    form = read_design({"name": "Lozenge", "rows": as_text(lozenge_raw())})
    assert isinstance(body, DesignDraft)
    assert body == form
    assert body.layout == read(lozenge_raw())
    assert isinstance(read_design({"name": "Lozenge", "rows": 4}), Faults)
    plain = read_design({"name": "Lozenge", "rows": ""})
    assert isinstance(plain, DesignDraft)
    assert plain.layout is None


@given(raw_layouts())
@settings(max_examples=budget(60), deadline=None)
def test_a_layout_reads_back_from_what_it_is_written_out_as(raw: dict[str, Any]) -> None:
    draft = read(raw)
    assert read_layout(json.loads(json.dumps(layout_to_plain(draft)))) == draft
    assert from_stored(draft.kind, *stored_texts(draft)) == draft


@given(raw_layouts())
@settings(max_examples=budget(20), deadline=None)
def test_a_revision_kept_before_formats_had_numbers_reads_the_same(raw: dict[str, Any]) -> None:
    draft = read(raw)
    plan, *rest = stored_texts(draft)
    older = json.dumps(json.loads(plan)["kept"])
    assert "format" not in older
    assert from_stored(draft.kind, older, *rest) == draft


@given(raw_layouts())
@settings(max_examples=budget(60), deadline=None)
def test_the_parts_of_rows_add_up_to_the_rings_and_findings_of_the_piece(raw: dict[str, Any]) -> None:
    draft = read(raw)
    net = draft.net()
    parts = parts_of_layout(draft, ITEMS, net)
    assert {part.layout_key: part.quantity_milli // 1000 for part in parts} == net.counts
    for part in parts:
        assert 0 <= (part.closed_milli or 0) <= part.quantity_milli
    assert sum(part.quantity_milli for part in plain_parts(parts)) == sum(part.quantity_milli for part in parts)


@given(raw_layouts(), st.sampled_from(["i9", "t7"]))
@settings(max_examples=budget(40), deadline=None)
def test_another_key_for_the_same_ring_keeps_the_piece(raw: dict[str, Any], other: str) -> None:
    draft = read(raw)
    plan = rekeyed(draft.plan, {"i1": other})
    before, after = draft.net(), replace(draft, plan=plan).net()
    assert after.links == before.links
    assert after.counts.get(other, 0) == before.counts.get("i1", 0)
    assert rekeyed(plan, {other: "i1"}) == draft.plan


def test_a_chain_is_read_with_its_loop() -> None:
    chain = read(chain_raw(units=20, closed=True))
    assert chain.kind == "chain"
    assert chain.net().counts == {"i1": chain.rings}
    assert read_layout({**chain_raw(units=20), "closed": "yes"}) == chain
    assert isinstance(read_layout(chain_raw(units=1, closed=True)), Faults)


words = st.one_of(
    st.text(max_size=8),
    st.sampled_from(["", "i1", "t1", "1.1", "i0", "i99999999999", "-1", "NaN", "1e9", "[", "{}", "[1]", "9" * 60, "\0", "chain"]),
)  # fmt: skip
numbers = st.one_of(
    st.integers(-3, 5), st.integers(), st.decimals(allow_nan=True, allow_infinity=True), st.just(Decimal("1E+40"))
)
values = st.recursive(
    st.one_of(st.none(), st.booleans(), words, numbers),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(words, inner, max_size=3)),
    max_leaves=5,
)


def body_of(*names: str) -> st.SearchStrategy[dict[str, object]]:
    return st.dictionaries(st.sampled_from(names), values, max_size=len(names))


row = st.one_of(values, body_of("start", "runs", "items", "rings", "item", "repeat"))
attachment = st.one_of(values, body_of("name", "kind", "ring", "finding", "each", "on"))
entry = st.one_of(values, body_of("key", "item_id", "kind", "name", "metal", "wire", "inner", "each", "unit", "guess"))
bodies = st.fixed_dictionaries(
    {},
    optional={
        "weave": st.one_of(values, st.sampled_from(["european-4-in-1", "byzantine", "japanese-12-in-2"])),
        "kind": values,
        "rows": st.one_of(values, st.lists(row, max_size=3), st.just([{"rings": 2, "item": "i1"}])),
        "stretches": st.one_of(values, st.lists(body_of("units", "repeat"), max_size=2)),
        "attachments": st.one_of(values, st.lists(attachment, max_size=2)),
        "palette": st.one_of(values, st.lists(entry, max_size=3)),
        "route": st.one_of(values, body_of("start_row", "sides", "method", "turn", "when", "way")),
        "closed_beforehand": st.one_of(values, st.lists(words, max_size=3)),
        "closed": values,
        "own_links": values,
        "up": values,
        "connector": words,
    },
)


@given(bodies, st.booleans())
@settings(max_examples=budget(200, 40), deadline=None)
def test_any_body_is_a_layout_or_is_refused_in_words(raw: dict[str, object], loose: bool) -> None:
    found = read_layout(raw, loose=loose)
    if isinstance(found, Faults):
        assert all(fault.field and fault.message for fault in found)
        return
    assert from_stored(found.kind, *stored_texts(found)) == found
    net = found.net()
    assert loose or {entry.key for entry in found.palette} >= set(net.counts)
