"""The Stock room in a real browser: a bag on the scale, a drawer by keyboard alone, a receipt, with and without scripts."""

from __future__ import annotations

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlmodel import select

from models.queries.stock.lot import drawer, lot_view
from models.tables import Lot, LotPlace
from tests.browser.conftest import PHONE, Served, stays_in_width

PAGES = (
    "/stock",
    "/stock?shelf=low",
    "/stock/receive",
    "/stock/opening",
    "/stock/drawers",
    "/stock/drawer?place=drawer+A1",
    "/stock/history",
    "/stock/jobs",
    "/stock/scrap",
    "/stock/take-out",
    "/stock/acts/1",
    "/stock/lots/1",
    "/stock/items/1",
    "/stock/items/1/history",
    "/stock/count?lot=1&place=drawer+A1",
    "/stock/move?lot=1&place=drawer+A1",
    "/stock/process?lot=1&place=drawer+A1",
    "/stock/take-out?item=1",
)

PLAN = "/stock/make-rings?wire_id=42&mandrel=5.0+mm&rings=100&expected_minutes=30"


def bag_of(studio: Served, batch: str) -> tuple[int, str, int]:
    """The lot, the place and the count of the bag with this batch."""
    with studio.store.reading() as session:
        row = session.exec(
            select(Lot.id, LotPlace.place, LotPlace.quantity_milli)
            .join(LotPlace, LotPlace.lot_id == Lot.id)  # type: ignore[arg-type]
            .where(Lot.batch == batch)
        ).first()
    assert row is not None
    return row[0] or 0, row[1], row[2] // 1000


@pytest.mark.sweep
@pytest.mark.parametrize("path", [*PAGES, PLAN, "/settings/valuation"])
def test_nothing_scrolls_sideways(screen: Page, path: str) -> None:
    answer = screen.goto(path)
    assert answer is not None
    assert answer.status == 200
    assert stays_in_width(screen)


@pytest.mark.sweep
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_words_can_be_read_in_both_themes(browser: Browser, studio: Served, theme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(base_url=studio.address, color_scheme=theme, viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    for path in (*PAGES, "/settings/valuation", PLAN):
        page.goto(path)
        found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]})
        assert found.violations_count == 0, f"{path} in {theme}: {found.generate_report()}"
    context.close()


def test_a_bag_is_counted_by_weight_while_one_types(screen: Page, studio: Served) -> None:
    lot, _, before = bag_of(studio, "bath 27")
    screen.goto(f"/stock/lots/{lot}")
    screen.get_by_role("link", name="Count", exact=True).first.click()
    expect(screen.get_by_role("heading", name="Count this bag")).to_be_visible()
    assert before == 210
    screen.get_by_label("Bag with all in it").fill("7.55")
    screen.get_by_label("Empty bag").fill("1.52")
    screen.get_by_label("Counted rings").fill("40")
    screen.get_by_label("Together they weigh").fill("1.20")
    answer = screen.locator("#looked .answer")
    expect(answer).to_contain_text("About 201 rings, between")
    expect(screen.locator("#looked .difference")).to_contain_text("fewer than the page said")
    expect(screen.locator("#looked")).to_contain_text("a loss of €")
    assert stays_in_width(screen)
    screen.get_by_text("Where the doubt comes from").click()
    assert stays_in_width(screen)
    screen.get_by_role("button", name="Book about 201 rings").click()
    expect(screen.get_by_role("status")).to_contain_text("Counted about 201 rings of")
    with studio.store.reading() as session:
        assert lot_view(session, lot).bags[0].quantity_milli == 201_000
    screen.get_by_role("status").get_by_role("button", name="Undo").click()
    expect(screen.get_by_role("status")).to_contain_text("Taken back")
    with studio.store.reading() as session:
        assert lot_view(session, lot).bags[0].quantity_milli == before * 1000


@pytest.mark.sweep
def test_a_drawer_is_counted_by_keyboard_alone(screen: Page, studio: Served) -> None:
    with studio.store.reading() as session:
        held = [line.bag.quantity_milli // 1000 for line in drawer(session, "drawer A1")]
    screen.goto("/stock/drawer?place=drawer+A1")
    rows = screen.locator(".drawer > li")
    expect(rows).to_have_count(len(held))
    expect(rows.nth(0).get_by_role("textbox")).to_be_focused()
    screen.keyboard.type(f"about {held[0]}")
    screen.keyboard.press("Enter")
    expect(rows.nth(0)).to_contain_text("Counted today")
    expect(screen.locator("#drawer-answer")).to_contain_text(f"1 of {len(held)} bags counted today")
    expect(rows.nth(1).get_by_role("textbox")).to_be_focused()
    screen.keyboard.type(str(held[1] - 12))
    screen.keyboard.press("Enter")
    expect(rows.nth(1)).to_contain_text("12 fewer, a loss of €0.4")
    expect(rows.nth(1).get_by_role("button", name="Book it")).to_be_focused()
    screen.keyboard.press("Enter")
    expect(rows.nth(1)).to_contain_text("Counted today")
    expect(rows.nth(2).get_by_role("textbox")).to_be_focused()
    screen.keyboard.type("heaps")
    screen.keyboard.press("Enter")
    expect(rows.nth(2).locator(".fault")).to_contain_text("is not a quantity")
    assert stays_in_width(screen)
    with studio.store.reading() as session:
        now = [line.bag.quantity_milli // 1000 for line in drawer(session, "drawer A1")]
    assert now == [held[0], held[1] - 12, *held[2:]]


@pytest.mark.sweep
def test_what_a_receipt_costs_follows_while_one_types(screen: Page, studio: Served) -> None:
    screen.goto("/stock/items/2")
    screen.get_by_role("link", name="Take it into stock").click()
    screen.get_by_label("How much").fill("500")
    screen.get_by_label("It cost", exact=True).fill("15")
    expect(screen.locator("#looked .answer")).to_contain_text("€0.03 each")
    screen.get_by_label("Freight").fill("2.50")
    expect(screen.locator("#looked .answer")).to_contain_text("€0.035 each")
    screen.get_by_label("Place").fill("drawer A1")
    expect(screen.locator("#looked input[name=seen]")).to_have_count(1)
    screen.wait_for_load_state("networkidle")
    screen.get_by_role("button", name="Book it in").click()
    expect(screen.get_by_role("status")).to_contain_text("Received 500 rings")
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_a_batch_of_rings_is_planned_and_booked(screen: Page, studio: Served) -> None:
    screen.goto("/stock/make-rings")
    screen.get_by_label("Wire", exact=True).select_option(label="copper wire")
    screen.get_by_label("Rings wanted").fill("100")
    screen.get_by_label("Mandrel").first.fill("5.0 mm")
    expect(screen.locator("#plan .answer").first).to_contain_text("of wire make 100 rings")
    expect(screen.locator("#plan")).to_contain_text("Wear eye protection")
    assert stays_in_width(screen)
    screen.get_by_label("Time").fill("30")
    screen.get_by_label("Place").fill("drawer A3")
    expect(screen.locator("#looked .answer")).to_contain_text("each")
    screen.wait_for_load_state("networkidle")
    screen.get_by_role("button", name="Book it").click()
    expect(screen.get_by_role("status")).to_contain_text("Made 100 rings of")
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_without_scripts_a_drawer_and_a_bag_are_counted_on_a_phone(browser: Browser, studio: Served) -> None:
    context = browser.new_context(base_url=studio.address, viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto("/stock/drawer?place=drawer+A1")
    with studio.store.reading() as session:
        held = lot_view(session, 1).bags[0].quantity_milli // 1000
    page.locator("#found-1").fill(str(held - 10))
    page.locator("#found-1").press("Enter")
    expect(page.locator("#bag-1")).to_contain_text("10 fewer, a loss of €0.29")
    page.locator("#bag-1").get_by_role("button", name="Book it").press("Enter")
    expect(page.locator("#bag-1")).to_contain_text("Counted today")
    lot, place, _ = bag_of(studio, "bath 34")
    page.goto(f"/stock/count?lot={lot}&place={place}")
    page.get_by_label("Bag with all in it").fill("6.10")
    page.get_by_label("Counted rings").fill("50")
    page.get_by_label("Together they weigh").fill("1.50")
    page.get_by_role("button", name="See what that is").click()
    expect(page.locator("#looked .answer")).to_contain_text("rings, between")
    page.get_by_role("button", name="Book about").click()
    expect(page.get_by_role("status")).to_contain_text("Counted about")
    context.close()
