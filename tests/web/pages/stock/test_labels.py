"""Labels of bags: which there are, what stands on them, what their codes open, and the measures of the papers."""

from __future__ import annotations

import re
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlmodel import Session

from models.database import Store
from models.intake.stock.label import PAGES_MM, PAPERS, PaperRequest, read_label_request, read_paper_request
from models.queries.stock.label import label_page
from models.tables import Item
from tests.counting import queries_of
from tests.ledgers import a_lot, take_out
from tests.shops import a_finding, a_ring
from tests.web.conftest import Client, forms_of
from webapp.app import STATIC_FOLDER, create_app
from webapp.network import Reach
from webapp.settings import Settings
from webapp.web.labels import lay_out
from webapp.web.qr import qr_path

CSS = (STATIC_FOLDER / "ringbench.css").read_text(encoding="utf-8")


def fill(session: Session) -> dict[str, int]:
    """A ring in two places, a ring in one, and an ear wire that was used up."""
    bronze = a_ring(session)
    niobium = a_ring(session, name="Fern", metal="niobium", wire_nm=800_000, inner_nm=3_200_000, colour="leaf green")
    wires = a_finding(session)
    lots = {
        "first": a_lot(session, bronze, 400, "12.00", place="drawer B10"),
        "second": a_lot(session, bronze, 300, "12.00", place="drawer B4", batch="batch 12"),
        "green": a_lot(session, niobium, 90, "30.00", place="drawer B4", batch="dye lot 7"),
        "used": a_lot(session, wires, 10, "1.00"),
    }
    take_out(session, lots["used"], 10)
    return {"bronze": bronze, "niobium": niobium, "wires": wires, **lots}


@pytest.fixture
def ids(store: Store) -> dict[str, int]:
    """The items and lots of a small shop by name."""
    with store.writing() as session:
        return fill(session)


def shown(page: str) -> list[str]:
    """The words of each label on a page, with single blanks between them."""
    pieces = page.partition("</main>")[0].split('<div class="label">')[1:]
    return [" ".join(re.sub(r"<[^>]+>", " ", piece).split()) for piece in pieces]


def test_every_bag_of_an_item_gets_a_label_in_the_order_of_the_drawers(client: Client, ids: dict[str, int]) -> None:
    page = client.get(f"/stock/labels?items={ids['bronze']},{ids['niobium']}").text
    assert "3 labels" in page
    labels = shown(page)
    assert len(labels) == 3
    b4, green, b10 = labels
    assert b4.startswith(f"lot {ids['second']} 1.0 mm wire 3.6 mm inside AR 3.60 · commercial bronze C220")
    assert b4.endswith("drawer B4 batch 12")
    assert (
        f"lot {ids['green']} 0.8 mm wire 3.2 mm inside AR 4.00 · leaf green niobium Fern drawer B4 dye lot 7" == green
    )
    assert b10.endswith("drawer B10")


def test_labels_can_be_asked_for_by_lot_and_by_place(client: Client, ids: dict[str, int]) -> None:
    assert "1 label<" in client.get(f"/stock/labels?lots={ids['first']}").text
    assert "2 labels<" in client.get("/stock/labels?places=drawer+B4").text
    assert "3 labels<" in client.get(f"/stock/labels?places=drawer+B4&lots={ids['first']}&lots={ids['second']}").text


def test_an_item_without_a_bag_gets_one_of_its_own(client: Client, ids: dict[str, int]) -> None:
    page = client.get(f"/stock/labels?items={ids['wires']}").text
    assert "1 label<" in page
    assert "Ear wire" in page
    assert "lot " not in " ".join(shown(page))


def test_a_code_opens_the_item_under_the_address_that_the_page_was_opened_by(
    client: Client, ids: dict[str, int]
) -> None:
    page = client.get(f"/stock/labels?lots={ids['green']}").text
    path = f"stock/items/{ids['niobium']}"
    assert f'd="{qr_path(f"http://127.0.0.1:8042/{path}").path}"' in page
    assert client.get(f"/{path}").status_code == 200
    assert "A phone cannot open these codes" in page
    page = client.get(f"/stock/labels?lots={ids['green']}", headers={"host": "localhost:8042"}).text
    assert f'd="{qr_path(f"http://localhost:8042/{path}").path}"' in page


def test_on_the_network_a_code_opens_on_a_phone_wherever_the_page_was_opened(store: Store, ids: dict[str, int]) -> None:
    from models.operations.shop.sign_in import set_password

    with store.writing() as session:
        set_password(session, "seven kettles by the door")
    reach = Reach(bind="192.168.1.5", hosts=("192.168.1.5",), names=frozenset({"192.168.1.5", "bench.local"}))
    code = qr_path(f"http://192.168.1.5:8042/stock/items/{ids['niobium']}").path
    named = qr_path(f"http://bench.local:8042/stock/items/{ids['niobium']}").path
    with Client(create_app(store, Settings(store.folder), reach)) as client:
        client.submit("/sign-in", {"password": "seven kettles by the door"})
        page = client.get(f"/stock/labels?lots={ids['green']}").text
        assert code in page
        assert "cannot open these codes" not in page
        assert named in client.get(f"/stock/labels?lots={ids['green']}", headers={"host": "bench.local:8042"}).text


def test_nothing_picked_offers_the_places(client: Client, ids: dict[str, int]) -> None:
    page = client.get("/stock/labels").text
    assert page.index("drawer B4") < page.index("drawer B10")
    (link,) = re.findall(r'href="(/stock/labels\?places=drawer.B4)"', page)
    assert "2 labels<" in client.get(link).text


def test_an_empty_shop_says_what_labels_are_for(client: Client) -> None:
    assert "No bag is in stock yet" in client.get("/stock/labels").text


@pytest.mark.parametrize(
    "asked", ["items=999", "lots=999", "places=nowhere", "items=999999999", "items=,,&items=1e3&lots=0"]
)
def test_what_is_not_there_picks_nothing(client: Client, ids: dict[str, int], asked: str) -> None:
    page = client.get(f"/stock/labels?{asked}")
    assert page.status_code == 200
    assert shown(page.text) == []


def test_a_sheet_that_was_begun_starts_where_it_is_free(client: Client, ids: dict[str, int]) -> None:
    page = client.get(f"/stock/labels?items={ids['bronze']}&paper=a4-24&start=6&copies=10").text
    assert "20 labels</strong> on 2 sheets" in page
    assert page.count("label-used") == 5
    assert page.count('class="label-page"') == 2
    fields = next(form.fields for form in forms_of(page) if form.action == "/stock/labels")
    assert fields == {"items": str(ids["bronze"]), "paper": "a4-24", "start": "6", "copies": "10"}


@pytest.mark.parametrize(
    ("asked", "field"),
    [("paper=huge", "paper"), ("paper=a4-24&start=25", "start"), ("paper=a4-24&start=none", "start"),
     ("copies=0", "copies"), ("copies=51", "copies")],
)  # fmt: skip
def test_what_is_wrong_is_said_beside_its_field(client: Client, ids: dict[str, int], asked: str, field: str) -> None:
    answer = client.get(f"/stock/labels?items={ids['bronze']}&{asked}")
    assert answer.status_code == 422
    assert f'id="f-{field}-fault"' in answer.text
    assert len(shown(answer.text)) == 2


def test_more_than_a_roll_holds_are_cut_and_said(client: Client, ids: dict[str, int], monkeypatch: Any) -> None:
    monkeypatch.setattr("models.queries.stock.label.MOST_LABELS", 2)
    page = client.get(f"/stock/labels?items={ids['bronze']},{ids['niobium']}").text
    assert "2 labels<" in page
    assert "There would be 3" in page


def test_words_of_the_person_are_escaped(client: Client, store: Store, ids: dict[str, int]) -> None:
    with store.writing() as session:
        session.get_one(Item, ids["niobium"]).name = "<b>Fern</b> & “moss”"
    page = client.get(f"/stock/labels?items={ids['niobium']}").text
    assert "&lt;b&gt;Fern" in page
    assert "<b>Fern" not in page


def test_query_counts_do_not_grow_with_the_labels(store: Store, ids: dict[str, int]) -> None:
    def queries(places: tuple[str, ...]) -> int:
        with store.reading() as session, queries_of(store) as seen:
            label_page(session, read_label_request((), (), places))
        return len(seen)

    before = queries(("drawer B4",))
    with store.writing() as session:
        for number in range(12):
            a_lot(session, a_ring(session, name=f"Ring {number}", inner_nm=3_000_000 + number), 10, place="drawer B4")
    assert queries(("drawer B4",)) == before


def test_the_order_of_what_was_picked_and_doubles_do_not_matter() -> None:
    asked = read_label_request(["3, 1,3", "2"], ["5"], ["a", "a", "b"])
    assert (asked.items, asked.lots, asked.places) == ((3, 1, 2), (5,), ("a", "b"))
    assert not read_label_request(["", "x", "-1", "²"], [], []).of_something


# ---- the papers ----


def rule(code: str) -> dict[str, Decimal]:
    """The measures of a paper in the style sheet."""
    found = re.search(rf"\.labels-{re.escape(code)} \{{ (--label-width[^}}]*)\}}", CSS)
    assert found, code
    return {name: Decimal(value) for name, value in re.findall(r"--label-([a-z]+): ([\d.]+)(?:mm)?;", found[1])}


@pytest.mark.parametrize("code", PAPERS)
def test_the_style_sheet_has_the_measures_of_every_paper(code: str) -> None:
    paper, measures = PAPERS[code], rule(code)
    assert (measures["width"], measures["height"]) == (paper.width_mm, paper.height_mm)
    if paper.on_a_sheet:
        assert measures["columns"] == paper.columns
        assert (measures["left"], measures["top"], measures["gap"]) == (paper.left_mm, paper.top_mm, paper.gap_mm)
        name, size = f"labels-{paper.page.lower()}", PAGES_MM[paper.page]
    else:
        name, size = code, (paper.width_mm, paper.height_mm)
    found = re.search(rf"@page {re.escape(name)} \{{ size: ([\d.]+)mm ([\d.]+)mm; margin: 0; \}}", CSS)
    assert found
    assert (Decimal(found[1]), Decimal(found[2])) == size
    assert re.search(rf"\.labels-{re.escape(code)}\b[^}}]*\{{ page: {re.escape(name)}; \}}", CSS)


@pytest.mark.parametrize("code", [code for code, paper in PAPERS.items() if paper.on_a_sheet])
def test_every_grid_lies_on_its_page(code: str) -> None:
    paper = PAPERS[code]
    wide, high = PAGES_MM[paper.page]
    width = paper.left_mm + paper.columns * paper.width_mm + (paper.columns - 1) * paper.gap_mm
    height = paper.top_mm + paper.rows * paper.height_mm
    assert width <= wide
    assert height <= high
    # The grid stands in the middle of its page, as far as whole tenths of a millimetre allow.
    assert abs(wide - width - paper.left_mm) <= Decimal("0.5")
    assert abs(high - height - paper.top_mm) <= Decimal("0.5")


@given(st.lists(st.integers(), max_size=70), st.sampled_from(sorted(PAPERS)), st.integers(1, 24), st.integers(1, 3))
def test_every_label_comes_out_as_often_as_asked_and_in_order(
    labels: list[int], code: str, start: int, copies: int
) -> None:
    paper = PAPERS[code]
    question = PaperRequest(paper, start if paper.on_a_sheet else 1, copies)
    laid = lay_out(labels, question)
    flat = [label for page in laid.pages for label in page]
    if labels:
        assert flat[: question.start - 1] == [None] * (question.start - 1)
        assert flat[question.start - 1 :] == [label for label in labels for _ in range(copies)]
    else:
        assert laid.pages == ()
    assert laid.labels == len(labels) * copies
    assert all(len(page) == paper.per_page for page in laid.pages[:-1])


def test_a_roll_has_no_place_to_start_at() -> None:
    question, faults = read_paper_request({"paper": "roll-62x29", "start": "9"})
    assert (question.start, faults) == (1, None)


# ---- the ways there ----


def test_items_can_be_ticked_in_the_stock_list(client: Client, ids: dict[str, int]) -> None:
    assert 'href="/stock?pick=labels"' in client.get("/stock/labels").text
    assert 'name="items"' not in client.get("/stock").text
    page = client.get("/stock?pick=labels&find=fern").text
    assert re.findall(r'name="items" value="(\d+)" form="label-picks"', page) == [str(ids["niobium"])]
    searching = next(form.fields for form in forms_of(page) if form.action == "/stock")
    assert searching["pick"] == "labels"
    ticked = client.get(f"/stock/labels?items={ids['niobium']}&items={ids['bronze']}").text
    assert "3 labels<" in ticked


def test_an_item_and_a_lot_lead_to_their_labels(client: Client, ids: dict[str, int]) -> None:
    assert f'href="/stock/labels?items={ids["bronze"]}"' in client.get(f"/stock/items/{ids['bronze']}").text
    assert "/stock/labels?items=" not in client.get(f"/stock/items/{ids['wires']}").text
    assert f'href="/stock/labels?lots={ids["first"]}"' in client.get(f"/stock/lots/{ids['first']}").text
    assert "/stock/labels?lots=" not in client.get(f"/stock/lots/{ids['used']}").text
