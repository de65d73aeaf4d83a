"""Acting on a form once: what is stored, what is answered, and what is kept when it fails."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import Annotated, Any

import pytest
from fastapi import Depends, Request
from jinja2 import ChoiceLoader, DictLoader
from sqlmodel import Session
from starlette.responses import Response

from models.database import Store
from models.errors import Conflict, Missing, Stale, Unfit
from models.intake.faults import Faults
from models.queries.shop.idempotency import done_with
from models.queries.shop.shop import shop_settings
from models.tables import Shop
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.render import environment, render
from webapp.web.submit_once import Done, submit_once, with_said

PAGE = """{% extends "_frame.html" %}{% block title %}Rename{% endblock %}
{% block main %}{% block list %}{% call forms.form(form, action="/rename", version=view) %}
{{ forms.field(form, "Name", "name") }}{{ forms.actions("Rename the studio") }}{% endcall %}{% endblock %}{% endblock %}"""

Act = Callable[[Session, RawForm], Done | Faults]


def rename(session: Session, raw: RawForm) -> Done | Faults:
    """The act of these tests: a real row is changed."""
    shop = session.get(Shop, 1)
    assert shop is not None
    shop.name = raw.get("name")
    shop.version += 1
    session.add(shop)
    session.flush()
    return Done("/rename", f"The studio is called {shop.name} now.", "/rename/undo", "Call it what it was")


@pytest.fixture
def acts(app: Any) -> Iterator[list[Act]]:
    """A page with one form; the last act of the list is what it does."""
    chosen: list[Act] = [rename]
    env = environment()
    kept = env.loader
    assert kept is not None
    env.loader = ChoiceLoader([kept, DictLoader({"test_rename.html": PAGE})])

    def page(request: Request, form: Form | None = None) -> Response:
        with request.app.state.store.reading() as session:
            shop = shop_settings(session)
        version = session_version(request.app.state.store)
        return render(request, "test_rename.html", version, block="list", form=form or Form.blank({"name": shop.name}))

    @app.get("/rename")
    def show(request: Request) -> Response:
        return page(request)

    @app.post("/rename")
    def act(request: Request, raw: Annotated[RawForm, Depends(read_form)]) -> Response:
        return submit_once(
            request, raw, lambda session: chosen[-1](session, raw), show_again=lambda form: page(request, form)
        )

    yield chosen
    env.loader = kept


def session_version(store: Store) -> int:
    with store.reading() as session:
        shop = session.get(Shop, 1)
        assert shop is not None
        return shop.version


def studio(store: Store) -> str:
    with store.reading() as session:
        shop = session.get(Shop, 1)
        assert shop is not None
        return shop.name


def test_an_act_is_stored_before_the_answer_and_said_on_the_next_page(
    client: Any, store: Store, acts: list[Act]
) -> None:
    answer = client.submit("/rename", {"name": "Hollow Lane"})
    assert answer.status_code == 303
    assert studio(store) == "Hollow Lane"
    page = client.follow(answer).text
    assert "The studio is called Hollow Lane now." in page
    assert 'action="/rename/undo"' in page
    assert "Call it what it was" in page


def test_a_form_sent_twice_acts_once_and_answers_the_same(client: Any, store: Store, acts: list[Act]) -> None:
    fields = {**client.form("/rename").fields, "name": "Once"}
    first, second = client.post("/rename", fields), client.post("/rename", fields)
    assert first.headers["location"] == second.headers["location"]
    assert session_version(store) == 2


def test_what_begins_once_it_is_kept_finds_it_kept_and_begins_once(client: Any, store: Store, acts: list[Act]) -> None:
    seen: list[str] = []

    def then(session: Session, raw: RawForm) -> Done:
        rename(session, raw)
        return Done("/rename", after=lambda _answer: seen.append(studio(store)))

    acts.append(then)
    fields = {**client.form("/rename").fields, "name": "Begun"}
    client.post("/rename", fields)
    client.post("/rename", fields)
    assert seen == ["Begun"]


def test_the_same_token_with_other_words_is_refused_and_can_be_sent_again(
    client: Any, store: Store, acts: list[Act]
) -> None:
    fields = {**client.form("/rename").fields, "name": "First"}
    client.post("/rename", fields)
    refused = client.post("/rename", {**fields, "name": "Second"})
    assert refused.status_code == 409
    assert studio(store) == "First"
    assert 'value="Second"' in refused.text
    token = refused.text.split('name="token" value="')[1].split('"')[0]
    assert token != fields["token"]
    assert client.post("/rename", {**fields, "name": "Second", "token": token}).status_code == 303
    assert studio(store) == "Second"


@pytest.mark.parametrize("token", ["", "short", "x" * 65, "a b c d e f g h i j", "api 0123456789abcdef"])
def test_a_form_without_its_token_changes_nothing_and_keeps_what_was_typed(
    client: Any, store: Store, acts: list[Act], token: str
) -> None:
    answer = client.post("/rename", {"name": "Typed", "token": token})
    assert answer.status_code == 422
    assert 'value="Typed"' in answer.text
    assert studio(store) == "Test bench"


def test_returned_faults_take_back_what_was_already_written(client: Any, store: Store, acts: list[Act]) -> None:
    def half(session: Session, raw: RawForm) -> Faults:
        rename(session, raw)
        return Faults.of("name", "This name is taken; choose another.")

    acts.append(half)
    answer = client.submit("/rename", {"name": "Half"})
    assert answer.status_code == 422
    assert studio(store) == "Test bench"
    assert 'value="Half"' in answer.text
    assert answer.text.count("This name is taken; choose another.") == 2
    assert "<title>Not saved yet · Rename · Ringbench</title>" in answer.text


def test_a_refused_form_may_be_sent_again_under_its_token(client: Any, store: Store, acts: list[Act]) -> None:
    def faulty(session: Session, raw: RawForm) -> Faults:
        return Faults.of("name", "Not yet.")

    fields = {**client.form("/rename").fields, "name": "Second try"}
    acts.append(faulty)
    assert client.post("/rename", fields).status_code == 422
    acts.pop()
    assert client.post("/rename", fields).status_code == 303
    assert studio(store) == "Second try"


def test_what_does_not_fit_is_shown_beside_its_field(client: Any, acts: list[Act]) -> None:
    def unfit(session: Session, raw: RawForm) -> Done:
        raise Unfit(Faults.of("name", "There is no such metal."))

    acts.append(unfit)
    answer = client.submit("/rename", {"name": "x"})
    assert answer.status_code == 422
    assert 'id="f-name-fault"' in answer.text


def test_a_stale_edit_lists_both_values_and_sends_again_on_the_newest_version(
    client: Any, store: Store, acts: list[Act]
) -> None:
    def stale(session: Session, raw: RawForm) -> Done:
        raise Stale("studio", (("Name", "Saved by Ida", raw.get("name")),))

    opened = client.form("/rename").fields
    client.submit("/rename", {"name": "Saved by Ida"})
    acts.append(stale)
    answer = client.post("/rename", {**opened, "name": "Mine"})
    assert answer.status_code == 409
    assert "Saved by Ida</td>" in answer.text
    assert "Mine</td>" in answer.text
    assert 'value="Mine"' in answer.text
    assert 'name="version" value="2"' in answer.text
    assert opened["version"] == "1"


def test_what_cannot_be_done_now_is_said_above_the_form(client: Any, store: Store, acts: list[Act]) -> None:
    def conflict(session: Session, raw: RawForm) -> Done:
        rename(session, raw)
        raise Conflict("Three rings are missing. Buy more, or make fewer.")

    acts.append(conflict)
    answer = client.submit("/rename", {"name": "Mine"})
    assert answer.status_code == 409
    assert "Three rings are missing. Buy more, or make fewer." in answer.text
    assert 'value="Mine"' in answer.text
    assert studio(store) == "Test bench"


def test_a_missing_thing_is_a_page_that_says_so(client: Any, acts: list[Act]) -> None:
    def missing(session: Session, raw: RawForm) -> Done:
        raise Missing("design", 7)

    acts.append(missing)
    answer = client.submit("/rename", {"name": "Mine"})
    assert answer.status_code == 404
    assert "There is no design 7." in answer.text


def test_a_break_in_the_act_stores_nothing_not_even_the_token(client: Any, store: Store, acts: list[Act]) -> None:
    def breaks(session: Session, raw: RawForm) -> Done:
        rename(session, raw)
        raise RuntimeError("broke")

    acts.append(breaks)
    client._http._transport.raise_app_exceptions = False
    fields = {**client.form("/rename").fields, "name": "Broken"}
    assert client.post("/rename", fields).status_code == 500
    assert studio(store) == "Test bench"
    with store.reading() as session:
        assert done_with(session, fields["token"]) is None


def test_htmx_gets_the_block_alone_and_a_browser_the_page(client: Any, acts: list[Act]) -> None:
    part = client.get("/rename", headers={"hx-request": "true"})
    assert part.text.lstrip().startswith("<form")
    assert part.headers["vary"] == "HX-Request"
    whole = client.get("/rename")
    assert whole.text.startswith("<!doctype html>")
    assert whole.headers["vary"] == "HX-Request"
    restored = client.get("/rename", headers={"hx-request": "true", "hx-history-restore-request": "true"})
    assert restored.text.startswith("<!doctype html>")


def test_a_key_that_was_never_used_says_nothing(client: Any, acts: list[Act]) -> None:
    page = client.get("/rename?said=nothing-of-ours").text
    assert 'class="said"' not in page


def test_what_was_said_cannot_carry_markup(client: Any, acts: list[Act]) -> None:
    page = client.follow(client.submit("/rename", {"name": "<b>bold</b>"})).text
    assert "<b>bold" not in page


def test_the_key_is_added_to_a_location_that_has_a_query_or_a_place() -> None:
    assert with_said("/stock", "k") == "/stock?said=k"
    assert with_said("/stock?find=a#item-3", "k") == "/stock?find=a&said=k#item-3"
