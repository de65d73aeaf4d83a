"""One row by its key, or the refusal that there is none."""

from __future__ import annotations

import pytest

from models.database import Store
from models.errors import Missing
from models.queries.fetch import fetch
from models.tables import Design, Shop


def test_a_row_that_is_there_is_answered_and_one_that_is_not_is_missing_by_its_word(store: Store) -> None:
    with store.reading() as session:
        assert fetch(session, Shop, 1, "shop").name == "Test bench"
        with pytest.raises(Missing, match=r"There is no design 77\."):
            fetch(session, Design, 77, "design")
