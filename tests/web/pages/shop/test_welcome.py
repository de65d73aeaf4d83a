"""The first start of a new shop."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest
from sqlmodel import select

from models.database import Store
from models.queries.shop.shop import is_founded, shop_settings, work_rates
from models.tables import Shop, WorkRate
from tests.web.conftest import Client
from webapp.app import create_app
from webapp.pages.shop.choices import currency_of_locale, locale_of_browser, time_zone_here
from webapp.settings import Settings


@pytest.fixture
def unfounded(store: Store) -> Iterator[Client]:
    """A browser on a shop that was never set up."""
    with store.writing() as session:
        session.delete(session.get_one(Shop, 1))
        for rate in session.exec(select(WorkRate)):
            session.delete(rate)
    with Client(create_app(store, Settings(store.folder))) as opened:
        yield opened


GOOD = {
    "name": "Tin Wren",
    "currency": "GBP",
    "wage_per_hour": "18.50",
    "locale": "en_GB",
    "time_zone": "Europe/London",
}


@pytest.mark.parametrize("path", ["/", "/settings", "/outlets", "/outlets/new", "/nowhere"])
def test_a_new_shop_answers_with_its_first_page(unfounded: Client, path: str) -> None:
    answer = unfounded.get(path)
    assert (answer.status_code, answer.headers["location"]) == (303, "/welcome")
    page = unfounded.follow(answer)
    assert page.status_code == 200
    assert "Set up your shop" in page.text
    assert 'aria-label="Rooms"' not in page.text


def test_a_new_shop_refuses_writes_and_the_api(unfounded: Client, store: Store) -> None:
    assert unfounded.post("/outlets/new", {"name": "x"}).headers["location"] == "/welcome"
    answer = unfounded.get("/api/settings")
    assert answer.status_code == 409
    assert "not set up yet" in answer.json()["detail"]
    assert unfounded.get("/static/ringbench.css").status_code == 200


def test_five_answers_set_the_shop_up(unfounded: Client, store: Store) -> None:
    answer = unfounded.submit("/welcome", GOOD)
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/?said=")
    with store.reading() as session:
        kept = shop_settings(session)
        assert (kept.name, kept.currency, kept.wage_per_hour) == ("Tin Wren", "GBP", Decimal("18.50"))
        assert (kept.locale, kept.time_zone, kept.demo) == ("en_GB", "Europe/London", False)
        assert len(work_rates(session)) == 11
    assert unfounded.get("/settings").status_code == 200
    assert unfounded.get("/welcome").headers["location"] == "/"


@pytest.mark.parametrize("field", GOOD)
def test_an_answer_that_is_wrong_says_so_beside_it(unfounded: Client, store: Store, field: str) -> None:
    answer = unfounded.submit("/welcome", {**GOOD, field: "?" if field != "name" else ""})
    assert answer.status_code == 422
    assert f"f-{field}-fault" in answer.text
    assert all(f'value="{value}"' in answer.text for name, value in GOOD.items() if name != field)
    with store.reading() as session:
        assert not is_founded(session)


def test_a_shop_is_not_set_up_a_second_time(client: Client, store: Store) -> None:
    answer = client.post("/welcome", {**GOOD, "token": "t" * 24})
    assert answer.status_code == 409
    with store.reading() as session:
        assert shop_settings(session).name == "Test bench"


def test_the_first_picks_follow_the_browser(unfounded: Client) -> None:
    fields = unfounded.form("/welcome")
    assert fields.fields["currency"] == ""
    page = unfounded.get("/welcome", headers={"accept-language": "de-CH,de;q=0.9,en;q=0.8"}).text
    assert '<option value="de_CH" selected>' in page
    assert '<option value="CHF" selected>' in page


@pytest.mark.parametrize(
    ("asked", "locale"),
    [("en-GB,en;q=0.9", "en_GB"), ("*", "en"), ("", "en"), ("zz,fr;q=0.3", "fr"), ("../..,pt-br", "pt_BR")],
)
def test_a_browser_says_how_figures_are_written(asked: str, locale: str) -> None:
    assert locale_of_browser(asked) == locale


def test_a_country_says_which_currency_is_paid_with() -> None:
    day = date(2026, 3, 2)
    assert currency_of_locale("en_GB", day) == "GBP"
    assert currency_of_locale("ja_JP", day) == "JPY"
    assert currency_of_locale("en", day) == ""
    assert currency_of_locale("zz", day) == ""


def test_a_machine_says_its_time_zone(tmp_path: Path) -> None:
    zone = tmp_path / "usr" / "share" / "zoneinfo" / "Europe" / "Vienna"
    zone.parent.mkdir(parents=True)
    zone.touch()
    link = tmp_path / "localtime"
    link.symlink_to(zone)
    assert time_zone_here({}, link) == "Europe/Vienna"
    assert time_zone_here({"TZ": ":Asia/Tokyo"}, link) == "Asia/Tokyo"
    assert time_zone_here({"TZ": "EST5EDT4,nonsense"}, link) == "Europe/Vienna"
    assert time_zone_here({}, tmp_path / "nothing") == "UTC"
