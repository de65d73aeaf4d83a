"""The instruction sheet without scripts: what to lay ready and prepare, the steps with their pictures, the cautions."""

from __future__ import annotations

import re
from decimal import Decimal
from html import unescape

import pytest

from models.database import Store
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft, WorkDraft
from models.intake.designs.kit import KitRequest
from models.operations.designs.design import add_design
from models.operations.designs.layout import keep_layout
from models.queries.designs.instruction_sheet import instruction_sheet
from tests.laid import a_laid_design, chain_raw, lozenge_raw, read, stock_two
from tests.shops import a_ring
from tests.web.conftest import Client


@pytest.fixture
def lozenge(store: Store) -> int:
    """Nine rings in rows of 1, 2, 3, 2, 1 with a bail ring and an ear wire; the way begins with row 3."""
    with store.writing() as session:
        stock_two(session)
        return add_design(session, a_laid_design())


def plain(page: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", re.sub(r"</?strong>", "", page))))


def test_the_numbers_of_the_sheet_come_from_the_rows(store: Store, lozenge: int) -> None:
    with store.reading() as session:
        sheet = instruction_sheet(session, lozenge, KitRequest(Decimal(10)))
    # One bronze ring in the middle and the bail ring; eight blue ones round it. A tenth to spare, rounded up.
    assert [(bag.needed, bag.spare) for bag in sheet.bags] == [(2, 1), (8, 1), (1, 0), (1, 0)]
    assert [(one.close, one.open) for one in sheet.prepared] == [(1, 1), (2, 6)]
    assert sheet.rings == 10


def test_each_stage_adds_rings_until_the_piece_is_whole(store: Store, lozenge: int) -> None:
    with store.reading() as session:
        laid = instruction_sheet(session, lozenge, KitRequest()).laid
    assert laid is not None
    before: set[int] = set()
    for stage in laid.stages:
        assert set(stage.present) == before | set(stage.fresh)
        assert not before & set(stage.fresh)
        before = set(stage.present)
    assert before == set(range(len(laid.net)))


def test_a_laid_out_piece_is_drawn_after_every_step(client: Client, lozenge: int) -> None:
    page = client.get(f"/designs/{lozenge}/sheet").text
    stages = page.count('<li class="stage">')
    assert stages == 6
    assert page.count('class="stage-picture"') == stages
    assert page.count('<svg class="piece"') == stages + 1
    ids = re.findall(r'\bid="([^"]+)"', page)
    assert len(ids) == len(set(ids))
    words = plain(page)
    assert "Lay out the closed rings of row 3: 2 of blue niobium and 1 of commercial bronze C220." in words
    assert "hook in Ear wire" in words


def test_a_finding_appears_in_the_pictures_only_once_it_hangs(client: Client, lozenge: int) -> None:
    page = client.get(f"/designs/{lozenge}/sheet").text
    pictures = re.findall(r'<div class="stage-picture">(.*?)</div>', page, re.DOTALL)
    assert ['class="tag"' in one for one in pictures] == [False] * 5 + [True]


def test_cautions_defer_to_local_law(client: Client, lozenge: int) -> None:
    words = plain(client.get(f"/designs/{lozenge}/sheet").text)
    assert "Wear eye protection when you cut rings" in words
    assert "Local law decides, not this sheet" in words
    assert "ask a licensed person" in words
    assert "complies" not in words


def test_spares_are_chosen_and_an_earlier_revision_stays_readable(client: Client, store: Store, lozenge: int) -> None:
    with store.writing() as session:
        keep_layout(session, lozenge, 1, read({**lozenge_raw(), "attachments": []}))
    assert "9 rings" in plain(client.get(f"/designs/{lozenge}/sheet").text)
    assert "10 rings" in plain(client.get(f"/designs/{lozenge}/sheet?revision=1&spare_percent=50").text)
    assert client.get(f"/designs/{lozenge}/sheet?spare_percent=200").status_code == 422
    assert client.get(f"/designs/{lozenge}/sheet?revision=9").status_code == 404


def test_a_long_chain_is_told_once_and_drawn_from_its_beginning(client: Client, store: Store, lozenge: int) -> None:
    with store.writing() as session:
        keep_layout(session, lozenge, 1, read({**chain_raw(units=60), "weave": "chain-2-in-2"}))
    page = client.get(f"/designs/{lozenge}/sheet").text
    assert "How a unit is made" in page
    assert "again and again" in page
    assert len(page) < 600_000


def test_a_large_sheet_stays_light(client: Client, store: Store, lozenge: int) -> None:
    rows = [{"start": row % 2, "rings": 40, "item": "i1"} for row in range(40)]
    with store.writing() as session:
        keep_layout(session, lozenge, 1, read({"weave": "european-4-in-1", "rows": rows}))
    page = client.get(f"/designs/{lozenge}/sheet").text
    assert page.count('<li class="stage">') <= 8
    assert len(page) < 3_000_000


def test_a_plain_list_has_its_work_as_steps(client: Client, store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        design = add_design(
            session,
            DesignDraft(
                "Plain",
                note="Tumble it for an hour.",
                parts=(PartDraft(21_000, ring), PartDraft(20_000, ring, joined=False)),
                work=(WorkDraft("setup"), WorkDraft("tumble"), WorkDraft("pack")),
            ),
        )
    page = client.get(f"/designs/{design}/sheet").text
    words = plain(page)
    assert "Open 21 rings" in words
    assert "Close 41 rings in all" in words
    assert "Weave in 21 rings" in words
    assert "Tumble the piece." in words
    assert "Tumble it for an hour." in words
    assert '<svg class="piece"' not in page
    bare = client.get("/designs/99/sheet")
    assert bare.status_code == 404
