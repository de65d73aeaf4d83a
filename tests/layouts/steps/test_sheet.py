"""The work sheet: bags with spares, stages with the state after each, the kit for a class."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.links import net_of
from models.layouts.engine.patterns import border
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import lozenge, rectangle
from models.layouts.steps.route import Route
from models.layouts.steps.sheet import class_lines, stages_of, work_sheet
from models.layouts.steps.work import OrderOfWork, order_of_work
from models.layouts.weaves.sheets import EUROPEAN_4
from tests.layouts.layouts import ITEMS, sheet


def pendant() -> Layout:
    bordered = border(sheet(lozenge(EUROPEAN_4, 5, "a")), "b")
    assert isinstance(bordered, Layout)
    return Layout(
        EUROPEAN_4, bordered.rows, (Attachment("bail", "join", Selection("first row"), ring="b", finding="f"),)
    )


def worked(layout: Layout, route: Route | None = None) -> OrderOfWork:
    found = order_of_work(net_of(layout), layout, ITEMS, route)
    assert isinstance(found, OrderOfWork)
    return found


def test_materials_have_spares_rounded_up_and_findings_none() -> None:
    found = work_sheet(net_of(pendant()), ITEMS, worked(pendant()), spare_share=Decimal("0.05"))
    by_key = {each.key: each for each in found.materials}
    assert (by_key["a"].needed, by_key["a"].spare, by_key["a"].total) == (9, 1, 10)
    assert (by_key["b"].needed, by_key["b"].spare) == (17, 1)
    assert by_key["a"].size == "1.0 mm wire · 4.0 mm inside"
    assert (by_key["f"].needed, by_key["f"].spare, by_key["f"].finding) == (1, 0, True)


def test_bags_are_by_item_and_state_and_add_up_to_the_materials() -> None:
    route = Route(3, method="adding closed rings")
    found = work_sheet(net_of(pendant()), ITEMS, worked(pendant(), route))
    for material in found.materials:
        bags = [bag for bag in found.bags if bag.key == material.key]
        assert sum(bag.needed for bag in bags) == material.needed
        assert sum(bag.total for bag in bags) == material.total
    assert {bag.state for bag in found.bags} == {"closed", "open", "finding"}
    assert found.tools
    assert any("eye protection" in each for each in found.cautions)


@given(st.integers(1, 40), st.integers(1, 12))
def test_stages_hold_every_step_in_order_and_grow_to_the_whole_piece(rows: int, most: int) -> None:
    layout = sheet(rectangle(EUROPEAN_4, rows, 3, "a"))
    work = worked(layout)
    stages = stages_of(work.steps, most)
    assert len(stages) <= most
    assert list(stages[-1].present) == list(range(rows * 3))
    seen: set[int] = set()
    for stage in stages:
        assert stage.fresh
        assert not seen & set(stage.fresh)
        seen |= set(stage.fresh)
        assert set(stage.present) == seen
    lines = "\n".join(line for stage in stages for line in stage.lines)
    for step in work.steps:
        assert all(line in lines for line in step.lines)


def test_stages_that_join_rows_name_them() -> None:
    stages = stages_of(worked(sheet(rectangle(EUROPEAN_4, 12, 3, "a"))).steps, 4)
    assert stages[0].title == "Row 1 to Row 3"
    assert stages[0].lines[0].startswith("Row 1: Lay out")


def test_a_class_gets_the_bags_times_its_people() -> None:
    found = work_sheet(net_of(pendant()), ITEMS, worked(pendant()))
    lines = class_lines(found.bags, 12)
    assert [each.total for each in lines] == [12 * bag.total for bag in found.bags]
    assert lines[0].each == found.bags[0].total
    with pytest.raises(ValueError, match="one person"):
        class_lines(found.bags, 0)


def test_impossible_spares_are_refused() -> None:
    work = worked(pendant())
    for share in (Decimal("-0.1"), Decimal("1.1")):
        with pytest.raises(ValueError, match="share"):
            work_sheet(net_of(pendant()), ITEMS, work, spare_share=share)
    none = work_sheet(net_of(pendant()), ITEMS, work, spare_share=Decimal(0))
    assert all(each.spare == 0 for each in none.materials)
