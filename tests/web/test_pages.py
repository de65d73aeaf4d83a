"""The frame around the pages, the pages of refusals, the log, and every template as a whole."""

from __future__ import annotations

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from filelock import Timeout
from jinja2 import StrictUndefined, meta

from models.database import Store
from models.queries.shop.shop import UNFOUNDED
from webapp.app import STATIC_FOLDER, create_app
from webapp.logs import start_log, stop_log
from webapp.settings import Settings
from webapp.web.error_pages import Trouble
from webapp.web.links import RoomLink
from webapp.web.render import Frame, environment, html, template_folder

TEMPLATES = sorted(str(path.relative_to(template_folder())) for path in template_folder().rglob("*.html"))
ROOMS = tuple(
    RoomLink(word, f"/{word.lower()}" if word != "Bench" else "/", word.lower())
    for word in ("Bench", "Stock", "Designs", "Builds", "Orders", "Buying", "Outlets", "Books", "Settings")
)


def page(path: str, rooms: tuple[RoomLink, ...] = ROOMS, *, finder: str | None = None, demo: bool = False) -> str:
    prefs = replace(UNFOUNDED, demo=demo)
    room = next((room for room in rooms if room.holds(path)), None)
    frame = Frame(rooms=rooms, room=room, path=path, finder_path=finder, prefs=prefs, said=None)
    return html("error.html", {"view": Trouble(404, "Nothing", "Nothing here."), "form": None, "frame": frame}, prefs)


def test_only_rooms_that_exist_are_shown() -> None:
    assert '<nav class="rooms"' not in page("/", ())
    shown = page("/", ROOMS[:3])
    assert "Designs" in shown
    assert "Outlets" not in shown
    assert "More" not in shown


def test_a_phone_shows_five_rooms_and_the_others_under_more() -> None:
    shown = page("/stock")
    assert shown.count('class="not-on-phone"') == len(ROOMS) - 5
    assert "More" in shown
    assert "data-holds-room" not in shown
    assert "data-holds-room" in page("/books")


def test_the_room_we_are_in_is_marked() -> None:
    assert re.search(r'href="/stock" aria-current="page"', page("/stock"))
    assert re.search(r'href="/stock" aria-current="true"', page("/stock/7/edit"))
    assert "aria-current" not in page("/stockings")
    assert re.search(r'href="/" aria-current="page"', page("/"))


def test_the_finder_is_there_once_something_can_be_found() -> None:
    assert 'id="finder"' not in page("/")
    assert 'action="/find"' in page("/", finder="/find")


def test_a_demo_says_that_it_is_invented() -> None:
    assert "invented" in page("/", demo=True)
    assert "invented" not in page("/")


def test_a_page_leads_with_a_skip_link_one_heading_and_its_title() -> None:
    shown = page("/")
    assert shown.index('href="#main"') < shown.index("<nav")
    assert shown.count("<h1>") == 1
    assert "<title>Nothing · Ringbench</title>" in shown


@pytest.mark.parametrize(("path", "status"), [("/nothing", 404), ("/static/none.css", 404)])
def test_an_unknown_address_is_a_page_in_plain_words(client: Any, path: str, status: int) -> None:
    answer = client.get(path)
    assert answer.status_code == status
    assert "There is nothing at this address." in answer.text


def test_a_wrong_method_is_a_page_in_plain_words(client: Any) -> None:
    answer = client.post("/openapi.json")
    assert answer.status_code == 405
    assert "use the button on the page" in answer.text
    assert answer.headers["allow"]


def test_a_page_number_that_is_none_is_not_found(app: Any, client: Any) -> None:
    @app.get("/for-this-test/{design_id}")
    def one(design_id: int, copies: int = 1) -> str:
        return "a design"

    assert client.get("/for-this-test/seven").status_code == 404
    assert client.get("/for-this-test/7?copies=many").status_code == 422


def test_a_busy_shop_says_so(app: Any, client: Any) -> None:
    @app.get("/busy")
    def busy() -> None:
        raise Timeout("lock")

    answer = client.get("/busy")
    assert answer.status_code == 503
    assert "Nothing was changed" in answer.text


def test_static_files_are_there(client: Any) -> None:
    for name in ("ringbench.css", "frame.js", "htmx.min.js", "favicon.svg", "htmx.LICENSE.txt"):
        assert client.get(f"/static/{name}").status_code == 200


def test_a_browser_keeps_static_files_but_asks_whether_they_changed(client: Any) -> None:
    first = client.get("/static/ringbench.css")
    assert first.headers["cache-control"] == "no-cache"
    again = client.get("/static/ringbench.css", headers={"if-none-match": first.headers["etag"]})
    assert again.status_code == 304


def test_the_log_names_the_path_and_never_what_was_sent(client: Any, store: Store) -> None:
    client.post("/nothing?name=Ida", {"note": "secret note"})
    client.get("/two%0Alines")
    text = (store.folder / "logs" / "ringbench.log").read_text(encoding="utf-8")
    assert "POST '/nothing' 404" in text
    assert "Ida" not in text
    assert "secret note" not in text
    assert "\nlines" not in text


def test_the_log_rotates(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("webapp.logs.FILE_BYTES", 2000)
    handler = start_log(tmp_path, "info")
    try:
        from webapp.logs import logger

        for number in range(200):
            logger.info("line %d of a long day", number)
    finally:
        stop_log(handler)
    kept = sorted(path.name for path in tmp_path.iterdir())
    assert kept[:2] == ["ringbench.log", "ringbench.log.1"]
    assert len(kept) == 6


@pytest.mark.long
def test_the_app_needs_only_a_store_and_settings(store: Store) -> None:
    assert create_app(store, Settings(store.folder)).openapi()["info"]["title"] == "Ringbench"


def test_there_are_templates_to_walk() -> None:
    assert {"_frame.html", "_forms.html", "_drawings.html", "error.html"} <= set(TEMPLATES)


@pytest.mark.parametrize("name", TEMPLATES)
def test_every_template_compiles_strictly_and_finds_what_it_builds_on(name: str) -> None:
    env = environment()
    assert env.undefined is StrictUndefined
    env.get_template(name)
    source = (template_folder() / name).read_text(encoding="utf-8")
    for other in meta.find_referenced_templates(env.parse(source)):
        assert other is not None
        env.get_template(other)


@pytest.mark.parametrize("name", TEMPLATES)
def test_no_template_holds_script_style_or_a_foreign_address(name: str) -> None:
    source = (template_folder() / name).read_text(encoding="utf-8")
    assert not re.search(r"<style|\sstyle\s*=|\son[a-z]+\s*=\s*[\"']|javascript:|hx-on|\|\s*safe\b", source)
    assert all("src=" in tag for tag in re.findall(r"<script[^>]*>", source))
    assert not re.search(r"(src|href|action)=[\"']?(https?:)?//", source)
    for file in re.findall(r'(?:src|href)="/static/([^"?{]+)"', source):
        assert (STATIC_FOLDER / file).is_file(), file


# --- the style sheet: WCAG 2.2, contrast (1.4.3 text 4.5:1, 1.4.11 edges of controls 3:1) in both themes ---

STYLE = (STATIC_FOLDER / "ringbench.css").read_text(encoding="utf-8")
TEXT_PAIRS = [
    (ink, ground)
    for ink in ("ink", "faint", "copper", "copper-deep", "good", "warn", "bad")
    for ground in ("ground", "sheet", "well")
] + [
    ("on-copper", "copper"),
    ("on-copper", "copper-deep"),
    ("bad", "bad-wash"),
    ("ink", "bad-wash"),
    ("copper-deep", "copper-wash"),
]
EDGE_PAIRS = [
    ("edge", "ground"),
    ("edge", "sheet"),
    ("copper", "ground"),
    ("bad", "sheet"),
    *((f"tone-{n}", "ground") for n in (1, 3, 5)),
]


def theme(name: str) -> dict[str, str]:
    """The colours of a theme, as the style sheet gives them."""
    light, dark = (dict(re.findall(r"--([a-z0-9-]+):\s*(#[0-9a-f]{6})", block)) for block in _blocks())
    return light if name == "light" else {**light, **dark}


def _blocks() -> tuple[str, str]:
    first = STYLE[STYLE.index(":root") :]
    dark = STYLE[STYLE.index("prefers-color-scheme: dark") :]
    return first[: first.index("\n}")], dark[: dark.index("\n}")]


def luminance(colour: str) -> float:
    """Relative luminance. Source: WCAG 2.2, definition of relative luminance."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_contrast_is_measured_as_the_standard_says() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#ffffff") == pytest.approx(4.48, abs=0.01)


@pytest.mark.parametrize("name", ["light", "dark"])
def test_text_can_be_read_in_both_themes(name: str) -> None:
    colours = theme(name)
    weak = [
        (a, b, round(contrast(colours[a], colours[b]), 2))
        for a, b in TEXT_PAIRS
        if contrast(colours[a], colours[b]) < 4.5
    ]
    assert weak == []


@pytest.mark.parametrize("name", ["light", "dark"])
def test_edges_of_controls_can_be_seen_in_both_themes(name: str) -> None:
    colours = theme(name)
    weak = [
        (a, b, round(contrast(colours[a], colours[b]), 2))
        for a, b in EDGE_PAIRS
        if contrast(colours[a], colours[b]) < 3
    ]
    assert weak == []


def test_every_property_that_is_used_is_defined() -> None:
    assert set(re.findall(r"var\(--([a-z0-9-]+)\)", STYLE)) <= set(re.findall(r"--([a-z0-9-]+):", STYLE))


def test_type_and_space_come_from_their_scales_only() -> None:
    sizes = re.findall(r"font-size:\s*([^;]+);", STYLE)
    # Labels have a scale of their own: they are printed at a physical size.
    assert {size for size in sizes if not size.startswith(("var(--type-", "var(--label-"))} <= {"0.8em"}
    assert re.findall(r"--type-(\d)", STYLE.split("--gap-1", maxsplit=1)[0]) == ["1", "2", "3", "4", "5"]
