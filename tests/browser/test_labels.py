"""Labels in a real browser: printed to PDF they have the size of their paper, and nothing on them is cut off."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page

from models.intake.stock.label import PAGES_MM, PAPERS
from tests.browser.conftest import Served, stays_in_width
from tests.ledgers import a_lot
from tests.shops import a_finding, a_ring

LONG = "Sterling silver 925 ring, the whole of what was left over from the winter fair"


@pytest.fixture
def bags(studio: Served) -> str:
    """Bags with short and with long words on them, as the page is asked for them."""
    with studio.store.writing() as session:
        thin = a_ring(
            session, name="Fern 0.5", metal="niobium", wire_nm=500_000, inner_nm=1_500_000, colour="leaf green"
        )
        thick = a_ring(session, name=LONG, metal="sterling-925", wire_nm=3_264_000, inner_nm=12_700_000)
        wires = a_finding(session, name="Ear wire with a loop and a ball, left and right in pairs")
        lots = [
            a_lot(session, thin, 400, "10.00", place="drawer Q4", batch="dye lot 2031-B"),
            a_lot(
                session, thick, 40, "90.00", place="top shelf behind the window, left jar", batch="from the spring fair"
            ),
            a_lot(session, wires, 20, "4.00", place="drawer Q12"),
        ]
    return f"lots={','.join(str(lot) for lot in lots)}"


@pytest.fixture
def sheet(browser: Browser) -> Iterator[Page]:
    """A page whose address is given whole."""
    page = browser.new_page()
    yield page
    page.close()


@pytest.mark.sweep
@pytest.mark.parametrize("code", PAPERS)
def test_labels_come_out_in_the_size_of_their_paper(sheet: Page, studio: Served, bags: str, code: str) -> None:
    paper = PAPERS[code]
    sheet.goto(f"{studio.address}/stock/labels?{bags}&paper={code}&start={paper.per_page}&copies=2")
    content = sheet.pdf(prefer_css_page_size=True)
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", content)
    expected = 2 if paper.on_a_sheet else 6
    assert len(boxes) == expected
    width, height = PAGES_MM[paper.page] if paper.on_a_sheet else (paper.width_mm, paper.height_mm)
    for box in boxes:
        # Chromium counts pages in whole hundredths of an inch or so.
        assert float(box[0]) * 25.4 / 72 == pytest.approx(float(width), abs=0.4)
        assert float(box[1]) * 25.4 / 72 == pytest.approx(float(height), abs=0.4)


@pytest.mark.sweep
@pytest.mark.parametrize("code", PAPERS)
def test_nothing_on_a_label_is_cut_off(sheet: Page, studio: Served, bags: str, code: str) -> None:
    sheet.goto(f"{studio.address}/stock/labels?{bags}&paper={code}")
    sheet.emulate_media(media="print")
    spills = sheet.evaluate(
        """() => [...document.querySelectorAll('.label')].flatMap(label => {
            return [...label.querySelectorAll('p, svg')].filter(part => {
                const box = (part.closest('.label-top') || label).getBoundingClientRect();
                const inner = part.getBoundingClientRect();
                return inner.width && (inner.bottom > box.bottom + 0.5 || inner.right > box.right + 0.5
                    || inner.top < box.top - 0.5 || inner.left < box.left - 0.5);
            }).map(part => part.textContent || part.outerHTML.slice(0, 60));
        })"""
    )
    assert spills == []
    sizes = sheet.evaluate(
        """() => [...document.querySelectorAll('.label')].map(label => {
            const box = label.getBoundingClientRect();
            return [box.width * 25.4 / 96, box.height * 25.4 / 96];
        })"""
    )
    assert len(sizes) == 3
    for width, height in sizes:
        assert width == pytest.approx(float(PAPERS[code].width_mm), abs=0.1)
        assert height == pytest.approx(float(PAPERS[code].height_mm), abs=0.1)


@pytest.mark.sweep
def test_the_page_of_labels_fits_a_desktop_and_a_phone(screen: Page, studio: Served, bags: str) -> None:
    for asked in (f"{bags}&paper=roll-50x25", f"{bags}&paper=a4-24", ""):
        screen.goto(f"/stock/labels?{asked}")
        assert stays_in_width(screen)
    screen.goto("/stock?pick=labels")
    assert stays_in_width(screen)
    screen.get_by_role("checkbox", name="Fern 0.5").check()
    screen.get_by_role("button", name="Labels for the ticked").click()
    screen.wait_for_url("**/stock/labels?items=*")
    assert screen.locator(".label").count() == 1
