"""Putting items in stock and changing them, on a real shop."""

from __future__ import annotations

import shutil
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest

from models.costing.inputs import UnitCost
from models.database import Store
from models.errors import Missing, Stale, Unfit
from models.intake.csv_file import Sheet, read_csv, write_csv
from models.intake.faults import Faults
from models.intake.stock.item import ITEM_COLUMNS, ItemDraft
from models.operations.stock.item import NearSize, add_item, bring_back_item, edit_item, retire_item
from models.queries.shop.shop import currency_lock
from models.queries.stock.item import export_items, item_reader, item_view, near_items
from models.trade.rings import RingSize
from tests.shops import a_design, a_part

RING = {"kind": "ring", "metal": "bronze-c220", "wire": "1.0 mm", "inner": "3.6 mm"}


def draft_of(store: Store, **fields: object) -> ItemDraft:
    with store.reading() as session:
        draft = item_reader(session)({**RING, **fields})
    assert not isinstance(draft, Faults), draft
    return draft


def put(store: Store, **fields: object) -> int:
    draft = draft_of(store, **fields)
    with store.writing() as session:
        return add_item(session, draft)


def test_an_item_is_kept_as_it_was_handed_in(store: Store) -> None:
    number = put(
        store, wire="1.6 mm", wire_label="16 swg", inner="1/4 in", colour="Green", finish="matt", note="Springy."
    )
    with store.reading() as session:
        item = item_view(session, number)
    assert (item.wire_nm, item.wire_label, item.inner_nm, item.inner_label) == (
        1_600_000,
        "16 SWG",
        6_350_000,
        "1/4 in",
    )
    assert item.name == "Green commercial bronze C220 ring 1.6 × 6.35 mm"
    assert (item.finish, item.colour, item.note, item.can_open, item.arrives) == (
        "matt",
        "Green",
        "Springy.",
        True,
        "open",
    )
    assert item.aspect_ratio == Decimal("3.96875")
    assert item.offer is None
    assert item.unit_cost is None


def test_a_near_size_of_the_same_metal_and_colour_is_asked_about_first(store: Store) -> None:
    first = put(store, wire="1.6 mm", inner="6.4 mm")
    with store.writing() as session, pytest.raises(NearSize) as refused:
        add_item(session, draft_of(store, wire="16 SWG", inner="6.4 mm"))
    assert refused.value.found == ((first, "Commercial bronze C220 ring 1.6 × 6.4 mm"),)
    assert [fault.field for fault in refused.value.faults] == ["near_ok"]
    assert f"no. {first}" in str(refused.value)


def test_a_near_size_may_be_added_knowingly_and_another_colour_or_a_size_apart_needs_no_question(store: Store) -> None:
    put(store, wire="1.6 mm", inner="6.4 mm")
    put(store, wire="16 SWG", inner="6.4 mm", near_ok="yes")
    put(store, wire="1.6 mm", inner="6.4 mm", colour="green")
    put(store, wire="1.6 mm", inner="6.44 mm", metal="copper")
    put(store, wire="1.6 mm", inner="6.47 mm")
    with store.reading() as session:
        found = near_items(session, RingSize(1_600_000, 6_400_000), "bronze-c220", 30_000)
    assert [(ring.size.wire_nm, ring.colour) for ring in found] == [
        (1_600_000, ""),
        (1_600_000, "green"),
        (1_625_600, ""),
    ]
    assert [ring.exact for ring in found] == [True, True, False]


def test_a_retired_ring_is_not_offered_for_a_near_size(store: Store) -> None:
    first = put(store)
    with store.writing() as session:
        retire_item(session, first)
    second = put(store)
    assert second != first


def test_a_second_finding_of_the_same_name_is_asked_about(store: Store) -> None:
    put(store, kind="finding", name="Ear wire", wire="", inner="", metal="")
    with store.writing() as session, pytest.raises(NearSize, match="a finding of this name"):
        add_item(session, draft_of(store, kind="finding", name="ear wire", wire="", inner="", metal=""))


def test_wire_of_nearly_the_same_thickness_is_asked_about(store: Store) -> None:
    wire = {"kind": "wire", "metal": "copper", "inner": ""}
    put(store, **wire, wire="1.6 mm")
    put(store, **wire, wire="1.6 mm", colour="red")
    put(store, **wire, wire="1.5 mm")
    with store.writing() as session, pytest.raises(NearSize, match="wire of nearly this thickness"):
        add_item(session, draft_of(store, **wire, wire="16 SWG"))


def test_an_edit_changes_the_item_and_its_version(store: Store) -> None:
    number = put(store)
    with store.writing() as session:
        edit_item(session, number, draft_of(store, inner="4.0 mm", colour="red"), version=1)
    with store.reading() as session:
        item = item_view(session, number)
    assert (item.inner_nm, item.colour, item.version) == (4_000_000, "red", 2)
    assert item.name == "Red commercial bronze C220 ring 1.0 × 4.0 mm"


def test_an_edit_that_changes_nothing_keeps_the_version(store: Store) -> None:
    number = put(store)
    with store.writing() as session:
        edit_item(session, number, draft_of(store), version=1)
    with store.reading() as session:
        assert item_view(session, number).version == 1


def test_a_stale_edit_is_refused_with_both_values_and_changes_nothing(store: Store) -> None:
    number = put(store)
    with store.writing() as session:
        edit_item(session, number, draft_of(store, inner="4.0 mm"), version=1)
    with store.writing() as session, pytest.raises(Stale) as stale:
        edit_item(session, number, draft_of(store, inner="5.0 mm", note="mine"), version=1)
    changes = {label: (saved, typed) for label, saved, typed in stale.value.changes}
    assert changes["Inside"] == ("4.0 mm", "5.0 mm")
    assert changes["Note"] == ("", "mine")
    with store.reading() as session:
        assert item_view(session, number).inner_nm == 4_000_000


def test_metal_and_size_freeze_once_a_design_uses_the_item_but_the_rest_stays_free(store: Store) -> None:
    number = put(store)
    with store.writing() as session:
        a_design(session, name="Reed pendant", parts=[a_part(item_id=number)])
    with store.writing() as session, pytest.raises(Unfit) as refused:
        edit_item(session, number, draft_of(store, inner="4.0 mm", metal="copper"), version=1)
    assert {fault.field for fault in refused.value.faults} == {"inner", "metal"}
    assert "Reed pendant uses this ring" in str(refused.value)
    with store.writing() as session:
        edit_item(session, number, draft_of(store, note="A good batch.", wire_label="18 AWG", mass="0.05 g"), version=1)
    with store.reading() as session:
        item = item_view(session, number)
    assert (item.note, item.wire_label, item.measured_mass_ug, item.inner_nm) == (
        "A good batch.",
        "18 AWG",
        50_000,
        3_600_000,
    )


def test_an_item_never_becomes_another_kind(store: Store) -> None:
    number = put(store)
    draft = replace(draft_of(store), kind="bead", wire_nm=None, inner_nm=None)
    with store.writing() as session, pytest.raises(Unfit, match="This stays a ring"):
        edit_item(session, number, draft, version=1)


def test_an_item_can_be_retired_and_brought_back(store: Store) -> None:
    number = put(store)
    with store.writing() as session:
        assert retire_item(session, number) == "Commercial bronze C220 ring 1.0 × 3.6 mm"
    with store.reading() as session:
        assert item_view(session, number).retired
    with store.writing() as session:
        bring_back_item(session, number)
    with store.reading() as session:
        assert not item_view(session, number).retired


def test_what_is_not_there_is_said_to_be_missing(store: Store) -> None:
    with store.writing() as session, pytest.raises(Missing, match="no item 77"):
        retire_item(session, 77)
    with store.reading() as session, pytest.raises(Missing):
        item_view(session, 77)


def test_the_cost_of_one_ring_follows_from_its_offer(store: Store) -> None:
    number = put(store, pack="100", price="4.50", supplier="Quill Rings")
    with store.reading() as session:
        item = item_view(session, number)
        assert "the price of a stock item" in currency_lock(session)
    cost = item.unit_cost
    assert isinstance(cost, UnitCost)
    assert cost.amount == Decimal("0.045")
    assert item.offer is not None
    assert (item.offer.supplier, item.offer.pack, item.offer.currency) == ("Quill Rings", Decimal(100), "EUR")


def test_every_item_is_the_same_after_export_and_import_into_another_shop(
    store: Store, empty_shop: Path, tmp_path: Path
) -> None:
    put(store, wire="1.6 mm", wire_label="16 SWG", inner="5/32 in", pack="50 g", price="6.40", supplier="Quill Rings")
    put(store, wire="16 SWG", inner="5/32 in", near_ok=True)
    put(store, metal="niobium", colour="green", tint="#3f8f5b", wire="0.811821 mm", inner="2.8 mm", mass="0.0201 g")
    put(store, metal="rubber-epdm", colour="black", wire="1.6 mm", inner="6.4 mm")
    put(
        store,
        kind="wire",
        metal="copper",
        wire="20 AWG",
        inner="",
        pack="1 ozt",
        price="3",
        currency="USD",
        exchange_rate="0.92",
    )
    put(store, kind="wire", metal="copper", wire="0.8 mm", inner="", near_ok=True)
    put(store, kind="chain", name="Fine chain", metal="", wire="", inner="", mass="7.8 g", pack="5 m", price="14.50")
    put(
        store, kind="scale", name="=Small scale", metal="", wire="", inner="", hole="3.4 mm", mass="0.16", retired="yes"
    )
    with store.reading() as session:
        rows = list(export_items(session))
    text = write_csv([column.name for column in ITEM_COLUMNS], rows)
    sheet = read_csv(text.encode(), ITEM_COLUMNS)
    assert isinstance(sheet, Sheet)
    shutil.copytree(empty_shop, tmp_path / "other")
    other = Store(tmp_path / "other")
    with other.writing() as session:
        read = item_reader(session)
        for row in sheet.rows:
            draft = read(row.cells)
            assert isinstance(draft, ItemDraft), draft
            add_item(session, draft)
    with other.reading() as session:
        assert list(export_items(session)) == rows
    other.close()
    assert len(rows) == 8
