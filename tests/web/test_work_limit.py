"""Work that takes too long is stopped wherever it is, says so in words, and changes nothing."""

from __future__ import annotations

import gc
import threading
from collections.abc import Callable
from itertools import pairwise
from time import thread_time

import pytest

from models.database import Store
from models.errors import WorkedTooLong
from models.layouts.drawing.drawing import Look
from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.links import net_of
from models.layouts.engine.piece import draw_piece, work_out
from models.layouts.engine.rows import Layout
from models.layouts.engine.shapes import rectangle
from models.layouts.steps.closing import largest_closed
from models.layouts.steps.work import order_of_work
from models.layouts.weaves.sheets import JAPANESE_12
from models.operations.designs.layout import add_laid_out_design
from models.queries.designs.design import draft_of
from models.trade.breaks import asking, go_on
from tests.laid import a_laid_design, stock_two
from tests.layouts.layouts import ITEMS, rect, sheet
from tests.shops import an_outlet
from tests.web.conftest import Client
from tests.web.reading import words
from webapp import work_limit
from webapp.web.picture import png_file

SHEET = {"weave": "european-4-in-1", "rows": [{"start": n % 2, "rings": 6, "item": "i1"} for n in range(4)]}


@pytest.fixture
def laid(store: Store) -> Store:
    """A laid-out lozenge (design 1) of two rings."""
    with store.writing() as session:
        stock_two(session)
        an_outlet(session)
        add_laid_out_design(session, a_laid_design())
    return store


@pytest.fixture
def no_time(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every request is stopped where it asks for the second time."""
    monkeypatch.setattr(work_limit, "MOST_WORK_S", 0.0)


@pytest.mark.usefixtures("no_time")
def test_a_call_that_works_too_long_answers_503_in_words(client: Client, laid: Store) -> None:
    answer = client.request("POST", "/api/layouts/count", json=SHEET)
    assert answer.status_code == 503
    assert answer.headers["content-type"] == "application/problem+json"
    assert answer.json()["detail"].startswith("This was stopped after 0 seconds of work, and nothing was changed.")
    for path in ("/api/designs/1/layout.svg", "/api/designs/1/layout.png", "/api/designs/1/order-of-work"):
        assert client.get(path).status_code == 503, path


@pytest.mark.usefixtures("no_time")
def test_a_page_that_works_too_long_says_so(client: Client, laid: Store) -> None:
    answer = client.get("/designs/1/rows")
    assert answer.status_code == 503
    assert "A smaller piece, or fewer things at once, can be worked out." in words(answer.text)


def test_a_write_that_works_too_long_stores_nothing(
    client: Client, laid: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    with laid.reading() as session:
        before = draft_of(session, 1)
    with monkeypatch.context() as patch:
        patch.setattr(work_limit, "MOST_WORK_S", 0.0)
        answer = client.request("PUT", "/api/designs/1/layout", json={**SHEET, "version": 1})
        assert answer.status_code == 503
    with laid.reading() as session:
        assert draft_of(session, 1) == before


def test_each_request_and_each_thread_has_an_account_of_its_own(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(work_limit, "MOST_WORK_S", 0.05)
    account = work_limit._Account()
    account.ask()
    until = thread_time() + 0.1
    while thread_time() < until:
        pass
    with pytest.raises(WorkedTooLong):
        account.ask()
    other = threading.Thread(target=account.ask)
    other.start()
    other.join()
    work_limit._Account().ask()
    go_on()


def longest_silence_s(layout: Layout, work: Callable[[Layout], object]) -> float:
    gc.collect()
    gc.freeze()  # what hundreds of tests before have left is not looked through on this work's account
    try:
        asked = [thread_time()]
        with asking(lambda: asked.append(thread_time())):
            work(layout)
        return max(b - a for a, b in pairwise([*asked, thread_time()]))
    finally:
        gc.unfreeze()


@pytest.mark.long
@pytest.mark.parametrize(
    "work",
    [
        net_of,
        lambda layout: work_out(layout, ITEMS),
        lambda layout: largest_closed(net_of(layout), ITEMS),
        lambda layout: order_of_work(net_of(layout), layout, ITEMS),
        lambda layout: draw_piece(layout, ITEMS, Look(answer=True)),
        lambda layout: png_file(layout, ITEMS, net_of(layout), 1200),
    ],
    ids=["net", "checks", "largest", "steps", "drawing", "picture"],
)
def test_long_work_asks_often_enough_to_be_stopped(work: Callable[[Layout], object]) -> None:
    hung = Attachment("fringe", "hang", Selection("every ring"), ring="b", finding="f")
    pieces = [rect(200, 250), sheet(rectangle(JAPANESE_12, 80, 85, "a"), JAPANESE_12)]
    pieces.append(Layout(pieces[0].weave, rect(100, 100).rows, (hung,)))
    for layout in pieces:
        assert longest_silence_s(layout, work) < 0.75
