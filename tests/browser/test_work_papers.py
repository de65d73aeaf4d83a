"""What follows from a layout, in a real browser: the order of work by touch and by key, the printed sheet, kits, swatches."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal

import pytest
from playwright.sync_api import Browser, Page, expect

from models.intake.designs.design import DesignDraft
from models.intake.designs.kit import KitDraft, KitRequest
from models.intake.layouts.layout import LayoutDraft
from models.intake.layouts.swatch import read_swatch
from models.layouts.document.model import document_of
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import lozenge
from models.operations.designs.design import add_design
from models.operations.designs.kit import make_kit
from models.operations.designs.layout import keep_layout
from models.operations.layouts.swatch import keep_swatch
from tests.browser.conftest import PHONE, Served, stays_in_width
from tests.laid import read
from tests.shops import a_finding, a_ring

PAGES_MM = {"A4": (210, 297), "Letter": (215.9, 279.4)}


@dataclass(frozen=True)
class Leaf:
    """A lozenge of 36 rings in 11 rows with a bail ring, and a kit of it that a newer revision left behind."""

    design: int
    ring: int
    kit: int


def lozenge_of(ring: int, wire: int, *, start_row: int = 6) -> LayoutDraft:
    rows = Layout("european-4-in-1", lozenge("european-4-in-1", 6, f"i{ring}").rows)
    return read(
        {
            **document_of(rows).written(),
            "attachments": [
                {"name": "bail ring", "kind": "hang", "ring": f"i{ring}", "on": {"where": "first row"}},
                {"name": "wire", "kind": "bail", "finding": f"i{wire}", "on": {"where": "attachment", "of": "bail ring"}},
            ],
            "route": {"start_row": start_row, "method": "adding closed rings"},
        }
    )  # fmt: skip


@pytest.fixture
def leaf(studio: Served) -> Leaf:
    with studio.store.writing() as session:
        ring = a_ring(session, name="Fern bronze 1.0 × 4.0", inner_nm=4_000_000)
        wire = a_finding(session, name="Ear wire with a loop")
        draft = DesignDraft("Fern leaf", piece="pendant", note="Pull it taut.", layout=lozenge_of(ring, wire))
        design = add_design(session, draft)
        kit = make_kit(session, design, KitDraft(KitRequest(Decimal(10))))
        keep_layout(session, design, 1, lozenge_of(ring, wire, start_row=5))
        swatch = {
            "weave": "european-4-in-1",
            "item_id": ring,
            "rows": 4,
            "rings": 10,
            "along": "44 mm",
            "across": "15 mm",
        }
        measured = read_swatch(swatch)
        keep_swatch(session, measured)  # type: ignore[arg-type]
    return Leaf(design, ring, kit)


@pytest.fixture
def paper(browser: Browser) -> Iterator[Page]:
    page = browser.new_page()
    yield page
    page.close()


def test_a_ring_is_opened_by_touch_and_closed_again_by_key(screen: Page, leaf: Leaf) -> None:
    screen.goto(f"/designs/{leaf.design}/rows/order")
    answer = screen.locator("#order .answer")
    before = answer.inner_text()
    closed = int(re.findall(r"\d+", before)[0])
    ring = screen.locator('a:has(> rect[data-ring="5.2"])')
    ring.click()
    expect(answer).to_contain_text(f"Close {closed - 1} rings beforehand")
    expect(screen.get_by_label("My own choice", exact=True)).to_be_checked()
    assert stays_in_width(screen)
    ring.focus()
    screen.keyboard.press("Enter")
    expect(answer).to_have_text(before)
    # A ring beside closed ones is marked, with the reason beside the field.
    screen.locator('a:has(> rect[data-ring="4.2"])').click()
    expect(screen.locator(".mark").first).to_be_attached()
    expect(screen.get_by_role("alert")).to_contain_text("linked: one of them must stay open")
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_another_way_shows_at_once_and_is_kept(screen: Page, leaf: Leaf) -> None:
    screen.goto(f"/designs/{leaf.design}/rows/order")
    screen.get_by_label("Weave", exact=True).select_option("single rings")
    # Row 5 alone is closed now, without a button.
    expect(screen.locator("#order .answer")).to_contain_text("Close 5 rings beforehand")
    screen.get_by_role("button", name="Keep this way").click()
    expect(screen.get_by_role("status")).to_contain_text("Kept as revision 3")
    expect(screen.locator("#order .answer")).to_contain_text("Close 5 rings beforehand")
    screen.get_by_role("button", name="Undo").click()
    expect(screen.get_by_role("status")).to_contain_text("as it was before")


@pytest.mark.sweep
@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_the_sheet_prints_on_its_paper(paper: Page, studio: Served, leaf: Leaf, size: str) -> None:
    paper.goto(f"{studio.address}/designs/{leaf.design}/sheet")
    content = paper.pdf(format=size)
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", content)
    assert 2 <= len(boxes) <= 3
    for box in boxes:
        for side, wanted in zip(box, PAGES_MM[size], strict=True):
            assert float(side) * 25.4 / 72 == pytest.approx(wanted, abs=0.4)


@pytest.mark.sweep
def test_nothing_on_the_printed_sheet_is_cut_off_or_left_over(paper: Page, studio: Served, leaf: Leaf) -> None:
    paper.goto(f"{studio.address}/designs/{leaf.design}/sheet")
    # The width of A4 between margins of 15 mm.
    paper.set_viewport_size({"width": round(180 * 96 / 25.4), "height": 1000})
    paper.emulate_media(media="print")
    assert stays_in_width(paper)
    spills = paper.evaluate(
        """() => [...document.querySelectorAll('.instruction-sheet svg, .instruction-sheet td, .instruction-sheet th')]
            .filter(part => part.getBoundingClientRect().right > document.documentElement.clientWidth + 0.5)
            .map(part => part.outerHTML.slice(0, 80))"""
    )
    assert spills == []
    for gone in (".rooms", ".tools", ".trail"):
        assert all(not one.is_visible() for one in paper.locator(gone).all())
    pictures = paper.locator(".stage-picture svg")
    assert pictures.count() == 7
    for place in range(pictures.count()):
        box = pictures.nth(place).bounding_box()
        assert box is not None
        assert 40 < box["width"] <= 34 * 96 / 25.4 + 1
        assert 15 < box["height"] <= 34 * 96 / 25.4 + 1
    expect(paper.locator(".sheet-cautions")).to_contain_text("Local law decides")


@pytest.mark.sweep
def test_a_class_prints_and_a_kit_follows_its_design(screen: Page, leaf: Leaf) -> None:
    screen.goto(f"/designs/{leaf.design}/kit")
    assert stays_in_width(screen)
    screen.get_by_label("Spare rings").fill("20")
    screen.get_by_role("button", name="Show it so").click()
    expect(screen.locator(".answer-more")).to_contain_text("45 rings, 8 of them to spare")
    screen.get_by_role("button", name="Bring the kit up to date").click()
    expect(screen.get_by_role("status")).to_contain_text("packed by revision 2")
    expect(screen.locator(".kit-of")).to_contain_text("packed by revision 2 with 10 % to spare")
    assert stays_in_width(screen)
    screen.goto(f"/designs/{leaf.design}/class?people=12")
    expect(screen.locator(".answer")).to_contain_text("Your free stock lacks 2 of 2 things for 12 kits.")
    assert stays_in_width(screen)
    screen.goto(f"/designs/{leaf.design}/kit/labels")
    assert stays_in_width(screen)


@pytest.mark.sweep
def test_kit_labels_come_out_in_their_size(paper: Page, studio: Served, leaf: Leaf) -> None:
    paper.goto(f"{studio.address}/designs/{leaf.design}/kit/labels?prepared=yes&paper=roll-62x29")
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", paper.pdf(prefer_css_page_size=True))
    # One for the whole, closed rings, opened rings, the ear wire.
    assert len(boxes) == 4
    assert float(boxes[0][0]) * 25.4 / 72 == pytest.approx(62, abs=0.4)


@pytest.mark.sweep
def test_a_swatch_is_measured_and_taken_out(screen: Page, leaf: Leaf) -> None:
    screen.goto("/stock/swatches")
    assert stays_in_width(screen)
    screen.get_by_role("link", name="Measure a chain").click()
    screen.get_by_label("Weave", exact=True).select_option("byzantine")
    screen.get_by_label("Ring", exact=True).select_option(str(leaf.ring))
    screen.get_by_label("Rings", exact=False).last.fill("24")
    screen.get_by_label("Length").fill("31.5")
    screen.get_by_role("button", name="Keep this swatch").click()
    expect(screen.get_by_role("status")).to_contain_text("Byzantine follow your swatch")
    expect(screen.get_by_text("31.5 mm long")).to_be_visible()
    assert stays_in_width(screen)
    screen.get_by_role("button", name="Undo").click()
    expect(screen.get_by_text("31.5 mm long")).not_to_be_visible()


@pytest.mark.sweep
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_page_can_be_read_by_everybody(browser: Browser, studio: Served, leaf: Leaf, theme: str) -> None:
    from axe_playwright_python.sync_playwright import Axe

    context = browser.new_context(base_url=studio.address, color_scheme=theme, viewport=PHONE)  # type: ignore[arg-type]
    page = context.new_page()
    base = f"/designs/{leaf.design}"
    for path in (
        f"{base}/rows/order",
        f"{base}/rows/order?whose=own&closed=5.1,4.1",
        f"{base}/sheet",
        f"{base}/kit",
        f"{base}/kit/labels",
        f"{base}/class",
        f"/designs/{leaf.kit}",
        "/stock/swatches",
        "/stock/swatches/new?kind=chain",
    ):
        page.goto(path)
        found = Axe().run(page, options={"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]})
        assert found.violations_count == 0, f"{path} in {theme}: {found.generate_report()}"
    context.close()
