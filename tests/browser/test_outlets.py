"""Outlets, files and settings in a real browser, on a desktop and on a phone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from models.database import Store
from models.queries.shop.shop import shop_settings
from tests.browser.conftest import DESKTOP, PHONE, Served, serve_folder, stays_in_width

PAGES = (
    "/outlets",
    "/outlets/new",
    "/outlets/1",
    "/outlets/1/edit",
    "/settings",
    "/settings/times",
    "/settings/files",
    "/settings/files/outlets",
)


@pytest.mark.sweep
def test_a_sale_is_worked_out_while_one_types_and_enter_saves(screen: Page) -> None:
    screen.goto("/outlets/new")
    screen.get_by_label("Name").fill("Winter fair")
    screen.get_by_label("What kind of outlet is it?").select_option("market")
    screen.get_by_label("Fee 1", exact=True).fill("Card reader")
    screen.get_by_label("Fee 1, per cent").fill("2")
    expect(screen.locator("#example")).to_contain_text("card reader 0.80;")
    screen.get_by_label("Stall, event or month").fill("45")
    screen.get_by_label("Sales that share it").fill("9")
    expect(screen.locator("#example")).to_contain_text("share of the stall or month 5.00")
    screen.get_by_label("Name").press("Enter")
    expect(screen.get_by_role("status")).to_contain_text("“Winter fair” is added")
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_another_row_for_a_fee_keeps_what_was_typed(screen: Page) -> None:
    screen.goto("/outlets/new")
    screen.get_by_label("Name").fill("Winter fair")
    screen.get_by_role("button", name="Add a row for another fee").click()
    screen.get_by_label("Fee 3", exact=True).fill("Table")
    expect(screen.get_by_label("Name")).to_have_value("Winter fair")


@pytest.mark.sweep
def test_a_fee_that_takes_everything_is_said_beside_it_and_the_focus_goes_there(screen: Page) -> None:
    screen.goto("/outlets/1/edit")
    screen.get_by_label("Fee 1, per cent").fill("99.9")
    screen.get_by_role("button", name="Keep the changes").last.click()
    expect(screen.locator("#troubles")).to_be_focused()
    expect(screen.get_by_label("Fee 1, per cent")).to_have_value("99.9")
    expect(screen.locator(".fault")).to_contain_text("nothing is left of any price")
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_a_file_is_looked_at_and_taken_in(screen: Page, studio: Served) -> None:
    screen.goto("/settings/files/outlets")
    rows = b"name,kind,fee_1_label,fee_1_percent\nWinter fair,market,Card,1.7\n"
    screen.get_by_label("The file").set_input_files({"name": "a.csv", "mimeType": "text/csv", "buffer": rows})
    screen.get_by_role("button", name="Look at this file").click()
    expect(screen.locator(".answer")).to_have_text("This file brings 1 outlet.")
    assert stays_in_width(screen)
    screen.get_by_role("button", name="Take in 1 outlet").click()
    expect(screen.get_by_role("status")).to_contain_text("1 outlet was taken in")
    screen.goto("/settings/files")
    with screen.expect_download() as saved:
        screen.locator("a[href='/settings/files/outlets.csv']").click()
    assert "Winter fair,market" in Path(saved.value.path()).read_text(encoding="utf-8-sig")


@pytest.mark.sweep
@pytest.mark.parametrize("path", PAGES)
def test_nothing_scrolls_sideways(screen: Page, path: str) -> None:
    answer = screen.goto(path)
    assert answer is not None
    assert answer.status == 200
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_a_new_shop_is_set_up_from_its_first_page(browser: Browser, tmp_path: Path) -> None:
    store = Store(tmp_path / "new")
    store.prepare()
    store.close()
    served = serve_folder(tmp_path / "new", demo=False)
    try:
        for size in (DESKTOP, PHONE):
            context = browser.new_context(base_url=served.address, viewport=size, locale="de-AT")
            page = context.new_page()
            page.goto("/stock")
            if size == DESKTOP:
                expect(page.get_by_label("Which currency do you sell in?")).to_have_value("EUR")
                assert stays_in_width(page)
                page.get_by_label("What is your studio called?").fill("Tin Wren")
                page.get_by_label("What must an hour of your work pay?").fill("21,50")
                page.get_by_role("button", name="Set up the shop").click()
                expect(page.get_by_role("status")).to_contain_text("Tin Wren is set up")
            assert "/welcome" not in page.url
            context.close()
        with served.store.reading() as session:
            settings: Any = shop_settings(session)
        assert (settings.name, settings.locale, str(settings.wage_per_hour)) == ("Tin Wren", "de_AT", "21.50")
    finally:
        served.stop()
