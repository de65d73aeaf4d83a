"""Numbers past what a database can keep, and text that is hardly text: in the address, the query, a form, JSON, headers.

Every page and every call is asked, with the parameters that it names; none may break.
"""

from __future__ import annotations

import re
import secrets
import shutil
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, TypeVar
from urllib.parse import quote, urljoin

import pytest
from pydantic import BaseModel

from models.database import Store
from tests.budget import budget
from tests.web.conftest import HERE, Client, forms_of
from webapp.api import APIS
from webapp.app import create_app
from webapp.pages import ROOMS
from webapp.settings import Settings

T = TypeVar("T")

NUMBERS = ("-1", "0", str(2**31), str(2**63 - 1), str(2**63), str(10**30), str(-(2**63) - 1), "seven")
TEXTS = ("\0", "a\0b", "\ufffd", "'\"<&%_\\", "x" * 3000, "%ED%A0%80", "..", "9" * 30)
SAFE = {200, 201, 202, 303, 304, 307, 400, 404, 405, 409, 413, 415, 422}


@pytest.fixture(scope="module")
def client(demo_folder: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Client]:
    """A browser on the invented studio, where there is something to find behind the first numbers."""
    folder = tmp_path_factory.mktemp("numbers") / "shop"
    shutil.copytree(demo_folder, folder)
    store = Store(folder)
    with Client(create_app(store, Settings(folder)), raise_errors=False) as opened:
        yield opened
    store.close()


def routes() -> list[Any]:
    return [route for router in (*ROOMS, *APIS) for route in router.routes]


def parameters(route: Any, kind: str) -> list[tuple[str, str]]:
    """The names and types of a route's parameters, those of what it depends on and of models too."""

    def of(dependant: Any) -> Iterator[tuple[str, str]]:
        for one in getattr(dependant, kind):
            annotation = one.field_info.annotation
            if isinstance(annotation, type) and issubclass(annotation, BaseModel):
                yield from ((name, str(field.annotation)) for name, field in annotation.model_fields.items())
            else:
                yield one.alias, str(annotation)
        for further in dependant.dependencies:
            yield from of(further)

    return list(of(route.dependant))


def places(route: Any) -> Iterator[tuple[str, str]]:
    """Every address of a route in which one parameter is left to be filled in as `{}`, and that parameter's type."""
    plain = re.sub(r"\{([^}:]+):[^}]+\}", r"{\1}", route.path)
    types = dict(parameters(route, "path_params"))
    ones = dict.fromkeys(re.findall(r"\{([^}]+)\}", plain), "1")
    for name in ones:
        yield plain.format(**(ones | {name: "{}"})), types[name]
    for name, type_ in parameters(route, "query_params"):
        yield f"{plain.format(**ones)}?{name}={{}}", type_


def ask(client: Client, method: str, address: str, body: Any = None) -> Any:
    given: dict[str, Any] = {"headers": {"origin": HERE}}
    if address.startswith("/api/") and method != "GET":
        given["json"] = body or {}
    elif method == "POST":
        given["data"] = {"token": secrets.token_urlsafe(18), **(body or {})}
    return client.request(method, address, **given)


def in_turn(values: Sequence[T], turn: int) -> list[T]:
    """All of the values in the long run; in a plain one a few, beginning with another one at each turn."""
    few = budget(len(values), 2)
    return [values[(turn * few + step) % len(values)] for step in range(few)]


def broken(client: Client, values: tuple[str, ...], *, texts: bool) -> list[str]:
    """What every page and call answers to these values one at a time, where it should not."""
    found = []
    turn = 0
    for route in routes():
        for address, type_ in places(route):
            if ("int" not in type_) != texts:
                continue
            turn += 1
            for value in in_turn(values, turn):
                asked = address.format(quote(value, safe="%" if "%ED" in value else ""))
                for method in sorted(route.methods - {"HEAD"}):
                    status = ask(client, method, asked).status_code
                    if status not in SAFE:
                        found.append(f"{method} {asked[:150]} {status}")
    return found


@pytest.mark.long
@pytest.mark.property
def test_a_number_past_all_rows_breaks_nothing_wherever_it_stands_in_an_address(client: Client) -> None:
    assert broken(client, NUMBERS, texts=False) == []


@pytest.mark.long
@pytest.mark.property
def test_text_that_is_hardly_text_breaks_nothing_wherever_it_stands_in_an_address(client: Client) -> None:
    assert broken(client, TEXTS, texts=True) == []


def test_every_number_in_a_query_has_its_bounds(client: Client) -> None:
    """So that a new one, too, is refused at the edge: what is read is never more than can be kept."""
    for route in routes():
        for name, type_ in parameters(route, "query_params"):
            if re.search(r"\bint\b", type_):
                ones = re.sub(r"\{[^}]+\}", "1", route.path)
                answer = ask(client, min(route.methods - {"HEAD"}), f"{ones}?{name}={2**63}")
                assert answer.status_code in {404, 422}, (route.path, name)


ODD: tuple[object, ...] = (2**63, 10**30, -(2**63) - 1, 1.5, "a\0b", {}, [{}], None)


@pytest.mark.long
@pytest.mark.property
def test_no_field_of_a_call_breaks_it_whatever_it_holds(client: Client) -> None:
    found = []
    turn = 0
    for path, methods in client.app.openapi()["paths"].items():
        for method, described in methods.items():
            schema = described.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema", {})
            for name in schema.get("properties", {}):
                turn += 1
                for value in in_turn(ODD, turn):
                    status = ask(client, method.upper(), re.sub(r"\{[^}]+\}", "1", path), {name: value}).status_code
                    if status not in SAFE:
                        found.append(f"{method} {path} {name}={str(value)[:30]} {status}")
    assert found == []


@pytest.mark.long
def test_no_field_of_a_form_breaks_its_page_whatever_it_holds(client: Client) -> None:
    """Each form of each page, filled with a number that cannot be kept."""
    found = []
    seen: set[tuple[str, str]] = set()
    for route in routes():
        if (
            "GET" not in route.methods
            or route.path.startswith("/api/")
            or route.path.endswith((".csv", ".png", ".svg"))
        ):
            continue
        page = client.get(re.sub(r"\{[^}]+\}", "1", route.path))
        if page.status_code != 200 or not page.headers["content-type"].startswith("text/html"):
            continue
        for form in forms_of(page.text):
            action = urljoin(str(page.url.path), form.action) if form.action else page.url.path
            if form.method.lower() != "post" or action in {"/sign-out", "/settings/sign-in/everywhere"}:
                continue
            # All at once, then those one at a time that hold a whole number: what is not typed, but carried along.
            fields = [name for name in form.fields if name != "token"]
            for names in [fields, *([name] for name in fields if str(form.fields[name]).isdigit())]:
                place = (re.sub(r"\d+", "N", action), re.sub(r"\d+", "N", " ".join(names)))
                if place in seen:
                    continue
                seen.add(place)
                status = ask(client, "POST", action, {**form.fields, **dict.fromkeys(names, str(2**63))}).status_code
                if status not in SAFE:
                    found.append(f"{action} {names} {status}")
    assert len(seen) > 100
    assert found == []
