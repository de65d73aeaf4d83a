"""A piece that is too large for a page says so wherever it would be drawn or gone through, and stays what it is."""

from __future__ import annotations

from html import unescape
from typing import Any

import pytest

from models.database import Store
from models.intake.designs.design import DesignDraft
from models.intake.layouts.layout import LayoutDraft, read_layout
from models.layouts.engine.limits import MOST_AT_HAND
from models.operations.designs.layout import add_laid_out_design
from tests.web.conftest import Client

RING = {"key": "t1", "kind": "ring", "metal": "copper", "wire": "1.0 mm", "inner": "4.0 mm"}


def rows(number: int) -> dict[str, Any]:
    laid = [{"start": place % 2, "rings": 100, "item": "t1"} for place in range(number)]
    return {"weave": "european-4-in-1", "rows": laid, "palette": [RING]}


@pytest.fixture
def design_id(store: Store) -> int:
    """A design one row larger than what is laid out on a page."""
    layout = read_layout(rows(MOST_AT_HAND // 100 + 1))
    assert isinstance(layout, LayoutDraft)
    with store.writing() as session:
        return add_laid_out_design(session, DesignDraft("Mail shirt", layout=layout))


@pytest.mark.parametrize("path", ["/designs/{}/rows", "/designs/{}/rows/order", "/api/designs/{}/order-of-work"])
def test_a_piece_that_is_too_large_for_a_page_is_refused_with_both_numbers(
    client: Client, design_id: int, path: str
) -> None:
    answer = client.request("GET", path.format(design_id))
    assert answer.status_code == 422
    assert "it has 30,100 rings and findings, and up to 30,000 are laid out on a page" in unescape(answer.text)


def test_its_instruction_sheet_opens_and_says_that_it_is_not_drawn(client: Client, design_id: int) -> None:
    page = client.request("GET", f"/designs/{design_id}/sheet")
    assert page.status_code == 200
    assert unescape(page.text).count("This piece is too large for that: it has 30,100 rings") == 1
    assert "<svg" not in page.text.partition("sheet-top")[2].partition("</div>")[0]


@pytest.mark.parametrize(
    "path", ["/designs/{}", "/designs/{}/drawing.svg", "/api/designs/{}/layout", "/designs/{}/kit"]
)
def test_it_is_still_shown_drawn_as_a_file_and_handed_out(client: Client, design_id: int, path: str) -> None:
    assert client.request("GET", path.format(design_id)).status_code == 200


def test_a_button_that_would_make_a_piece_too_large_leaves_it_as_it_is(client: Client) -> None:
    sent = {"act": "lay", "weave": "european-4-in-1", "shape": "rectangle", "new_line": "copper 1.0 x 4.0 mm"}
    sizes = {"rectangle_rows": "301", "rectangle_rings": "100"}
    page = client.request("POST", "/designs/rows/preview", data={**sent, **sizes})
    assert "it has 30,100 rings and findings" in unescape(page.text)


def test_the_steps_of_a_large_sheet_stand_in_words_alone(client: Client, store: Store) -> None:
    layout = read_layout(rows(101))
    assert isinstance(layout, LayoutDraft)
    with store.writing() as session:
        design_id = add_laid_out_design(session, DesignDraft("Large collar", layout=layout))
    page = client.request("GET", f"/designs/{design_id}/sheet")
    assert "stage-words" in page.text
    assert "stage-picture" not in page.text
