"""A build's page, its design's page and the calls say how much of what it really cost is guessed."""

from __future__ import annotations

from decimal import Decimal

import pytest

from models.database import Store
from models.tables import Build
from tests.builds import made
from tests.operations.builds.test_guessed import a_clasped, clasp
from tests.web.conftest import Client
from tests.web.reading import words as text_of


def test_pages_and_calls_say_what_of_the_cost_is_guessed(client: Client, store: Store) -> None:
    with store.writing() as session:
        bench = a_clasped(session, clasp(750_000))
        build_id = made(session, bench, 2, minutes=None)
    ahead = text_of(client.get(f"/builds/made?design_id={bench.design}").text)
    assert "€0.75 a piece is guessed for it and goes into the cost" in ahead
    page = text_of(client.get(f"/builds/{build_id}").text)
    assert "€0.75 of it is guessed" in page
    assert "as expected" in text_of(client.get("/builds").text)
    assert "€0.75 guessed" in text_of(client.get(f"/designs/{bench.design}").text)
    said = client.get(f"/api/builds/{build_id}").json()
    assert (said["materials"]["amount"], said["guessed"]["amount"]) == ("0.80", "1.50")
    parts = [said[name]["amount"] for name in ("materials", "guessed", "labour", "overhead")]
    assert sum(map(Decimal, parts)) == Decimal(said["total"]["amount"])
    clasp_line = next(line for line in said["cost_lines"][0]["lines"] if line["label"] == "Clasp")
    assert "Guessed" in clasp_line["reason"]


@pytest.mark.parametrize("guess", [750_000, 0])
def test_pieces_that_were_booked_without_their_guessed_part_say_so(client: Client, store: Store, guess: int) -> None:
    with store.writing() as session:
        bench = a_clasped(session, clasp(guess))
        build_id = made(session, bench, 2)
        # As a build that was finished before the cost held such parts.
        session.get_one(Build, build_id).guessed_micros = None
    page = text_of(client.get(f"/builds/{build_id}").text)
    assert ("not included: €1.50" in page) is bool(guess)
    assert client.get(f"/api/builds/{build_id}").json()["guessed"] is None
