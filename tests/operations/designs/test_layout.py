"""Designs that are laid out: kept with their revisions, their parts counted, the plain list left as it is."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from sqlmodel import Session, select

from models.database import Store
from models.errors import Conflict, Stale, Unfit
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft
from models.intake.layouts.layout import LayoutDraft
from models.intake.layouts.parts import own_parts
from models.intake.layouts.plain import layout_to_plain
from models.operations.check import check_shop
from models.operations.designs.design import add_design, change_design, copy_design, discard_copy, set_parts
from models.operations.designs.layout import add_laid_out_design, drop_layout, keep_layout
from models.queries.costing.costing import cost_of_design
from models.queries.designs.design import design_view, draft_of
from models.queries.designs.export import export_parts
from models.queries.designs.history import design_difference
from models.queries.designs.layout import layout_of
from models.tables import Design, Item, Layout, Part, Revision
from tests.budget import budget
from tests.laid import BLUE, a_laid_design, chain_raw, lozenge_raw, raw_layouts, read, stock_two
from tests.shops import a_design, a_part, counted


@pytest.fixture
def laid(store: Store) -> Store:
    """A shop with a bronze ring (1), an ear wire (2), and a laid-out lozenge (design 1) with a gift box beside it."""
    with store.writing() as session:
        stock_two(session)
        add_laid_out_design(session, a_laid_design())
    return store


def parts_of(draft: DesignDraft) -> list[tuple[str, int]]:
    """The parts as (key or name, whole quantity)."""
    return [(part.layout_key or part.typed_name, part.quantity_milli // 1000) for part in draft.parts]


BLUE_NAME = "Blue niobium ring 1.0 × 4.0 mm"
LAID = [("i1", 2), ("t1", 8), ("i2", 1)]


def refused(session: Session, layout: LayoutDraft) -> set[str]:
    with pytest.raises(Unfit) as found:
        keep_layout(session, 1, 1, layout)
    return set(found.value.faults.by_field())


def test_a_laid_out_design_comes_back_as_it_was_kept(laid: Store) -> None:
    with laid.reading() as session:
        draft = draft_of(session, 1)
        assert draft.layout == read(lozenge_raw())
        assert parts_of(draft) == [*LAID, ("gift box", 1)]
        assert draft.weave == "european-4-in-1"
        assert design_view(session, 1).draft == draft
        assert layout_of(session, 1) == draft.layout
        kept = session.exec(select(Layout)).one()
        assert kept.kind == "sheet"
        assert '"runs":[["t1",1],["i1",1],["t1",1]]' in kept.plan


def test_any_change_of_rows_route_or_closed_rings_makes_a_revision(laid: Store) -> None:
    with laid.writing() as session:
        first = read(lozenge_raw())
        assert keep_layout(session, 1, 1, first).changed is False
        raw = lozenge_raw()
        raw["rows"][2]["items"][1] = "t1"
        states = [
            read(raw),
            read({**raw, "route": {"start_row": 2}}),
            read({**raw, "route": {"start_row": 2}, "closed_beforehand": ["1.1"]}),
            read({**raw, "route": {"start_row": 2}, "closed_beforehand": []}),
        ]
        for number, state in enumerate(states, 2):
            saved = keep_layout(session, 1, number - 1, state)
            assert (saved.revision, saved.changed) == (number, True)
            assert draft_of(session, 1).layout == state
        assert draft_of(session, 1, 1).layout == first
        assert parts_of(draft_of(session, 1)) == [("i1", 1), ("t1", 9), ("i2", 1), ("gift box", 1)]
        closed = {part.layout_key: part.closed_milli for part in draft_of(session, 1, 4).parts}
        assert closed == {"i1": 0, "t1": 1000, "i2": None, "": None}


def test_guessed_prices_of_the_palette_make_no_revision(laid: Store) -> None:
    with laid.writing() as session:
        raw = lozenge_raw()
        raw["palette"][1]["guess"] = Decimal("0.30")
        assert keep_layout(session, 1, 1, read(raw)).revision is None
        draft = draft_of(session, 1)
        assert draft.layout == read(raw)
        assert {part.guess for part in draft.parts if part.layout_key == "t1"} == {Decimal("0.30")}


def test_a_plain_design_gets_rows_and_keeps_its_list(store: Store) -> None:
    with store.writing() as session:
        ring, _ = stock_two(session)
        design_id = a_design(session, [a_part(ring, 4, purpose="chain")])
        keep_layout(session, design_id, 1, read(lozenge_raw()))
        assert parts_of(draft_of(session, design_id)) == [*LAID, ("", 4)]
        assert draft_of(session, design_id, 1).layout is None


def test_editing_the_plain_list_keeps_the_rows(laid: Store) -> None:
    with laid.writing() as session:
        plain = replace(draft_of(session, 1), parts=(PartDraft(2000, item_id=1, purpose="spare"),), layout=None)
        change_design(session, 1, 1, plain, keep_layout=True)
        draft = draft_of(session, 1)
        assert parts_of(draft) == [*LAID, ("", 2)]
        assert draft.layout == read(lozenge_raw())


def test_rows_given_up_leave_their_parts_as_a_plain_list(laid: Store) -> None:
    with laid.writing() as session:
        before = cost_of_design(session, 1)
        drop_layout(session, 1, 1)
        draft = draft_of(session, 1)
        assert draft.layout is None
        assert [(part.quantity_milli // 1000, part.joined, part.layout_key) for part in draft.parts] == [
            (1, True, ""), (1, False, ""), (6, True, ""), (2, False, ""), (1, True, ""), (1, True, ""),
        ]  # fmt: skip
        after = cost_of_design(session, 1)
        assert after.cost.counts == before.cost.counts
        assert after.cost.minutes == before.cost.minutes
        assert draft.weave == "european-4-in-1"


def test_a_copy_has_rows_of_its_own_and_goes_without_a_trace(laid: Store) -> None:
    with laid.writing() as session:
        copy_id = copy_design(session, 1)
        assert draft_of(session, copy_id).layout == read(lozenge_raw())
        keep_layout(session, copy_id, 1, read(chain_raw()))
        assert draft_of(session, 1).layout == read(lozenge_raw())
    with laid.writing() as session:
        second = copy_design(session, 1)
        discard_copy(session, second)
        assert session.get(Design, second) is None
        revisions = set(session.exec(select(Revision.id)))
        assert set(session.exec(select(Layout.revision_id))) <= revisions


def test_a_design_that_a_kit_is_made_of_stays(laid: Store) -> None:
    with laid.writing() as session:
        copy_id = copy_design(session, 1)
        kit = add_design(session, DesignDraft("Kit of it"))
        session.get_one(Design, kit).kit_of_id = copy_id
        with pytest.raises(Conflict):
            discard_copy(session, copy_id)


def test_what_the_shop_does_not_know_is_refused_beside_its_entry(laid: Store) -> None:
    with laid.writing() as session:
        session.add(Item(kind="chain", name="Fine chain", unit="m", created_at=session.get_one(Item, 1).created_at))
        session.flush()
        gone = read({**lozenge_raw("i9")})
        assert refused(session, gone) == {"palette.0.item_id"}
        chain_as_ring = read(lozenge_raw("i3"))
        assert refused(session, chain_as_ring) == {"palette.0.item_id"}
        finding_as_ring = lozenge_raw()
        finding_as_ring["palette"][1] = {"key": "t1", "kind": "finding", "name": "hook"}
        assert refused(session, read(finding_as_ring)) == {"palette.1.kind"}
        metal = lozenge_raw()
        metal["palette"][1]["metal"] = "mithril"
        # Intake does not know the shop's own metals, so an unknown word comes here.
        assert refused(session, read(metal)) == {"palette.1.metal"}
        each = lozenge_raw()
        each["palette"][2] = {"key": "i2", "each": "2"}
        assert refused(session, read(each)) == {"palette.2.each"}


def test_a_ring_beside_a_soldered_one_cannot_be_closed_beforehand(laid: Store) -> None:
    with laid.writing() as session:
        session.get_one(Item, 1).can_open = False
        session.flush()
        raw = {**lozenge_raw(), "attachments": [], "closed_beforehand": ["2.1"]}
        assert refused(session, read(raw)) == {"closed_beforehand"}
        keep_layout(session, 1, 1, read({**raw, "closed_beforehand": ["1.1"]}))


def test_a_stale_change_of_rows_is_refused_with_both_values(laid: Store) -> None:
    with laid.writing() as session:
        raw = lozenge_raw()
        raw["rows"][0]["items"] = ["i1"]
        keep_layout(session, 1, 1, read(raw))
        raw["rows"][4]["items"] = ["i1"]
        with pytest.raises(Stale) as stale:
            keep_layout(session, 1, 1, read(raw))
        assert (
            "Row 5",
            f"starts at 2: 1 × {BLUE_NAME}",
            "starts at 2: 1 × Bronze ring 1.0 × 4.0 mm",
        ) in stale.value.changes
        # Only the palette's order differs: still a difference, so that no stale edit passes for the same.
        swapped = {**raw, "rows": read_rows(session)}
        swapped["palette"] = [swapped["palette"][1], swapped["palette"][0], swapped["palette"][2]]
        with pytest.raises(Stale):
            keep_layout(session, 1, 1, read(swapped))


def read_rows(session: Session) -> list[dict[str, Any]]:
    layout = draft_of(session, 1).layout
    assert layout is not None
    rows: list[dict[str, Any]] = layout_to_plain(layout)["rows"]
    return rows


def test_a_file_of_parts_replaces_the_plain_list_only(laid: Store) -> None:
    with laid.writing() as session:
        rows = list(export_parts(session))
        assert [row["from_rows"] for row in rows] == [True, True, True, False]
        change_design(session, 1, 1, replace(draft_of(session, 1), parts=(), layout=None), keep_layout=True)
        assert parts_of(draft_of(session, 1)) == LAID
        set_parts(session, "Lozenge", [{name: str(value or "") for name, value in row.items()} for row in rows])
        assert parts_of(draft_of(session, 1)) == [*LAID, ("gift box", 1)]
        add_design(session, DesignDraft("Elsewhere"))
        set_parts(session, "Elsewhere", [{name: str(value or "") for name, value in row.items()} for row in rows])
        moved = draft_of(session, 2)
        assert all(not part.layout_key for part in moved.parts)
        assert sum(part.quantity_milli for part in moved.parts) == 12_000
        assert sum(part.quantity_milli for part in moved.parts if not part.joined) == 3000


def test_the_difference_of_two_revisions_tells_rows_rings_grams_minutes_and_prices(laid: Store) -> None:
    with laid.writing() as session:
        raw = lozenge_raw()
        raw["rows"].append({"start": 1, "items": ["t1", "t1"]})
        keep_layout(session, 1, 1, read(raw))
    with laid.reading() as session:
        view = design_difference(session, 1)
        assert view.after.rings - view.before.rings == 2
        assert view.after.mass_g > view.before.mass_g
        assert view.after.minutes > view.before.minutes
        assert ("Row 6", "", f"starts at 1: 2 × {BLUE_NAME}") in view.layout
        assert ("Laid out", "5 rows, 9 rings", "6 rows, 11 rings") in view.layout


@given(raw=raw_layouts(), second=raw_layouts())
@settings(max_examples=budget(25, 5), deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_kept_rows_come_back_and_the_plain_list_never_changes_them(
    laid: Store, raw: dict[str, Any], second: dict[str, Any]
) -> None:
    with laid.writing() as session:
        draft = read(raw)
        version = session.get_one(Design, 1).version
        keep_layout(session, 1, version, draft)
        kept = draft_of(session, 1)
        assert kept.layout == draft
        counts = draft.net().counts
        assert {part.layout_key: part.quantity_milli // 1000 for part in kept.parts if part.layout_key} == counts
        own = (PartDraft(3000, item_id=1, purpose=str(version)),)
        version = session.get_one(Design, 1).version
        change_design(session, 1, version, replace(kept, parts=own, layout=None), keep_layout=True)
        changed = draft_of(session, 1)
        assert changed.layout == draft
        assert own_parts(changed.parts) == own
        assert changed.parts[: len(counts)] == kept.parts[: len(counts)]
        keep_layout(session, 1, session.get_one(Design, 1).version, read(second))
        assert own_parts(draft_of(session, 1).parts) == own
        session.rollback()


def test_reading_a_design_takes_as_many_queries_for_rows_of_any_length(laid: Store) -> None:
    def queries(raw: dict[str, Any]) -> int:
        with laid.writing() as session:
            keep_layout(session, 1, session.get_one(Design, 1).version, read(raw))
        with laid.reading() as session, counted(session) as seen:
            draft_of(session, 1)
            cost_of_design(session, 1)
        return len(seen)

    long = [{"start": number % 2, "rings": 40, "repeat": ["i1", "t1"]} for number in range(40)]
    assert queries(lozenge_raw()) == queries({**lozenge_raw(), "rows": long})


def test_a_thousand_rings_are_kept_in_little_text(laid: Store) -> None:
    with laid.writing() as session:
        rows = [{"start": number % 2, "rings": 50, "item": "i1"} for number in range(100)]
        keep_layout(session, 1, 1, read({"weave": "european-4-in-1", "rows": rows, "palette": [dict(BLUE)]}))
        assert session.exec(select(Part.quantity_milli).where(Part.layout_key == "i1")).all()[-1] == 5_000_000
        assert len(session.exec(select(Layout.plan)).all()[-1]) < 5000


SPOILT = [
    ("UPDATE part SET quantity_milli = 3000 WHERE layout_key = 'i1'", "layout 1. Of revision 1: part 1 keeps 3000"),
    ("UPDATE part SET item_id = 2 WHERE layout_key = 'i1'", "part 1 is not what “i1” is"),
    ("UPDATE part SET layout_key = 'i2' WHERE layout_key = 'i1'", "part 1 is not what “i2” is"),
    ("DELETE FROM part WHERE layout_key = 't1'", "the rows take 8 of “t1”, and no part keeps them"),
    ("UPDATE part SET layout_key = '' WHERE layout_key = 'i2'", "the rows take 1 of “i2”"),
    ("UPDATE layout SET plan = replace(plan, '[\"t1\",2]', '[\"t1\",3]')", "its rows take 10000"),
    ("UPDATE layout SET plan = '{}'", "rows can be read: layout 1"),
    ("UPDATE layout SET palette = '5'", "rows can be read: layout 1"),
    ('UPDATE layout SET route = \'{"start_row": "first"}\'', "rows can be read: layout 1"),
    ("UPDATE layout SET closed = '[\"1.1\"]'", "and the rows name 0 rings"),
    ("DELETE FROM layout", "parts from rows have rows: part 1"),
]


@pytest.mark.parametrize(("statement", "says"), SPOILT)
def test_the_check_names_parts_that_do_not_agree_with_their_rows(laid: Store, statement: str, says: str) -> None:
    with laid.reading() as session:
        assert check_shop(session, laid.photos).sound
    with laid.writing() as session:
        session.connection().exec_driver_sql(statement)
    with laid.reading() as session:
        found = check_shop(session, laid.photos).wrong
    assert any(says in words for words in found), found
