"""Rows under /api: counted without keeping, kept with their design, given up; and swatches that change what is computed."""

from __future__ import annotations

from copy import deepcopy
from typing import Any

import pytest

from models.database import Store
from models.operations.designs.layout import add_laid_out_design
from models.queries.designs.design import draft_of
from models.tables import Design
from tests.laid import BLUE, a_laid_design, chain_raw, lozenge_raw, read, stock_two
from tests.shops import an_outlet
from tests.web.conftest import Client

SHEET = {"weave": "european-4-in-1", "rows": [{"start": n % 2, "rings": 6, "item": "i1"} for n in range(4)]}


@pytest.fixture
def laid(store: Store) -> Store:
    """A bronze ring (1), an ear wire (2), an outlet, and a laid-out lozenge (design 1) with a gift box beside it."""
    with store.writing() as session:
        stock_two(session)
        an_outlet(session)
        add_laid_out_design(session, a_laid_design())
    return store


def body(**more: Any) -> dict[str, Any]:
    raw = lozenge_raw(**more)
    raw["palette"][1] = dict(BLUE, guess={"amount": "0.12", "currency": "EUR"})
    return raw


def count(client: Client, raw: dict[str, Any]) -> dict[str, Any]:
    answer = client.request("POST", "/api/layouts/count", json=raw)
    assert answer.status_code == 200, answer.text
    found: dict[str, Any] = answer.json()
    return found


def errors(answer: Any) -> set[str]:
    assert answer.status_code == 422, answer.text
    return {one["field"] for one in answer.json()["errors"]}


# --- counting ---


def test_a_sheet_is_counted_by_items_links_and_size(client: Client, laid: Store) -> None:
    found = count(client, SHEET)
    assert [(one["key"], one["count"], one["item_id"]) for one in found["items"]] == [("i1", 24, 1)]
    # European 4-in-1, four rows of six: 3 pairs of rows with 11 links each make 33, counted twice over the rings.
    assert sum(one["links"] * one["rings"] for one in found["links"]) == 66
    assert sum(one["rings"] for one in found["links"]) == 24
    assert sum(found["links_of_rings"].values()) == 66
    assert found["prepared"]["close"] + found["prepared"]["open"] == 24
    assert len(found["prepared"]["rings"]) == found["prepared"]["close"] == 6
    assert found["prepared"]["most_possible"] == 12
    assert found["size"]["width_mm"] > found["size"]["height_mm"] > 10
    assert found["mass_g"] == pytest.approx(found["items"][0]["mass_g"])
    assert found["wire_mm"] > 24 * 3.14 * 4


def test_sizes_may_be_given_instead_of_items_and_unknown_keys_are_only_counted(client: Client, laid: Store) -> None:
    bare = count(client, {"weave": "european-4-in-1", "rows": [{"rings": 3, "repeat": ["a", "b"]}]})
    assert {one["key"]: one["count"] for one in bare["items"]} == {"a": 2, "b": 1}
    assert sorted(bare["unweighed"]) == ["a", "b"]
    assert bare["size"]["width_mm"] is None
    palette = [{"key": "a", "wire_mm": 1.0, "inner_mm": 4.0, "metal": "copper"}]
    sized = count(client, {**SHEET, "rows": [{**row, "item": "a"} for row in SHEET["rows"]], "palette": palette})
    assert sized["size"] == count(client, SHEET)["size"]
    assert sized["items"][0]["item_id"] is None
    assert "Copper" in sized["items"][0]["name"]


def test_a_ring_is_taken_as_a_bail(client: Client, laid: Store) -> None:
    bail = {"name": "bail", "kind": "bail", "ring": "i1", "on": {"where": "first row"}}
    found = count(client, {**SHEET, "attachments": [bail]})
    assert (found["rings"], found["findings"]) == (25, 0)
    assert found["links_of_rings"]["a1.1"] == 6


def test_a_chain_is_counted(client: Client, laid: Store) -> None:
    found = count(client, chain_raw(units=4))
    assert found["rings"] == found["items"][0]["count"]
    assert found["size"]["length_mm"] > 20
    assert found["prepared"]["close"] == found["prepared"]["most_possible"] > 0


def test_what_is_worth_a_look_comes_with_its_rings_and_an_offer(client: Client, laid: Store) -> None:
    loose = count(
        client, {"weave": "european-4-in-1", "rows": [{"rings": 2, "item": "i1"}, {"rings": 2, "item": "i1"}]}
    )
    nest = next(one for one in loose["checks"] if one["kind"] == "does not nest")
    assert (nest["row"], nest["offer"], nest["rings"], nest["rings_in_all"]) == (2, "nest", ["2.1", "2.2"], 2)


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"weave": "cloth"}, "weave"),
        ({"rows": [{"start": "left", "rings": 3, "item": "i1"}]}, "rows.1.start"),
        ({"rows": [{"rings": 3, "item": "i77"}]}, "palette.0.item_id"),
        ({"palette": [{"key": "t1", "wire_mm": 1.0, "inner_mm": "round"}]}, "palette.0.inner_mm"),
        ({"closed_beforehand": ["1.1", "2.1"]}, "closed_beforehand"),
        ({"route": {"start_row": 9}}, "route.start_row"),
    ],
)
def test_a_fault_of_a_count_stands_beside_its_field(
    client: Client, laid: Store, change: dict[str, Any], field: str
) -> None:
    assert field in errors(client.request("POST", "/api/layouts/count", json={**SHEET, **change}))


def test_a_measured_swatch_changes_what_is_computed(client: Client, laid: Store) -> None:
    before = count(client, SHEET)["size"]
    swatch = {"weave": "european-4-in-1", "item_id": 1, "rows": 4, "rings": 6, "along": "33 mm", "across": "18 mm"}
    made = client.request("POST", "/api/swatches", json=swatch)
    assert made.status_code == 201
    after = count(client, SHEET)["size"]
    # The piece is the swatch itself, so it measures what the swatch measured.
    assert (after["width_mm"], after["height_mm"]) == (pytest.approx(33), pytest.approx(18))
    assert "swatch" in after["source"]
    assert client.request("DELETE", f"/api/swatches/{made.json()['id']}").status_code == 200
    assert count(client, SHEET)["size"] == before


# --- the layout of a design ---


def test_what_was_read_can_be_sent_back_and_changes_nothing(client: Client, laid: Store) -> None:
    shown = client.get("/api/designs/1/layout").json()
    assert (shown["version"], shown["revision"], shown["layout"]["kind"]) == (1, 1, "sheet")
    answer = client.request("PUT", "/api/designs/1/layout", json={**shown["layout"], "version": 1})
    assert answer.status_code == 200, answer.text
    assert (answer.json()["revision"], answer.json()["version"]) == (1, 1)
    assert answer.json()["layout"] == shown["layout"]
    assert answer.json()["change"]["rings"] == 0


def test_changed_rows_make_a_revision_and_say_what_they_do(client: Client, laid: Store) -> None:
    raw = body()
    raw["rows"].append({"start": 1, "items": ["t1", "t1"]})
    answer = client.request("PUT", "/api/designs/1/layout", json={**raw, "version": 1})
    assert answer.status_code == 200, answer.text
    found = answer.json()
    assert found["revision"] == 2
    assert found["change"]["rings"] == 2
    assert found["change"]["mass_g"] > 0
    assert found["change"]["minutes"] > 0
    assert float(found["change"]["cost"]["amount"]) > 0.24
    (price,) = found["change"]["prices"]
    assert float(price["after"]["amount"]) > float(price["before"]["amount"])
    assert client.get("/api/designs/1/layout?revision=1").json()["layout"]["rows"] != found["layout"]["rows"]


def test_a_plain_design_gets_rows_and_gives_them_up(client: Client, laid: Store) -> None:
    made = client.request("POST", "/api/designs", json={"name": "Plain"})
    number = made.json()["id"]
    assert client.get(f"/api/designs/{number}/layout").status_code == 404
    assert client.request("DELETE", f"/api/designs/{number}/layout?version=1").status_code == 404
    put = client.request("PUT", f"/api/designs/{number}/layout", json={**chain_raw(), "version": 1})
    assert put.status_code == 200, put.text
    assert put.json()["change"] is None
    assert put.json()["layout"]["stretches"] == [{"units": 6, "repeat": ["i1"]}]
    design = client.get(f"/api/designs/{number}").json()
    assert design["weave"] == "byzantine"
    assert [part["from_rows"] for part in design["parts"]] == [True]
    assert design["computed_size"]["length_mm"] > 30
    gone = client.request("DELETE", f"/api/designs/{number}/layout?version=2")
    assert gone.status_code == 200, gone.text
    assert gone.json() == {"design_id": number, "version": 3, "revision": 3}
    after = client.get(f"/api/designs/{number}").json()
    assert after["rows"] is None
    assert sum(part["quantity"] for part in after["parts"]) == design["parts"][0]["quantity"]


def test_a_stale_change_of_rows_is_refused(client: Client, laid: Store) -> None:
    raw = body()
    raw["rows"][0]["items"] = ["i1"]
    assert client.request("PUT", "/api/designs/1/layout", json={**raw, "version": 1}).status_code == 200
    raw["rows"][4]["items"] = ["i1"]
    stale = client.request("PUT", "/api/designs/1/layout", json={**raw, "version": 1})
    assert stale.status_code == 409
    assert client.request("DELETE", "/api/designs/1/layout?version=1").status_code == 409


def test_faults_of_kept_rows_stand_beside_their_fields(client: Client, laid: Store) -> None:
    def put(**change: Any) -> set[str]:
        return errors(client.request("PUT", "/api/designs/1/layout", json={**body(), "version": 1, **change}))

    assert put(version=None) == {"version"}
    assert put(rows=[{"rings": 2, "item": "sky"}], route=None) == {"palette"}
    assert put(palette=[{"key": "t1", "kind": "bead", "name": "glass bead"}]) == {"palette.0.kind"}
    assert put(palette=[dict(BLUE, metal="moon metal")]) == {"palette.0.metal"}
    assert put(palette=[dict(BLUE, guess={"amount": "1", "currency": "USD"})]) == {"palette.0.guess"}
    assert client.request("PUT", "/api/designs/99/layout", json={**body(), "version": 1}).status_code == 404


# --- within a design ---


def test_a_design_carries_its_rows_and_can_be_sent_back(client: Client, laid: Store) -> None:
    design = client.get("/api/designs/1").json()
    assert design["rows"] == client.get("/api/designs/1/layout").json()["layout"]
    assert [(part["from_rows"], part["closed_beforehand"]) for part in design["parts"]] == [
        (True, 1.0), (True, 2.0), (True, None), (False, None),
    ]  # fmt: skip
    answer = client.request("PUT", "/api/designs/1", json=design)
    assert answer.status_code == 200, answer.text
    assert answer.json() == design


def test_a_design_keeps_its_rows_unless_told_otherwise(client: Client, laid: Store) -> None:
    design = client.get("/api/designs/1").json()
    plain = {name: value for name, value in design.items() if name != "rows"}
    plain["parts"] = [{"item_id": 1, "quantity": 3, "purpose": "spare"}]
    kept = client.request("PUT", "/api/designs/1", json=plain).json()
    assert [part["from_rows"] for part in kept["parts"]] == [True, True, True, False]
    changed = deepcopy(design)
    changed["version"], changed["rows"]["rows"][0]["runs"] = kept["version"], [["i1", 1]]
    rows = client.request("PUT", "/api/designs/1", json=changed)
    assert rows.status_code == 200, rows.text
    assert rows.json()["parts"][0]["quantity"] == 3
    gone = client.request("PUT", "/api/designs/1", json={**rows.json(), "rows": None})
    assert gone.status_code == 200, gone.text
    assert gone.json()["rows"] is None
    assert not any(part["from_rows"] for part in gone.json()["parts"])
    assert sum(part["quantity"] for part in gone.json()["parts"]) == 12


def test_a_new_design_can_come_with_rows(client: Client, laid: Store) -> None:
    made = client.request("POST", "/api/designs", json={"name": "Rows at once", "rows": body()})
    assert made.status_code == 201, made.text
    with laid.reading() as session:
        assert draft_of(session, made.json()["id"]).layout == read(lozenge_raw())
        assert session.get_one(Design, made.json()["id"]).version == 1
    raw = body()
    raw["rows"][2]["start"] = "middle"
    found = errors(client.request("POST", "/api/designs", json={"name": "Wrong", "rows": raw}))
    assert found == {"rows.rows.3.start"}
    raw = body()
    raw["palette"][1] = {"key": "t1", "wire_mm": 1.0, "inner_mm": 0}
    assert "rows.palette.1.inner_mm" in errors(
        client.request("POST", "/api/designs", json={"name": "Wrong", "rows": raw})
    )
