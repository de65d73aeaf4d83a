"""The pages of buying with scripts off: what is needed, the packs for it, drafted, sent, half received, taken back."""

from __future__ import annotations

import re

import pytest
from sqlmodel import Session, col, select

from models.database import Store
from models.intake.stock.levels import LevelsDraft
from models.operations.buying.need import add_needs
from models.operations.figures import refresh_figures
from models.operations.stock.levels import set_levels
from models.planning.solver import NO_ANSWER, SolverFailed
from models.queries.buying.buy_plan import ask_shop
from models.queries.buying.purchase import purchase_list
from models.tables import Need, Purchase, PurchaseLine
from tests.ledgers import a_lot, on_hand
from tests.operations.buying.test_purchase import a_supplier, an_offer
from tests.shops import a_design, a_part, a_ring, counted
from tests.web.conftest import Client, find_form


@pytest.fixture
def ring(store: Store) -> int:
    """A ring with 40 free, of which two suppliers sell bags, on the list for 300."""
    with store.writing() as session:
        item_id = a_ring(session, price=None)
        near, far = a_supplier(session, postage="3.00", lead_days=4), a_supplier(session, "Harbour Metals")
        an_offer(session, item_id, near, breaks="3 at 3.00")
        an_offer(session, item_id, far, pack="250", price="12.00", current="no")
        a_lot(session, item_id, 40, "1.60")
        add_needs(session, [(item_id, 300_000, "the spring market")])
    return item_id


def words_of(page: str) -> str:
    """The page's words without tags and doubled blanks."""
    return " ".join(re.sub(r"<[^>]+>", " ", page).split())


def on_list(store: Store) -> list[bool]:
    with store.reading() as session:
        return [need.struck for need in session.exec(select(Need).order_by(col(Need.id)))]


def test_an_empty_shop_has_nothing_to_buy_and_says_how_to_begin(client: Client) -> None:
    page = client.get("/buying")
    assert (page.status_code, "Nothing has to be bought." in page.text) == (200, True)
    assert "What did you order?" in client.get("/buying/purchases").text


def test_the_cheapest_packs_are_said_first_with_their_proof_and_what_one_supplier_would_cost(
    client: Client, ring: int
) -> None:
    words = words_of(client.get("/buying").text)
    # 260 are missing: three bags at the break cost 9.00 and 3.00 postage, two large bags 24.00.
    assert "Buy 3 packs from Kestrel Wire for €12.00 , postage included." in words
    assert "No cheaper set of packs covers it" in words
    assert "260 rings 300 rings 40 rings" in words
    assert "Harbour Metals: €24.00, postage included" in words
    assert "300 rings for the spring market" in words


def test_a_search_for_packs_that_fails_says_so_and_proves_nothing(
    client: Client, ring: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failed(*_: object, **__: object) -> None:
        raise SolverFailed("Solve error")

    monkeypatch.setattr("models.queries.buying.buy_plan.buy_packs", failed)
    words = words_of(client.get("/buying").text)
    assert "No packs were worked out." in words
    assert NO_ANSWER in words
    plan = client.request("POST", "/api/buy-plan", json={}).json()
    assert plan["message"].startswith(NO_ANSWER)
    assert (plan["orders"], plan["proof"]["proven"], plan["proof"]["stopped"]) == ([], False, "failed")


def test_what_is_shown_is_drafted_in_one_touch_and_taken_back_in_one(client: Client, store: Store, ring: int) -> None:
    page = client.get("/buying")
    form = find_form(page.text, "/buying/draft")
    answer = client.post("/buying/draft", form.fields)
    assert answer.status_code == 303
    shown = client.follow(answer)
    assert "A purchase is drafted." in shown.text
    again = client.get("/buying").text
    assert "Enough of everything on the list is there or on its way." in again
    assert "300 in a draft" in again
    undo = find_form(shown.text, "/buying/drafts/1/undo")
    assert "The drafts are cancelled." in client.follow(client.post("/buying/drafts/1/undo", undo.fields)).text
    with store.reading() as session:
        assert [one.state for one in session.exec(select(Purchase))] == ["cancelled"]


def test_a_price_that_changed_since_the_look_is_not_drafted(client: Client, store: Store, ring: int) -> None:
    form = find_form(client.get("/buying").text, "/buying/draft")
    with store.writing() as session:
        an_offer(session, ring, 1, price="9.00")
    answer = client.post("/buying/draft", form.fields)
    assert (answer.status_code, "changed since you looked" in answer.text) == (409, True)
    with store.reading() as session:
        assert session.exec(select(Purchase)).all() == []


def test_things_go_on_the_list_and_off_it_and_back(client: Client, store: Store, ring: int) -> None:
    bad = client.submit("/buying", {"item": "Nothing such", "quantity": "5"}, action="/buying/needs")
    assert (bad.status_code, "There is no stock item called" in bad.text) == (422, True)
    assert 'value="Nothing such"' in bad.text
    typed = {"item": "Bronze ring 1.0 × 3.6 mm", "quantity": "-3", "purpose": ""}
    assert client.submit("/buying", typed, action="/buying/needs").status_code == 422
    kept = client.submit("/buying", {**typed, "quantity": "25"}, action="/buying/needs")
    assert "It is on the list." in client.follow(kept).text
    assert on_list(store) == [False, False]
    struck = client.submit("/buying", {}, action="/buying/needs/2/strike")
    back = client.follow(struck)
    assert on_list(store) == [False, True]
    client.post("/buying/needs/2/back", find_form(back.text, "/buying/needs/2/back").fields)
    assert on_list(store) == [False, False]


def test_an_item_at_its_reorder_point_is_bought_up_to_its_target(client: Client, store: Store) -> None:
    with store.writing() as session:
        item_id = a_ring(session)
        a_lot(session, item_id, 40, "1.60")
        set_levels(session, item_id, LevelsDraft(40_000, 190_000, batch_colour=False))
    words = words_of(client.get("/buying").text)
    assert "down to 40, up to 190" in words
    assert "Buy 2 packs from nobody named for €8.00" in words


def test_an_offer_that_comes_too_late_is_left_out_and_named(client: Client, ring: int) -> None:
    words = words_of(client.get("/buying?lead_days=5").text)
    assert "Buy 3 packs from Kestrel Wire" in words
    assert "from Harbour Metals: nobody said how long it takes" in words
    late = words_of(client.get("/buying?lead_days=1").text)
    assert "not covered" in late
    assert client.get("/buying?lead_days=soon").status_code == 422


def test_a_purchase_is_typed_sent_half_received_and_put_back(client: Client, store: Store, ring: int) -> None:
    typed = {
        "supplier": "Kestrel Wire",
        "lines.0.item": "Bronze ring 1.0 × 3.6 mm",
        "lines.0.packs": "4",
        "note": "Bag each colour apart.",
    }
    drafted = client.submit("/buying/purchases/new", typed)
    assert drafted.status_code == 303, drafted.text
    page = client.follow(drafted).text
    assert "a draft, not sent yet" in page
    assert "€15.00" in page
    sent = client.submit("/buying/purchases/1", {}, action="/buying/purchases/1/send")
    assert "and on order" in client.follow(sent).text
    assert "400 on order" in client.get("/stock").text
    assert "<strong>400</strong> on order" in client.get(f"/stock/items/{ring}").text
    half = client.submit("/buying/purchases/1/receive", {"lines.0.packs": "2", "lines.0.batch": "bath 7"})
    after = client.follow(half)
    assert "Received 200 rings" in after.text
    assert "<strong>2</strong> of them are here" in after.text
    assert "200 on order" in client.get("/stock").text
    with store.reading() as session:
        assert on_hand(session, ring) == (240, 9_100_000)
    undo = find_form(after.text, "/stock/acts/2/undo")
    client.post("/stock/acts/2/undo", undo.fields)
    assert "on its way" in client.get("/buying/purchases/1").text
    with store.reading() as session:
        assert on_hand(session, ring) == (40, 1_600_000)
    cancelled = client.submit("/buying/purchases/1", {}, action="/buying/purchases/1/cancel")
    assert "What has not come is cancelled." in client.follow(cancelled).text
    assert "on order" not in client.get("/stock").text


def test_a_draft_is_changed_with_its_faults_beside_the_fields_and_never_over_a_newer_one(
    client: Client, store: Store, ring: int
) -> None:
    client.submit(
        "/buying/purchases/new",
        {"supplier": "Kestrel Wire", "lines.0.item": "Bronze ring 1.0 × 3.6 mm", "lines.0.packs": "4"},
    )
    bad = client.submit(
        "/buying/purchases/1/edit",
        {"lines.0.packs": "0", "lines.2.item": "Nothing such", "lines.2.packs": "1", "postage": "-1"},
    )
    assert bad.status_code == 422
    assert 'id="f-lines-0-packs-fault"' in bad.text
    assert 'id="f-postage-fault"' in bad.text
    unknown = client.submit("/buying/purchases/1/edit", {"lines.2.item": "Nothing such", "lines.2.packs": "1"})
    assert (unknown.status_code, 'id="f-lines-2-item-fault"' in unknown.text) == (422, True)
    stale = client.form("/buying/purchases/1/edit", "/buying/purchases/1/edit").fields
    client.submit("/buying/purchases/1/edit", {"lines.0.packs": "5"})
    assert client.post("/buying/purchases/1/edit", {**stale, "lines.0.packs": "9", "note": "Mine"}).status_code == 409
    with store.reading() as session:
        assert [(line.packs, line.price_micros) for line in session.exec(select(PurchaseLine))] == [(5, 3_000_000)]


def test_more_lines_are_offered_without_losing_what_was_typed(client: Client) -> None:
    fields = client.form("/buying/purchases/new", "/buying/purchases/new").fields
    page = client.post("/buying/purchases/new", {**fields, "lines.0.item": "Something", "more": "yes"})
    assert page.status_code == 200
    assert 'value="Something"' in page.text
    assert 'name="lines.5.item"' in page.text


def test_receiving_more_than_is_to_come_keeps_what_was_typed(client: Client, store: Store, ring: int) -> None:
    client.submit(
        "/buying/purchases/new",
        {"supplier": "Kestrel Wire", "lines.0.item": "Bronze ring 1.0 × 3.6 mm", "lines.0.packs": "4"},
    )
    early = client.get("/buying/purchases/1/receive")
    assert early.status_code == 200
    client.submit("/buying/purchases/1", {}, action="/buying/purchases/1/send")
    bad = client.submit("/buying/purchases/1/receive", {"lines.0.packs": "5", "lines.0.place": "tin 3"})
    assert (bad.status_code, "Only 4 of 4 packs are still to come" in bad.text, 'value="tin 3"' in bad.text) == (
        422,
        True,
        True,
    )
    none = client.submit("/buying/purchases/1/receive", {"lines.0.packs": ""})
    assert (none.status_code, "Say how many packs came." in none.text) == (422, True)


def test_a_purchase_for_print_and_as_a_file_says_what_the_supplier_needs(client: Client, ring: int) -> None:
    client.submit(
        "/buying/purchases/new",
        {
            "supplier": "Kestrel Wire",
            "lines.0.item": "Bronze ring 1.0 × 3.6 mm",
            "lines.0.packs": "4",
            "note": "Bag apart.",
        },
    )
    sheet = words_of(client.get("/buying/purchases/1/sheet").text)
    assert "To Kestrel Wire, from Test bench" in sheet
    assert "Bronze ring 1.0 × 3.6 mm 100 pieces 4 3.00 12.00" in sheet
    assert "Bag apart." in sheet
    file = client.get("/buying/purchases/1/purchase.csv")
    assert file.headers["content-type"].startswith("text/csv")
    lines = file.text.lstrip("\ufeff").splitlines()
    assert lines[0].startswith("purchase,supplier,item,their_note,packs")
    assert lines[1] == "1,Kestrel Wire,Bronze ring 1.0 × 3.6 mm,,4,100 piece,3.00,12.00,EUR,0"
    assert lines[2].startswith("1,Kestrel Wire,Postage")


@pytest.mark.parametrize(
    "path",
    [
        "/buying/purchases/9",
        "/buying/purchases/9/edit",
        "/buying/purchases/9/receive",
        "/buying/purchases/9/sheet",
        "/buying/purchases/9/purchase.csv",
        "/buying/purchases/new?supplier=9",
        "/buying/purchases?item=9",
    ],
)
def test_what_is_not_there_is_not_found(client: Client, path: str) -> None:
    assert client.get(path).status_code == 404


def many(session: Session, items: int) -> None:
    supplier = a_supplier(session, f"Supplier {items}", postage="2.00")
    for number in range(items):
        item_id = a_ring(
            session, name=f"Ring {items}.{number}", inner_nm=3_000_000 + 100_000 * number + items, price=None
        )
        an_offer(session, item_id, supplier, breaks="5 at 3.00")
        add_needs(session, [(item_id, 300_000, "")])


def test_the_pages_read_as_much_for_many_items_as_for_few(client: Client, store: Store) -> None:
    seen = []
    for items in (2, 12):
        with store.writing() as session:
            many(session, items)
        with store.reading() as session, counted(session) as statements:
            ask_shop(session)
            purchase_list(session)
        seen.append(len(statements))
    assert seen[0] == seen[1] <= 20


def test_what_a_build_is_short_of_goes_on_the_list_in_one_touch(client: Client, store: Store, ring: int) -> None:
    with store.writing() as session:
        design = a_design(session, [a_part(ring, 60)])
        refresh_figures(session)
    page = client.get(f"/builds/new?design_id={design}&pieces=2")
    sent = client.post("/buying/needs/several", find_form(page.text, "/buying/needs/several").fields)
    assert "It is on the list." in client.follow(sent).text
    with store.reading() as session:
        need = session.exec(select(Need).order_by(col(Need.id).desc())).first()
        assert need is not None
        assert (need.quantity_milli, need.purpose) == (120_000, "2 × Copper leaf pendant")


def test_the_bench_says_what_must_be_bought_and_what_is_on_its_way(client: Client, store: Store, ring: int) -> None:
    with store.writing() as session:
        a_design(session, [a_part(ring, 60)])
        refresh_figures(session)
    assert "260 rings of Bronze ring 1.0 × 3.6 mm" in words_of(client.get("/").text)
    client.submit(
        "/buying/purchases/new",
        {"supplier": "Kestrel Wire", "lines.0.item": "Bronze ring 1.0 × 3.6 mm", "lines.0.packs": "4"},
    )
    client.submit("/buying/purchases/1", {"sent_on": "2026-03-02"}, action="/buying/purchases/1/send")
    words = words_of(client.get("/").text)
    assert "4 packs on order from Kestrel Wire" in words
    assert "was due" in words
