"""The listing sheet, its plain text and the price tag."""

from __future__ import annotations

from decimal import Decimal
from html import unescape

import pytest
from sqlmodel import select

from models.database import Store
from models.operations.figures import refresh_figures
from models.tables import Item, Offer, Outlet, OwnMetal, Revision
from tests.shops import NOON, a_design, a_finding, a_listed_price, a_part, a_ring, an_outlet
from tests.web.conftest import Client
from tests.web.reading import words


@pytest.fixture
def design(store: Store) -> int:
    """A pendant with a choice, an optional clasp and a box, listed at one of two outlets."""
    with store.writing() as session:
        bronze = a_ring(session)
        steel = a_ring(session, name="Steel ring", metal="stainless-304", inner_nm=4_000_000)
        green = a_ring(session, name="Green ring", metal="niobium", colour="green", wire_nm=800_000, inner_nm=2_800_000)
        box = Item(kind="packaging", name="Kraft box", created_at=NOON)
        session.add(box)
        session.flush()
        session.add(
            Offer(item_id=box.id, pack_milli=1000, pack_unit="piece", price_micros=1, currency="EUR", created_at=NOON)
        )
        found = a_design(
            session,
            [
                a_part(bronze, 48),
                a_part(bronze, 2, purpose="bail"),
                a_part(steel, 10, choice_group="edge", choice_name="plain"),
                a_part(green, 10, choice_group="edge", choice_name="green"),
                a_part(a_finding(session, name="Hook clasp"), 1, optional=True),
                a_part(box.id, 1),
            ],
            name="Leaf & vine pendant",
        )
        revision = session.exec(select(Revision)).one()
        revision.width_nm, revision.height_nm = 22_000_000, 41_000_000
        web = an_outlet(session)
        an_outlet(session, name="Gift shops", kind="wholesale", position=1, fees=(), retail_multiple=Decimal(2))
        a_listed_price(session, found, web, "48.00")
        refresh_figures(session)
    return found


def test_the_text_says_materials_with_metals_and_real_sizes(client: Client, design: int) -> None:
    answer = client.get(f"/designs/{design}/listing.txt?outlet=1")
    assert answer.headers["content-type"].startswith("text/plain")
    text = answer.text
    assert text.startswith("Leaf & vine pendant\npendant, Byzantine\n€48.00\n")
    assert "- 50 rings: commercial bronze C220, 1.0 mm wire, 3.6 mm inside\n" in text
    assert "- Edge, your choice of:\n" in text
    assert "  - green: 10 rings: green niobium, 0.8 mm wire, 2.8 mm inside\n" in text
    assert "- On request: 1 Hook clasp, sterling silver 925\n" in text
    assert "- Width 22.0 mm\n- Height 41.0 mm\n" in text
    assert "- About " in text
    assert "Kraft box" not in text
    assert "&amp;" not in text


def test_a_buyer_is_told_of_nickel_small_parts_and_what_can_catch(client: Client, design: int) -> None:
    text = client.get(f"/designs/{design}/listing.txt").text
    assert "€" not in text
    assert "not free of nickel" in text
    assert "under three" in text
    assert "round the neck" in text
    assert "darken" in text


def test_the_page_adds_what_the_maker_should_look_up(client: Client, design: int) -> None:
    page = client.get(f"/designs/{design}/listing")
    text = words(page.text)
    assert "look up your local law, and ask a licensed person" in text
    assert "Nickel: some of these metals hold nickel" in text
    assert "complies" not in text
    assert "Leaf & vine pendant" in unescape(page.text)


def test_a_design_in_a_metal_of_the_shops_own_has_a_sheet(store: Store, client: Client) -> None:
    with store.writing() as session:
        session.add(
            OwnMetal(
                code="own-moon",
                name="Moon metal",
                density=Decimal(5),
                source="a guess",
                tint="#aabbcc",
                created_at=NOON,
            )
        )
        design = a_design(session, [a_part(a_ring(session, name="Moon ring", metal="own-moon"), 5)], weave=None)
    assert "5 rings: Moon metal" in client.get(f"/designs/{design}/listing.txt").text


def test_a_part_without_a_known_mass_leaves_the_weight_out(store: Store, client: Client) -> None:
    with store.writing() as session:
        design = a_design(
            session, [a_part(a_ring(session), 5), a_part(None, 1, typed_kind="finding", typed_name="Odd charm")]
        )
    text = client.get(f"/designs/{design}/listing.txt").text
    assert "WEIGHT" not in text
    assert "- 1 Odd charm\n" in text


def test_the_tag_bears_the_listed_price_and_as_many_copies(client: Client, design: int) -> None:
    page = client.get(f"/designs/{design}/tag?copies=3")
    assert page.text.count('class="tag"') == 3
    assert words(page.text).count("€48.00") == 4
    assert "Tagged at €48.00 for Web shop" in words(page.text)


def test_a_tag_for_a_shop_bears_the_shops_price(store: Store, client: Client, design: int) -> None:
    page = client.get(f"/designs/{design}/tag?outlet=2&printed_on=sheet")
    with store.reading() as session:
        assert session.get(Outlet, 2) is not None
    prices = client.get(f"/api/designs/{design}/prices?outlet=2").json()["outlets"][0]
    assert f"€{prices['retail']['amount']}" in page.text
    assert prices["retail"] != prices["price"]
    assert "not listed there yet" in words(page.text)


@pytest.mark.parametrize("copies", ["0", "61", "many", "1.5"])
def test_a_number_of_tags_that_cannot_be_is_named_beside_its_field(client: Client, design: int, copies: str) -> None:
    page = client.get(f"/designs/{design}/tag?copies={copies}")
    assert page.status_code == 422
    assert 'id="f-copies-fault"' in page.text
    assert f'value="{copies}"' in page.text


def test_a_tag_without_any_outlet_has_no_price(store: Store, client: Client) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(a_ring(session), 5)])
    page = client.get(f"/designs/{design}/tag")
    assert page.status_code == 200
    assert "no outlet yet" in words(page.text)


def test_what_is_not_there(client: Client, design: int) -> None:
    assert client.get("/designs/99/listing").status_code == 404
    assert client.get(f"/designs/{design}/listing?outlet=99").status_code == 404
    assert client.get(f"/designs/{design}/tag?outlet=99").status_code == 404
