"""The swatches page and its API: a measured piece corrects every size, is listed, and can be taken out and put back."""

from __future__ import annotations

import pytest
from sqlmodel import select

from models.database import Store
from models.intake.faults import Faults
from models.intake.layouts.layout import read_layout
from models.queries.designs.layout_view import LayoutView, worked
from models.tables import Swatch
from tests.shops import a_finding, a_ring
from tests.web.conftest import Client, forms_of

SHEET = {"weave": "european-4-in-1", "rows": "4", "rings": "10", "along": "40 mm", "across": "13.5 mm"}


@pytest.fixture
def ring(store: Store) -> int:
    with store.writing() as session:
        return a_ring(session)


def test_a_sheet_measured_on_the_page_sizes_every_sheet_of_its_ring(client: Client, store: Store, ring: int) -> None:
    before = client.get("/stock/swatches").text
    assert "Nothing measured yet" in before
    answer = client.submit("/stock/swatches/new?kind=sheet", {**SHEET, "item_id": ring})
    page = client.follow(answer).text
    assert "European 4-in-1 follow your swatch" in page
    assert "4 rows × 10 rings" in page
    size = _worked(store, {"weave": "european-4-in-1", "rows": _rows(ring, 4, 10)}).worked.size
    assert (size.width_mm, size.height_mm) == pytest.approx((40.0, 13.5))  # type: ignore[union-attr]


def test_a_swatch_taken_out_can_be_put_back_to_the_nanometre(client: Client, store: Store) -> None:
    sheet = {**SHEET, "wire": "3/64 in", "inner": "5/32 in", "note": "tumbled & bright", "measured_on": "2026-03-01"}
    client.submit("/stock/swatches/new?kind=sheet", sheet)
    with store.reading() as session:
        kept = session.exec(select(Swatch)).one().model_dump(exclude={"id"})
    taken = client.submit("/stock/swatches", action="/stock/swatches/1/remove")
    page = client.follow(taken).text
    assert "Nothing measured yet" in page
    assert "Put it back" in page
    undone = client.submit(
        taken.headers["location"], action=next(a for a in _actions(page) if a.startswith("/stock/swatches/back"))
    )
    client.follow(undone)
    with store.reading() as session:
        assert session.exec(select(Swatch)).one().model_dump(exclude={"id"}) == kept


def _worked(store: Store, raw: dict[str, object]) -> LayoutView:
    draft = read_layout(raw)
    assert not isinstance(draft, Faults), draft
    with store.reading() as session:
        return worked(session, draft)


def _rows(ring: int, rows: int, rings: int) -> list[dict[str, object]]:
    return [{"start": row % 2, "rings": rings, "item": f"i{ring}"} for row in range(rows)]


def _actions(page: str) -> list[str]:
    return [form.action for form in forms_of(page)]


def test_two_chains_of_one_ring_both_count(client: Client, store: Store, ring: int) -> None:
    for rings, length in (("20", "52 mm"), ("40", "102 mm")):
        answer = client.submit(
            "/stock/swatches/new?kind=chain",
            {"weave": "byzantine", "item_id": ring, "rings": rings, "length": length},
        )
        assert answer.status_code == 303
    units = {"units": 20, "repeat": [f"i{ring}"]}
    length = _worked(store, {"weave": "byzantine", "stretches": [units]}).worked
    rings = length.totals.rings
    # Two lengths give a line: 2.5 mm for each ring, and 2 mm at the ends.
    assert length.size.mm == pytest.approx(2.5 * rings + 2)  # type: ignore[union-attr]


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"weave": ""}, "Choose the weave."),
        ({"rows": "1"}, "Give 2 or more"),
        ({"along": "5 mm"}, "One ring alone is 5.6 mm across"),
        ({"across": ""}, "Give a size"),
        ({"measured_on": "2999-01-01"}, "is yet to come"),
        ({"item_id": ""}, "Choose the ring from your stock, or type its wire and inner diameter."),
    ],
)
def test_what_cannot_be_a_swatch_is_refused_beside_its_field(
    client: Client, ring: int, changes: dict[str, str], words: str
) -> None:
    answer = client.submit("/stock/swatches/new?kind=sheet", {**SHEET, "item_id": ring, **changes})
    assert answer.status_code == 422
    assert words in answer.text
    assert "13.5 mm" in answer.text or "across" in changes


def test_only_a_ring_of_the_stock_can_be_measured(client: Client, store: Store) -> None:
    with store.writing() as session:
        wire = a_finding(session)
    answer = client.request("POST", "/api/swatches", json={**SHEET, "item_id": wire})
    assert answer.status_code == 422
    assert answer.json()["errors"] == [
        {
            "field": "item_id",
            "message": "This is no ring of your stock. Choose another one, or type its size.",
        }
    ]


def test_the_same_swatch_goes_in_and_out_by_the_api(client: Client, ring: int) -> None:
    made = client.request("POST", "/api/swatches", json={**SHEET, "item_id": ring, "rows": 4, "rings": 10})
    assert made.status_code == 201
    body = made.json()
    assert (body["along_mm"], body["across_mm"], body["wire_mm"], body["rows"]) == (40.0, 13.5, 1.0, 4)
    assert body["longer_along"] is not None
    assert client.get("/api/swatches").json() == {"swatches": [body]}
    gone = client.request("DELETE", f"/api/swatches/{body['id']}")
    assert gone.json() == body
    assert client.request("DELETE", f"/api/swatches/{body['id']}").status_code == 404
    assert client.get("/api/swatches").json() == {"swatches": []}
