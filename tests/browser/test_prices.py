"""The price page, variants, listing sheet and Bench in a real browser, on a desktop and on a phone."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Served, stays_in_width

PAGES = (
    "/",
    "/designs/1/prices",
    "/designs/1/variants",
    "/designs/1/listing",
    "/designs/1/tag?copies=6",
)


@pytest.mark.sweep
@pytest.mark.parametrize("path", PAGES)
def test_every_page_stays_in_width_and_loads_clean(screen: Page, path: str) -> None:
    answer = screen.goto(path)
    assert answer is not None
    assert answer.status == 200
    assert stays_in_width(screen)
    small = screen.evaluate(
        "[...document.querySelectorAll('main button, main select, main input:not([type=hidden]):not([type=checkbox])"
        ":not([type=radio])')].filter(e => e.getBoundingClientRect().height > 0 && e.getBoundingClientRect().height < 43.5)"
        ".map(e => e.outerHTML.slice(0, 80))"
    )
    assert small == []


def test_a_price_is_tried_while_typing_then_listed_and_taken_back(screen: Page) -> None:
    screen.goto("/designs/1/prices")
    outlet = screen.locator("article.outlet").first
    field = outlet.get_by_label("Price to try")
    field.fill("123.45")
    expect(outlet.locator(".outlet-says")).to_contain_text("123.45")
    expect(field).to_be_focused()
    outlet.get_by_role("button", name="List at this price").click()
    expect(screen.locator(".said")).to_contain_text("Listed at")
    expect(screen.locator(".answer").first).to_contain_text("123.45")
    screen.get_by_role("button", name="Undo").click()
    expect(screen.locator(".answer").first).not_to_contain_text("123.45")


@pytest.mark.sweep
def test_a_price_that_cannot_be_read_is_said_while_typing(screen: Page) -> None:
    screen.goto("/designs/1/prices")
    outlet = screen.locator("article.outlet").first
    outlet.get_by_label("Price to try").fill("a lot")
    expect(outlet.locator(".outlet-sale .fault")).to_contain_text("not a number")
    outlet.get_by_label("Price to try").fill("40")
    expect(outlet.locator(".outlet-says")).to_contain_text("40.00")


@pytest.mark.sweep
def test_pieces_made_together_work_everything_out_anew(screen: Page) -> None:
    screen.goto("/designs/1/prices")
    before = screen.locator(".lines-total").first.inner_text()
    screen.get_by_label("Made together").fill("10")
    screen.get_by_label("Made together").press("Tab")
    expect(screen.locator(".lines-total").first).to_contain_text("of 10 made together")
    assert screen.locator(".lines-total").first.inner_text() != before


@pytest.mark.sweep
def test_a_cost_unfolds_down_to_its_sources(screen: Page) -> None:
    screen.goto("/designs/1/prices")
    cost = screen.locator(".costing-cost")
    materials = cost.locator("details.line").first
    materials.locator("summary").first.click()
    part = materials.locator("details.line").first
    part.locator("summary").first.click()
    expect(part.get_by_text(re.compile("Source:")).first).to_be_visible()


@pytest.mark.sweep
def test_a_variant_is_compared_and_copied(screen: Page) -> None:
    screen.goto("/designs/1/variants")
    screen.locator("select[name=from_metal]").select_option(index=1)
    screen.locator("select[name=to_metal]").select_option("titanium")
    screen.get_by_role("button", name="Compare").click()
    expect(screen.locator(".answer")).to_contain_text("titanium")
    assert stays_in_width(screen)
    screen.get_by_label("Name of the new design").fill("A titanium try")
    screen.get_by_role("button", name="Copy as a new design").click()
    expect(screen.locator(".said")).to_contain_text("A titanium try")


@pytest.mark.sweep
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_words_can_be_read_in_both_themes(browser: Browser, studio: Served, theme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(base_url=studio.address, color_scheme=theme)  # type: ignore[arg-type]
    page = context.new_page()
    for path in PAGES:
        page.goto(path)
        found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]})
        assert found.violations_count == 0, f"{path} in {theme}: {found.generate_report()}"
    context.close()


@pytest.mark.sweep
def test_the_sheet_and_the_tags_come_out_on_paper(browser: Browser, studio: Served) -> None:
    page = browser.new_page(base_url=studio.address)
    sides: dict[str, list[list[float]]] = {}
    for name, path in (("sheet", "/designs/1/listing"), ("tags", "/designs/1/tag?copies=4")):
        page.goto(path)
        boxes = re.findall(rb"/MediaBox *\[([^\]]+)\]", page.pdf(prefer_css_page_size=True, format="A4"))
        sides[name] = [[float(side) for side in box.split()[2:]] for box in boxes]
    page.close()
    assert len(sides["sheet"]) == 1
    assert len(sides["tags"]) == 4
    # 50 by 25 mm in points, to Chromium's whole pixels.
    width, height = sides["tags"][0]
    assert abs(width - 141.7) < 1
    assert abs(height - 70.9) < 1
