"""Buying in a real browser, on a desktop and on a phone: drafted in one touch, sent, half of it received, taken back."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlmodel import select

from models.database import Store
from models.queries.stock.balance import balance_of
from models.tables import Item
from tests.browser.conftest import DESKTOP, PHONE, Served, stays_in_width

PAGES = (
    "/buying",
    "/buying/purchases",
    "/buying/purchases/1",
    "/buying/purchases/1/sheet",
    "/buying/purchases/1/receive",
    "/buying/purchases/new",
    "/buying/reorder",
    "/buying/reorder/wishes",
    "/buying/prices",
    "/buying/prices?metal=sterling-925&percent=10",
    "/stock/suppliers/2/edit",
)
BRASS = "Brass C260 ring 1.2 × 5.0 mm"


def shelf(store: Store) -> tuple[int, int]:
    """What is on hand and on order of the brass rings, in whole rings."""
    with store.reading() as session:
        item = session.exec(select(Item).where(Item.name == BRASS)).one()
        balance = balance_of(session, item.id or 0)
    return balance.on_hand_milli // 1000, balance.on_order_milli // 1000


def test_a_purchase_is_drafted_sent_and_half_received_and_stock_follows(screen: Page, studio: Served) -> None:
    before = shelf(studio.store)
    screen.goto("/buying")
    expect(screen.locator(".answer").first).to_contain_text("postage included")
    screen.get_by_role("button", name="Draft these purchases").click()
    expect(screen.get_by_role("status")).to_contain_text("2 purchases are drafted.")
    screen.get_by_role("link", name=re.compile("^2: Quillby Rings")).click()
    screen.get_by_role("button", name="Note it as sent").click()
    expect(screen.get_by_role("status")).to_contain_text("and on order")
    assert shelf(studio.store) == (before[0], 400)
    screen.get_by_role("link", name="Receive it").click()
    assert stays_in_width(screen)
    group = screen.get_by_role("group", name=BRASS)
    group.get_by_label("Packs that came").fill("2")
    group.get_by_label("Place").fill("drawer A4")
    screen.get_by_role("group", name=re.compile("^Copper")).get_by_label("Packs that came").fill("0")
    screen.get_by_role("button", name="Take it into stock").click()
    expect(screen.get_by_role("status")).to_contain_text("Received 200 rings")
    expect(screen.locator(".answer").first).to_contain_text("2 of them are here")
    assert shelf(studio.store) == (before[0] + 200, 200)
    screen.goto("/stock?find=brass")
    expect(screen.locator(".stock-list")).to_contain_text("200 on order")
    screen.goto("/buying/purchases/2")
    screen.get_by_role("button", name="Take it back").click()
    expect(screen.get_by_role("status")).to_contain_text("Taken back")
    assert shelf(studio.store) == (before[0], 400)


@pytest.mark.sweep
def test_a_proposal_unfolds_its_reasons_and_is_taken_and_undone(screen: Page) -> None:
    screen.goto("/buying/reorder")
    row = screen.locator(".reorder-list tbody").filter(has_text="ear wire, titanium")
    row.locator("summary").click()
    expect(row).to_contain_text("Reorder point")
    row.get_by_role("button", name="Take it").click()
    expect(screen.get_by_role("status")).to_contain_text("The reorder point is kept.")
    screen.get_by_role("button", name="Undo").click()
    expect(screen.get_by_role("status")).to_contain_text("They are as they were.")
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_a_metal_that_would_cost_more_is_supposed(screen: Page) -> None:
    screen.goto("/buying/prices")
    screen.get_by_label("Or suppose that").select_option("sterling-925")
    screen.get_by_label("Costs more by").fill("25")
    screen.get_by_role("button", name="Show it").click()
    expect(screen.locator(".answer").first).to_contain_text("at +25 %")
    expect(screen.get_by_role("heading", name="What would move")).to_be_visible()


@pytest.mark.sweep
@pytest.mark.parametrize("path", PAGES)
def test_nothing_scrolls_sideways(screen: Page, path: str) -> None:
    answer = screen.goto(path)
    assert answer is not None
    assert answer.status == 200
    assert stays_in_width(screen)


@pytest.mark.sweep
@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_the_pages_can_be_read_by_everyone(browser: Browser, studio: Served, scheme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    found = []
    for size in (DESKTOP, PHONE):
        context = browser.new_context(base_url=studio.address, viewport=size, color_scheme=scheme)
        page = context.new_page()
        for path in PAGES:
            page.goto(path)
            answer = Axe().run(page)
            found += [f"{path}: {one['id']} at {one['nodes'][0]['target']}" for one in answer.response["violations"]]
        context.close()
    assert found == []


@pytest.mark.sweep
def test_all_rooms_are_at_hand_on_the_narrowest_phone(browser: Browser, studio: Served) -> None:
    page = browser.new_page(base_url=studio.address, viewport={"width": 360, "height": 740})
    page.goto("/buying")
    assert stays_in_width(page)
    bar = page.get_by_role("navigation", name="Rooms")
    for word in ("Bench", "Buying"):
        box = bar.get_by_role("link", name=word).bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= 360
        assert box["height"] >= 44
    page.close()


@pytest.mark.sweep
def test_a_purchase_comes_out_on_one_sheet_without_buttons(browser: Browser, studio: Served) -> None:
    page = browser.new_page(base_url=studio.address)
    page.goto("/buying/purchases/1/sheet")
    for paper, width in (("A4", 595), ("Letter", 612)):
        boxes = re.findall(rb"/MediaBox *\[([^\]]+)\]", page.pdf(prefer_css_page_size=True, format=paper))
        assert len(boxes) == 1
        assert float(boxes[0].split()[2]) == pytest.approx(width, abs=2)
    page.emulate_media(media="print")
    text = page.inner_text("main")
    assert "To Quillby Rings (invented)" in text
    assert "57.70" in text
    assert "Back to the purchase" not in text
    page.close()
