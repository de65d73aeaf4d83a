"""Finding items: by any part of a name or size in any unit, by filters, a page at a time, in as many queries for many."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest

from models.database import Store
from models.intake.faults import Faults
from models.intake.stock.item_find import ItemFilter, read_item_filter
from models.intake.stock.offer import OfferDraft, read_offer
from models.intake.stock.supplier import SupplierDraft
from models.operations.stock.item import add_item, retire_item
from models.operations.stock.offer import add_offer
from models.operations.stock.supplier import add_supplier
from models.queries.stock.item import item_reader, load_materials, unit_costs
from models.queries.stock.item_find import find_items
from models.queries.stock.item_page import item_page
from models.queries.stock.metal import metals_page
from models.queries.stock.supplier import list_suppliers, supplier_page
from models.queries.stock.weave import list_weaves
from tests.counting import queries_of
from tests.shops import a_design, a_part, a_ring

DRAWER = (
    {"kind": "ring", "metal": "niobium", "colour": "green", "wire": "0.8 mm", "inner": "2.8 mm"},
    {"kind": "ring", "metal": "niobium", "colour": "plum", "wire": "20 AWG", "inner": "1/8 in"},
    {"kind": "ring", "metal": "bronze-c226", "wire": "1.6 mm", "wire_label": "16 SWG", "inner": "6.5 mm"},
    {"kind": "ring", "metal": "copper", "finish": "bright", "wire": "1.2 mm", "inner": "4.0 mm"},
    {
        "kind": "finding",
        "name": "Ear wire, green niobium",
        "metal": "niobium",
        "supplier": "Marrow Lane",
        "pack": "20",
        "price": "9",
    },
    {"kind": "scale", "name": "Small scale no. 120", "hole": "3.2 mm"},
    {"kind": "wire", "metal": "copper", "wire": "16 SWG"},
)


@pytest.fixture
def drawer(store: Store) -> Store:
    with store.writing() as session:
        read = item_reader(session)
        for raw in DRAWER:
            draft = read(raw)
            assert not isinstance(draft, Faults), draft
            add_item(session, draft)
    return store


def found(store: Store, **asked: str) -> list[str]:
    wanted = read_item_filter(asked)
    assert isinstance(wanted, ItemFilter), wanted
    with store.reading() as session:
        return [item.name for item in find_items(session, wanted).items]


GREEN = "Green niobium ring 0.8 × 2.8 mm"
PLUM = "Plum niobium ring 0.812 × 3.175 mm"
BRONZE = "Jewellery bronze C226 ring 1.6 × 6.5 mm"
COPPER = "Bright copper ring 1.2 × 4.0 mm"
EAR = "Ear wire, green niobium"
SCALE = "Small scale no. 120"
WIRE = "Copper wire 1.626 mm"


@pytest.mark.parametrize(
    ("find", "names"),
    [
        ("20 AWG", [GREEN, PLUM]),
        ("20awg", [GREEN, PLUM]),
        ("1/8", [PLUM, SCALE]),
        ("3.2", [PLUM, SCALE]),
        ("3.175", [PLUM, SCALE]),
        ("3.1", [PLUM]),
        ("0.125 in", [PLUM, SCALE]),
        ("16 SWG", [BRONZE, WIRE]),
        ("1.6", [BRONZE, WIRE]),
        ("bronze", [BRONZE]),
        ("c226", [BRONZE]),
        ("green niobium", [GREEN, EAR]),
        ("GREEN ring", [GREEN]),
        ("0.8 x 2.8", [GREEN]),
        ("0.8x2.8 green", [GREEN]),
        ("1.2 x 4.0 bright", [COPPER]),
        ("120", [SCALE]),
        ("20", [PLUM]),
        ("marrow", [EAR]),
        ("reactive", [GREEN, PLUM, EAR]),
        ("scale", [SCALE]),
        ("gold", []),
        ("", [COPPER, BRONZE, GREEN, PLUM, SCALE, EAR, WIRE]),
    ],
)
def test_any_part_of_a_size_or_name_in_any_unit_finds_it(drawer: Store, find: str, names: list[str]) -> None:
    assert sorted(found(drawer, find=find)) == sorted(names)


@pytest.mark.parametrize(
    ("asked", "names"),
    [
        ({"kind": "wire"}, [WIRE]),
        ({"metal": "copper"}, [COPPER, WIRE]),
        ({"colour": "Green"}, [GREEN]),
        ({"wire": "20 AWG"}, [GREEN, PLUM]),
        ({"inner": "3.2 mm"}, [PLUM]),
        ({"ar_from": "3.4", "ar_to": "3.6"}, [GREEN]),
        ({"ar_to": "3.4"}, [COPPER]),
        ({"kind": "ring", "find": "niobium", "inner": "2.8"}, [GREEN]),
        ({"retired": "yes"}, []),
    ],
)
def test_filters_narrow_the_list(drawer: Store, asked: dict[str, str], names: list[str]) -> None:
    assert found(drawer, **asked) == names


def test_items_stand_in_the_order_of_a_well_kept_drawer(drawer: Store) -> None:
    assert found(drawer) == [BRONZE, COPPER, GREEN, PLUM, SCALE, EAR, WIRE]


def test_a_retired_item_is_only_listed_among_retired_ones(drawer: Store) -> None:
    with drawer.writing() as session:
        retire_item(session, 1)
    assert GREEN not in found(drawer)
    assert found(drawer, retired="yes") == [GREEN]
    with drawer.reading() as session:
        assert find_items(session, ItemFilter()).stock_size == len(DRAWER) - 1


def test_the_list_says_what_there_is_to_filter_by(drawer: Store) -> None:
    with drawer.reading() as session:
        view = find_items(session, ItemFilter())
    assert ("ring", "ring (4)") in view.facets.kinds
    assert ("niobium", "niobium (3)") in view.facets.metals
    assert view.facets.colours == (("green", "green (1)"), ("plum", "plum (1)"))
    assert view.facets.wires[0] == "0.8 mm"
    assert (view.stock_rings, view.stock_ring_metals, view.stock_unpriced) == (4, 3, 6)


def test_a_long_list_is_cut_into_pages_and_a_page_past_the_end_is_the_last(drawer: Store) -> None:
    with drawer.reading() as session:
        pages = [find_items(session, ItemFilter(page=page), per_page=3) for page in (1, 2, 3, 9)]
    assert [len(page.items) for page in pages] == [3, 3, 1, 1]
    assert pages[0].pages == 3
    assert pages[3].page == 3
    assert sum(len(page.items) for page in pages[:3]) == pages[0].total


def fill(store: Store, first: int, many: int) -> None:
    """Rings of rising openings, each with an offer of its own supplier and used in a design."""
    with store.writing() as session:
        for number in range(first, first + many):
            supplier = add_supplier(session, SupplierDraft(f"Supplier {number}", "", None))
            ring = a_ring(session, name=f"Ring {number}", inner_nm=3_000_000 + 100_000 * number, price=None)
            draft = read_offer({"pack": "50 g", "price": "4.50", "supplier_id": str(supplier)}, currency="EUR")
            assert isinstance(draft, OfferDraft)
            add_offer(session, ring, draft)
            a_design(session, [a_part(ring), a_part(1)], name=f"Design {number}")


READS: dict[str, Callable[[Any], object]] = {
    "items": lambda session: [item.unit_cost for item in find_items(session, ItemFilter(), per_page=1000).items],
    "an item": lambda session: item_page(session, 1),
    "views": load_materials,
    "costs": unit_costs,
    "suppliers": list_suppliers,
    "a supplier": lambda session: supplier_page(session, 1),
    "metals": metals_page,
    "weaves": list_weaves,
}


@pytest.mark.parametrize("what", READS)
def test_a_page_takes_as_many_queries_for_many_rows_as_for_few(store: Store, what: str) -> None:
    fill(store, 0, 2)
    with queries_of(store) as few, store.reading() as session:
        READS[what](session)
    fill(store, 2, 20)
    with queries_of(store) as many, store.reading() as session:
        READS[what](session)
    assert len(many) == len(few) <= 13
