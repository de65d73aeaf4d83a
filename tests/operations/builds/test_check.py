"""The check of builds: clean on worked-in builds, and damage planted in their rows is found and named."""

from __future__ import annotations

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest

from models.database import Store
from models.operations.builds.check import check_builds
from models.operations.check import check_shop
from tests.builds import a_bench, finished, made, making, said, started
from tests.planted import planted

RULES = {
    "lines": "a build's line says what its movements took",
    "pieces": "good pieces are worth what went into them",
    "reserved": "what is reserved is what started builds will take",
    "days": "a build has a day of finishing while it is finished",
    "rates": "a learned rate is what the builds teach",
}


def built(store: Store) -> None:
    bench = planted(store, a_bench)
    with store.writing() as session:
        made(session, bench, 1)
        finished(session, making(session, bench, 2), lines=(said(bench.new, "tin", spoiled=3),))
        started(session, bench, 1)


def test_builds_that_were_booked_are_sound(store: Store) -> None:
    built(store)
    with store.reading() as session:
        assert check_builds(session) == ()
        assert check_shop(session, store.photos).sound


@pytest.mark.parametrize(
    ("damage", "rule", "row"),
    [
        ("UPDATE build_line SET taken_milli = taken_milli + 1000 WHERE id = 2", "lines", ("build_line", 2)),
        ("UPDATE build_line SET extra_milli = 0 WHERE extra_milli > 0", "lines", ("build_line", 4)),
        ("DELETE FROM build_line WHERE id = 1", "lines", ("build", 1)),
        ("UPDATE build SET good = 3 WHERE id = 2", "pieces", ("build", 2)),
        ("UPDATE build SET labour_micros = labour_micros - 1 WHERE id = 1", "pieces", ("build", 1)),
        ("UPDATE build SET materials_micros = 0, labour_micros = labour_micros + materials_micros WHERE id = 1",
         "pieces", ("build", 1)),
        ("UPDATE reservation SET quantity_milli = 1 WHERE id = 2", "reserved", ("reservation", 2)),
        ("UPDATE reservation SET holder_id = 1 WHERE id = 1", "reserved", ("reservation", 1)),
        ("UPDATE reservation SET holder_id = 99 WHERE id = 1", "reserved", ("reservation", 1)),
        ("UPDATE build SET state = 'abandoned' WHERE id = 3", "reserved", ("reservation", 1)),
        ("UPDATE build_line SET planned_milli = 0 WHERE build_id = 3", "reserved", ("reservation", 1)),
        ("DELETE FROM reservation WHERE id = 2", "reserved", ("build", 3)),
        ("UPDATE build SET finished_on = NULL WHERE id = 2", "days", ("build", 2)),
        ("UPDATE build SET finished_on = started_on WHERE id = 3", "days", ("build", 3)),
        ("UPDATE learned_rate SET seconds = '1' WHERE kind = 'weave'", "rates", ("learned_rate", "weave")),
        ("UPDATE build SET timing = 'odd' WHERE id = 1", "rates", ("learned_rate", "attach")),
    ],
)  # fmt: skip
def test_damage_is_found_and_the_row_is_named(
    store: Store, tmp_path: Path, damage: str, rule: str, row: tuple[str, object]
) -> None:
    built(store)
    copy = tmp_path / "copy"
    store.engine.dispose()
    shutil.copytree(store.folder, copy)
    with closing(sqlite3.connect(copy / "shop.db")) as connection:
        assert connection.execute(damage).rowcount
        connection.commit()
    damaged = Store(copy)
    with damaged.reading() as session:
        found = {breach.rule: (breach.table, breach.row) for breach in check_builds(session)}
        assert found[RULES[rule]] == row
        assert any(RULES[rule] in words for words in check_shop(session, damaged.photos).wrong)
    damaged.close()
