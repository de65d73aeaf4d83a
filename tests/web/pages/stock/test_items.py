"""The pages of the stock room, in a browser without scripts."""

from __future__ import annotations

import re
from html import unescape

import pytest

from models.database import Store
from models.queries.stock.item import load_materials
from models.queries.stock.weave import fit_records
from models.tables import Item
from models.tables.item import ITEM_KINDS
from tests.shops import NOON, a_design, a_part, a_ring
from tests.web.conftest import Client

RING = {"metal": "bronze-c220", "wire": "1.0 mm", "inner": "3.6 mm"}
PRICE = {"pack": "100", "pack_unit": "piece", "price": "4.50", "supplier": "Quill Rings"}


def text_of(page: str) -> str:
    """What a page says, without its marks."""
    return " ".join(unescape(re.sub(r"<[^>]+>", " ", page)).split())


def stock(store: Store) -> dict[int, str]:
    with store.reading() as session:
        return {number: item.name for number, item in load_materials(session).items()}


def test_an_empty_room_teaches_and_offers_the_one_button_that_starts_it(client: Client) -> None:
    page = client.get("/stock").text
    assert "What is in your small bags?" in page
    assert 'href="/stock/items/new"' in page
    assert 'class="search"' not in page


def test_a_ring_is_added_with_its_price_and_shows_what_one_costs(client: Client) -> None:
    answer = client.submit("/stock/items/new", {**RING, **PRICE})
    page = text_of(client.follow(answer).text)
    assert "Commercial bronze C220 ring 1.0 × 3.6 mm is added." in page
    assert "€0.045 a ring, comfortable in" in page
    assert "1.0 mm wire · 3.6 mm inside · AR 3.60 · commercial bronze C220" in page
    assert "Price of the pack €4.50" in page
    assert "Source: the offer of Quill Rings" in page


def test_a_ring_stands_in_the_list_drawn_beside_its_sizes(client: Client) -> None:
    client.submit("/stock/items/new", {**RING, **PRICE})
    page = client.get("/stock").text
    row = page[page.index("<tbody>") : page.index("</tbody>")]
    assert '<svg class="ring"' in row
    assert "1.0 mm wire · 3.6 mm inside · AR 3.60" in text_of(row)
    assert "100 pieces at €4.50 Quill Rings" in text_of(row)
    assert "1 item, 1 of them a ring in 1 metal" in text_of(page).replace(" ,", ",")


def test_the_list_finds_by_size_and_htmx_gets_only_the_list(client: Client) -> None:
    client.submit("/stock/items/new", {**RING, "colour": "green", "metal": "niobium"})
    client.submit("/stock/items/new", {**RING, "wire": "20 AWG", "inner": "1/8 in"})
    found = client.get("/stock?find=green+niobium").text
    assert "1 item matches “green niobium”" in text_of(found)
    part = client.get("/stock?find=20+AWG", headers={"hx-request": "true"}).text
    assert part.strip().startswith("<section")
    assert "20 AWG (0.812 mm) wire" in text_of(part)
    assert "niobium" not in part


def test_a_filter_that_cannot_be_keeps_what_was_typed_and_says_so(client: Client) -> None:
    client.submit("/stock/items/new", RING)
    answer = client.get("/stock?wire=16ga&ar_from=4&ar_to=3")
    assert answer.status_code == 422
    assert "Which gauge system?" in answer.text
    assert 'value="16ga"' in answer.text
    assert "Not saved" not in answer.text


@pytest.mark.parametrize(
    ("typed", "field", "words"),
    [
        ({"wire": "16ga"}, "wire", "Which gauge system?"),
        ({"wire": "4 mm", "inner": "3 mm"}, "inner", "thicker than its opening"),
        ({"metal": ""}, "metal", "Choose what it is made of."),
        ({**PRICE, "pack": "0"}, "pack", "A pack of nothing"),
        ({**PRICE, "price": "-3"}, "price", "-3 is too small"),
        ({**PRICE, "currency": "XXX"}, "currency", "not a currency of ISO 4217"),
        ({**PRICE, "currency": "USD"}, "exchange_rate", "what does 1 USD cost in EUR?"),
        ({"mass": "heavy"}, "mass", "heavy"),
        ({"tint": "green"}, "tint", "six hexadecimal digits"),
        ({"can_open": "no", "arrives": "open"}, "arrives", "arrives closed"),
    ],
)
def test_a_wrong_field_is_said_beside_it_and_nothing_is_kept_or_lost(
    client: Client, store: Store, typed: dict[str, str], field: str, words: str
) -> None:
    answer = client.submit("/stock/items/new", {**RING, "note": "Kept as typed.", **typed})
    assert answer.status_code == 422
    page = answer.text
    at = page.index(f'id="f-{field}"')
    assert words in unescape(page[at:][: page[at:].index("</div>\n") + 2000])
    assert "Kept as typed." in page
    assert all(
        f'value="{value}"' in page for name, value in typed.items() if value and name in {"wire", "pack", "price"}
    )
    assert stock(store) == {}


def test_a_near_equal_size_offers_the_ring_that_is_there_and_a_box_to_go_on(client: Client, store: Store) -> None:
    client.submit("/stock/items/new", {**RING, "wire": "1.6 mm", "inner": "6.4 mm"})
    again = {**RING, "wire": "16 SWG", "inner": "6.4 mm"}
    asked = client.submit("/stock/items/new", again)
    assert asked.status_code == 422
    assert 'href="/stock/items/1"' in asked.text
    assert 'name="near_ok"' in asked.text
    assert len(stock(store)) == 1
    form = client.form("/stock/items/new")
    kept = client.post("/stock/items/new", {**form.fields, **again, "near_ok": "yes"})
    assert kept.status_code == 303
    assert len(stock(store)) == 2


def test_sending_the_form_twice_adds_one_item(client: Client, store: Store) -> None:
    fields = {**client.form("/stock/items/new").fields, **RING}
    first, second = client.post("/stock/items/new", fields), client.post("/stock/items/new", fields)
    assert first.headers["location"] == second.headers["location"]
    assert len(stock(store)) == 1


def test_every_kind_that_the_list_offers_can_be_chosen_finished_pieces_and_scrap_too(
    client: Client, store: Store
) -> None:
    with store.writing() as session:
        for kind in ITEM_KINDS:
            session.add(Item(kind=kind, name=f"Our {kind}", created_at=NOON))
    offered = re.findall(r'<option value="(\w+)">[\w ]+ \(1\)</option>', client.get("/stock").text)
    assert sorted(offered) == sorted(ITEM_KINDS)
    for kind in ITEM_KINDS:
        answer = client.get(f"/stock?kind={kind}")
        assert answer.status_code == 200, kind
        assert re.findall(r"Our (\w+)</?", answer.text.split('id="items"')[1]) == [kind], kind
        found = client.request("GET", f"/api/items?kind={kind}")
        assert [item["name"] for item in found.json()["items"]] == [f"Our {kind}"]
    assert client.get("/stock?kind=nugget").status_code == 422


@pytest.mark.parametrize("kind", ["scale", "bead", "finding", "chain", "wire", "packaging", "consumable"])
def test_every_other_kind_has_a_form_of_its_own(client: Client, store: Store, kind: str) -> None:
    fields = {"name": f"My {kind}", "metal": "copper", "wire": "1.2 mm", "hole": "3 mm"}
    form = client.form(f"/stock/items/new?kind={kind}")
    assert form.fields["kind"] == kind
    answer = client.post(
        "/stock/items/new", {**form.fields, **{key: fields[key] for key in fields if key in form.fields}}
    )
    page = client.follow(answer).text
    assert f"My {kind}" in page
    assert f"My {kind}" in client.get("/stock").text


def test_a_link_fills_in_what_is_known(client: Client) -> None:
    form = client.form("/stock/items/new?kind=ring&wire=20+AWG&inner=1%2F8+in&metal=copper")
    assert (form.fields["wire"], form.fields["inner"], form.fields["metal"]) == ("20 AWG", "1/8 in", "copper")
    assert client.form("/stock/items/new?kind=nonsense").fields["kind"] == "ring"


def test_an_item_is_changed_and_its_form_gives_back_what_is_kept(client: Client, store: Store) -> None:
    client.submit("/stock/items/new", {**RING, "wire": "1.6 mm", "wire_label": "16 SWG", "inner": "1/4 in"})
    form = client.form("/stock/items/1/edit")
    assert (form.fields["wire"], form.fields["wire_label"], form.fields["inner"]) == ("1.6 mm", "16 SWG", "1/4 in")
    client.follow(client.submit("/stock/items/1/edit", {"colour": "red", "inner": "6.4 mm"}))
    assert stock(store) == {1: "Red commercial bronze C220 ring 1.6 × 6.4 mm"}


def test_a_stale_edit_is_answered_with_both_values_and_keeps_what_was_typed(client: Client, store: Store) -> None:
    client.submit("/stock/items/new", RING)
    old = client.form("/stock/items/1/edit").fields
    client.submit("/stock/items/1/edit", {"inner": "4.0 mm"})
    answer = client.post("/stock/items/1/edit", {**old, "inner": "5.0 mm"})
    assert answer.status_code == 409
    assert "Inside 4.0 mm 5.0 mm" in text_of(answer.text)
    assert 'value="5.0 mm"' in answer.text
    assert stock(store) == {1: "Commercial bronze C220 ring 1.0 × 4.0 mm"}


def test_a_used_ring_shows_why_its_metal_and_sizes_stay(client: Client, store: Store) -> None:
    client.submit("/stock/items/new", RING)
    with store.writing() as session:
        a_design(session, [a_part(1, 12)], name="Reed pendant")
    page = client.get("/stock/items/1/edit").text
    assert "Reed pendant uses this ring, so its metal and sizes stay as they are." in page
    assert '<input type="hidden" name="wire"' in page
    assert client.submit("/stock/items/1/edit", {"note": "A good batch."}).status_code == 303
    shown = text_of(client.get("/stock/items/1").text)
    assert "A good batch." in shown
    assert "Reed pendant 12" in shown
    fields = client.form("/stock/items/1/edit").fields
    refused = client.post("/stock/items/1/edit", {**fields, "wire": "1.2 mm"})
    assert refused.status_code == 422


def test_an_item_is_retired_and_brought_back_by_undo(client: Client, store: Store) -> None:
    client.submit("/stock/items/new", RING)
    page = client.follow(client.submit("/stock/items/1", action="/stock/items/1/retire"))
    assert "is retired." in page.text
    assert "Commercial bronze" not in client.get("/stock").text
    back = client.submit(str(page.url), action="/stock/items/1/bring-back")
    assert "is back in the lists." in client.follow(back).text
    assert "commercial bronze" in client.get("/stock").text


def test_a_new_price_keeps_the_old_one_readable_and_either_may_count(client: Client) -> None:
    client.submit("/stock/items/new", {**RING, **PRICE})
    form = client.form("/stock/items/1/price")
    assert (form.fields["pack"], form.fields["price"], form.fields["supplier"]) == ("100", "4.50", "Quill Rings")
    page = client.follow(
        client.submit("/stock/items/1/price", {"pack": "50 g", "price": "9.00", "supplier": "Ostrel"})
    ).text
    assert "50 g €9.00" in text_of(page)
    assert "100 pieces €4.50" in text_of(page)
    client.submit("/stock/items/1", action="/stock/items/1/offers/1/current")
    assert "€0.045 a ring" in text_of(client.get("/stock/items/1").text)


def test_a_price_may_be_noted_without_counting_and_a_new_one_taken_back(client: Client) -> None:
    client.submit("/stock/items/new", {**RING, **PRICE})
    client.submit("/stock/items/1/price", {"price": "3.00", "current": "no"})
    assert "€0.045 a ring" in text_of(client.get("/stock/items/1").text)
    page = client.follow(client.submit("/stock/items/1/price", {"price": "9.00"}))
    assert "€0.09 a ring" in text_of(page.text)
    back = client.submit(str(page.url), action="/stock/items/1/offers/1/current")
    assert "€0.045 a ring" in text_of(client.follow(back).text)


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ({"pack": "0"}, "A pack of nothing"),
        ({"price": "-1"}, "too small"),
        ({"pack": "3 boxes"}, "not a unit of a pack"),
    ],
)
def test_a_wrong_price_is_said_beside_its_field(client: Client, typed: dict[str, str], words: str) -> None:
    client.submit("/stock/items/new", {**RING, **PRICE})
    answer = client.submit("/stock/items/1/price", typed)
    assert answer.status_code == 422
    assert words in unescape(answer.text)
    assert client.get("/stock/items/1").text.count("Use this one") == 0


def test_a_page_that_is_not_there_says_so(client: Client) -> None:
    for path in ("/stock/items/77", "/stock/items/77/edit", "/stock/items/77/price", "/stock/weaves/knitting",
                 "/stock/metals/copper/edit", "/stock/suppliers/77", "/stock/suppliers/77/edit"):  # fmt: skip
        assert client.get(path).status_code == 404, path


def test_ring_facts_answer_before_they_list(client: Client) -> None:
    blank = client.get("/stock/rings")
    assert blank.status_code == 200
    page = client.get("/stock/rings?wire=20+AWG&inner=3.5+mm&metal=sterling-925&kerf=0").text
    said = text_of(page)
    assert "AR 4.31 , 0.0726 g a ring: comfortable in" in said
    assert "Rings in a troy ounce 428" in said
    assert 'href="/stock/items/new?kind=ring&amp;wire=20+AWG&amp;inner=3.5+mm&amp;metal=sterling-925"' in page
    assert "European 6-in-1" in page
    assert "is lost as dust" not in page


@pytest.mark.parametrize(
    ("query", "field"),
    [("wire=16ga&inner=4&metal=copper", "wire"), ("wire=1&inner=&metal=copper", "inner"), ("wire=1&inner=4&metal=bronze", "metal"),
     ("wire=1&inner=4&metal=copper&kerf=900", "kerf"), ("wire=4&inner=3&metal=copper", "inner")],
)  # fmt: skip
def test_a_ring_that_cannot_be_is_said_beside_its_field(client: Client, query: str, field: str) -> None:
    answer = client.get(f"/stock/rings?{query}")
    assert answer.status_code == 422
    assert f'id="f-{field}-fault"' in answer.text


def test_ring_facts_point_to_the_ring_that_is_there(client: Client) -> None:
    client.submit("/stock/items/new", RING)
    page = client.get("/stock/rings?wire=1.02&inner=3.6&metal=bronze-c220").text
    assert "See Commercial bronze C220 ring 1.0 × 3.6 mm, nearly this size" in text_of(page)


def test_a_note_of_what_fitted_wins_on_the_item_s_page_and_can_be_taken_back(client: Client, store: Store) -> None:
    client.submit("/stock/items/new", RING)
    record = {
        "weave": "byzantine",
        "wire": "1.0",
        "inner": "3.6",
        "verdict": "too small",
        "note": "No room.",
        "then": "/stock/items/1",
    }
    page = client.follow(client.submit("/stock/fits/new", record))
    assert page.url.path == "/stock/items/1"
    assert "Your own record of 1.0 mm x 3.6 mm in this weave says too small. No room." in text_of(page.text)
    assert "No room." in client.get("/stock/weaves/byzantine").text
    client.submit(str(page.url), action="/stock/fits/1/forget")
    with store.reading() as session:
        assert fit_records(session) == ()


def test_a_note_never_leads_to_another_site(client: Client) -> None:
    for then in ("https://elsewhere.example/", "//elsewhere.example", "/stock//elsewhere", "/settings"):
        answer = client.submit(
            "/stock/fits/new", {"weave": "byzantine", "wire": "1", "inner": "3.6", "verdict": "tight", "then": then}
        )
        assert answer.headers["location"].startswith("/stock/weaves/byzantine")


def test_a_wrong_note_is_said_beside_its_field(client: Client) -> None:
    answer = client.submit("/stock/fits/new", {"weave": "", "wire": "16ga", "inner": "4"})
    assert answer.status_code == 422
    assert all(f'id="f-{field}-fault"' in answer.text for field in ("weave", "wire"))


def test_a_band_is_changed_and_goes_back_to_the_catalogue_s(client: Client) -> None:
    page = client.follow(client.submit("/stock/weaves/byzantine", {"low": "3.3", "high": "3.9"}))
    assert "Comfortable from AR 3.30 to 3.90" in text_of(page.text)
    assert "your own band" in client.get("/stock/weaves").text
    stale = client.submit("/stock/weaves/byzantine", {"low": "3.4", "version": "0"})
    assert stale.status_code == 409
    wrong = client.submit("/stock/weaves/byzantine", {"low": "5"})
    assert wrong.status_code == 422
    assert "The numbers go upwards" in wrong.text
    client.submit("/stock/weaves/byzantine", action="/stock/weaves/byzantine/reset")
    assert "your own band" not in client.get("/stock/weaves").text


def test_a_metal_of_ones_own_can_be_chosen_changed_and_taken_out(client: Client) -> None:
    metal = {"name": "Shibuichi", "density": "9.6", "source": "weighed myself"}
    assert "Shibuichi is added" in client.follow(client.submit("/stock/metals/new", metal)).text
    assert 'value="shibuichi"' in client.get("/stock/items/new").text
    twin = client.submit("/stock/metals/new", metal)
    assert twin.status_code == 422
    wrong = client.submit("/stock/metals/shibuichi/edit", {"density": "99"})
    assert wrong.status_code == 422
    assert "99 is too large" in wrong.text
    client.submit("/stock/metals/shibuichi/edit", {"density": "9.5"})
    assert "9.50" in client.get("/stock/metals").text
    client.submit("/stock/metals/shibuichi/edit", action="/stock/metals/shibuichi/remove")
    assert "Shibuichi" not in client.get("/stock/metals").text


def test_a_metal_in_use_says_that_it_stays(client: Client) -> None:
    client.submit("/stock/metals/new", {"name": "Shibuichi", "density": "9.6", "source": "weighed myself"})
    client.submit("/stock/items/new", {**RING, "metal": "shibuichi"})
    page = client.get("/stock/metals/shibuichi/edit").text
    assert "it cannot be taken out" in page
    answer = client.post("/stock/metals/shibuichi/remove", {"token": client.form("/stock/metals/new").fields["token"]})
    assert answer.status_code == 409


def test_suppliers_are_added_by_hand_or_by_naming_them_beside_a_price(client: Client) -> None:
    assert "Who do you buy from?" in client.get("/stock/suppliers").text
    client.submit("/stock/suppliers/new", {"name": "Ostrel", "lead_days": "9"})
    client.submit("/stock/items/new", {**RING, **PRICE})
    page = text_of(client.get("/stock/suppliers").text)
    assert "You buy from 2 suppliers" in page
    assert "100 pieces €4.50 €0.045" in text_of(client.get("/stock/suppliers/2").text)
    wrong = client.submit("/stock/suppliers/1/edit", {"name": "Quill Rings", "lead_days": "7"})
    assert wrong.status_code == 422
    days = client.submit("/stock/suppliers/1/edit", {"lead_days": "soon"})
    assert days.status_code == 422
    client.submit("/stock/suppliers/1/edit", {"lead_days": "8"})
    assert "usually takes 8 days" in text_of(client.get("/stock/suppliers/1").text)


def test_no_page_of_the_room_has_a_style_or_a_script_of_its_own(client: Client, store: Store) -> None:
    client.submit("/stock/items/new", {**RING, **PRICE})
    with store.writing() as session:
        a_ring(session, name="<b>&\"'", colour="green", price=None, inner_nm=9_000_000)
    for path in ("/stock", "/stock/items/1", "/stock/items/2", "/stock/items/1/edit", "/stock/items/new", "/stock/items/1/price",
                 "/stock/rings?wire=1&inner=4&metal=copper", "/stock/weaves", "/stock/weaves/byzantine", "/stock/fits/new",
                 "/stock/metals", "/stock/metals/new", "/stock/suppliers", "/stock/suppliers/1", "/stock/suppliers/new"):  # fmt: skip
        answer = client.get(path)
        assert answer.status_code == 200, path
        assert not re.search(r"\sstyle=|\son[a-z]+=|<script(?! src=)|<style", answer.text), path
        assert "<b>&" not in answer.text
