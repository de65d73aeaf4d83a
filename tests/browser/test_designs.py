"""The main job in a real browser, from parts to price, on a desktop and on a phone, with scripts and without."""

from __future__ import annotations

import re
import time
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from models.queries.designs.part_rows import ResolvedRows
from tests.browser.conftest import PHONE, Served, stays_in_width
from webapp.pages.designs import editor as design_editor

LINES = "48 bronze 1.2 x 4.0: chain\n24 niobium 0.8 x 2.8: petals\n12 bronze 16ga x 1/4 in\n3 dragon scales"
PAGES = ("/designs", "/designs/new", "/designs/1", "/designs/1/edit", "/designs/1/revisions", "/designs/1/difference")


def test_a_pendant_goes_from_parts_to_price_on_one_page(screen: Page) -> None:
    screen.goto("/designs/new")
    screen.get_by_label("Name needed").fill("Copper leaf pendant")
    screen.get_by_label("Weave", exact=True).select_option("byzantine")
    screen.get_by_label("Type or paste parts").fill(LINES)
    # Before a button is pressed the sure lines are costed, and the others are named.
    expect(screen.locator("#answer")).to_contain_text("Could list at")
    expect(screen.locator("#worked")).to_contain_text("Not counted yet")

    screen.get_by_role("button", name="Add these lines").click()
    expect(screen.locator(".part-ask")).to_have_count(2)
    expect(screen.locator("#f-parts-1-pick")).to_be_focused()
    # An answer is taken at once and its question goes, so there is no tick left to check for.
    screen.get_by_label(re.compile("plum anodised niobium")).click()
    expect(screen.locator(".part-ask")).to_have_count(1)
    screen.get_by_label("16 SWG, 1.626 mm").click()
    expect(screen.locator(".part-ask")).to_have_count(0)
    expect(screen.locator("#worked")).not_to_contain_text("Not counted yet")

    screen.get_by_label("Guessed price of one").nth(1).fill("1.50")
    expect(screen.locator("#worked")).to_contain_text("A guessed or old price stands in")
    answer = screen.locator("#answer").inner_text()
    screen.get_by_label("How many of part 1").fill("96")
    expect(screen.locator("#answer")).not_to_have_text(answer)
    assert stays_in_width(screen)

    screen.get_by_label("Name needed").press("Enter")
    expect(screen.get_by_role("status")).to_contain_text("Copper leaf pendant is saved.")
    expect(screen.get_by_role("heading", level=1)).to_have_text("Copper leaf pendant")
    expect(screen.locator(".answer")).to_contain_text("Could list at")
    assert stays_in_width(screen)


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every answer of the editor takes its time."""
    settle = design_editor.resolve_rows

    def slowly(*asked: Any, **more: Any) -> ResolvedRows:
        time.sleep(0.5)
        return settle(*asked, **more)

    monkeypatch.setattr(design_editor, "resolve_rows", slowly)


@pytest.mark.sweep
@pytest.mark.usefixtures("slow")
def test_while_an_answer_is_under_way_the_other_buttons_wait_and_the_same_one_acts_once(screen: Page) -> None:
    screen.goto("/designs/1/edit")
    rows = screen.locator(".part-row")
    before = rows.count()
    take_out = screen.get_by_role("button", name="Take out part 1")
    take_out.evaluate("button => { button.focus(); button.click(); button.click(); }")
    others = screen.locator("#parts button:not(#act-remove-0)")
    expect(others.first).to_be_disabled()
    assert all(others.nth(place).is_disabled() for place in range(others.count()))
    expect(rows).to_have_count(before - 1)
    expect(screen.locator("#parts button[disabled]")).to_have_count(0)
    # The next part stands where the one was that is gone, and so does the focus.
    expect(screen.locator("#act-remove-0")).to_be_focused()
    screen.get_by_role("button", name="Add a part by hand").click()
    expect(rows).to_have_count(before)


@pytest.mark.sweep
@pytest.mark.usefixtures("slow")
def test_two_questions_that_are_answered_at_once_are_both_answered(screen: Page) -> None:
    screen.goto("/designs/new")
    screen.get_by_label("Type or paste parts").fill(LINES)
    screen.get_by_role("button", name="Add these lines").click()
    expect(screen.locator(".part-ask")).to_have_count(2)
    screen.evaluate(
        "document.querySelectorAll('.part-ask').forEach(row => row.querySelector('input[type=radio]').click())"
    )
    expect(screen.locator(".part-ask")).to_have_count(0)


@pytest.mark.sweep
def test_the_focus_goes_along_with_a_part_that_moves_up(screen: Page) -> None:
    screen.goto("/designs/1/edit")
    screen.get_by_role("button", name="Move up part 3").press("Enter")
    expect(screen.get_by_role("button", name="Move up part 2")).to_be_focused()
    screen.keyboard.press("Enter")
    expect(screen.get_by_role("button", name="Choose another for part 1")).to_be_focused()


@pytest.mark.sweep
def test_rows_are_changed_moved_and_taken_out_in_place(screen: Page) -> None:
    screen.goto("/designs/1/edit")
    rows = screen.locator(".part-row")
    before = rows.count()
    first = screen.get_by_label("How many of part 1").input_value()
    screen.get_by_role("button", name="Move up part 2").click()
    expect(screen.get_by_label("How many of part 2")).to_have_value(first)
    screen.get_by_role("button", name="Take out part 1").click()
    expect(rows).to_have_count(before - 1)
    screen.get_by_role("button", name="Choose another for part 1").click()
    expect(screen.locator(".part-ask")).to_have_count(1)
    screen.get_by_role("button", name="Add a part by hand").click()
    expect(screen.get_by_label("What it is", exact=True)).to_be_visible()
    screen.get_by_label("What it is", exact=True).select_option("finding")
    expect(screen.get_by_label("Its name")).to_be_visible()
    expect(screen.locator("#parts .fault")).to_have_count(0)


@pytest.mark.sweep
def test_a_refused_save_keeps_everything_and_moves_to_what_is_wrong(screen: Page) -> None:
    screen.goto("/designs/new")
    screen.get_by_label("Type or paste parts").fill(LINES)
    screen.get_by_label("Width").fill("wide")
    screen.get_by_label("Notes").fill("Hang it low.")
    screen.get_by_role("button", name="Save the design").click()
    expect(screen.locator("#troubles")).to_be_focused()
    expect(screen.get_by_label("Width")).to_have_value("wide")
    expect(screen.get_by_label("Notes")).to_have_value("Hang it low.")
    expect(screen.locator(".part-row")).to_have_count(4)
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_a_copy_is_made_and_taken_back(screen: Page) -> None:
    screen.goto("/designs/1")
    screen.get_by_role("button", name="Copy it").click()
    expect(screen.get_by_role("status")).to_contain_text("is a design of its own now")
    screen.get_by_role("button", name="Undo").click()
    expect(screen.get_by_role("status")).to_contain_text("is gone again")


@pytest.mark.sweep
def test_the_list_is_narrowed_while_one_types(screen: Page) -> None:
    screen.goto("/designs")
    everything = screen.locator(".design-list tbody tr").count()
    screen.get_by_label("Find", exact=True).fill("earrings")
    expect(screen.locator("#designs")).to_contain_text("designs match")
    assert 0 < screen.locator(".design-list tbody tr").count() < everything
    assert stays_in_width(screen)


@pytest.mark.sweep
@pytest.mark.parametrize("path", PAGES)
def test_no_page_of_the_room_scrolls_sideways(screen: Page, path: str) -> None:
    screen.goto(path)
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_without_scripts_a_button_costs_it_and_the_photo_stays(browser: Browser, studio: Served) -> None:
    context = browser.new_context(base_url=studio.address, viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto("/designs/new")
    page.get_by_label("Name").fill("Plain pendant")
    page.get_by_label("Type or paste parts").fill(LINES)
    page.locator("#f-photo").set_input_files(
        {
            "name": "ring.gif",
            "mimeType": "image/gif",
            "buffer": b"GIF89a\x01\x00\x01\x00\x80\x00\x00\xff\x00\x00\x00\x00\x00,\x00\x00\x00\x00\x01\x00\x01\x00\x00\x02\x02D\x01\x00;",
        }
    )
    page.get_by_role("button", name="Cost it").click()
    assert "Could list at" in page.locator("#answer").inner_text()
    page.get_by_label(re.compile("plum anodised niobium")).check()
    page.get_by_label("16 SWG, 1.626 mm").check()
    page.get_by_role("button", name="Cost it").click()
    assert page.locator(".part-ask").count() == 0
    page.get_by_role("button", name="Save the design").click()
    assert re.search(r"/designs/\d+\?said=", page.url)
    assert page.locator(".design-photo").count() == 1
    context.close()
