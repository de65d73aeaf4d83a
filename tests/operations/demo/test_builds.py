"""The invented studio's builds: some made, one waiting, one under way, all sound and all within reach of their times."""

from __future__ import annotations

from pathlib import Path

from sqlmodel import select

from models.database import Store
from models.operations.builds.check import check_builds
from models.operations.stock.check_ledger import check_ledger
from models.queries.builds.list import build_list
from models.queries.shop.shop import learned_rates
from models.tables import Build


def test_the_studio_has_builds_of_every_kind(demo_folder: Path) -> None:
    store = Store(demo_folder)
    with store.reading() as session:
        found = build_list(session)
        assert {row.state for row in found.under_way} == {"started", "making"}
        assert found.finished_count == 5
        assert all(row.over is not None and abs(row.over) < 1 for row in found.finished)
        assert session.exec(select(Build.id).where(Build.timing != "")).all() == []
        assert learned_rates(session)["weave"].source == "your own 5 builds"
        assert check_ledger(session) == ()
        assert check_builds(session) == ()
    store.close()
