"""What the middleware lets through and what it refuses."""

from __future__ import annotations

from typing import Any

import pytest
from starlette.datastructures import Headers

from webapp.security import comes_from_here, host_name, same_authority

HERE = "http://127.0.0.1:8042"


def test_every_answer_carries_the_content_policy(client: Any) -> None:
    for path in ("/static/ringbench.css", "/nothing", "/api/nothing", "/openapi.json"):
        headers = client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"


def test_a_page_that_breaks_still_carries_the_headers_and_plain_words(app: Any, client: Any) -> None:
    @app.get("/breaks")
    def breaks() -> None:
        raise RuntimeError("secret wage 21.40")

    client._http._transport.raise_app_exceptions = False
    answer = client.get("/breaks")
    assert answer.status_code == 500
    assert "default-src 'none'" in answer.headers["content-security-policy"]
    assert "what was not finished was taken back" in answer.text.replace("\n", " ")
    assert "secret" not in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"origin": "http://127.0.0.1:9999"},
        {"origin": "https://127.0.0.1.elsewhere.example:8042"},
        {"referer": "http://elsewhere.example/page"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site", "origin": HERE},
        {"sec-fetch-site": "same-origin", "origin": "http://elsewhere.example"},
    ],
)
@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH"])
def test_a_write_from_another_site_is_refused(client: Any, headers: dict[str, str], method: str) -> None:
    answer = client.request(method, "/openapi.json", headers=headers)
    assert answer.status_code == 403
    assert "nothing was changed" in answer.text


@pytest.mark.parametrize(
    "headers",
    [
        {},
        {"origin": HERE},
        {"referer": HERE + "/stock?find=bronze"},
        {"sec-fetch-site": "same-origin", "origin": HERE},
    ],
)
def test_a_write_from_here_or_from_a_program_passes(client: Any, headers: dict[str, str]) -> None:
    assert client.request("POST", "/openapi.json", headers=headers).status_code == 405


def test_reading_from_another_site_is_allowed(client: Any) -> None:
    assert client.get("/openapi.json", headers={"origin": "http://elsewhere.example"}).status_code == 200


@pytest.mark.parametrize(
    "host", ["localhost", "localhost:8042", "127.0.0.1:1", "127.8.9.10", "[::1]:8042", "LOCALHOST"]
)
def test_names_of_this_machine_are_answered(client: Any, host: str) -> None:
    assert client.get("/openapi.json", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "host",
    [
        "elsewhere.example",
        "127.0.0.1.elsewhere.example",
        "192.168.0.4:8042",
        "user@localhost",
        "localhost/x",
        "",
        "[::1",
    ],
)
def test_foreign_names_are_refused(client: Any, host: str) -> None:
    answer = client.get("/openapi.json", headers={"host": host})
    assert answer.status_code == 421
    assert "address" in answer.text


def test_refusals_under_api_are_problem_details(client: Any) -> None:
    answer = client.request("POST", "/api/items", headers={"origin": "http://elsewhere.example"})
    assert answer.status_code == 403
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["status"] == 403


@pytest.mark.parametrize("length", ["-1", "ten", "1e3", "²"])
def test_a_length_that_is_no_number_is_refused(client: Any, length: str) -> None:
    answer = client.request("POST", "/openapi.json", headers={"content-length": length.encode()}, content=b"x")
    assert answer.status_code == 400


def test_a_default_port_may_be_left_out() -> None:
    assert same_authority("http://shop.example", "shop.example:80")
    assert same_authority("https://shop.example:443/page", "shop.example")
    assert not same_authority("http://shop.example", "shop.example:8042")
    assert not same_authority("ftp://shop.example", "shop.example")
    assert not same_authority("http://[broken", "shop.example")


def test_origin_counts_before_referer() -> None:
    headers = Headers({"host": "a.example", "origin": "http://b.example", "referer": "http://a.example/"})
    assert not comes_from_here(headers)


def test_a_host_header_is_read_strictly() -> None:
    assert host_name("localhost:8042") == "localhost"
    assert host_name("[::1]:80") == "::1"
    assert host_name("localhost:port") == ""
    assert host_name("a@localhost") == ""
