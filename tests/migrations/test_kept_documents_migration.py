"""Documents get a format: an older shop's read as before, and go back to what an older program reads."""

from __future__ import annotations

import json

import pytest
from sqlalchemy import select, text, update
from sqlmodel import Session

from models.database import Store, alembic_config, migrate
from models.intake.planning.make_plan import PLAN_QUESTION, Cap, PlanRequest
from models.operations.check import DOCUMENTS, check_shop
from models.operations.shop.idempotency import act_once
from models.queries.builds.parts import KEPT_PICKS, Picks
from models.queries.planning.answer import failed_limits_text, failed_text
from models.queries.planning.make_plan import KEPT_BOOKED, Booked
from models.tables import Build, MakePlan, metadata
from tests.builds import a_bench, started
from tests.planted import planted
from tests.shops import NOON

pytestmark = pytest.mark.long

ASK = PlanRequest(seconds=3600, caps=(Cap("1", 2, None),))
PICKS = Picks({"colour": "green"}, (2,), ((1, 2),))


def go(store: Store, target: str) -> None:
    with store.engine.connect() as connection:
        migrate(connection, alembic_config(store.url), target)


def texts(session: Session) -> dict[tuple[str, str], str]:
    """The text of every column of documents that has one here, as it stands."""
    found = {}
    for table, column in DOCUMENTS:
        row = session.connection().execute(select(metadata.tables[table].columns[column])).first()
        if row is not None and row[0]:
            found[table, column] = row[0]
    return found


@pytest.fixture
def shop(store: Store) -> Store:
    """A shop with a build, a plan that was booked, and a key that was used."""
    bench = planted(store, a_bench)
    with store.writing() as session:
        session.get_one(Build, started(session, bench, 1)).choices = KEPT_PICKS.text(PICKS)
        session.add(
            MakePlan(
                question=PLAN_QUESTION.text(ASK), result=failed_text("Why."), limits=failed_limits_text("Why."),
                booked=KEPT_BOOKED.text(Booked((("1", 1),), (4,))), created_at=NOON, beat_at=NOON,
            )
        )  # fmt: skip
        act_once(session, "a key", "hash", lambda: {"status": 200, "body": {"é": [1, None]}})
    return store


def test_what_is_kept_means_the_same_after_both_ways(shop: Store) -> None:
    with shop.reading() as session:
        kept = texts(session)
    assert all(json.loads(each)["format"] >= 1 for each in kept.values())
    assert len(kept) == 6
    go(shop, "-0010")
    with shop.engine.connect() as connection:
        bare = json.loads(connection.execute(text("SELECT choices FROM build")).scalar_one())
        assert bare == {"choices": {"colour": "green"}, "with": [2], "instead": [[1, 2]]}
        assert "format" not in connection.execute(text("SELECT question FROM make_plan")).scalar_one()
        assert json.loads(connection.execute(text("SELECT result FROM once")).scalar_one()) == {
            "status": 200,
            "body": {"é": [1, None]},
        }
    go(shop, "head")
    with shop.reading() as session:
        for place, old in texts(session).items():
            assert DOCUMENTS[place].read(old) == DOCUMENTS[place].read(kept[place])
        assert check_shop(session, shop.photos).sound


@pytest.mark.parametrize(
    ("table", "column", "damage"),
    [
        ("build", "choices", "not JSON"),
        ("make_plan", "question", '{"format":9,"kept":{}}'),
        ("make_plan", "result", '{"format":1,"kept":{"kind":"plan","value":"much"}}'),
        ("make_plan", "booked", "[]"),
        ("once", "result", "[1]"),
    ],
)
def test_the_check_names_a_document_that_cannot_be_read(shop: Store, table: str, column: str, damage: str) -> None:
    with shop.writing() as session:
        session.connection().execute(update(metadata.tables[table]).values({column: damage}))
    with shop.reading() as session:
        (wrong,) = check_shop(session, shop.photos).wrong
    assert wrong.startswith(f"What is kept in {column} of the table {table}, row ")
    assert wrong.endswith("). Restore a backup.")
