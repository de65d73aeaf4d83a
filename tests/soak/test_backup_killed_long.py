"""The same as `tests/operations/shop/test_backup_killed.py`, at every single step on files."""

from __future__ import annotations

import pytest

from tests.operations.shop.test_backup_killed import (  # noqa: F401
    folder,
    pytestmark,
    test_a_backup_that_is_killed_leaves_the_old_file_or_a_whole_new_one,
    test_a_copy_that_is_killed_has_no_name_and_is_cleared_away_at_the_next_start,
    test_a_restore_that_is_killed_is_done_again_and_loses_nothing,
)


@pytest.fixture
def every() -> int:
    """Every step."""
    return 1
