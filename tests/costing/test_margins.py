"""Margin and mark-up say the same thing in two ways."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.costing.margins import margin_of_markup, markup_of_margin
from tests.budget import budget


@settings(max_examples=budget(60))
@given(st.decimals(0, 50, places=4))
def test_a_mark_up_turned_into_a_margin_comes_back(markup: Decimal) -> None:
    assert abs(markup_of_margin(margin_of_markup(markup)) - markup) < Decimal("1e-40")


def test_no_mark_up_leaves_the_whole_price() -> None:
    with pytest.raises(ValueError, match="whole price"):
        markup_of_margin(Decimal(1))
