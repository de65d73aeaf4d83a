"""Who is let in: the gate, the sign-in page, the page of devices and keys."""

from __future__ import annotations

import asyncio
import re
import time
from collections.abc import Iterator
from datetime import timedelta
from types import SimpleNamespace
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest
from filelock import Timeout
from sqlmodel import SQLModel, select
from starlette.datastructures import Headers

import webapp.sign_in as gate
from models.database import Store
from models.operations.shop import sign_in as operations
from models.operations.shop.clock import now
from models.queries.shop.sign_in import PER_ADDRESS, SLOW_AFTER, SLOW_S, has_password
from models.queries.stock.ledger_export import export_movements
from models.tables import Once, Owner, Person, ProgramKey, Shop, SignedIn, SignInTry, WorkRate
from tests.counting import queries_of
from tests.shops import a_ring
from tests.web.conftest import HERE, Client, forms_of
from tests.web.pages.shop.test_welcome import GOOD as FOUNDING
from webapp import slow_tries
from webapp.app import create_app
from webapp.network import Reach
from webapp.pages import ROOMS
from webapp.settings import Settings
from webapp.sign_in import address_of, device_words, key_of, safe_next, token_of
from webapp.slow_tries import MOST_AT_ONCE
from webapp.web.forms import RawForm

GOOD = "seven kettles by the door"
OTHER = "two herons on one leg"
COOKIE = "ringbench_8042"


@pytest.fixture
def guarded(client: Client, store: Store) -> Client:
    """A browser that is signed out, on a shop with a password."""
    with store.writing() as session:
        operations.set_password(session, GOOD)
    return client


def sign_in(client: Client, password: str = GOOD, *, url: str = "/sign-in", **given: Any) -> Any:
    return client.submit(url, {"password": password}, action="/sign-in", **given)


def cookies(client: Client) -> dict[str, str]:
    return dict(client._http.cookies)


def count(store: Store, table: type[Any]) -> int:
    with store.reading() as session:
        return len(session.exec(select(table)).all())


# ---- who it was ----


def test_what_is_done_is_done_by_who_signed_in(guarded: Client, store: Store) -> None:
    with store.writing() as session:
        session.add(Person(name="Iris Thorne"))
        ring = a_ring(session)
    sign_in(guarded)
    body = {"lines": [{"item_id": ring, "quantity": 5, "total_cost": "1"}]}
    assert guarded.post("/api/receipts", json=body).status_code == 201
    with store.writing() as session:
        session.exec(select(SignedIn)).one().person_id = 2
    assert guarded.post("/api/receipts", json=body).status_code == 201
    told = guarded.get(f"/api/items/{ring}/movements").json()["movements"]
    assert [each["person"] for each in told] == ["Iris Thorne", "Owner"]
    with store.reading() as session:
        assert [row["person"] for row in export_movements(session)] == ["Owner", "Iris Thorne"]


# ---- the gate ----


def every_path(client: Client) -> list[tuple[str, str]]:
    """A method and a path for every page and every call that the shop answers."""
    found = [(method.upper(), path) for path, methods in client.app.openapi()["paths"].items() for method in methods]
    for router in ROOMS:
        found.extend((method, route.path) for route in router.routes for method in route.methods)
    return [(method, re.sub(r"\{[^}]+\}", "1", path)) for method, path in found]


def test_every_page_and_every_call_but_signing_in_is_refused(guarded: Client) -> None:
    paths = [*every_path(guarded), ("GET", "/openapi.json"), ("GET", "/nowhere"), ("GET", "/sign-in/"), ("GET", "/api")]
    assert len(paths) > 80
    for method, path in paths:
        answer = guarded.request(method, path, headers={"content-type": "application/json"}, content=b"{}")
        if path == "/sign-in":
            assert answer.status_code in {200, 422}, (method, path)
        elif path.startswith("/api/") or path == "/openapi.json":
            assert answer.status_code == 401, (method, path)
            assert answer.headers["content-type"] == "application/problem+json"
            assert answer.headers["www-authenticate"].startswith("Bearer")
            assert answer.json()["title"] == "Sign in first"
        else:
            assert answer.status_code == 303, (method, path)
            assert answer.headers["location"].startswith("/sign-in?next="), (method, path)
            assert answer.headers["cache-control"] == "no-store"
            assert answer.content == b""
    assert guarded.get("/static/ringbench.css").status_code == 200


def test_a_refused_page_is_gone_on_to_after_signing_in(guarded: Client) -> None:
    refused = guarded.get("/designs?find=bronze&page=2")
    where = refused.headers["location"]
    assert parse_qs(urlsplit(where).query) == {"next": ["/designs?find=bronze&page=2"]}
    answer = sign_in(guarded, url=where)
    assert (answer.status_code, answer.headers["location"]) == (303, "/designs?find=bronze&page=2")
    assert guarded.follow(answer).status_code == 200
    assert guarded.get("/api/settings").status_code == 200
    assert guarded.get("/openapi.json").status_code == 200


def test_what_was_sent_while_signed_out_is_not_done_and_the_page_says_so(guarded: Client, store: Store) -> None:
    answer = guarded.post(
        "/settings", {"name": "Changed", "token": "t" * 24}, headers={"referer": "http://127.0.0.1:8042/settings?a=1"}
    )
    page = guarded.follow(answer)
    assert "not saved" in page.text
    assert forms_of(page.text)[0].fields["next"] == "/settings?a=1"
    with store.reading() as session:
        assert session.get_one(Shop, 1).name == "Test bench"


def test_a_part_of_a_page_sends_the_whole_page_to_sign_in(guarded: Client) -> None:
    headers = {"hx-request": "true", "hx-current-url": "http://127.0.0.1:8042/stock?find=x"}
    answer = guarded.get("/stock?find=xy", headers=headers)
    assert answer.status_code == 401
    assert answer.headers["hx-redirect"] == "/sign-in?next=%2Fstock%3Ffind%3Dx"


def test_without_a_password_nobody_has_to_sign_in(client: Client) -> None:
    assert client.get("/settings").status_code == 200
    assert client.get("/sign-in?next=/stock").headers["location"] == "/stock"
    assert client.post("/sign-in", {"password": GOOD, "next": "/stock"}).headers["location"] == "/stock"
    assert cookies(client) == {}


def test_a_demo_is_signed_in(store: Store) -> None:
    with store.writing() as session:
        operations.set_password(session, GOOD)
    with Client(create_app(store, Settings(store.folder, demo=True))) as client:
        assert client.get("/settings").status_code == 200
        assert client.get("/api/settings").status_code == 200
        page = client.get("/settings/sign-in").text
        assert "A demo lets" in page
        assert 'name="password"' not in page


def test_a_shop_on_the_network_that_lost_its_password_shows_nothing(store: Store) -> None:
    reach = Reach(bind="192.168.1.5", hosts=("192.168.1.5",))
    with Client(create_app(store, Settings(store.folder, host="192.168.1.5"), reach)) as client:
        for path in ("/", "/settings", "/sign-in", "/openapi.json"):
            answer = client.get(path)
            assert answer.status_code == 403
            assert "ringbench password" in answer.text
            assert "Test bench" not in answer.text
        assert client.get("/api/settings").json()["status"] == 403
        with store.writing() as session:
            operations.set_password(session, GOOD)
        assert client.get("/settings").headers["location"].startswith("/sign-in")


def test_the_gate_costs_a_page_one_query(guarded: Client, store: Store) -> None:
    sign_in(guarded)
    with queries_of(store) as with_gate:
        guarded.get("/outlets")
    with store.writing() as session:
        session.delete(session.get_one(Owner, 1))
    with queries_of(store) as without:
        guarded.get("/outlets")
    assert len(with_gate) == len(without)
    assert sum("owner" in statement for statement in with_gate) == 1


# ---- signing in ----


def test_the_cookie_is_for_the_server_alone_and_for_this_site_alone(guarded: Client, store: Store) -> None:
    set_cookie = sign_in(guarded).headers["set-cookie"]
    name, *marks = [part.strip() for part in set_cookie.split(";")]
    assert re.fullmatch(rf"{COOKIE}=[A-Za-z0-9_-]{{43}}", name)
    assert {mark.lower() for mark in marks} >= {"httponly", "samesite=lax", "path=/"}
    assert "secure" not in set_cookie.lower()
    assert "domain" not in set_cookie.lower()
    with store.reading() as session:
        assert name.partition("=")[2] not in repr(session.exec(select(SignedIn)).all())


def test_over_https_the_cookie_stays_on_https(guarded: Client) -> None:
    answer = guarded.request(
        "POST",
        "https://127.0.0.1:8042/sign-in",
        data={"password": GOOD},
        headers={"origin": "https://127.0.0.1:8042"},
    )
    assert answer.status_code == 303
    assert "secure" in answer.headers["set-cookie"].lower().split("; ")


def test_a_wrong_password_opens_nothing_and_is_never_shown_again(guarded: Client, store: Store) -> None:
    answer = sign_in(guarded, "seven kettles by the window")
    assert answer.status_code == 422
    assert "That is not the password." in answer.text
    assert "kettles" not in answer.text
    assert "set-cookie" not in answer.headers
    assert answer.headers["cache-control"] == "no-store"
    assert guarded.get("/settings").status_code == 303
    assert count(store, SignInTry) == 1


def test_nothing_typed_is_no_try(guarded: Client, store: Store) -> None:
    assert sign_in(guarded, "").status_code == 422
    assert count(store, SignInTry) == 0


@pytest.fixture
def hurried(monkeypatch: pytest.MonkeyPatch) -> list[float]:
    """What would have been waited, instead of waiting."""
    waited: list[float] = []

    async def at_once(seconds: float) -> None:
        waited.append(seconds)

    monkeypatch.setattr(slow_tries, "asyncio", SimpleNamespace(sleep=at_once))
    return waited


@pytest.fixture
def phone(guarded: Client) -> Iterator[Client]:
    """A browser of another device in the network."""
    with Client(guarded.app, address="192.168.1.7") as opened:
        yield opened


def test_too_many_tries_must_wait_also_with_the_right_password(phone: Client, store: Store) -> None:
    for number in range(PER_ADDRESS.free):
        assert sign_in(phone, f"wrong number {number}").status_code == 422
    answer = sign_in(phone)
    assert answer.status_code == 429
    assert 1 <= int(answer.headers["retry-after"]) <= PER_ADDRESS.first_s
    assert re.search(r"Wait \d seconds", answer.text)
    assert "set-cookie" not in answer.headers
    with store.writing() as session:
        for row in session.exec(select(SignInTry)):
            row.tried_at -= timedelta(seconds=PER_ADDRESS.first_s + 1)
    assert sign_in(phone).status_code == 303
    assert count(store, SignInTry) == 0


def test_the_throttle_outlives_the_server(phone: Client, store: Store) -> None:
    for number in range(PER_ADDRESS.free):
        sign_in(phone, f"wrong number {number}")
    with Client(create_app(store, Settings(store.folder)), address="192.168.1.7") as restarted:
        assert sign_in(restarted).status_code == 429


def test_the_owner_is_never_kept_out_of_the_machine_itself(guarded: Client, store: Store, hurried: list[float]) -> None:
    for number in range(3 * PER_ADDRESS.free):
        assert sign_in(guarded, f"wrong number {number}").status_code == 422
    assert hurried == [SLOW_S] * (2 * PER_ADDRESS.free)
    assert sign_in(guarded).status_code == 303
    assert count(store, SignInTry) == 0


@pytest.mark.long
def test_wrong_passwords_from_many_addresses_keep_nobody_else_out(
    guarded: Client, store: Store, hurried: list[float]
) -> None:
    for host in range(2, 2 + SLOW_AFTER // PER_ADDRESS.free + 3):
        with Client(guarded.app, address=f"192.168.1.{host}") as other:
            for _ in range(PER_ADDRESS.free):
                assert sign_in(other, "wrong number").status_code == 422
            assert sign_in(other).status_code == 429
    assert hurried
    assert set(hurried) == {SLOW_S}
    with Client(guarded.app, address="192.168.1.250") as phone:
        assert sign_in(phone).status_code == 303
    assert sign_in(guarded).status_code == 303


@pytest.mark.parametrize("address", ["127.0.0.1", "192.168.1.7"])
def test_a_clock_that_was_set_back_keeps_nobody_out(guarded: Client, store: Store, address: str) -> None:
    with store.writing() as session:
        for ahead in (1, 3600, 86_400, 400 * 86_400):
            for one in ("127.0.0.1", "192.168.1.7", "192.168.1.8"):
                stamp = now() + timedelta(seconds=60 + ahead)
                session.add_all(SignInTry(address=one, tried_at=stamp) for _ in range(20))
    with Client(guarded.app, address=address) as browser:
        began = time.monotonic()
        assert sign_in(browser, "wrong number").status_code == 422
        assert count(store, SignInTry) == 1
        assert sign_in(browser).status_code == 303
        assert time.monotonic() - began < SLOW_S
        assert browser.get("/settings").status_code == 200


@pytest.mark.long
def test_a_crowd_of_slow_tries_is_sent_away_and_holds_no_thread(guarded: Client, store: Store) -> None:
    with store.writing() as session:
        session.add_all(SignInTry(address=f"10.0.{n}.1", tried_at=now()) for n in range(SLOW_AFTER))

    async def all_at_once() -> list[int]:
        posts = [guarded._http.post("/sign-in", data={"password": "wrong number"}) for _ in range(60)]
        return [answer.status_code for answer in await asyncio.gather(*posts)]

    statuses = guarded._run(all_at_once())
    assert statuses.count(422) == MOST_AT_ONCE
    assert statuses.count(429) == 60 - MOST_AT_ONCE
    assert sign_in(guarded).status_code == 303


def test_a_foreign_site_cannot_sign_anybody_in(guarded: Client, store: Store) -> None:
    headers = {"origin": "http://elsewhere.example"}
    assert guarded.request("POST", "/sign-in", data={"password": GOOD}, headers=headers).status_code == 403
    assert count(store, SignInTry) == 0


def test_a_password_that_changes_while_it_is_checked_opens_nothing(
    guarded: Client, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def changed_meanwhile(_password: str, _hash: str) -> bool:
        with store.writing() as session:
            operations.set_password(session, OTHER)
        return True

    monkeypatch.setattr(operations, "is_right", changed_meanwhile)
    answer = sign_in(guarded)
    assert answer.status_code == 409
    assert "changed a moment ago" in answer.text
    assert count(store, SignedIn) == 0


def test_who_is_signed_in_needs_no_sign_in_page(guarded: Client) -> None:
    sign_in(guarded)
    assert guarded.get("/sign-in?next=/outlets").headers["location"] == "/outlets"


def test_signing_out_ends_the_session_and_takes_the_cookie_off(guarded: Client, store: Store) -> None:
    sign_in(guarded)
    token = cookies(guarded)[COOKIE]
    answer = guarded.post("/sign-out")
    assert (answer.status_code, answer.headers["location"]) == (303, "/sign-in")
    assert cookies(guarded) == {}
    assert count(store, SignedIn) == 0
    assert guarded.get("/settings", headers={"cookie": f"{COOKIE}={token}"}).status_code == 303


@pytest.mark.parametrize(
    "asked",
    [
        "", "stock", "//elsewhere.example", "/\\elsewhere.example", "\\\\elsewhere.example", "http://elsewhere.example",
        "javascript:alert(1)", "/stock\r\nSet-Cookie: a=b", "/stock\x00", "/sign-in", "/sign-in?next=/x", "/sign-out",
        "/api/items", "/static/x.css", "/" + "a" * 2001, "/ö", "///elsewhere.example", "/[", "//[",
    ],
)  # fmt: skip
def test_after_signing_in_one_never_leaves_the_shop(guarded: Client, asked: str) -> None:
    expected = "/[" if asked == "/[" else "/"
    assert safe_next(asked) == expected
    answer = guarded.post("/sign-in", {"password": GOOD, "next": asked})
    assert answer.headers["location"] == expected


@pytest.mark.parametrize(
    "asked", ["/", "/stock", "/stock/7?find=a%20b&said=x", "/designs#top", "/stock/labels?items=1"]
)
def test_pages_of_the_shop_are_gone_on_to(asked: str) -> None:
    assert safe_next(asked) == asked


# ---- the password, the devices, the keys ----


@pytest.fixture
def inside(guarded: Client) -> Client:
    """A browser that is signed in."""
    sign_in(guarded, headers={"user-agent": "Mozilla/5.0 (Android 14; Mobile; rv:130.0) Gecko/130.0 Firefox/130.0"})
    return guarded


def test_a_password_can_be_set_later_and_who_sets_it_stays_inside(client: Client, store: Store) -> None:
    page = client.get("/settings/sign-in").text
    assert "no password" in page
    assert "old_password" not in page
    answer = client.submit("/settings/sign-in", {"password": GOOD, "password_again": GOOD}, action="/settings/sign-in")
    assert "The password is set" in client.follow(answer).text
    with store.reading() as session:
        assert has_password(session)
    with Client(create_app(store, Settings(store.folder))) as other:
        assert other.get("/settings").status_code == 303
        assert sign_in(other).status_code == 303


def test_a_password_that_is_no_good_says_so_beside_its_field(client: Client, store: Store) -> None:
    for first, again, field in (("password123", "password123", "password"), (GOOD, OTHER, "password_again")):
        answer = client.submit(
            "/settings/sign-in", {"password": first, "password_again": again}, action="/settings/sign-in"
        )
        assert answer.status_code == 422
        assert f'id="f-{field}-fault"' in answer.text
        assert first not in answer.text
        assert again not in answer.text
    with store.reading() as session:
        assert not has_password(session)


def test_the_name_of_the_studio_is_no_password(client: Client) -> None:
    fields = {"password": "Test Bench 2026", "password_again": "Test Bench 2026"}
    assert "the name of your studio" in client.submit("/settings/sign-in", fields, action="/settings/sign-in").text


def change(client: Client, old: str, new: str) -> Any:
    fields = {"old_password": old, "password": new, "password_again": new}
    return client.submit("/settings/sign-in", fields, action="/settings/sign-in")


def test_another_password_needs_the_old_one_and_signs_the_others_out(inside: Client, store: Store) -> None:
    with Client(create_app(store, Settings(store.folder))) as other:
        sign_in(other)
        refused = change(inside, OTHER, OTHER)
        assert refused.status_code == 422
        assert 'id="f-old_password-fault"' in refused.text
        assert OTHER not in refused.text
        assert "The password is changed." in inside.follow(change(inside, GOOD, OTHER)).text
        assert other.get("/settings").status_code == 303
        assert sign_in(other).status_code == 422
        assert sign_in(other, OTHER).status_code == 303


def test_guessing_the_old_password_is_throttled_too(phone: Client) -> None:
    sign_in(phone)
    for _ in range(PER_ADDRESS.free):
        assert change(phone, OTHER, OTHER).status_code == 422
    answer = change(phone, GOOD, OTHER)
    assert answer.status_code == 429
    assert answer.headers["retry-after"]


def test_changing_it_twice_by_the_same_form_acts_once(inside: Client, store: Store) -> None:
    seen = inside.form("/settings/sign-in", "/settings/sign-in")
    fields = {**seen.fields, "old_password": GOOD, "password": OTHER, "password_again": OTHER}
    first, second = inside.post("/settings/sign-in", fields), inside.post("/settings/sign-in", fields)
    assert (first.status_code, second.status_code) == (303, 303)
    assert first.headers["location"] == second.headers["location"]
    assert count(store, SignInTry) == 0


def test_no_trace_of_a_password_is_stored_or_logged(inside: Client, store: Store) -> None:
    change(inside, GOOD, OTHER)
    assert inside.post("/sign-in", {"password": "seven kettles by the window"}).status_code == 422
    for file in store.folder.rglob("*"):
        if file.is_file():
            content = file.read_bytes()
            assert b"kettles" not in content, file
            assert b"herons" not in content, file


def test_what_is_kept_of_a_form_that_was_sent_does_not_rest_on_passwords() -> None:
    def digest(*secrets: str) -> list[object]:
        return RawForm(
            (("name", "x"), *zip(("old_password", "password", "password_again"), secrets, strict=False))
        ).digest_source()

    assert digest(GOOD, OTHER, OTHER) == digest("a", "b", "c") == RawForm((("name", "x"),)).digest_source()
    assert digest(GOOD) != RawForm((("name", "y"),)).digest_source()


def test_devices_are_listed_and_can_be_signed_out(inside: Client, store: Store) -> None:
    with Client(create_app(store, Settings(store.folder))) as other:
        sign_in(other, headers={"user-agent": "Mozilla/5.0 (X11; Linux x86_64) Chrome/130.0 Safari/537.36"})
        page = inside.get("/settings/sign-in").text
        assert page.count("this one") == 1
        assert "Firefox on Android" in page
        assert "Chrome on Linux" in page
        with store.reading() as session:
            number = session.exec(select(SignedIn.id).where(SignedIn.device == "Chrome on Linux")).one()
        path = f"/settings/sign-in/devices/{number}/sign-out"
        answer = inside.submit("/settings/sign-in", action=path)
        assert "Chrome on Linux is signed out." in inside.follow(answer).text
        assert other.get("/settings").status_code == 303
        assert inside.post(path, {"token": "u" * 24}).status_code == 404


def test_everybody_can_be_signed_out_at_once(inside: Client, store: Store) -> None:
    with Client(create_app(store, Settings(store.folder))) as other:
        sign_in(other)
        answer = inside.submit("/settings/sign-in", action="/settings/sign-in/everywhere")
        assert (answer.status_code, urlsplit(answer.headers["location"]).path) == (303, "/sign-in")
        assert inside.get("/settings").status_code == 303
        assert other.get("/settings").status_code == 303
    assert count(store, SignedIn) == 0


def made_key(client: Client) -> tuple[str, Any]:
    answer = client.submit("/settings/sign-in/keys/new", {"name": "till"})
    found = re.search(r"rb_[A-Za-z0-9_-]{43}", answer.text)
    assert found
    return found[0], answer


def test_a_key_opens_the_api_until_it_is_revoked_and_is_shown_once(inside: Client, store: Store) -> None:
    key, answer = made_key(inside)
    assert (answer.status_code, answer.headers["cache-control"]) == (200, "no-store")
    with Client(create_app(store, Settings(store.folder))) as program:
        bearer = {"authorization": f"Bearer {key}"}
        assert program.get("/api/settings", headers=bearer).status_code == 200
        assert program.get("/api/settings", headers={"authorization": f"bearer  {key}"}).status_code == 200
        for wrong in (f"Bearer {key}x", "Bearer", "Bearer ", f"Basic {key}", key):
            assert program.get("/api/settings", headers={"authorization": wrong}).status_code == 401
        page = inside.get("/settings/sign-in").text
        assert key not in page
        assert "till" in page
        answer = inside.submit("/settings/sign-in", action="/settings/sign-in/keys/1/revoke")
        assert "is revoked" in inside.follow(answer).text
        assert program.get("/api/settings", headers=bearer).status_code == 401
    with store.reading() as session:
        assert key not in repr(session.exec(select(Once)).all())


def whole_shop(store: Store) -> dict[str, list[str]]:
    """Every row of every table."""
    with store.reading() as session:
        tables = SQLModel.metadata.sorted_tables
        return {table.name: sorted(map(repr, session.execute(table.select()).all())) for table in tables}


@pytest.mark.long
def test_a_key_opens_calls_and_nothing_else_whatever_is_asked_with_it(inside: Client, store: Store) -> None:
    key, _answer = made_key(inside)
    before = whole_shop(store)
    names = {"name": "another", "token": "k" * 24, "password": OTHER, "password_again": OTHER, "old_password": GOOD}
    with Client(create_app(store, Settings(store.folder))) as program:
        asked = [
            *every_path(inside),
            ("GET", "/openapi.json"),
            ("POST", "/settings/sign-in/"),
            ("POST", "//api/../settings"),
        ]
        pages = [(method, path) for method, path in asked if not path.startswith("/api/")]
        assert len(pages) > 100
        for method, path in pages:
            if (method, path) == ("POST", "/sign-in"):
                continue
            bearer = {"authorization": f"Bearer {key}", "origin": HERE}
            answer = program.request(method, path, data=names if method == "POST" else None, headers=bearer)
            expected = {200} if path == "/sign-in" else {401, 303}
            assert answer.status_code in expected, (method, path)
            assert answer.headers.get("location", "/sign-in").startswith("/sign-in"), (method, path)
            assert "set-cookie" not in answer.headers or path == "/sign-out", (method, path)
        assert whole_shop(store) == before
        guarded_tables = ("owner", "signed_in", "program_key", "sign_in_try")
        for method, path in asked:
            if path.startswith("/api/"):
                program.request(method, path, json=names if method != "GET" else None, headers=bearer)
        after = whole_shop(store)
        assert {name: len(after[name]) for name in guarded_tables} == {
            name: len(before[name]) for name in guarded_tables
        }
        assert after["owner"] == before["owner"]


def test_who_is_signed_in_and_shows_a_key_is_who_signed_in(inside: Client) -> None:
    key, _answer = made_key(inside)
    assert inside.get("/settings/sign-in", headers={"authorization": f"Bearer {key}"}).status_code == 200


def test_the_same_form_makes_one_key_and_shows_it_once(inside: Client, store: Store) -> None:
    seen = inside.form("/settings/sign-in/keys/new")
    first = inside.post("/settings/sign-in/keys/new", {**seen.fields, "name": "till"})
    second = inside.post("/settings/sign-in/keys/new", {**seen.fields, "name": "till"})
    assert first.status_code == 200
    assert "rb_" not in inside.follow(second).text
    assert count(store, ProgramKey) == 1


def test_a_key_needs_a_name_and_a_password(inside: Client, client: Client, store: Store) -> None:
    assert inside.submit("/settings/sign-in/keys/new", {"name": ""}).status_code == 422
    with store.writing() as session:
        session.delete(session.get_one(Owner, 1))
    answer = client.submit("/settings/sign-in/keys/new", {"name": "till"})
    assert answer.status_code == 409
    assert "Set a password first" in answer.text


def test_when_a_device_was_last_seen_is_kept_without_a_write_at_every_page(inside: Client, store: Store) -> None:
    with store.writing() as session:
        row = session.exec(select(SignedIn)).one()
        row.seen_at = long_ago = now() - timedelta(days=3)
    inside.get("/settings")
    with store.reading() as session:
        seen = session.exec(select(SignedIn)).one().seen_at
    assert seen > long_ago + timedelta(days=2)
    inside.get("/settings")
    with store.reading() as session:
        assert session.exec(select(SignedIn)).one().seen_at == seen


def test_a_busy_shop_still_answers_when_it_cannot_keep_the_visit(
    inside: Client, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    def busy(*_given: object, **_more: object) -> None:
        raise Timeout("lock")

    monkeypatch.setattr(gate, "is_worth_keeping", lambda _seen_at: True)
    monkeypatch.setattr(gate, "seen", busy)
    assert inside.get("/settings").status_code == 200
    log = (store.folder / "logs" / "ringbench.log").read_text(encoding="utf-8")
    assert "last seen was not kept" in log


# ---- the first page ----


@pytest.fixture
def unfounded(store: Store) -> Iterator[Client]:
    """A browser on a shop that was never set up."""
    with store.writing() as session:
        session.delete(session.get_one(Shop, 1))
        for rate in session.exec(select(WorkRate)):
            session.delete(rate)
    with Client(create_app(store, Settings(store.folder))) as opened:
        yield opened


def test_the_first_page_asks_for_a_password_and_signs_its_browser_in(unfounded: Client, store: Store) -> None:
    answer = unfounded.submit("/welcome", {**FOUNDING, "password": GOOD, "password_again": GOOD})
    assert unfounded.follow(answer).status_code == 200
    assert COOKIE in cookies(unfounded)
    with Client(create_app(store, Settings(store.folder))) as other:
        assert other.get("/").headers["location"].startswith("/sign-in")
        assert other.get("/welcome").headers["location"].startswith("/sign-in")


def test_a_first_page_with_a_bad_password_founds_nothing(unfounded: Client, store: Store) -> None:
    fields = {**FOUNDING, "currency": "?", "password": "tin wren 1", "password_again": "x"}
    answer = unfounded.submit("/welcome", fields)
    assert answer.status_code == 422
    assert "f-password-fault" in answer.text
    assert "f-currency-fault" in answer.text
    assert count(store, Shop) == 0
    assert count(store, Owner) == 0


# ---- small words ----


@pytest.mark.parametrize(
    ("agent", "words"),
    [
        ("Mozilla/5.0 (iPhone; CPU iPhone OS 17_0 like Mac OS X) Version/17.0 Mobile Safari/604.1", "Safari on iPhone"),
        ("Mozilla/5.0 (Windows NT 10.0; Win64) Chrome/130.0 Safari/537.36 Edg/130.0", "Edge on Windows"),
        ("Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15) Version/17 Safari/605", "Safari on Mac"),
        ("Mozilla/5.0 (X11; CrOS x86_64) Whatever", "A browser on Chromebook"),
        ("bench-script/1.2", "bench-script"),
        ("<b>\x00</b>", "b"),
        ("", "A device without a name"),
    ],
)
def test_a_device_is_named_by_what_it_says_of_itself(agent: str, words: str) -> None:
    assert device_words(agent) == words


@pytest.mark.parametrize(
    ("client", "address"),
    [
        (("192.168.1.7", 50000), "192.168.1.7"),
        (("::ffff:192.168.1.7", 1), "192.168.1.7"),
        (("fd00:1:2:3:4:5:6:7", 1), "fd00:1:2:3::/64"),
        (("fd00:1:2:3::99", 1), "fd00:1:2:3::/64"),
        (("fe80::1%eth0", 1), "fe80::/64"),
        (("::1", 1), "::1"),
        (("::ffff:127.0.0.1", 1), "127.0.0.1"),
        (None, ""),
        (("testclient", 1), "testclient"),
    ],
)
def test_tries_are_counted_by_address_and_a_home_counts_as_one(client: Any, address: str) -> None:
    assert address_of({"client": client}) == address


def test_a_cookie_and_a_key_are_read_strictly() -> None:
    headers = Headers({"cookie": f"a=b; {COOKIE}=token; ringbench_1=other", "authorization": "Bearer key"})
    assert (token_of(headers, COOKIE), key_of(headers)) == ("token", "key")
    assert (token_of(Headers({}), COOKIE), key_of(Headers({}))) == ("", "")
