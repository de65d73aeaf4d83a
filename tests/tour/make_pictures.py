"""Makes the README's pictures: starts the demo, clicks through the tour in Chromium and writes `.tour/*.png`.

Run by hand after a change of the pages: `.venv/bin/python tests/tour/make_pictures.py`.
"""

from __future__ import annotations

import io
import re
import shutil
import subprocess
import sys
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

TOP = Path(__file__).resolve().parents[2]
PICTURES = TOP / ".tour"
DESKTOP = {"width": 1180, "height": 820}
PHONE = {"width": 390, "height": 780}

PENDANT = """20 bronze 1.0 x 3.6: border
16 leaf green aluminium 1.0 x 3.6: field
1 bronze 16 SWG x 6.5 mm: gathering ring
45 cm fine bronze chain
2 bronze 1.2 x 4.0: chain ends
1 lobster clasp
1 gift box
1 backing card"""


def main() -> None:
    """Start the demo, take every picture, stop the demo."""
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    if chromium is None:
        sys.exit("no Chromium is installed (Debian: apt-get install chromium)")
    command = [str(Path(sys.executable).parent / "ringbench"), "demo", "--port", "0"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as demo:
        try:
            address = _address(demo)
            with sync_playwright() as playwright:
                browser = playwright.chromium.launch(executable_path=chromium)
                _desktop(browser.new_page(viewport=DESKTOP, base_url=address))
                _phone(browser.new_page(viewport=PHONE, base_url=address, device_scale_factor=1.5))
                browser.close()
        finally:
            demo.terminate()


def _address(demo: subprocess.Popen[str]) -> str:
    for line in demo.stdout or ():
        found = re.search(r"http://127\.0\.0\.1:\d+/", line)
        if found:
            return found.group()
    sys.exit("the demo never printed its address")


def _desktop(page: Page) -> None:
    page.goto("/")
    _keep(page, "bench")
    page.goto("/designs/new")
    page.fill("[name=name]", "Saltmarsh pendant, once more")
    page.select_option("[name=weave]", label="European 4-in-1")
    page.locator("textarea").first.fill(PENDANT)
    page.get_by_text("Add these lines").click()
    page.wait_for_timeout(1200)
    page.evaluate("window.scrollTo(0, 0)")
    _keep(page, "editor")
    page.goto("/designs/1/prices")
    _keep(page, "prices")
    page.goto("/stock/rings?wire=16+SWG&inner=1/4+in&metal=bronze-c226")
    _keep(page, "ring-facts")
    page.goto("/designs/1/listing")
    _keep(page, "listing")
    page.goto("/builds/made?design_id=1")
    _keep(page, "made")
    _laid_out(page)
    _keep(page, "rows")
    page.goto("/designs/1/sheet")
    _keep(page, "sheet")
    page.goto("/makeable")
    _keep(page, "makeable")
    page.goto("/makeable/plan")
    page.get_by_label("Hours").fill("10")
    page.get_by_text("How many of what").click()
    page.get_by_label("Different designs").fill("4")
    page.get_by_role("button", name="Find the best mix").click()
    page.get_by_role("button", name="Find out what one more hour or ring would bring").click()
    page.locator("#limits .lines").wait_for(timeout=30_000)
    page.evaluate("window.scrollTo(0, 0)")
    _keep(page, "plan")
    page.goto("/buying")
    _keep(page, "buying")


def _laid_out(page: Page) -> None:
    """A lozenge in two colours, three rings in its middle painted on the drawing."""
    page.goto("/designs/new/rows")
    page.get_by_label("Or type it").fill("leaf green aluminium 1.0 x 3.6")
    page.get_by_role("button", name="Lay it out").click()
    page.locator("#tool-rings summary").first.click()
    page.locator("#f-new_line").fill("bronze 1.0 x 3.6")
    page.locator("#f-new_line").press("Enter")
    page.locator("#palette label").nth(1).wait_for()
    page.locator("#tool-colours summary").first.click()
    page.locator("#f-border_item").select_option(label="bronze")
    page.get_by_role("button", name="Give it a border").click()
    page.locator("#palette label", has_text="20 rings").wait_for()
    for name in ("5.3", "6.3", "6.4", "7.3"):
        page.locator(f'#drawing [data-ring="{name}"]').click()
    page.locator("#palette label", has_text="24 rings").wait_for()
    for tool in ("shape", "rings"):
        page.locator(f"#tool-{tool}").evaluate("e => e.removeAttribute('open')")
    page.locator("#answer").evaluate("e => e.scrollIntoView({block: 'start'})")


def _phone(page: Page) -> None:
    page.goto("/designs/1")
    _keep(page, "phone-design")
    page.goto("/designs/1/rows")
    page.locator("#palette").evaluate("e => e.scrollIntoView({block: 'start'})")
    _keep(page, "phone-rows")
    page.goto("/stock")
    _keep(page, "phone-stock")
    page.goto("/stock/count?lot=2")
    page.get_by_label("Bag with all in it").fill("42.31")
    page.get_by_label("Empty bag").fill("1.20")
    page.locator("[name='sample.0.rings']").fill("30")
    page.locator("[name='sample.0.mass_g']").fill("4.87")
    page.get_by_role("button", name="See what that is").click()
    page.wait_for_load_state()
    page.locator("#looked .answer").first.evaluate("e => e.scrollIntoView({block: 'start'})")
    _keep(page, "phone-count")


def _keep(page: Page, name: str) -> None:
    """Write one picture in its full colours: rings are told apart by their tint."""
    PICTURES.mkdir(exist_ok=True)
    shot = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    shot.save(PICTURES / f"{name}.png", optimize=True)


if __name__ == "__main__":
    main()
