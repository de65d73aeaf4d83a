"""The laying-out room in a real browser: a pendant of two colours laid out, painted by hand and by keyboard, and saved."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from models.queries.designs.list import DesignFilter, design_list
from tests.browser.conftest import PHONE, Served, stays_in_width

ROOMS = ("/designs/new/rows", "/designs/{sheet}", "/designs/{sheet}/rows", "/designs/{chain}/rows")


def settle(screen: Page) -> None:
    """Wait until the page has no answer under way and no stroke that waits to be sent."""
    expect(screen.locator(".htmx-request")).to_have_count(0)
    expect(screen.locator("#strokes")).to_have_value("")


def ring(screen: Page, name: str) -> Locator:
    return screen.locator(f'#drawing [data-ring="{name}"]')


def middle(area: Locator) -> tuple[float, float]:
    area.scroll_into_view_if_needed()
    box = area.bounding_box()
    assert box
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def is_phone(screen: Page) -> bool:
    return bool(screen.viewport_size and screen.viewport_size["width"] == PHONE["width"])


def paint(screen: Page, name: str) -> None:
    """Paint a ring by touch on a phone, by mouse on a desktop."""
    x, y = middle(ring(screen, name))
    if is_phone(screen):
        screen.touchscreen.tap(x, y)
    else:
        screen.mouse.click(x, y)


def open_tool(screen: Page, code: str) -> None:
    tool = screen.locator(f"#tool-{code}")
    if tool.get_attribute("open") is None:
        tool.locator("summary").first.click()


def add_ring(screen: Page, line: str) -> None:
    open_tool(screen, "rings")
    screen.locator("#f-new_line").fill(line)
    screen.locator("#f-new_line").press("Enter")


def lozenge_of_two(screen: Page) -> None:
    """A lozenge of 36 rings in bronze, with leaf green beside it to paint with."""
    screen.goto("/designs/new/rows")
    screen.get_by_label("Or type it").fill("bronze 1.0 x 3.6")
    screen.get_by_role("button", name="Lay it out").click()
    expect(screen.locator("#answer")).to_contain_text("36 rings")
    add_ring(screen, "leaf green aluminium 1.0 x 3.6")
    expect(screen.locator("#palette label")).to_have_count(2)
    settle(screen)


def words_of(screen: Page, key: int) -> str:
    return screen.locator("#palette label").nth(key).inner_text()


def test_a_lozenge_pendant_of_two_colours_with_a_bail_ring(screen: Page) -> None:
    lozenge_of_two(screen)
    expect(screen.locator("#answer")).to_contain_text("could list at")
    open_tool(screen, "colours")
    screen.get_by_label("Of", exact=True).select_option(label="leaf green")
    screen.get_by_role("button", name="Give it a border").click()
    expect(screen.locator("#done")).to_contain_text("Gave it a border.")
    expect(screen.locator("#palette label").nth(1)).to_contain_text("20 rings")

    # By touch or mouse, shown at once and counted by the shop.
    paint(screen, "6.3")
    expect(ring(screen, "6.3")).to_have_attribute("aria-label", "row 6, ring 3: leaf green")
    expect(screen.locator("#palette label").nth(1)).to_contain_text("21 rings")
    settle(screen)

    # By keyboard: from ring to ring, another colour by its number, Enter paints.
    ring(screen, "6.3").focus()
    screen.keyboard.press("ArrowRight")
    expect(ring(screen, "6.4")).to_be_focused()
    screen.keyboard.press("Enter")
    expect(screen.locator("#palette label").nth(1)).to_contain_text("22 rings")
    settle(screen)
    expect(ring(screen, "6.4")).to_be_focused()
    screen.keyboard.press("1")
    screen.keyboard.press("Space")
    expect(screen.locator("#palette label").nth(1)).to_contain_text("21 rings")
    settle(screen)
    expect(ring(screen, "6.4")).to_have_attribute("data-item", ring(screen, "6.2").get_attribute("data-item") or "")

    # What hangs is shown before it hangs.
    add_ring(screen, "bronze 16 SWG x 6.5 mm")
    expect(screen.locator("#palette label")).to_have_count(3)
    settle(screen)
    open_tool(screen, "hang")
    screen.get_by_label("Ring", exact=True).select_option(index=3)
    screen.get_by_label("Where, as it hangs").select_option("top")
    screen.get_by_role("button", name="Show which rings").click()
    expect(screen.locator("#hang-look")).to_contain_text("1 ring chosen")
    expect(screen.locator("#drawing .mark")).to_have_count(1)
    screen.get_by_role("button", name="Hang it there").click()
    expect(screen.locator("#answer")).to_contain_text("37 rings")
    settle(screen)
    assert stays_in_width(screen)

    screen.get_by_label("Name needed").fill("Willow lozenge")
    screen.get_by_label("Name needed").press("Enter")
    expect(screen.get_by_role("status")).to_contain_text("Willow lozenge is saved.")
    expect(screen.locator(".design-drawing svg.piece")).to_be_visible()
    assert stays_in_width(screen)

    # A change tells what it makes of the saved one, and saving it makes a revision.
    screen.get_by_role("link", name="Change the rows").click()
    open_tool(screen, "edges")
    screen.get_by_label("Which edge, as it hangs").select_option("right")
    screen.get_by_role("button", name="Grow it").click()
    expect(screen.locator("#changed")).to_contain_text(re.compile(r"\+1\d rings"))
    expect(screen.locator("#changed")).to_contain_text("min")
    settle(screen)
    screen.get_by_label("What changed").fill("wider")
    screen.get_by_role("button", name="Save the change").click()
    expect(screen.get_by_role("status")).to_contain_text("Saved as revision 2.")


@pytest.mark.sweep
def test_a_drag_paints_every_ring_that_it_goes_over_as_one_step(screen: Page) -> None:
    lozenge_of_two(screen)
    if is_phone(screen):
        finger = screen.context.new_cdp_session(screen)
        x, y = middle(ring(screen, "6.2"))
        finger.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
        for name in ("6.3", "6.4", "6.5"):
            x, y = middle(ring(screen, name))
            finger.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [{"x": x, "y": y}]})
        finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
    else:
        screen.mouse.move(*middle(ring(screen, "6.2")))
        screen.mouse.down()
        screen.mouse.move(*middle(ring(screen, "6.5")), steps=12)
        screen.mouse.up()
    expect(screen.locator("#palette label").nth(1)).to_contain_text("4 rings")
    settle(screen)
    screen.get_by_role("button", name="Undo").click()
    expect(screen.locator("#palette label").nth(1)).to_contain_text("0 rings")
    settle(screen)
    screen.get_by_role("button", name="Redo").click()
    expect(screen.locator("#palette label").nth(1)).to_contain_text("4 rings")


SEEN = """([step, most]) => {
  const found = new Map();
  const box = document.querySelector("#drawing svg.piece").getBoundingClientRect();
  const view = document.querySelector("#drawing").getBoundingClientRect();
  const edge = [Math.max(box.left, view.left), Math.max(box.top, view.top),
                Math.min(box.right, view.right), Math.min(box.bottom, view.bottom, innerHeight)].map(Math.round);
  let turn = 0;
  for (let y = edge[1] + 1; y < edge[3]; y += step)
    for (let x = edge[0] + 1 + (turn++ % 2) * Math.round(step / 2); x < edge[2]; x += step) {
      const parts = document.elementsFromPoint(x, y);
      const part = parts.find((each) => each.closest("svg.piece .woven"));
      if (!part || !parts[0].closest("#drawing")) continue;
      const name = part.closest("[data-of]")?.dataset.of ?? "any";
      const points = found.get(name) ?? [];
      if (points.length < most) found.set(name, [...points, [x, y]]);
    }
  return [...found].flatMap(([name, points]) => points.map((point) => [name, ...point]));
}"""
"""Points of the screen at which a drawn ring is seen, with the name of the ring that lies on top there.

Whole pixels: a click is told no finer."""


def seen_points(screen: Page, step: float, most: int) -> list[tuple[str, float, float]]:
    """Points so far apart, up to so many of each ring."""
    screen.locator("#drawing").scroll_into_view_if_needed()
    return [(name, x, y) for name, x, y in screen.evaluate(SEEN, [step, most])]


def answer_at(screen: Page, x: float, y: float) -> str:
    """What the room says of the ring that is touched there."""
    said = screen.locator("#ring-said")
    said.evaluate("(place) => place.textContent = ''")
    if is_phone(screen):
        screen.touchscreen.tap(x, y)
    else:
        screen.mouse.click(x, y)
    return said.inner_text()


def drag(screen: Page, points: list[tuple[float, float]]) -> None:
    """A drag over points: by a finger on a phone, by the mouse on a desktop."""
    if not is_phone(screen):
        screen.mouse.move(*points[0])
        screen.mouse.down()
        for x, y in points[1:]:
            screen.mouse.move(x, y, steps=4)
        screen.mouse.up()
        return
    finger = screen.context.new_cdp_session(screen)
    for number, (x, y) in enumerate(points):
        kind = "touchMove" if number else "touchStart"
        finger.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": [{"x": x, "y": y}]})
    finger.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def test_every_part_of_a_drawn_ring_answers_for_the_ring_that_is_seen_there(screen: Page) -> None:
    lozenge_of_two(screen)
    screen.get_by_label("Look", exact=True).check()
    points = seen_points(screen, 5, 3)
    assert len({name for name, *_ in points}) == 36
    wrong = []
    for name, x, y in points:
        row, place = name.split(".")
        said = answer_at(screen, x, y)
        if said != f"row {row}, ring {place}: bronze":
            wrong.append((name, said))
    assert wrong == [], f"{len(wrong)} of {len(points)} points"


def test_a_drag_may_begin_and_end_on_any_part_of_a_ring(screen: Page) -> None:
    lozenge_of_two(screen)
    # At the left and right tip of row 6 the wire stands out past the middle of every ring.
    row = sorted((x, y) for name, x, y in seen_points(screen, 3, 60) if name.startswith("6."))
    drag(screen, [row[0], *(middle(ring(screen, f"6.{number}")) for number in range(2, 6)), row[-1]])
    for number in range(1, 7):
        expect(ring(screen, f"6.{number}")).to_have_attribute("aria-label", f"row 6, ring {number}: leaf green")
    settle(screen)
    screen.get_by_role("button", name="Undo").click()
    expect(screen.locator("#palette label").nth(1)).to_contain_text("0 rings")


@pytest.mark.sweep
def test_every_part_of_a_large_drawing_answers_too(screen: Page) -> None:
    lozenge_of_two(screen)
    open_tool(screen, "shape")
    screen.get_by_label("Rectangle").check(force=True)
    screen.get_by_label("Rows", exact=True).first.fill("40")
    screen.get_by_label("Rings in a row").fill("40")
    screen.get_by_role("button", name="Lay it out anew").click()
    expect(screen.locator("#answer")).to_contain_text("1,600 rings")
    settle(screen)
    screen.get_by_label("Look", exact=True).check()
    points = seen_points(screen, 13, 80)
    assert len(points) > 30
    silent = [(x, y) for _, x, y in points if not re.fullmatch(r"row \d+, ring \d+: bronze", answer_at(screen, x, y))]
    assert silent == [], f"{len(silent)} of {len(points)} points"


@pytest.mark.sweep
def test_a_quick_hand_never_leaves_the_page(screen: Page) -> None:
    lozenge_of_two(screen)
    screen.evaluate("window.stayed = true")
    for name in ("5.2", "5.3", "6.2", "6.3", "6.4", "6.5", "7.2", "7.3"):
        paint(screen, name)
    expect(screen.locator("#palette label").nth(1)).to_contain_text("8 rings")
    settle(screen)
    screen.get_by_role("button", name="Undo").click()
    screen.get_by_role("button", name="Undo").click()
    settle(screen)
    assert screen.evaluate("window.stayed")


@pytest.mark.sweep
def test_a_fill_and_a_quick_undo_by_keyboard(screen: Page) -> None:
    lozenge_of_two(screen)
    screen.get_by_label("Fill", exact=True).check()
    paint(screen, "6.3")
    expect(screen.locator("#palette label").nth(1)).to_contain_text("36 rings")
    settle(screen)
    ring(screen, "6.3").focus()
    screen.keyboard.press("Control+z")
    expect(screen.locator("#palette label").nth(1)).to_contain_text("0 rings")
    settle(screen)
    screen.get_by_label("Look", exact=True).check()
    paint(screen, "6.3")
    expect(screen.locator("#ring-said")).to_have_text("row 6, ring 3: bronze")
    assert words_of(screen, 1).split() == ["leaf", "green", "0", "rings", "2"]


@pytest.mark.sweep
def test_rows_are_typed_over_and_enter_takes_them(screen: Page) -> None:
    lozenge_of_two(screen)
    open_tool(screen, "rows")
    screen.get_by_label("Rings of row 6").fill("(1 bronze, 1 leaf green) x 3")
    expect(screen.locator("#drawing [data-lit]")).to_have_count(6)
    screen.get_by_label("Rings of row 6").press("Enter")
    expect(screen.locator("#palette label").nth(1)).to_contain_text("3 rings")
    expect(screen.get_by_label("Row number")).to_have_value("6")
    settle(screen)
    screen.get_by_label("Rings of row 6").fill("3 gold")
    screen.get_by_role("button", name="Take these rows").click()
    expect(screen.locator("#done")).to_contain_text("Not done")
    expect(screen.get_by_label("Rings of row 6")).to_have_value("3 gold")
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_what_was_not_saved_is_offered_after_a_reload(screen: Page) -> None:
    lozenge_of_two(screen)
    paint(screen, "6.3")
    expect(screen.locator("#palette label").nth(1)).to_contain_text("1 ring")
    settle(screen)
    screen.goto("/designs/new/rows")
    screen.get_by_role("button", name="Put it back").click()
    expect(screen.locator("#palette label").nth(1)).to_contain_text("1 ring")
    screen.goto("/designs/new/rows")
    screen.get_by_role("button", name="Let it go").click()
    expect(screen.locator("#draft")).to_be_hidden()
    screen.reload()
    expect(screen.get_by_role("button", name="Lay it out")).to_be_visible()
    expect(screen.locator("#draft")).to_be_hidden()


@pytest.mark.sweep
def test_a_saved_piece_offers_nothing_back(screen: Page, studio: Served) -> None:
    with studio.store.reading() as session:
        found = next(row.id for row in design_list(session, DesignFilter()).rows if row.name == "Cockle earring")
    rows = f"/designs/{found}/rows"
    screen.goto(rows)
    expect(screen.locator("#draft")).to_be_hidden()
    paint(screen, "3.2")
    settle(screen)
    screen.goto(rows)
    expect(screen.locator("#draft")).to_be_visible()
    screen.get_by_role("button", name="Put it back").click()
    screen.get_by_label("What changed").fill("Another violet ring.")
    screen.get_by_role("button", name="Save the change").click()
    expect(screen.locator("body")).to_contain_text("Saved as revision")
    screen.goto(rows)
    expect(screen.locator("#draft")).to_be_hidden()


@pytest.mark.sweep
def test_the_drawing_is_enlarged_and_only_it_scrolls(screen: Page) -> None:
    lozenge_of_two(screen)
    before = screen.locator("#drawing svg.piece").bounding_box()
    for _ in range(3):
        screen.get_by_role("button", name="Show it larger").click()
    after = screen.locator("#drawing svg.piece").bounding_box()
    assert before
    assert after
    assert after["width"] > before["width"] * 1.4
    assert stays_in_width(screen)
    paint(screen, "6.3")
    expect(screen.locator("#palette label").nth(1)).to_contain_text("1 ring")


@pytest.mark.sweep
def test_a_piece_of_five_thousand_rings_is_painted_on_a_phone(browser: Browser, studio: Served) -> None:
    context = browser.new_context(base_url=studio.address, viewport=PHONE, has_touch=True)
    page = context.new_page()
    lozenge_of_two(page)
    open_tool(page, "shape")
    page.get_by_label("Rectangle").check(force=True)
    page.get_by_label("Rows", exact=True).first.fill("100")
    page.get_by_label("Rings in a row").fill("50")
    page.get_by_role("button", name="Lay it out anew").click()
    expect(page.locator("#answer")).to_contain_text("5,000 rings")
    settle(page)
    for _ in range(5):
        page.get_by_role("button", name="Show it larger").click()
    paint(page, "50.25")
    expect(page.locator("#palette label").nth(1)).to_contain_text("1 ring", timeout=8000)
    settle(page)
    expect(ring(page, "50.25")).to_have_attribute("aria-label", "row 50, ring 25: leaf green")
    assert stays_in_width(page)
    context.close()


@pytest.mark.sweep
def test_without_scripts_every_step_has_its_button(browser: Browser, studio: Served) -> None:
    context = browser.new_context(base_url=studio.address, viewport=PHONE, java_script_enabled=False)
    page = context.new_page()
    page.goto("/designs/new/rows")
    page.get_by_label("Or type it").fill("bronze 1.0 x 3.6")
    page.get_by_role("button", name="Lay it out").click()
    page.locator("#tool-rings summary").first.click()
    page.locator("#f-new_line").fill("leaf green aluminium 1.0 x 3.6")
    page.get_by_role("button", name="Add it").click()
    page.get_by_text("Name rings instead").click()
    page.locator("#f-paint_rings").fill("row 6")
    page.get_by_role("button", name="Paint them").click()
    expect(page.locator("#palette label").nth(1)).to_contain_text("6 rings")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator("#palette label").nth(1)).to_contain_text("0 rings")
    expect(page.locator("#zoom-more")).to_be_hidden()
    assert stays_in_width(page)
    context.close()


def numbers(studio: Served) -> dict[str, int]:
    """The demo's pieces: one laid out in rows, one as a chain."""
    with studio.store.reading() as session:
        rows = design_list(session, DesignFilter()).rows
    by_name = {row.name: row.id for row in rows}
    return {"sheet": by_name["Saltmarsh pendant"], "chain": by_name["Tideline bracelet"]}


@pytest.mark.sweep
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_room_can_be_read_in_both_themes(browser: Browser, studio: Served, theme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(base_url=studio.address, color_scheme=theme)  # type: ignore[arg-type]
    page = context.new_page()
    for path in ROOMS:
        page.goto(path.format(**numbers(studio)))
        page.evaluate("document.querySelectorAll('details').forEach((one) => one.setAttribute('open', ''))")
        found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]})
        assert found.violations_count == 0, f"{path} in {theme}: {found.generate_report()}"
    context.close()
