"""Signing in and the page of devices in a real browser, with the keyboard, on a desktop and on a phone."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from models.operations.shop.sign_in import set_password
from tests.browser.conftest import DESKTOP, PHONE, Served, serve_folder, stays_in_width

GOOD = "seven kettles by the door"
AXE = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]}


@pytest.fixture
def guarded(demo_folder: Path, tmp_path: Path) -> Iterator[Served]:
    """A running server of the invented studio as a shop of its own, with a password."""
    folder = tmp_path / "shop"
    shutil.copytree(demo_folder, folder)
    served = serve_folder(folder, demo=False)
    with served.store.writing() as session:
        set_password(session, GOOD)
    yield served
    served.stop()


@pytest.fixture(params=["desktop", "phone"])
def visitor(request: pytest.FixtureRequest, browser: Browser, guarded: Served) -> Iterator[Page]:
    """Somebody who is not signed in."""
    context: BrowserContext = browser.new_context(
        base_url=guarded.address, viewport=PHONE if request.param == "phone" else DESKTOP
    )
    yield context.new_page()
    context.close()


def test_who_knows_the_password_gets_where_they_wanted_to_go(visitor: Page) -> None:
    visitor.goto("/designs?find=salt")
    expect(visitor.get_by_label("Password")).to_be_focused()
    assert stays_in_width(visitor)
    visitor.keyboard.type("seven kettles by the window")
    visitor.keyboard.press("Enter")
    expect(visitor.locator("#f-password-fault")).to_have_text("! That is not the password.")
    assert visitor.get_by_label("Password").input_value() == ""
    visitor.get_by_label("Password").fill(GOOD)
    visitor.keyboard.press("Enter")
    visitor.wait_for_url("**/designs?find=salt")
    expect(visitor.get_by_text("Saltmarsh pendant").first).to_be_visible()
    (cookie,) = visitor.context.cookies()
    assert cookie["httpOnly"]
    assert not cookie["secure"]
    assert cookie["sameSite"] == "Lax"


@pytest.mark.sweep
def test_a_search_that_meets_a_closed_door_sends_the_whole_page_to_sign_in(visitor: Page, guarded: Served) -> None:
    visitor.goto("/stock")
    visitor.get_by_label("Password").fill(GOOD)
    visitor.keyboard.press("Enter")
    visitor.wait_for_url("**/stock")
    with guarded.store.writing() as session:
        set_password(session, "two herons on one leg")
    visitor.locator("#f-find").press_sequentially("bronze", delay=20)
    visitor.wait_for_url("**/sign-in?next=*")
    expect(visitor.get_by_role("heading", name="Sign in")).to_be_visible()


@pytest.mark.sweep
def test_signing_out_everywhere_shuts_every_door(visitor: Page, browser: Browser, guarded: Served) -> None:
    other = browser.new_page(base_url=guarded.address)
    for page in (visitor, other):
        page.goto("/settings/sign-in")
        page.get_by_label("Password").fill(GOOD)
        page.keyboard.press("Enter")
        expect(page.get_by_role("heading", name="Password and devices")).to_be_visible()
    visitor.reload()
    expect(visitor.get_by_text("2 devices are signed in.")).to_be_visible()
    assert stays_in_width(visitor)
    visitor.get_by_role("button", name="Sign out everywhere").click()
    visitor.wait_for_url("**/sign-in*")
    other.goto("/stock")
    assert "/sign-in" in other.url
    other.close()


@pytest.mark.sweep
def test_the_pages_can_be_used_by_everybody(visitor: Page) -> None:
    from axe_playwright_python.sync_playwright import Axe

    for theme in ("light", "dark"):
        visitor.emulate_media(color_scheme=theme)  # type: ignore[arg-type]
        visitor.goto("/sign-in?next=/settings/sign-in")
        if "/sign-in?" in visitor.url:
            found = Axe().run(visitor, options=AXE)
            assert found.violations_count == 0, found.generate_report()
            visitor.get_by_label("Password").fill(GOOD)
            visitor.keyboard.press("Enter")
            expect(visitor.get_by_role("heading", name="Password and devices")).to_be_visible()
        for path in ("/settings/sign-in", "/settings/sign-in/keys/new", "/stock/labels", "/stock?pick=labels"):
            visitor.goto(path)
            found = Axe().run(visitor, options=AXE)
            assert found.violations_count == 0, f"{path}: {found.generate_report()}"
