"""The invented studio's laid-out pieces: their rows read, nothing in them is wrong, and their parts are what is made."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from models.database import Store
from models.layouts.steps.work import OrderOfWork
from models.operations.check import check_shop
from models.queries.designs.design import design_named, draft_of
from models.queries.designs.layout import layout_facts, work_out_draft
from models.queries.designs.layout_size import finished_size
from models.queries.designs.layout_view import way_through


@pytest.fixture(scope="module")
def demo(demo_folder: Path) -> Iterator[Store]:
    store = Store(demo_folder)
    yield store
    store.close()


@pytest.mark.parametrize(
    ("name", "counts"),
    [
        # The lozenge: 1 + 2 + … + 6 + … + 1 = 36 rings, of them 20 on the outline.
        ("Saltmarsh pendant", [20, 16, 1, 0.45]),
        # Byzantine: 27 units of 6 rings and the pair that ends it.
        ("Tideline bracelet", [164, 2, 1]),
        # The fan: rows of 5 (its two corner rings left out), 6, 6, 5, 5, 4 and 4 rings, the third and the sixth violet.
        ("Cockle earring", [25, 10, 1, 1]),
    ],
)
def test_a_laid_out_piece_of_the_demo_counts_as_by_hand(demo: Store, name: str, counts: list[float]) -> None:
    with demo.reading() as session:
        draft = draft_of(session, design_named(session, name) or 0)
        assert draft.layout is not None
        assert [part.quantity_milli / 1000 for part in draft.parts if part.layout_key] == counts
        facts = layout_facts(session, draft.layout)
        done = work_out_draft(draft.layout, facts)
        assert [check.words for check in done.checks if check.level == "warning"] == []
        assert isinstance(way_through(draft.layout, facts, done), OrderOfWork)
        assert finished_size(session, draft).computed
        assert check_shop(session, demo.photos).sound
