"""A piece on the desk under any row of buttons: it never breaks, always reads back, and undo leads back to where it was."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.database import Store
from models.intake.layouts.layout import read_layout_text
from models.queries.designs.editor_page import editor_page
from models.queries.designs.editor_state import EditorState, editor_state_of, press_button
from tests.budget import budget
from tests.laid import raw_layouts, read, stock_two

ACTS = (
    "live", "lay", "add", "add-item-1", "add-typed", "take-out", "swap", "resize", "row-copy", "row-remove-2", "row-back",
    "row-on-1", "row-start-longer", "row-start-shorter-1", "row-end-longer-1", "row-end-shorter", "nest-2", "offer-1",
    "grow", "shrink", "stripes", "along", "checks", "border", "recolour", "paint", "fill", "drop", "turn", "mirror",
    "repeat", "attach-look", "attach", "detach-1", "fit-rows-3", "fit-rings-4", "fit-units-5", "strokes", "undo", "redo",
)  # fmt: skip
FIELDS = (
    "weave", "shape", "lozenge_middle", "disc_rows", "edges_starts", "chain_units", "chain_wanted", "chain_closed",
    "chain_repeat", "chain_large", "lay_item", "connector", "new_item", "new_line", "swap_old", "swap_item",
    "swap_line", "swap_keep", "resize_wire", "resize_inner", "row_number", "grow_edge", "grow_by", "grow_item",
    "stripes_bands", "stripes_from_row", "along_repeat", "checks_items", "checks_rows", "border_item", "border_width",
    "recolour_old", "recolour_new", "paint_rings", "brush", "turn_up", "mirror_about", "repeat_first", "repeat_last",
    "repeat_times", "hang_kind", "hang_where", "hang_ring", "hang_finding", "hang_each", "hang_every", "hang_rings",
    "hang_of", "hang_item", "strokes",
)  # fmt: skip
VALUES = (
    "", "1", "2", "3", "-1", "0", "999999", "i1", "i2", "t1", "european-4-in-1", "european-6-in-1", "japanese-12-in-2",
    "byzantine", "half-persian-3-in-1", "lozenge", "disc", "edges", "fan", "12 cm", "1.2", "5.0 mm", "bronze", "copper 1 x 4",
    "1 bronze, 1 blue", "1 blue", "1.1", "2.1-2, row 1", "top", "left", "every ring", "attachment", "rings", "hang",
    "gather", "bail", "size", "row", "between rows", "ring", "yes", "flush", '[["i1", ["1.1", "9.9"]]]', "é (", "\u2212",
)  # fmt: skip


@pytest.fixture(scope="module")
def shared_shop(empty_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """A small shop that only is read."""
    folder = tmp_path_factory.mktemp("desk") / "shop"
    shutil.copytree(empty_shop, folder)
    shop = Store(folder)
    with shop.writing() as session:
        stock_two(session)
    yield shop
    shop.close()


@st.composite
def presses(draw: st.DrawFn) -> list[tuple[str, dict[str, str]]]:
    """A few buttons, each with some fields filled with anything."""
    fields = st.dictionaries(st.sampled_from(FIELDS), st.sampled_from(VALUES), max_size=6)
    return draw(st.lists(st.tuples(st.sampled_from(ACTS), fields), min_size=1, max_size=5))


def sent(desk: EditorState, fields: dict[str, str]) -> dict[str, Any]:
    return {"brush": desk.brush, **fields, "state": desk.state, "past": desk.past, "ahead": desk.ahead}


@settings(max_examples=budget(25))
@given(raw=raw_layouts(), pressed=presses())
def test_no_row_of_buttons_breaks_a_piece(
    shared_shop: Store, raw: dict[str, Any], pressed: list[tuple[str, dict[str, str]]]
) -> None:
    with shared_shop.reading() as session:
        desk = editor_state_of(session, read(raw))
        for act, fields in pressed:
            before = desk
            desk = press_button(session, sent(desk, fields), act)
            assert desk.draft is not None
            assert read_layout_text(desk.state) == desk.draft
            assert all(fault.message for fault in desk.faults)
            assert editor_page(session, desk, None).work is not None
            if act not in {"undo", "redo"} and desk.state != before.state:
                undone = press_button(session, sent(desk, {}), "undo")
                # A press may change the palette's colours and the rows, but it is one step.
                assert undone.state == before.state
                assert press_button(session, sent(undone, {}), "redo").state == desk.state
