"""The variants page: comparing by the address alone, and copying a variant."""

from __future__ import annotations

import re
from html import unescape

import pytest

from models.database import Store
from models.queries.costing.costing import cost_of_design
from tests.queries.designs.test_variants import a_shop
from tests.web.conftest import Client
from tests.web.reading import words

SWAP = {"from_metal": "bronze-c220", "to_metal": "sterling-925"}


@pytest.fixture
def design(store: Store) -> int:
    """A pendant in bronze, with one silver ring in stock."""
    with store.writing() as session:
        return a_shop(session)


def copy_button(page: str) -> str:
    found = re.search(r'formmethod="post" formaction="[^"]+" name="token" value="([^"]+)"', page)
    assert found
    return found[1]


def test_the_page_asks_what_is_different(client: Client, design: int) -> None:
    page = client.get(f"/designs/{design}/variants")
    assert page.status_code == 200
    assert "Choose what is different" in words(page.text)
    assert "Copy as a new design" not in page.text


def test_both_stand_side_by_side_with_the_fit_and_its_reason(client: Client, design: int) -> None:
    page = client.get(f"/designs/{design}/variants", params=SWAP)
    text = words(page.text)
    assert re.search(r"With sterling silver 925 it costs €\d+\.\d\d , €\d+\.\d\d more", text)
    assert "comfortable in Byzantine" in text
    assert "estimated by weight from Silver ring" in text
    assert "Not changed, as these are no rings" not in text
    assert "style=" not in page.text


def test_bad_fields_are_named_and_what_was_typed_is_kept(client: Client, design: int) -> None:
    page = client.get(f"/designs/{design}/variants", params={"part.0.wire": "16 gauge", "part.0.inner": "0.1"})
    assert page.status_code == 422
    assert 'id="f-part-0-wire-fault"' in page.text
    assert 'value="16 gauge"' in page.text
    assert client.get(f"/designs/{design}/variants", params={"part.0.inner": "0.1"}).status_code == 422
    assert client.get(f"/designs/{design}/variants", params={"to_metal": "cheese"}).status_code == 422
    assert client.get("/designs/99/variants").status_code == 404


def test_a_copy_becomes_a_design_of_its_own(store: Store, client: Client, design: int) -> None:
    url = f"/designs/{design}/variants"
    token = copy_button(client.get(url, params=SWAP).text)
    sent = {**SWAP, "token": token, "name": "Silver leaf"}
    copied = client.post(url, sent)
    assert copied.status_code == 303
    assert client.post(url, sent).headers["location"] == copied.headers["location"]
    with store.reading() as session:
        view = cost_of_design(session, 2)
    assert view.name == "Silver leaf"
    assert [part.thing.look for part in view.parts][:2] == ["sterling silver 925"] * 2


@pytest.mark.parametrize(
    ("name", "says"), [("", "Give the new design a name"), ("Copper leaf pendant", "Copper leaf pendant")]
)
def test_a_copy_needs_a_name_of_its_own(client: Client, design: int, name: str, says: str) -> None:
    url = f"/designs/{design}/variants"
    token = copy_button(client.get(url, params=SWAP).text)
    refused = client.post(url, {**SWAP, "token": token, "name": name})
    assert refused.status_code == 422
    assert 'id="f-name-fault"' in refused.text
    assert says in unescape(refused.text)
    assert "it costs" in words(refused.text)


def test_nothing_different_is_nothing_to_copy(client: Client, design: int) -> None:
    url = f"/designs/{design}/variants"
    token = copy_button(client.get(url, params=SWAP).text)
    refused = client.post(url, {"token": token, "name": "The same"})
    assert refused.status_code == 422
    assert "nothing to copy" in words(refused.text)
