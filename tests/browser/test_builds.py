"""A build in a real browser: started, taken out and finished with spoiled rings; its papers; a phone's width."""

from __future__ import annotations

import re
from datetime import date
from typing import NamedTuple

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlmodel import select

from models.intake.builds.build import BuildRequest, MadeDraft, StartDraft
from models.operations.builds.made import book_made
from models.operations.builds.start import start_build
from models.queries.builds.plan import plan_build
from models.tables import Item, ItemBalance
from tests.browser.conftest import PHONE, Served, stays_in_width
from tests.ledgers import a_lot

DAY = date(2026, 3, 2)


class Kit(NamedTuple):
    """Two builds of the studio: one finished, one started."""

    finished: int
    started: int

    def path(self, path: str) -> str:
        """A path with the builds' numbers in their places."""
        return path.format(**self._asdict())


PAGES = (
    "/", "/builds", "/builds/new", "/builds/new?design_id=1&pieces=2", "/builds/made?design_id=4", "/builds/take",
    "/builds/{finished}", "/builds/{finished}/unpick", "/builds/{started}", "/builds/{started}/finish",
    "/builds/{started}/sheet", "/builds/{started}/label", "/designs/1", "/settings/times",
)  # fmt: skip


@pytest.fixture(autouse=True)
def kit(studio: Served) -> Kit:
    """In the invented studio, with plenty of the rings of its pendant: one pair of earrings made, two pendants begun."""
    with studio.store.writing() as session:
        for part in plan_build(session, BuildRequest(1)).items:
            a_lot(session, part.item.id, 400, "12.00", place="attic", day=DAY)
        finished = book_made(session, MadeDraft(BuildRequest(3, 1), made_on=DAY)).build_id
        started = start_build(session, StartDraft(BuildRequest(1, 2), started_on=DAY, note="For the fair.")).build_id
    return Kit(finished, started)


def on_hand(studio: Served, name: str) -> int:
    with studio.store.reading() as session:
        item = session.exec(select(Item).where(Item.name == name)).one()
        return session.get_one(ItemBalance, item.id).on_hand_milli // 1000


@pytest.mark.sweep
@pytest.mark.parametrize("path", PAGES)
def test_every_page_stays_in_width_and_loads_clean(screen: Page, kit: Kit, path: str) -> None:
    answer = screen.goto(kit.path(path))
    assert answer is not None
    assert answer.status == 200
    assert stays_in_width(screen)
    small = screen.evaluate(
        "[...document.querySelectorAll('main button, main select, main input:not([type=hidden]):not([type=checkbox])"
        ":not([type=radio])')].filter(e => e.getBoundingClientRect().height > 0 && e.getBoundingClientRect().height < 43.5)"
        ".map(e => e.outerHTML.slice(0, 80))"
    )
    assert small == []


def test_a_build_is_started_taken_out_and_finished_with_three_spoiled_rings(browser: Browser, studio: Served) -> None:
    context = browser.new_context(base_url=studio.address, viewport=PHONE, has_touch=True)
    page = context.new_page()
    troubles: list[str] = []
    page.on("console", lambda message: troubles.append(message.text) if message.type == "error" else None)
    page.on("pageerror", lambda error: troubles.append(str(error)))
    bronze = "Jewellery bronze C226 ring 1.0 × 3.6 mm"
    before = on_hand(studio, bronze)

    page.goto("/builds")
    page.get_by_role("link", name="Start a build").click()
    page.get_by_label("Design").select_option(label="Saltmarsh pendant")
    page.get_by_label("Pieces").fill("1")
    page.get_by_role("button", name="Show what it takes").click()
    expect(page.locator(".answer")).to_contain_text("39 rings")
    page.get_by_role("button", name="Start this build").click()
    expect(page.locator(".said")).to_contain_text("Started 1 piece of “Saltmarsh pendant”.")
    assert on_hand(studio, bronze) == before

    page.get_by_role("button", name="Take the rings out").click()
    expect(page.locator(".said")).to_contain_text("The rings are out of their bags.")
    assert on_hand(studio, bronze) == before - 20
    page.get_by_role("link", name="Something differed").click()
    row = page.locator(".bag-row", has_text=bronze).first
    row.get_by_label("Spoiled").fill("3")
    page.get_by_label("Time in all").fill("42")
    assert stays_in_width(page)
    page.get_by_role("button", name="Book the build in").click()
    expect(page.locator(".said")).to_contain_text("Finished 1 piece of “Saltmarsh pendant”.")
    expect(page.locator(".build-lines tr", has_text=bronze).first).to_contain_text("3 rings")
    expect(page.locator(".answer")).to_contain_text("It really cost")
    assert on_hand(studio, bronze) == before - 23
    assert stays_in_width(page)

    page.locator(".said").get_by_role("button", name="Undo").click()
    expect(page.locator(".answer")).to_contain_text("1 piece is under way")
    assert on_hand(studio, bronze) == before - 20
    assert troubles == []
    context.close()


@pytest.mark.sweep
def test_a_finished_build_is_booked_in_one_touch(screen: Page) -> None:
    screen.goto("/designs/3")
    screen.get_by_role("button", name="Book as made").click()
    expect(screen.locator(".said")).to_contain_text("Made 1 piece of “Rook earrings”.")


@pytest.mark.sweep
def test_the_stop_watch_ticks_and_survives_a_closed_page(screen: Page, kit: Kit) -> None:
    page = kit.path("/builds/{started}")
    screen.goto(page)
    screen.get_by_role("button", name="Take the rings out").click()
    screen.get_by_role("button", name="Start", exact=True).click()
    shown = screen.locator("[data-stopwatch]")
    expect(shown).to_have_text(re.compile(r"0:00:0[2-9]"), timeout=8000)
    screen.goto("/builds")
    expect(screen.get_by_text("stop-watch runs")).to_be_visible()
    screen.goto(page)
    expect(shown).not_to_have_text("0:00:00")
    screen.get_by_role("button", name="Stop", exact=True).click()
    stopped = shown.inner_text()
    screen.wait_for_timeout(1500)
    assert shown.inner_text() == stopped


@pytest.mark.sweep
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_words_can_be_read_in_both_themes(browser: Browser, studio: Served, kit: Kit, theme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(base_url=studio.address, color_scheme=theme)  # type: ignore[arg-type]
    page = context.new_page()
    for path in map(kit.path, PAGES):
        page.goto(path)
        found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]})
        assert found.violations_count == 0, f"{path} in {theme}: {found.generate_report()}"
    context.close()


@pytest.mark.sweep
def test_the_sheet_and_the_labels_come_out_on_paper(browser: Browser, studio: Served, kit: Kit) -> None:
    page = browser.new_page(base_url=studio.address)
    sides: dict[str, list[list[float]]] = {}
    papers = {
        "A4": ("/builds/{started}/sheet", "A4"),
        "Letter": ("/builds/{started}/sheet", "Letter"),
        "one piece, A4": ("/builds/6/sheet", "A4"),
        "one piece, Letter": ("/builds/6/sheet", "Letter"),
        "kit": ("/builds/{started}/label", "A4"),
        "bags": ("/builds/{started}/label?what=bags", "A4"),
    }
    for name, (path, paper) in papers.items():
        page.goto(kit.path(path))
        boxes = re.findall(rb"/MediaBox *\[([^\]]+)\]", page.pdf(prefer_css_page_size=True, format=paper))
        sides[name] = [[float(side) for side in box.split()[2:]] for box in boxes]
    page.close()
    assert len(sides["A4"]) <= 2
    assert len(sides["one piece, A4"]) == len(sides["one piece, Letter"]) == 1
    assert abs(sides["Letter"][0][0] - 612) < 1
    # 62 by 29 mm in points, to Chromium's whole pixels; one for the kit, or one for each of its bags.
    assert len(sides["kit"]) == 1
    assert len(sides["bags"]) >= 8
    for width, height in (*sides["kit"], *sides["bags"]):
        assert abs(width - 175.7) < 1
        assert abs(height - 82.2) < 1
    page = browser.new_page(base_url=studio.address)
    page.goto(kit.path("/builds/{started}/sheet"))
    page.emulate_media(media="print")
    text = page.inner_text("main")
    page.close()
    for words in ("2 × Saltmarsh pendant", "attic", "For the fair.", "How it went"):
        assert words in text
    assert "Kit label" not in text
