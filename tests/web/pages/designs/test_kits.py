"""The kit's pages without scripts, and its API: bags, labels, a class, a kit for sale that follows its design."""

from __future__ import annotations

import re
from decimal import Decimal

import pytest
from sqlmodel import select

from models.database import Store
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft
from models.operations.buying.need import put_needs_back
from models.operations.designs.design import add_design
from models.queries.buying.needs import needs
from models.tables import Item
from tests.counting import queries_of
from tests.ledgers import a_lot
from tests.shops import a_finding, a_ring, an_outlet
from tests.web.conftest import Client


@pytest.fixture
def leaf(store: Store) -> int:
    """A pendant of 41 bronze rings, 20 closed beforehand, and an ear wire."""
    with store.writing() as session:
        ring, wire = a_ring(session), a_finding(session)
        an_outlet(session)
        parts = (PartDraft(21_000, ring), PartDraft(20_000, ring, joined=False), PartDraft(1_000, wire))
        return add_design(session, DesignDraft("Leaf", piece="pendant", weave="european-4-in-1", parts=parts))


def plain(page: str) -> str:
    """The words of a page."""
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", re.sub(r"</?strong>", "", page)))


def test_a_kit_leads_with_its_cost_and_its_price(client: Client, leaf: int) -> None:
    words = plain(client.get(f"/designs/{leaf}/kit").text)
    assert re.search(r"A kit costs €[\d.]+ and could list at €[\d.]+ at Web shop\.", words)
    assert "44 rings, 3 of them to spare, in 2 bags" in words
    assert "20 to close first" in words


def test_spares_and_preparing_are_chosen_in_the_address(client: Client, leaf: int) -> None:
    words = plain(client.get(f"/designs/{leaf}/kit?spare_percent=20&prepared=yes").text)
    assert "50 rings, 9 of them to spare, in 3 bags" in words
    assert "closed" in words
    assert "opened" in words
    refused = client.get(f"/designs/{leaf}/kit?spare_percent=120")
    assert refused.status_code == 422
    assert "of at most 100" in refused.text


def test_a_kit_for_sale_is_made_followed_and_taken_back(client: Client, leaf: int) -> None:
    made = client.submit(f"/designs/{leaf}/kit?spare_percent=10", action=f"/designs/{leaf}/kit")
    kit = int(made.headers["location"].split("/")[2].split("?")[0])
    page = client.follow(made).text
    assert "Leaf kit" in page
    assert "Undo" in page
    assert "10 % to spare" in plain(client.get(f"/designs/{leaf}/kit").text)
    # The kit's own address leads to the design that it is a kit of.
    assert client.get(f"/designs/{kit}/kit").headers["location"] == f"/designs/{leaf}/kit?spare_percent=10"
    assert client.get(f"/designs/{kit}/class").headers["location"] == f"/designs/{leaf}/class?spare_percent=10"
    assert client.get(f"/designs/{kit}/sheet").headers["location"] == f"/designs/{leaf}/sheet?revision=1"

    client.submit(f"/designs/{leaf}/edit", {"parts.0.quantity": "31"})
    page = client.get(f"/designs/{leaf}/kit").text
    assert "the design is at revision 2 now" in plain(page)
    # The kit's own page says so as well, and so does its design's.
    assert "packed by revision 1" in plain(client.get(f"/designs/{kit}").text)
    assert "behind this revision" in plain(client.get(f"/designs/{leaf}").text)
    # Bags that are packed by the earlier revision get its labels.
    assert "46 rings" in plain(client.follow(client.get(f"/designs/{kit}/kit/labels")).text)
    said = client.submit(f"/designs/{kit}", action=f"/designs/{kit}/kit/up-to-date")
    after = client.follow(said).text
    assert "Leaf kit is packed by revision 2 from now on." in after
    assert "57 rings" in plain(after)
    undone = client.submit(
        said.headers["location"],
        action=re.search(r'action="(/designs/\d+/kit/back[^"]+)"', after)[1].replace("&amp;", "&"),
    )  # type: ignore[index]
    assert "is packed as before again" in client.follow(undone).text
    assert "46 rings" in plain(client.get(f"/designs/{kit}").text)


def test_a_kit_made_by_mistake_is_undone(client: Client, leaf: int) -> None:
    made = client.submit(f"/designs/{leaf}/kit", action=f"/designs/{leaf}/kit")
    location = made.headers["location"]
    kit = location.split("/")[2].split("?")[0]
    undone = client.submit(location, action=f"/designs/{kit}/kit/discard")
    assert "Leaf kit is gone again." in client.follow(undone).text
    assert client.get(f"/designs/{kit}").status_code == 404


def test_a_kit_without_a_name_or_with_a_taken_one(client: Client, leaf: int) -> None:
    taken = client.submit(f"/designs/{leaf}/kit?spare_percent=12", {"name": "Leaf"}, action=f"/designs/{leaf}/kit")
    assert taken.status_code == 422
    assert "already a design called Leaf" in taken.text
    # What was chosen for the kit is kept.
    assert 'name="spare_percent" value="12"' in taken.text
    wrong = client.submit(f"/designs/{leaf}/kit", {"pack_minutes": "a while"}, action=f"/designs/{leaf}/kit")
    assert wrong.status_code == 422
    assert "a while" in wrong.text


def test_every_bag_has_its_label(client: Client, leaf: int) -> None:
    page = client.get(f"/designs/{leaf}/kit/labels?prepared=yes").text
    assert page.count('<div class="label">') == 4
    words = plain(page)
    assert "20 rings, closed" in words
    assert "24 rings, opened" in words
    assert "1 piece" in words
    alone = client.get(f"/designs/{leaf}/kit/labels?what=bags&paper=a4-24&start=3&copies=2").text
    assert alone.count('<div class="label">') == 4
    assert alone.count("label-used") == 2
    assert client.get(f"/designs/{leaf}/kit/labels?paper=a4-24&start=99").status_code == 422


def test_a_class_of_eight_needs_eight_kits(client: Client, leaf: int) -> None:
    words = plain(client.get(f"/designs/{leaf}/class").text)
    assert "Your free stock lacks 2 of 2 things for 8 kits." in words
    assert "352 rings" in words
    assert plain(client.get(f"/designs/{leaf}/class?people=3").text).count("132") == 2 + 1
    refused = client.get(f"/designs/{leaf}/class?people=0")
    assert refused.status_code == 422


def test_a_design_without_parts_has_nothing_to_pack(client: Client, store: Store) -> None:
    with store.writing() as session:
        bare = add_design(session, DesignDraft("Bare"))
    for page in ("kit", "class", "kit/labels"):
        answer = client.get(f"/designs/{bare}/{page}")
        assert answer.status_code == 200
    assert "There is nothing to pack yet" in client.get(f"/designs/{bare}/kit").text
    assert client.request("POST", f"/api/designs/{bare}/kit", json={}).status_code == 422


@pytest.mark.parametrize("page", ["kit", "kit/labels", "class"])
def test_an_unknown_design_has_no_kit(client: Client, page: str) -> None:
    assert client.get(f"/designs/77/{page}").status_code == 404


def test_queries_do_not_grow_with_the_bags(client: Client, store: Store) -> None:
    counts = []
    client.get("/designs")
    with store.writing() as session:
        rings = [a_ring(session, name=f"Ring {place}") for place in range(30)]
        few = add_design(session, DesignDraft("Few", parts=tuple(PartDraft(9_000, ring) for ring in rings[:2])))
        many = add_design(session, DesignDraft("Many", parts=tuple(PartDraft(9_000, ring) for ring in rings)))
    for design in (few, many):
        for page in ("kit", "class"):
            with queries_of(store) as seen:
                assert client.get(f"/designs/{design}/{page}").status_code == 200
            counts.append(len(seen))
    assert counts[:2] == counts[2:]


def test_the_api_tells_the_same_kit(client: Client, leaf: int) -> None:
    body = client.get(f"/api/designs/{leaf}/kit?spare_percent=10&prepared=true").json()
    assert [(bag["state"], bag["needed"], bag["spare"]) for bag in body["bags"]] == [
        ("closed", 20, 0),
        ("open", 21, 5),
        ("", 1, 0),
    ]
    # 46 rings at 0.04 and a wire at 0.24.
    assert Decimal(body["cost"]["per_piece"]["materials"]["amount"]) == Decimal("2.08")
    assert body["prices"]["outlets"][0]["suggested"] is not None
    made = client.request("POST", f"/api/designs/{leaf}/kit", json={"spare_percent": 10, "prepared": True})
    assert made.status_code == 201
    kept = made.json()
    assert (kept["kit_of"], kept["of_revision"], kept["behind"], kept["prepared"]) == (leaf, 1, False, True)
    design = client.get(f"/api/designs/{kept['id']}").json()
    assert (design["piece"], design["kit_of"], design["kit_of_revision"]) == ("kit", leaf, 1)
    work = design["work"]
    assert (work["open_count"], work["close_count"], work["weave_count"], work["attach_count"]) == (26, 20, 0, 0)
    again = client.request("POST", f"/api/designs/{kept['id']}/kit/up-to-date", json={"version": kept["version"]})
    assert (again.status_code, again.json()["of_revision"]) == (200, 1)
    assert client.request("POST", f"/api/designs/{kept['id']}/kit", json={}).status_code == 409
    assert client.get(f"/api/designs/{kept['id']}/kit").status_code == 409
    assert client.get(f"/api/designs/{leaf}/kit?spare_percent=lots").status_code == 422


def test_the_api_tells_the_same_class(client: Client, leaf: int) -> None:
    body = client.get(f"/api/designs/{leaf}/class?people=12").json()
    assert (body["people"], body["to_pack"]) == (12, 12)
    assert [(need["needed"], need["lacks"]) for need in body["needs"]] == [(528, 528), (12, 12)]
    assert client.get(f"/api/designs/{leaf}/class?people=none").status_code == 422


def test_what_a_class_lacks_goes_on_the_list_to_buy_once_and_off_it_again(
    client: Client, store: Store, leaf: int
) -> None:
    def listed() -> dict[str, int]:
        with store.reading() as session:
            return {f"{wish.purpose}: {row.item.name}": wish.milli for row in needs(session) for wish in row.wishes}

    where = f"/designs/{leaf}/class?people=6"
    sent = client.submit(where, action="/buying/needs/several")
    page = client.follow(sent).text
    assert "2 things are on the list." in page
    # 44 rings a kit with the spare ones, and an ear wire with as many to spare as its bag says.
    total = {
        need["name"]: need["needed"] * 1000
        for need in client.get(f"/api/designs/{leaf}/class?people=6").json()["needs"]
    }
    assert listed() == {f"6 × Leaf kit: {name}": milli for name, milli in total.items()}
    assert "6 × Leaf kit" in page
    # Asked for again, the class is still one class.
    again = client.submit(where, action="/buying/needs/several")
    assert listed() == {f"6 × Leaf kit: {name}": milli for name, milli in total.items()}
    undo = re.search(r'action="(/buying/needs/several/[^"]+/undo)"', client.follow(again).text)
    assert undo is not None
    client.submit(again.headers["location"], action=undo[1])
    assert len(listed()) == 2
    first = re.search(r'action="(/buying/needs/several/[^"]+/undo)"', page)
    assert first is not None
    with store.writing() as session:
        put_needs_back(session, [tuple(map(int, one.split("."))) for one in first[1].split("/")[4].split("-")])
    assert listed() == {}


@pytest.mark.parametrize("nonsense", ["x", "1", "1.2.3", "1.-2", "1.2-"])
def test_an_undo_of_a_list_that_says_nothing_is_not_found(client: Client, nonsense: str) -> None:
    page = client.get("/buying")
    token = re.search(r'name="token" value="([^"]+)"', page.text)
    assert token is not None
    assert client.post(f"/buying/needs/several/{nonsense}/undo", {"token": token[1]}).status_code == 404


def test_a_kit_for_sale_can_be_made_and_planned_like_any_design(client: Client, store: Store, leaf: int) -> None:
    client.submit(f"/designs/{leaf}/kit?spare_percent=0", action=f"/designs/{leaf}/kit")
    with store.writing() as session:
        for item in session.exec(select(Item).where(Item.kind != "piece")).all():
            a_lot(session, item.id or 0, 130 if item.kind == "ring" else 50, "5.00")
    rows = {row["design"]: row for row in client.get("/api/makeable").json()["makeable"]}
    # 41 rings each: 130 make three kits, and one more needs 34.
    kit = rows["Leaf kit"]
    assert (kit["pieces"], [one["quantity"] for one in kit["one_more_needs"]]) == (3, [34])
    caps = [{"key": kit["key"], "at_least": 2}]
    plan = client.request("POST", "/api/make-plan", json={"goal": "pieces", "hours": 40, "caps": caps}).json()
    assert (plan["answer"], plan["proof"]["gap"]) == ("plan", 0)
    made = {line["design"]: line["pieces"] for line in plan["lines"]}
    assert made["Leaf kit"] >= 2
    assert sum(made.values()) == 3
