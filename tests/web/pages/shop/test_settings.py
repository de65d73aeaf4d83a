"""The settings and times of work, by their pages and by the API."""

from __future__ import annotations

import html
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import event

from models.costing.rates import GUESS, STARTING_RATES, YOUR_FIGURE
from models.database import Store
from models.intake.shop.shop import is_locale, is_time_zone
from models.operations.figures import refresh_figures, stale_figures
from models.queries.shop.shop import settings_page, shop_settings, work_rates
from models.trade.money import is_currency
from tests.shops import a_design, a_part, a_ring, an_outlet
from webapp.api.shop.settings import SettingsOut, TimesOut
from webapp.pages.shop import choices


def settings_of(store: Store) -> Any:
    with store.reading() as session:
        return shop_settings(session)


def fill(store: Store) -> None:
    """A design with prices, so that there are figures to keep fresh."""
    with store.writing() as session:
        an_outlet(session)
        a_design(session, [a_part(a_ring(session), 48)])
        refresh_figures(session)


def test_settings_are_shown_as_they_are_kept_and_saved_unchanged(client: Any, store: Store) -> None:
    before = settings_of(store)
    answer = client.follow(client.submit("/settings"))
    assert "The settings are saved" in answer.text
    after = settings_of(store)
    assert after.version == before.version + 1
    assert {name: getattr(after, name) for name in after.__slots__ if name != "version"} == {
        name: getattr(before, name) for name in before.__slots__ if name != "version"
    }


def test_settings_are_changed(client: Any, store: Store) -> None:
    client.follow(
        client.submit(
            "/settings",
            {
                "name": "Bench two",
                "wage_per_hour": "22,50",
                "one_price": "yes",
                "kerf": "1/64 in",
                "locale": "de_AT",
                "length_unit": "in",
            },
        )
    )
    kept = settings_of(store)
    assert (kept.name, kept.wage_per_hour, kept.one_price, kept.kerf_nm) == (
        "Bench two",
        Decimal("22.50"),
        True,
        396_875,
    )
    page = client.get("/settings").text
    assert "22,50" in page
    assert 'value="1/64 in"' in page


BAD = {
    "name": "",
    "currency": "XAU",
    "locale": "xx",
    "time_zone": "Mars",
    "length_unit": "furlong",
    "gauge_system": "BWG",
    "wage_per_hour": "-1",
    "overhead_mode": "both",
    "overhead_per_hour": "much",
    "overhead_percent": "1001",
    "allowance_percent": "101",
    "learning_percent": "20",
    "wanted_margin_percent": "100",
    "ending": "x.42",
    "once_pieces": "0",
    "kerf": "20 AWG",
    "near": "5 mm",
}


@pytest.mark.parametrize("field", BAD)
def test_a_field_that_is_wrong_says_so_beside_it_and_nothing_is_stored(client: Any, store: Store, field: str) -> None:
    before = settings_of(store)
    answer = client.submit("/settings", {field: BAD[field], "once_pieces" if field == "name" else "name": "7"})
    assert answer.status_code == 422
    assert f'id="f-{field}-fault"' in answer.text
    assert settings_of(store) == before


def test_what_was_typed_is_kept_when_it_is_refused(client: Any) -> None:
    answer = client.submit("/settings", {"wage_per_hour": "a lot", "name": "Bench <two>"})
    assert 'value="a lot"' in answer.text
    assert 'value="Bench &lt;two&gt;"' in answer.text


def test_settings_sent_twice_are_saved_once(client: Any, store: Store) -> None:
    fields = {**client.form("/settings").fields, "name": "Once"}
    first, second = client.post("/settings", fields), client.post("/settings", fields)
    assert first.headers["location"] == second.headers["location"]
    assert settings_of(store).version == 2


def test_settings_changed_meanwhile_are_shown_beside_what_was_typed(client: Any, store: Store) -> None:
    stale = client.form("/settings").fields
    client.submit("/settings", {"name": "First"})
    answer = client.post("/settings", {**stale, "name": "Second"})
    assert answer.status_code == 409
    assert "First" in answer.text
    assert "Second" in answer.text
    assert settings_of(store).name == "First"


def test_the_currency_says_why_it_is_fixed(client: Any, store: Store) -> None:
    assert "until the first price" in client.get("/settings").text
    fill(store)
    page = client.get("/settings").text
    assert "The currency is fixed, because the price of a stock item" in page
    answer = client.submit("/settings", {"currency": "USD"})
    assert answer.status_code == 422
    assert settings_of(store).currency == "EUR"


def test_figures_follow_the_settings_and_the_times(client: Any, store: Store) -> None:
    fill(store)
    client.follow(client.submit("/settings", {"wage_per_hour": "31", "wanted_margin_percent": "12", "ending": "x.90"}))
    client.follow(client.submit("/settings/times", {"rates.2.seconds": "11 s"}))
    with store.reading() as session:
        assert stale_figures(session) == ()


def test_times_are_guesses_until_they_are_changed(client: Any, store: Store) -> None:
    assert "All times are still <strong>guesses</strong>" in client.get("/settings/times").text
    place = list(STARTING_RATES).index("polish")
    answer = client.follow(
        client.submit("/settings/times", {f"rates.{place}.seconds": "4:30", f"rates.{place}.low_factor": "0.8"})
    )
    assert "One time is saved" in answer.text
    with store.reading() as session:
        kept = {rate.kind: rate for rate in work_rates(session)}
    assert (kept["polish"].seconds, kept["polish"].low_factor, kept["polish"].source) == (
        270,
        Decimal("0.8"),
        YOUR_FIGURE,
    )
    assert {rate.source for kind, rate in kept.items() if kind != "polish"} == {GUESS}


def test_times_that_stay_as_they_are_say_so(client: Any) -> None:
    assert "kept already" in client.follow(client.submit("/settings/times")).text


@pytest.mark.parametrize(("field", "typed"), [("seconds", "soon"), ("low_factor", "2"), ("high_factor", "0.5")])
def test_a_time_that_is_wrong_says_so_beside_it(client: Any, store: Store, field: str, typed: str) -> None:
    answer = client.submit("/settings/times", {f"rates.3.{field}": typed, "rates.4.seconds": "1 min"})
    assert answer.status_code == 422
    assert f"f-rates-3-{field}-fault" in answer.text
    with store.reading() as session:
        assert all(rate.guessed for rate in work_rates(session))


def test_the_api_sends_settings_that_it_takes_back(client: Any, store: Store) -> None:
    sent = client.get("/api/settings").json()
    assert sent["wage_per_hour"] == {"amount": "20.00", "currency": "EUR"}
    assert sent["near_mm"] == 0.03
    answer = client.request("PUT", "/api/settings", json=sent)
    assert answer.status_code == 200, answer.text
    again = answer.json()
    assert again.pop("version") == sent.pop("version") + 1
    assert again == sent


def test_the_api_changes_what_was_sent_and_leaves_the_rest(client: Any, store: Store) -> None:
    before = settings_of(store)
    body = {"version": 1, "wage_per_hour": "25.5", "kerf_mm": 0.3, "one_price": True}
    assert client.request("PUT", "/api/settings", json=body).status_code == 200
    kept = settings_of(store)
    assert (kept.wage_per_hour, kept.kerf_nm, kept.one_price, kept.name) == (
        Decimal("25.50"),
        300_000,
        True,
        before.name,
    )


@pytest.mark.parametrize("field", BAD)
def test_the_api_refuses_a_wrong_field_with_the_words_of_the_page(client: Any, store: Store, field: str) -> None:
    before = settings_of(store)
    name = {"kerf": "kerf_mm", "near": "near_mm"}.get(field, field)
    answer = client.request("PUT", "/api/settings", json={"version": 1, name: BAD[field]})
    assert answer.status_code == 422
    assert answer.headers["content-type"] == "application/problem+json"
    errors = answer.json()["errors"]
    assert [error["field"] for error in errors] == [name]
    page = client.submit("/settings", {field: BAD[field]})
    assert errors[0]["message"] in html.unescape(page.text)
    assert settings_of(store) == before


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"name": "x"}, 422),
        ({"version": "1", "name": "x"}, 422),
        ({"version": 7, "name": "x"}, 409),
        ({"version": 1, "wage_per_hour": {"amount": "20", "currency": "USD"}}, 422),
        ({"version": 1, "wage_per_hour": [20]}, 422),
    ],
)
def test_the_api_wants_the_version_and_the_currency_of_the_shop(
    client: Any, store: Store, body: dict[str, Any], status: int
) -> None:
    assert client.request("PUT", "/api/settings", json=body).status_code == status
    assert settings_of(store).version == 1


def test_the_api_changes_times(client: Any, store: Store) -> None:
    sent = client.get("/api/settings/times").json()
    assert sent["rates"][0] == {
        "kind": "setup", "words": "Setting up", "per": "batch", "seconds": 600, "low_factor": 0.6, "high_factor": 1.6, "source": GUESS,
    }  # fmt: skip
    rates = [{"kind": "close", "seconds": 6.5, "low_factor": 0.7, "high_factor": 1.5}]
    answer = client.request("PUT", "/api/settings/times", json={"version": sent["version"], "rates": rates})
    assert answer.status_code == 200, answer.text
    kept = {rate["kind"]: rate for rate in answer.json()["rates"]}
    assert (kept["close"]["seconds"], kept["close"]["source"]) == (6.5, YOUR_FIGURE)
    stale = client.request(
        "PUT", "/api/settings/times", json={"version": sent["version"], "rates": [{**rates[0], "seconds": 5}]}
    )
    assert stale.status_code == 409
    wrong = client.request("PUT", "/api/settings/times", json={"version": 0, "rates": [{**rates[0], "kind": "juggle"}]})
    assert wrong.json()["errors"][0]["field"] == "rates.0.kind"


def test_the_api_answers_as_it_is_described(client: Any) -> None:
    SettingsOut.model_validate(client.get("/api/settings").json())
    TimesOut.model_validate(client.get("/api/settings/times").json())
    described = client.get("/openapi.json").json()["paths"]
    for path, name in (("/api/settings", "SettingsOut"), ("/api/settings/times", "TimesOut")):
        for method in ("get", "put"):
            schema = described[path][method]["responses"]["200"]["content"]["application/json"]["schema"]
            assert schema == {"$ref": f"#/components/schemas/{name}"}


def test_an_api_write_with_one_key_acts_once(client: Any, store: Store) -> None:
    headers = {"Idempotency-Key": "only-once"}
    body = {"version": 1, "name": "Keyed"}
    first = client.request("PUT", "/api/settings", json=body, headers=headers)
    second = client.request("PUT", "/api/settings", json=body, headers=headers)
    assert (first.status_code, second.status_code) == (200, 200)
    assert first.json() == second.json()
    assert settings_of(store).version == 2


def test_every_choice_that_is_offered_is_taken() -> None:
    assert all(is_currency(code) for code, _ in choices.currencies())
    assert all(is_locale(code) for code, _ in choices.locales("en"))
    assert all(is_time_zone(name) for name, _ in choices.time_zones("UTC"))
    assert choices.locales("sr_Latn_ME")[0][0] == "sr_Latn_ME"
    assert choices.time_zones("US/Eastern")[0][0] == "US/Eastern"


def test_the_settings_ask_the_database_a_fixed_number_of_questions(store: Store) -> None:
    fill(store)
    seen: list[str] = []
    with store.reading() as session:
        event.listen(store.engine, "before_cursor_execute", lambda *given: seen.append(given[2]))
        settings_page(session)
    assert len(seen) <= 10
