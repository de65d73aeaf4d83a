"""The same as `tests/operations/shop/test_backup_fuzz.py`, with a hundred seeds."""

from __future__ import annotations

import pytest

from tests.operations.shop.test_backup_fuzz import (  # noqa: F401
    good,
    test_a_damaged_archive_never_leaves_the_shop_worse,
    test_a_damaged_photo_is_always_seen_and_always_mended,
    test_a_damaged_shop_is_always_restored_and_what_it_was_is_kept,
    test_no_backup_is_called_good_that_is_not_restored_equal,
)


@pytest.fixture
def rounds() -> range:
    """Seeds that the plain run does not have."""
    return range(100, 200)
