"""What can be made and the best mix in a real browser: seen, planned, turned into builds, one finished, and seen again."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.browser.conftest import Served, stays_in_width

PENDANT = "Saltmarsh pendant"


def can_be_made(page: Page, name: str) -> str:
    """The number beside a design in the list of what can be made."""
    row = page.locator(".make-list tr", has=page.get_by_role("link", name=re.compile(f"^{name}"))).first
    return row.locator("td").first.inner_text().strip().splitlines()[-1]


def small_controls(page: Page) -> list[str]:
    found: list[str] = page.evaluate(
        "[...document.querySelectorAll('main button, main select, main input:not([type=hidden]):not([type=checkbox])"
        ":not([type=radio])')].filter(e => e.getBoundingClientRect().height > 0 && e.getBoundingClientRect().height < 43.5)"
        ".map(e => e.outerHTML.slice(0, 80))"
    )
    return found


def test_ten_hours_become_builds_and_finishing_one_changes_what_can_be_made(screen: Page) -> None:
    screen.goto("/")
    screen.get_by_role("link", name=re.compile("designs can be made now")).click()
    expect(screen.locator(".answer")).to_contain_text(re.compile(r"of \d+ designs can be made now"))
    assert stays_in_width(screen)
    assert small_controls(screen) == []
    before = int(can_be_made(screen, PENDANT))

    screen.get_by_role("link", name=f"What is left for the others after {PENDANT}").click()
    expect(screen.get_by_text(f"If you make 1 × {PENDANT}")).to_be_visible()
    assert f"{before - 1}" in screen.locator(".make-list tr", has_text=PENDANT).locator("td").nth(1).inner_text()
    screen.get_by_role("link", name="Back to all that is free").click()
    expect(screen.get_by_text("If you make")).to_have_count(0)

    screen.get_by_role("link", name="Plan the best mix").click()
    assert stays_in_width(screen)
    screen.get_by_label("Hours").fill("10")
    screen.get_by_text("How many of what").click()
    screen.get_by_label("Different designs").fill("3")
    assert stays_in_width(screen)
    assert small_controls(screen) == []
    screen.get_by_role("button", name="Find the best mix").click()
    expect(screen.locator("#plan .answer")).to_contain_text("profit in", timeout=20_000)
    expect(screen.get_by_text("Proven: no other mix brings more.")).to_be_visible()
    assert stays_in_width(screen)
    screen.get_by_role("button", name="Find out what one more hour or ring would bring").click()
    expect(screen.locator("#limits .line-amount").first).to_be_visible(timeout=30_000)
    assert stays_in_width(screen)

    screen.get_by_role("button", name="Start these builds").click()
    expect(screen.locator(".said")).to_contain_text("Started")
    row = screen.locator("#plan tr", has_text=PENDANT).first
    pieces = int(re.findall(r"\d+", row.locator("td").first.inner_text())[-1])
    row.get_by_role("link", name="Build").click()
    screen.get_by_role("button", name="Take the rings out").click()
    screen.get_by_role("button", name=re.compile("^Book ")).click()
    expect(screen.locator(".said")).to_contain_text(f"Finished {pieces} piece")

    screen.goto("/makeable")
    left = screen.locator(".make-list tr", has_text=PENDANT).locator("td").first.inner_text()
    after = 0 if "none" in left else int(re.findall(r"\d+", left)[-1])
    assert after <= before - pieces


@pytest.mark.sweep
def test_a_stand_in_is_unfolded_and_used_in_one_build(screen: Page) -> None:
    screen.goto("/makeable?find=ferry")
    screen.get_by_text("1 ring could stand in").click()
    expect(screen.get_by_text("The wire is 1.6 mm instead of 1.626 mm.")).to_be_visible()
    assert stays_in_width(screen)
    screen.get_by_role("link", name="Use it in this build").click()
    expect(screen.get_by_text("The design stays as it is.")).to_be_visible()
    screen.get_by_role("button", name="Start this build").click()
    expect(screen.locator(".said")).to_contain_text("Ferry key ring")
    expect(screen.locator(".build-lines")).to_contain_text("1.6 × 6.35 mm")


@pytest.mark.sweep
def test_a_search_that_takes_long_shows_how_far_it_is_and_can_be_stopped(screen: Page) -> None:
    screen.goto("/makeable/plan")
    screen.get_by_text("Buy rings for it").click()
    screen.get_by_label("Money for rings").fill("600")
    screen.get_by_text("How it is worked out").click()
    screen.get_by_label("Search for at most").select_option("30")
    screen.get_by_role("button", name="Find the best mix").click()
    stop = screen.get_by_role("button", name="Stop and take the best so far")
    answer = screen.locator("#plan .answer")
    expect(answer).to_be_visible()
    if stop.is_visible():
        assert stays_in_width(screen)
        stop.click()
    expect(answer).to_contain_text("profit in", timeout=40_000)


PAGES = (
    "/makeable", "/makeable?making=3", "/makeable?minutes=soon", "/makeable?find=zzz", "/makeable/plan",
    "/stock/items/9",
)  # fmt: skip


@pytest.mark.sweep
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_words_can_be_read_in_both_themes(browser: Browser, studio: Served, theme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(base_url=studio.address, color_scheme=theme)  # type: ignore[arg-type]
    page = context.new_page()

    def read(where: str) -> None:
        found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]})
        assert found.violations_count == 0, f"{where} in {theme}: {found.generate_report()}"

    page.goto("/makeable?find=ferry")
    page.get_by_text("1 ring could stand in").click()
    instead = page.get_by_role("link", name="Use it in this build").get_attribute("href") or ""
    read("a stand-in")
    for path in (*PAGES, instead):
        page.goto(path)
        for fold in page.locator("main details:not([open]) > summary").all():
            if fold.is_visible():
                fold.click()
        read(path)
    page.goto("/makeable/plan")
    page.get_by_label("Hours").fill("6")
    page.get_by_role("button", name="Find the best mix").click()
    expect(page.locator("#plan .answer")).to_contain_text("profit in", timeout=20_000)
    read("a plan")
    page.get_by_role("button", name="Start these builds").click()
    expect(page.locator(".said")).to_contain_text("Started")
    read("a booked plan")
    page.goto("/makeable/plan")
    page.get_by_text("How many of what").click()
    page.locator("[name='caps.0.key']").select_option("1")
    page.locator("[name='caps.0.at_least']").fill("99")
    page.get_by_role("button", name="Find the best mix").click()
    expect(page.locator("#plan .answer")).to_contain_text("do not fit together", timeout=20_000)
    read("wishes that fail")
    context.close()
