"""What can be made, on its pages without scripts: the list, what then, the Bench, designs, and stand-ins of a ring."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.intake.stock.stand_in import StandInDraft
from models.operations.figures import refresh_figures
from models.operations.stock.count import count_bag
from models.operations.stock.stand_in import declare_stand_in
from models.tables import StandIn
from tests.builds import Bench, a_bench
from tests.ledgers import DAY, DRAWER, a_lot
from tests.planted import planted
from tests.shops import a_design, a_part, a_ring, an_outlet
from tests.web.conftest import Client
from tests.web.reading import words as text_of


def two_designs(session: Session) -> Bench:
    """A pendant of 20 bronze and 4 silver rings, of which 100 and 40 are there, and earrings of 30 bronze ones."""
    an_outlet(session)
    found = a_bench(session)
    a_design(session, [a_part(found.bronze, 30)], name="Rook earrings", weave="box-chain")
    refresh_figures(session)
    return found


@pytest.fixture
def bench(store: Store) -> Bench:
    """The same, in the shop of this test."""
    return planted(store, two_designs)


def test_an_empty_shop_is_told_what_belongs_here(client: Client) -> None:
    page = client.get("/makeable")
    assert page.status_code == 200
    assert "What could you make?" in page.text


def test_every_design_says_how_many_what_runs_out_and_what_one_more_needs(client: Client, bench: Bench) -> None:
    page = text_of(client.get("/makeable?allowance=without").text)
    assert "2 of 2 designs can be made now" in page
    assert "Bronze ring 1.0 × 3.6 mm One more needs 20 rings." in page
    assert "as if no ring is spoiled" in page.lower()
    assert "With the usual allowance" in text_of(client.get("/makeable").text)


def test_an_about_count_says_how_far_it_may_be_off_and_an_hour_what_of_it_is_profit(
    client: Client, store: Store, bench: Bench
) -> None:
    page = text_of(client.get("/makeable").text)
    assert "tenth" not in page
    row = client.get("/api/makeable").json()["makeable"][0]
    profit = Decimal(row["profit_per_hour"]["amount"]).quantize(Decimal("0.01"), ROUND_HALF_UP)
    assert f"€{profit} of it profit" in page
    with store.writing() as session:
        about = HowMuch(milli=20_000, rough="about")
        count_bag(session, CountDraft(about, bench.silver_lot, place=DRAWER, counted_on=DAY))
    page = text_of(client.get("/makeable?allowance=without").text)
    assert "“About” so many is taken as a tenth less or more." in page
    assert "4 to 5" in page


def test_what_then_shows_what_is_left_for_the_others_by_a_plain_link(client: Client, bench: Bench) -> None:
    link = f"/makeable?allowance=without&making={bench.design}"
    assert link.replace("&", "&amp;") in client.get("/makeable?allowance=without").text
    page = text_of(client.get(link).text)
    assert "If you make 1 × Copper leaf pendant, this is left for the others." in page
    assert "Then" in page
    assert re.search(r"Rook earrings .*? 3 2 ", page)
    alone = client.get(link, headers={"HX-Request": "true"}).text
    assert alone.lstrip().startswith("<section")


def test_rows_lead_to_starting_a_build_and_to_booking_a_piece(client: Client, bench: Bench) -> None:
    page = client.get("/makeable").text
    assert f'href="/builds/new?design_id={bench.design}&amp;pieces=1"' in page
    assert f'href="/builds/made?design_id={bench.design}&amp;pieces=1"' in page
    assert client.get(f"/builds/new?design_id={bench.design}&pieces=1").status_code == 200


def test_a_design_that_cannot_be_made_leads_to_what_it_lacks_and_onto_the_list(
    client: Client, store: Store, bench: Bench
) -> None:
    with store.writing() as session:
        big = a_design(session, [a_part(bench.bronze, 130)], name="Long chain", weave="box-chain")
        refresh_figures(session)
    page = client.get("/makeable").text
    assert 'aria-label="What Long chain lacks"' in page
    where = f"/builds/new?design_id={big}&pieces=1"
    assert where.replace("&", "&amp;") in page
    listed = client.follow(client.submit(where, action="/buying/needs/several"))
    assert "130 rings for 1 × Long chain" in text_of(listed.text)


def test_nonsense_in_the_filter_is_said_and_kept(client: Client, bench: Bench) -> None:
    answer = client.get("/makeable?minutes=soon")
    assert answer.status_code == 422
    assert "not a number" in answer.text
    assert 'value="soon"' in answer.text


def test_finishing_a_build_changes_what_can_be_made(client: Client, bench: Bench) -> None:
    assert "Copper leaf pendant" in text_of(client.get("/makeable?now=yes&allowance=without&find=pendant").text)
    client.submit(f"/builds/made?design_id={bench.design}&pieces=5", {}, action="/builds/made")
    page = text_of(client.get("/makeable?allowance=without").text)
    assert "None of your 2 designs can be made" in page
    assert "One more needs 20 rings" in page


def test_the_bench_a_design_and_the_list_of_designs_give_the_short_answer(client: Client, bench: Bench) -> None:
    assert "2 of 2 designs can be made now" in text_of(client.get("/").text)
    assert "can be made now; Bronze ring 1.0 × 3.6 mm runs out first" in text_of(
        client.get(f"/designs/{bench.design}").text
    )
    assert 'aria-label="Can be made: Rook earrings"' in client.get("/designs").text


def test_a_stand_in_is_declared_on_a_rings_page_taken_back_and_put_back(
    client: Client, store: Store, bench: Bench
) -> None:
    page = f"/stock/items/{bench.bronze}"
    answer = client.submit(page, {"stand_in_id": str(bench.silver)}, action=f"{page}/stand-ins")
    said = client.follow(answer).text
    assert "Silver ring 1.0 × 4.0 mm may stand in for Bronze ring 1.0 × 3.6 mm." in said
    ((row_id, _, _),) = _declared(store)
    dropped = client.follow(client.submit(page, {}, action=f"{page}/stand-ins/{row_id}/drop")).text
    assert "no longer stands in" in dropped
    assert _declared(store) == []
    undo = f"{page}/stand-ins/{bench.silver}/one"
    assert undo in dropped
    token = re.search(rf'action="{undo}".*?name="token" value="([^"]+)"', dropped, re.S)
    assert token
    client.follow(client.post(undo, {"token": token[1]}))
    assert [row[1:] for row in _declared(store)] == [(bench.silver, False)]


def test_a_circle_of_stand_ins_is_refused_beside_the_field_and_nothing_is_stored(
    client: Client, store: Store, bench: Bench
) -> None:
    with store.writing() as session:
        declare_stand_in(session, bench.bronze, StandInDraft(bench.silver))
        third = a_ring(session, name="Third")
        declare_stand_in(session, bench.silver, StandInDraft(third))
    page = f"/stock/items/{third}"
    answer = client.submit(page, {"stand_in_id": str(bench.bronze)}, action=f"{page}/stand-ins")
    assert answer.status_code == 422
    assert "would stand in for one another in a circle" in answer.text
    assert len(_declared(store)) == 2
    assert client.submit(page, {"stand_in_id": ""}, action=f"{page}/stand-ins").status_code == 422


def test_a_proposed_ring_is_used_only_in_the_build_that_says_so(client: Client, store: Store, bench: Bench) -> None:
    with store.writing() as session:
        near = a_ring(session, name="Bronze ring 1.02 × 3.6 mm", wire_nm=1_020_000)
        lot = a_lot(session, near, 60, "2.00")
    page = client.get("/makeable?allowance=without&find=pendant").text
    assert "1 ring could stand in" in page
    assert "The wire is 1.02 mm instead of 1.0 mm." in page
    link = re.search(r'href="(/builds/new\?[^"]+instead[^"]+)"', page)
    assert link
    start = link[1].replace("&amp;", "&")
    asked = client.get(start)
    assert "is used here in the place of Bronze ring 1.0 × 3.6 mm. The design stays as it is." in text_of(asked.text)
    built = client.follow(client.submit(start, {}, action="/builds/new")).text
    assert "Bronze ring 1.02 × 3.6 mm is used here in the place of" in text_of(built)
    assert f"lot {lot}" in built
    assert "Bronze ring 1.0 × 3.6 mm" in text_of(client.get(f"/designs/{bench.design}").text)


def _declared(store: Store) -> list[tuple[int, int, bool]]:
    """Id, stand-in and whether both ways of all that is declared."""
    with store.reading() as session:
        found = session.exec(select(StandIn))
        return [(row.id or 0, row.stand_in_id, row.both_ways) for row in found]
