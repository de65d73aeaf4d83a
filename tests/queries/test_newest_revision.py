"""The latest revision of each design, as other queries join it."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.queries.newest_revision import newest_revisions
from models.tables import Revision


@pytest.fixture
def studio(demo_folder: Path) -> Iterator[Session]:
    store = Store(demo_folder)
    with store.trying() as session:
        first = session.exec(select(Revision).where(Revision.design_id == 3)).one()
        session.add(Revision(**{**first.model_dump(exclude={"id"}), "number": first.number + 1}))
        session.flush()
        yield session
    store.close()


def test_the_latest_revision_is_the_one_with_the_highest_number(studio: Session) -> None:
    numbers: dict[int, int] = {}
    for revision in studio.exec(select(Revision)):
        numbers[revision.design_id] = max(numbers.get(revision.design_id, 0), revision.number)
    assert max(numbers.values()) > 1
    assert dict(map(tuple, studio.execute(select(newest_revisions())))) == numbers  # type: ignore[arg-type]


def test_only_the_designs_named_are_asked(studio: Session) -> None:
    found = {row.design_id for row in studio.execute(select(newest_revisions([1, 3])))}
    assert found == {1, 3}
    assert not studio.execute(select(newest_revisions([]))).all()
