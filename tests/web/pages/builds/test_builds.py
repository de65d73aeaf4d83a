"""The pages of builds without scripts: booked in one touch, started, taken out, finished, given up and taken back."""

from __future__ import annotations

from urllib.parse import urlencode

import pytest
from sqlmodel import select

from models.database import Store
from models.operations.stock.check_ledger import check_ledger
from models.tables import Build, BuildLine, Item
from tests.builds import Bench, a_bench, bags, lines_of, pieces_of
from tests.counting import queries_of
from tests.ledgers import a_lot, on_hand
from tests.planted import planted
from tests.shops import a_design, a_part, a_ring
from tests.web.conftest import Client, find_form
from tests.web.reading import words as text_of


@pytest.fixture
def bench(store: Store) -> Bench:
    """A pendant of 20 bronze and 4 silver rings, with enough for five of them."""
    return planted(store, a_bench)


def start(client: Client, bench: Bench, pieces: int = 2) -> int:
    """Start a build from its page; answers its number."""
    ask = urlencode({"design_id": bench.design, "pieces": pieces})
    answer = client.submit(f"/builds/new?{ask}", action="/builds/new")
    assert answer.status_code == 303, text_of(answer.text)
    return int(answer.headers["location"].split("/")[2].split("?")[0])


def press(client: Client, page: str, action: str) -> str:
    """Press a one-button form of a page; answers the page after it."""
    return client.follow(client.submit(page, action=action)).text


def is_sound(store: Store) -> bool:
    with store.reading() as session:
        assert check_ledger(session) == ()
    return True


# --- the list ---


def test_an_empty_room_teaches(client: Client, store: Store) -> None:
    assert "begins with a design" in text_of(client.get("/builds").text)
    with store.writing() as session:
        a_bench(session)
    page = text_of(client.get("/builds").text)
    assert "Book what was made" in page


def test_the_list_shows_what_is_under_way_and_what_was_made_at_what_cost(client: Client, bench: Bench) -> None:
    client.submit(f"/builds/made?design_id={bench.design}", {"minutes": "60"}, action="/builds/made")
    start(client, bench, 1)
    page = text_of(client.get("/builds").text)
    assert "1 build is under way: 1 × Copper leaf pendant" in page
    assert "rings are kept for it" in page
    assert "1 build, 1 good piece" in page


@pytest.mark.long
def test_the_list_asks_no_more_for_many_builds_than_for_few(client: Client, store: Store, bench: Bench) -> None:
    from models.queries.builds.list import build_list
    from tests.builds import made

    counts = []
    for _ in range(2):
        with store.writing() as session:
            made(session, bench, 1)
        with store.reading() as session, queries_of(store) as seen:
            build_list(session)
        counts.append(len(seen))
    assert counts[0] == counts[1]
    with store.writing() as session:
        a_lot(session, bench.bronze, 2000, "90.00", place="sack")
        a_lot(session, bench.silver, 500, "90.00", place="sack")
        for _ in range(33):
            made(session, bench, 1)
    with store.reading() as session, queries_of(store) as seen:
        found = build_list(session, 2)
    assert len(seen) == counts[0]
    assert (len(found.finished), found.pages, found.pieces_count) == (5, 2, 35)
    assert "Page 2 of 2" in text_of(client.get("/builds?page=2").text)


# --- made ---


def test_a_finished_build_is_booked_in_one_touch_from_the_bench_and_from_its_design(
    client: Client, store: Store, bench: Bench
) -> None:
    for page in ("/", "/builds", f"/designs/{bench.design}"):
        said = client.follow(client.submit(page, action="/builds/made")).text
        assert "Made 1 piece of “Copper leaf pendant”." in text_of(said)
    with store.reading() as session:
        assert pieces_of(session, bench)[0] == 3
        assert on_hand(session, bench.bronze)[0] == 40
    assert is_sound(store)


def test_a_quick_form_asks_for_the_choice_that_the_design_leaves_open(client: Client, store: Store) -> None:
    with store.writing() as session:
        red, blue = a_ring(session, name="Red", colour="red"), a_ring(session, name="Blue", colour="blue")
        for item in (red, blue):
            a_lot(session, item, 50, "5.00", place=f"tin {item}")
        a_design(
            session,
            [
                a_part(red, 10, choice_group="colour", choice_name="red"),
                a_part(blue, 10, choice_group="colour", choice_name="blue"),
            ],
        )
    client.submit("/builds/new?design_id=1&pieces=1", action="/builds/new")
    answer = client.submit("/builds", {"pieces": "2"}, action="/builds/made")
    assert answer.status_code == 303
    assert answer.headers["location"].startswith("/builds/made?")
    page = client.get(answer.headers["location"] + "&choice=colour%3Dblue").text
    form = find_form(page, "/builds/made")
    assert form.fields["choice"] == "colour=blue"
    client.follow(client.post("/builds/made", form.fields))
    with store.reading() as session:
        assert on_hand(session, blue)[0] == 30


def test_made_can_say_what_differed(client: Client, store: Store, bench: Bench) -> None:
    page = f"/builds/made?design_id={bench.design}&pieces=1&spoiled=1"
    form = find_form(client.get(page).text, "/builds/made")
    assert [form.fields[f"lines.{n}.used"] for n in range(3)] == ["30", "10", "8"]
    changed = {
        "lines.1.spoiled": "2", "minutes": "1:05", "made_on": "2026-03-02", "place": "tray", "note": "For the fair.",
    }  # fmt: skip
    said = client.follow(client.post("/builds/made", {**form.fields, **changed})).text
    assert "Made 1 piece of “Copper leaf pendant”, 1 spoiled." in text_of(said)
    assert "For the fair." in said
    with store.reading() as session:
        build = session.exec(select(Build)).one()
        assert (build.minutes_milli, str(build.finished_on)) == (65_000, "2026-03-02")
        assert lines_of(session, build.id or 0)[1][3:5] == (10, 2)
    assert is_sound(store)


def test_too_little_in_stock_is_told_with_every_item_and_nothing_is_booked(
    client: Client, store: Store, bench: Bench
) -> None:
    answer = client.submit("/builds/made?design_id=1&pieces=11", action="/builds/made")
    assert answer.status_code == 409
    quick = client.submit("/", {"pieces": "11"}, action="/builds/made")
    assert quick.status_code == 409
    for page in (quick, client.get("/builds/made?design_id=1&pieces=11")):
        words = text_of(page.text)
        assert "The bags hold enough for 5 , not for 11" in words
        assert "Only 100 rings of “Bronze ring 1.0 × 3.6 mm” are free in stock, and 220 are needed." in words
        assert "Only 40 rings of “Silver ring 1.0 × 4.0 mm”" in words
    with store.reading() as session:
        assert pieces_of(session, bench)[0] == 0


def test_an_odd_time_is_asked_about_and_kept_as_typed(client: Client, store: Store, bench: Bench) -> None:
    page = f"/builds/made?design_id={bench.design}"
    answer = client.submit(page, {"minutes": "14 h"}, action="/builds/made")
    assert answer.status_code == 422
    assert "looks odd" in text_of(answer.text)
    form = find_form(answer.text, "/builds/made")
    assert form.fields["minutes"] == "14 h"
    client.follow(client.post("/builds/made", {**form.fields, "timing": "leave"}))
    with store.reading() as session:
        build = session.exec(select(Build)).one()
        assert build.timing == "odd"
        number = build.id
    said = press(client, f"/builds/{number}", f"/builds/{number}/timing")
    assert "The timing counts from now on." in text_of(said)


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("minutes", "a while", "is not a time"),
        ("made_on", "2999-01-01", "is yet to come"),
        ("made_on", "soon", "is not a day"),
        ("lines.0.used", "2.5", "Give a whole number"),
        ("lines.0.used", "lots", "is not a number"),
        ("lines.0.after", "23", "empty bag weighs is not known"),
        ("lines.0.before", "23", "Weigh the bag again"),
        ("lines.0.bag", "999:x", "no such bag"),
    ],
)
def test_what_cannot_be_read_is_said_beside_its_field(
    client: Client, bench: Bench, field: str, typed: str, words: str
) -> None:
    answer = client.submit(f"/builds/made?design_id={bench.design}", {field: typed}, action="/builds/made")
    assert answer.status_code == 422
    assert words in text_of(answer.text)
    if not field.endswith("bag"):
        assert find_form(answer.text, "/builds/made").fields[field] == typed


def test_the_same_form_sent_twice_books_once(client: Client, store: Store, bench: Bench) -> None:
    form = client.form(f"/builds/made?design_id={bench.design}", "/builds/made")
    first, second = (client.post("/builds/made", form.fields) for _ in range(2))
    assert first.headers["location"] == second.headers["location"]
    with store.reading() as session:
        assert pieces_of(session, bench)[0] == 1


# --- the longer way ---


def test_a_build_goes_the_longer_way(client: Client, store: Store, bench: Bench) -> None:
    build_id = start(client, bench, 2)
    base = f"/builds/{build_id}"
    assert "Take 48 rings out of 3 bags" in text_of(client.get(base).text)
    page = press(client, base, f"{base}/take-out")
    assert "The rings are out of their bags." in text_of(page)
    form = client.form(f"{base}/finish", f"{base}/finish")
    assert form.fields["good"] == "2"
    answer = client.post(f"{base}/finish", {**form.fields, "lines.1.spoiled": "3", "minutes": "75"})
    page = client.follow(answer).text
    assert "Finished 2 pieces of “Copper leaf pendant”." in text_of(page)
    assert "2 good pieces" in text_of(page)
    with store.reading() as session:
        assert on_hand(session, bench.bronze)[0] == 57
        assert pieces_of(session, bench)[0] == 2
    assert is_sound(store)


def test_a_short_build_offers_fewer_pieces(client: Client, bench: Bench) -> None:
    page = client.get(f"/builds/new?design_id={bench.design}&pieces=9").text
    assert "There is enough for 5 , not for 9" in text_of(page)
    assert "Make 5 instead" in page
    answer = client.post("/builds/new", find_form(page, "/builds/new").fields)
    assert answer.status_code == 409
    assert "Only 70 rings" in text_of(answer.text)


def test_one_touch_finishes_when_nothing_differed(client: Client, store: Store, bench: Bench) -> None:
    build_id = start(client, bench, 1)
    base = f"/builds/{build_id}"
    press(client, base, f"{base}/take-out")
    page = press(client, base, f"{base}/finish")
    assert "Finished 1 piece" in text_of(page)
    assert "No time was noted" in text_of(page)
    assert is_sound(store)


def test_undo_is_offered_after_each_act_and_restores(client: Client, store: Store, bench: Bench) -> None:
    with store.reading() as session:
        before = bags(session)
    build_id = start(client, bench, 2)
    base = f"/builds/{build_id}"
    press(client, base, f"{base}/take-out")
    finished = press(client, base, f"{base}/finish")
    undo = find_form(finished, f"{base}/undo?version=3")
    page = client.follow(client.post(undo.action, undo.fields)).text
    assert "2 pieces are under way" in text_of(page)
    press(client, base, f"{base}/undo")
    page = press(client, base, f"{base}/undo")
    assert "This was taken back" in text_of(page)
    with store.reading() as session:
        assert bags(session) == before
    assert is_sound(store)


def test_the_day_by_which_a_build_is_due_is_shown_until_it_is_finished(client: Client, bench: Bench) -> None:
    page = f"/builds/new?design_id={bench.design}&pieces=1"
    answer = client.submit(page, {"due_on": "2027-04-01"}, action="/builds/new")
    build_id = int(answer.headers["location"].split("/")[2].split("?")[0])
    assert "Due Apr 1, 2027" in text_of(client.get(f"/builds/{build_id}").text)
    assert "due Apr 1, 2027" in text_of(client.get("/builds").text)
    assert "due Apr 1, 2027" in text_of(client.get(f"/builds/{build_id}/sheet").text)


def test_a_start_that_is_taken_back_is_gone(client: Client, store: Store, bench: Bench) -> None:
    build_id = start(client, bench, 2)
    page = press(client, f"/builds/{build_id}", f"/builds/{build_id}/undo")
    assert "Took back the start" in text_of(page)
    assert client.get(f"/builds/{build_id}").status_code == 404
    with store.reading() as session:
        assert session.exec(select(BuildLine)).all() == []


def test_a_stale_page_is_refused_with_what_changed(client: Client, store: Store, bench: Bench) -> None:
    build_id = start(client, bench, 1)
    base = f"/builds/{build_id}"
    stale = client.form(base, f"{base}/take-out")
    finish = client.form(f"{base}/finish", f"{base}/finish")
    press(client, base, f"{base}/take-out")
    again = client.post(f"{base}/take-out", {**stale.fields, "token": "another-token-of-a-page"})
    assert again.status_code == 409
    assert "This build is under way" in text_of(again.text)
    late = client.post(f"{base}/finish", finish.fields)
    assert late.status_code == 409
    assert "was changed since you opened it" in text_of(late.text)
    with store.reading() as session:
        assert session.get_one(Build, build_id).state == "making"


def test_giving_up_says_what_is_scrap(client: Client, store: Store, bench: Bench) -> None:
    build_id = start(client, bench, 1)
    base = f"/builds/{build_id}"
    press(client, base, f"{base}/take-out")
    answer = client.submit(f"{base}/abandon", {"lines.0.spoiled": "6", "note": "Fell in the sink."})
    page = text_of(client.follow(answer).text)
    assert "This build was given up." in page
    assert "Fell in the sink." in page
    with store.reading() as session:
        assert on_hand(session, bench.bronze)[0] == 94
    assert "Given up or taken back lately" in client.get("/builds").text
    page = press(client, base, f"{base}/undo")
    assert "1 piece is under way" in text_of(page)
    assert is_sound(store)


def test_a_started_build_is_given_up_with_one_button(client: Client, store: Store, bench: Bench) -> None:
    build_id = start(client, bench, 1)
    page = press(client, f"/builds/{build_id}", f"/builds/{build_id}/abandon")
    assert "This build was given up." in text_of(page)
    with store.reading() as session:
        assert all(reserved == 0 for _, reserved in bags(session).values())


def test_the_stop_watch_works_without_scripts(client: Client, store: Store, bench: Bench) -> None:
    build_id = start(client, bench, 1)
    base = f"/builds/{build_id}"
    press(client, base, f"{base}/take-out")
    page = press(client, base, f"{base}/watch")
    assert "running" in text_of(page)
    with store.reading() as session:
        assert session.get_one(Build, build_id).timer_started_at is not None
    page = press(client, base, f"{base}/watch")
    assert "running" not in text_of(page)


def test_other_amounts_are_taken_out_from_the_fold(client: Client, store: Store, bench: Bench) -> None:
    build_id = start(client, bench, 1)
    base = f"/builds/{build_id}"
    forms = [
        seen for seen in _forms(client, base) if seen.action == f"{base}/take-out" and "lines.0.bag" in seen.fields
    ]
    client.follow(client.post(f"{base}/take-out", {**forms[0].fields, "lines.0.used": "22"}))
    with store.reading() as session:
        assert lines_of(session, build_id)[0][3] == 22


def test_unpicking_puts_rings_back(client: Client, store: Store, bench: Bench) -> None:
    client.submit("/", action="/builds/made")
    with store.reading() as session:
        build_id = session.exec(select(Build.id)).one()
    answer = client.submit(
        f"/builds/{build_id}/unpick",
        {"lines.0.returned": "", "lines.0.spoiled": "2"},
        action=f"/builds/{build_id}/unpick",
    )
    assert "Unpicked 1 piece" in text_of(client.follow(answer).text)
    with store.reading() as session:
        assert on_hand(session, bench.bronze)[0] == 98
        assert pieces_of(session, bench)[0] == 0
    assert is_sound(store)


def test_rings_are_taken_first_and_become_a_design(client: Client, store: Store, bench: Bench) -> None:
    answer = client.submit("/builds/take", {"lines.0.bag": f"{bench.new}:tin", "lines.0.used": "30"})
    page = client.follow(answer)
    base = page.url.path
    assert "30 rings are out of their bags, for no design yet" in text_of(page.text)
    assert client.get(f"{base}/sheet").status_code == 409
    nameless = client.submit(f"{base}/design", {})
    assert nameless.status_code == 422
    answer = client.submit(f"{base}/design", {"name": "Sketch in bronze", "lines.0.used": "28"})
    assert "Sketch in bronze is a design now" in text_of(client.follow(answer).text)
    press(client, base, f"{base}/finish")
    with store.reading() as session:
        assert on_hand(session, bench.bronze)[0] == 72
    assert is_sound(store)


def test_taking_rings_first_needs_rings(client: Client, bench: Bench) -> None:
    answer = client.submit("/builds/take", {})
    assert answer.status_code == 422
    assert "Say what you take" in text_of(answer.text)


def test_the_work_sheet_and_the_labels_say_what_to_take_open_and_close(
    client: Client, store: Store, bench: Bench
) -> None:
    with store.writing() as session:
        session.get_one(Item, bench.bronze).arrives = "closed"
        a_design(
            session,
            [a_part(bench.bronze, 20), a_part(bench.silver, 4, joined=False, purpose="in the middle")],
            name="Half closed",
        )
    answer = client.submit("/builds/new?design_id=2&pieces=2", action="/builds/new")
    build_id = answer.headers["location"].split("/")[2].split("?")[0]
    page = text_of(client.get(f"/builds/{build_id}/sheet").text)
    assert "Open 40 rings. Close 8 rings." in page
    assert "In one piece" in page
    assert "drawer B4" in page
    for what in ("kit", "bags"):
        for paper in ("roll-62x29", "a4-24"):
            label = client.get(f"/builds/{build_id}/label?what={what}&paper={paper}&start=2")
            assert label.status_code == 200
            assert f"build {build_id}" in text_of(label.text)


@pytest.mark.parametrize(
    "path",
    ["", "/finish", "/abandon", "/unpick", "/design", "/sheet", "/label"],
)
def test_a_build_that_is_not_there_is_not_found(client: Client, path: str) -> None:
    assert client.get(f"/builds/999{path}").status_code == 404
    assert client.get(f"/builds/{10**30}{path}").status_code == 404


def _forms(client: Client, page: str) -> list:  # type: ignore[type-arg]
    from tests.web.conftest import forms_of

    return forms_of(client.get(page).text)


def test_a_finished_piece_says_its_design_and_is_not_bought_again(client: Client, store: Store, bench: Bench) -> None:
    client.submit(f"/builds/made?design_id={bench.design}", {"minutes": "60"}, action="/builds/made")
    with store.reading() as session:
        piece = session.exec(select(Item.id).where(Item.kind == "piece")).one()
    page = client.get(f"/stock/items/{piece}").text
    assert f'Made from the design <a href="/designs/{bench.design}">Copper leaf pendant</a>' in page
    assert "When to buy again" not in page
    assert "Designs that use it" not in page
    assert "finished piece" in text_of(client.get("/stock?kind=piece").text)
    assert "When to buy again" in client.get(f"/stock/items/{bench.bronze}").text
    assert '<a class="small" href="/builds/1">build 1</a>' in client.get("/stock/history").text


def test_the_work_sheet_of_one_piece_says_its_parts_once(client: Client, store: Store, bench: Bench) -> None:
    with store.writing() as session:
        for ring in (bench.bronze, bench.silver):
            session.get_one(Item, ring).arrives = "open"
    sheets = [text_of(client.get(f"/builds/{start(client, bench, pieces)}/sheet").text) for pieces in (1, 2)]
    assert all("Nothing has to be opened or closed beforehand." in sheet for sheet in sheets)
    assert ["In one piece" in sheet for sheet in sheets] == [False, True]
