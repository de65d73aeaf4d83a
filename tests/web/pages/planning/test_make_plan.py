"""Planning the best mix on its pages without scripts: asking, watching, stopping, booking once, undoing, breaking off."""

from __future__ import annotations

import re
import time
from dataclasses import replace

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.intake.builds.build import BuildRequest, StartDraft
from models.intake.planning.make_plan import PlanRequest
from models.operations.builds.start import start_build
from models.operations.figures import refresh_figures
from models.operations.planning.make_plan import ask_plan
from models.planning.mix import MixPlan, plan_mix
from models.planning.mix_request import MixRequest
from models.planning.solver import NO_ANSWER, Progress, Search, SolverFailed
from models.tables import Build, MakePlan
from tests.builds import Bench, a_bench
from tests.ledgers import DAY
from tests.planted import planted
from tests.shops import NOON, a_design, a_part, an_outlet
from tests.web.conftest import Client, SeenForm
from tests.web.reading import words as text_of
from webapp import planner
from webapp.app import create_app
from webapp.settings import Settings

PLAN = "/makeable/plan"


def two_designs(session: Session) -> Bench:
    """A pendant and earrings of the same bronze rings, and one outlet."""
    an_outlet(session)
    found = a_bench(session)
    a_design(session, [a_part(found.bronze, 30)], name="Rook earrings")
    refresh_figures(session)
    return found


@pytest.fixture
def bench(store: Store) -> Bench:
    """The same, in the shop of this test."""
    return planted(store, two_designs)


def asked(client: Client, **wishes: str) -> str:
    """Ask by the form; answers the address of the plan."""
    answer = client.submit(PLAN, {"allowance": "without", **wishes}, action=PLAN)
    assert answer.status_code == 303, answer.text
    return str(answer.headers["location"])


def found(client: Client, page: str) -> str:
    """The page of a plan once its search is done, reloaded as a person without scripts would."""
    for _ in range(100):
        text = client.get(page).text
        if "Look again" not in text:
            return text
        time.sleep(0.05)
    raise AssertionError(text_of(text))


def test_ten_hours_are_planned_and_turned_into_builds_which_acts_once(
    client: Client, store: Store, bench: Bench
) -> None:
    page = asked(client, hours="10", goal="pieces")
    text = text_of(found(client, page))
    assert re.search(r"Make 5 pieces of 1 design: .* profit", text)
    assert "Proven: no other mix brings more." in text
    assert "10 h 00 min of work; most pieces" in text
    assert "lot 1, drawer B4: 30" in text
    assert "for Web shop" in text
    first = client.form(page, f"{page}/book")
    second = client.form(page, f"{page}/book")
    booked = client.follow(client.post(f"{page}/book", first.fields)).text
    assert "Started 1 build." in booked
    again = client.follow(client.post(f"{page}/book", second.fields)).text
    assert "This plan was turned into builds already." in again
    client.post(f"{page}/book", first.fields)
    assert pieces_built(store) == [5]
    undone = client.follow(client.submit(page, {}, action=f"{page}/undo")).text
    assert "are taken back" in undone
    assert pieces_built(store) == []


def test_what_limits_a_plan_is_its_own_request(client: Client, bench: Bench) -> None:
    page = asked(client, goal="pieces")
    assert "Used up: Bronze ring 1.0 × 3.6 mm." in text_of(found(client, page))
    client.submit(page, {}, action=f"{page}/limits")
    assert "20 rings more of Bronze ring 1.0 × 3.6 mm 1 more" in text_of(found(client, page))


def test_wishes_that_do_not_fit_say_which_and_by_how_much(client: Client, store: Store, bench: Bench) -> None:
    page = asked(client, **{"caps.0.key": str(bench.design), "caps.0.at_least": "9"})
    text = text_of(found(client, page))
    assert "Your wishes do not fit together." in text
    assert "You want 9 of Copper leaf pendant, but 5 can be made." in text
    assert "Copper leaf pendant 9 5 4" in text
    form = client.get(f"{PLAN}?like={page.rsplit('/', 1)[1]}").text
    assert 'name="caps.0.at_least" type="text" value="9"' in form


@pytest.mark.parametrize(
    ("wishes", "words"),
    [
        ({"hours": "0"}, "No hours make nothing"),
        ({"caps.0.key": "1", "caps.0.at_most": "-2"}, "Give 0 or more"),
        ({"caps.0.key": "1", "caps.0.at_least": "3", "caps.0.at_most": "1"}, "contradict each other"),
        ({"different": "7"}, "only 2 may be made"),
        ({"keep_back.0.quantity": "5"}, "Choose what is kept back"),
    ],
)
def test_bad_questions_are_refused_beside_their_fields_with_what_was_typed(
    client: Client, store: Store, bench: Bench, wishes: dict[str, str], words: str
) -> None:
    answer = client.submit(PLAN, wishes, action=PLAN)
    assert answer.status_code == 422
    assert words in answer.text
    assert all(f'value="{value}"' in answer.text for value in wishes.values())
    with store.reading() as session:
        assert session.exec(select(MakePlan)).all() == []


def test_a_plan_that_no_longer_fits_is_refused_and_can_be_asked_again(
    client: Client, store: Store, bench: Bench
) -> None:
    page = asked(client, goal="pieces")
    found(client, page)
    with store.writing() as session:
        start_build(session, StartDraft(BuildRequest(bench.design, 3), started_on=DAY))
    opened = SeenForm(f"{page}/book", "post", client.form(page, f"{page}/again").fields)
    refused = client.post(opened.action, opened.fields)
    assert refused.status_code == 409
    assert "no longer enough of Bronze ring" in refused.text
    anew = str(client.submit(page, {}, action=f"{page}/again").headers["location"])
    assert "Make 2 pieces" in text_of(found(client, anew))


def test_a_search_of_a_process_that_died_is_shown_as_broken_off(client: Client, store: Store, bench: Bench) -> None:
    with store.writing() as session:
        plan_id = ask_plan(session, PlanRequest(seconds=3600))
        row = session.get_one(MakePlan, plan_id)
        row.state, row.runner, row.beat_at = "searching", "gone", NOON
    page = f"{PLAN}/{plan_id}"
    assert "This search broke off before it had an answer." in client.get(page).text
    assert "broken off" in client.get(PLAN).text
    anew = str(client.submit(page, {}, action=f"{page}/again").headers["location"])
    assert "Nothing you could make" in text_of(found(client, anew)) or "Make " in found(client, anew)


@pytest.fixture
def slow(monkeypatch: pytest.MonkeyPatch) -> list[MixRequest]:
    """A search that goes on until it is stopped, telling how far it is, and then gives the best there is."""
    searched: list[MixRequest] = []

    def search(question: MixRequest, how: Search) -> object:
        searched.append(question)
        assert how.progress is not None
        assert how.cancelled is not None
        how.progress(Progress(2.0, 40_000_000, 50_000_000))
        until = time.monotonic() + 20
        while not how.cancelled() and time.monotonic() < until:
            time.sleep(0.02)
        best = plan_mix(question)
        assert isinstance(best, MixPlan)
        return replace(best, bound=best.value * 2, stopped="cancelled")

    monkeypatch.setattr(planner, "plan_mix", search)
    monkeypatch.setattr(planner, "BEAT_S", 0.05)
    return searched


def test_a_running_search_is_seen_by_a_reload_left_and_stopped_honestly(
    client: Client, store: Store, bench: Bench, slow: list[MixRequest]
) -> None:
    page = asked(client, goal="profit")
    for _ in range(100):
        text = client.get(page).text
        if "Found so far" in text:
            break
        time.sleep(0.05)
    shown = text_of(text)
    assert "Looking for the best mix." in shown
    assert re.search(r"Found so far: .40\.00; at most 25 % more could be found", shown)
    assert f'hx-get="{page}/progress"' in text
    part = client.get(f"{page}/progress", headers={"HX-Request": "true"})
    assert "Found so far" in part.text
    assert "<main" not in part.text
    assert client.get(f"{page}/progress").headers["location"] == page
    waiting = asked(client, goal="profit")
    assert "Another search comes first" in client.get(waiting).text
    assert client.get("/").status_code == 200
    client.submit(page, {}, action=f"{page}/stop")
    stopped = text_of(found(client, page))
    assert "Stopped early. Another mix could bring up to 100 % more." in stopped
    assert client.get(f"{page}/progress", headers={"HX-Request": "true"}).headers["hx-refresh"] == "true"
    # Another process can only ask for it in the shop itself.
    with store.writing() as session:
        session.get_one(MakePlan, int(waiting.rsplit("/", 1)[1])).stop_asked = True
    assert "Stopped early." in text_of(found(client, waiting))
    assert len(slow) == 2


def test_a_search_that_fails_says_so_and_the_next_one_is_searched(
    client: Client, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_question: MixRequest, _how: Search) -> None:
        raise RuntimeError("the solver broke")

    monkeypatch.setattr(planner, "plan_mix", broken)
    page = asked(client, goal="pieces")
    assert "This search ended without an answer." in found(client, page)
    monkeypatch.undo()
    assert "Make 5 pieces" in text_of(found(client, asked(client, goal="pieces")))


def test_whatever_ends_a_search_is_said_in_words(
    client: Client, store: Store, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    def failed(*_: object, **__: object) -> None:
        raise SolverFailed("Solve error")

    def told(page: str) -> tuple[str, str]:
        plan = client.get(f"/api/make-plan/{page.rsplit('/', 1)[1]}").json()
        return plan["state"], plan["message"]

    good = asked(client, goal="pieces")
    found(client, good)
    monkeypatch.setattr(planner, "plan_mix", failed)
    monkeypatch.setattr(planner, "what_limits", failed)
    page = asked(client, goal="pieces")
    assert f"{NO_ANSWER} Nothing was booked." in text_of(found(client, page))
    assert told(page) == ("failed", NO_ANSWER)
    client.submit(good, {}, action=f"{good}/limits")
    for _ in range(100):
        plan = client.get(f"/api/make-plan/{good.rsplit('/', 1)[1]}").json()
        if plan["limits_state"] == "failed":
            break
        time.sleep(0.05)
    assert (plan["limits_message"], plan["limits"]) == (NO_ANSWER, None)
    assert NO_ANSWER in text_of(client.get(good).text)
    monkeypatch.undo()
    # It may be asked again after a failure.
    client.submit(good, {}, action=f"{good}/limits")
    assert "Each was searched again with so much more of it" in text_of(found(client, good))
    with store.writing() as session:
        row = session.get_one(MakePlan, int(page.rsplit("/", 1)[1]))
        row.state, row.result, row.beat_at = "searching", "", NOON
    assert told(page) == ("broken off", "The search broke off: Ringbench was closed while it ran.")
    with store.writing() as session:
        # As an older version left it: without a word.
        session.get_one(MakePlan, int(page.rsplit("/", 1)[1])).state = "failed"
    assert told(page) == ("failed", "The search ended without an answer.")


def test_another_process_sees_a_search_and_can_stop_it(
    client: Client, store: Store, bench: Bench, slow: list[MixRequest]
) -> None:
    page = asked(client, goal="pieces")
    while not slow:
        time.sleep(0.02)
    with Client(create_app(Store(store.folder), Settings(store.folder))) as other:
        assert "Looking for the best mix." in other.get(page).text
        assert "searching" in other.get(PLAN).text
        other.submit(page, {}, action=f"{page}/stop")
        assert "Stopped early." in text_of(found(other, page))
        booked = other.follow(other.submit(page, {}, action=f"{page}/book")).text
        assert "Started 1 build." in booked
    assert "Take the builds back" in client.get(page).text


@pytest.mark.long
def test_closing_the_app_ends_its_searches(store: Store, bench: Bench, slow: list[MixRequest]) -> None:
    with Client(create_app(store, Settings(store.folder))) as client:
        page = asked(client, goal="pieces")
        while not slow:
            time.sleep(0.02)
        began = time.monotonic()
    assert time.monotonic() - began < 5
    with store.reading() as session:
        row = session.get_one(MakePlan, int(page.rsplit("/", 1)[1]))
        assert (row.state, bool(row.result)) == ("done", True)


def pieces_built(store: Store) -> list[int]:
    """The pieces of every build."""
    with store.reading() as session:
        return list(session.exec(select(Build.pieces)))
