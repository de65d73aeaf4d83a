"""Looking before booking: the mark of what was seen, and where a page may lead."""

from __future__ import annotations

import pytest

from webapp.web.forms import RawForm
from webapp.web.preview import changed_since_look, is_booking, mark_of, then_or


def test_a_mark_says_what_counts_in_a_form_and_nothing_else() -> None:
    seen = mark_of({"quantity": "5", "lines": [{"cost": "2"}, {}], "place": "B4"})
    assert seen == mark_of(
        {"lines": [{"cost": "2", "batch": "x"}], "quantity": "5", "token": "t", "note": "n", "empty": ""}
    )
    assert seen != mark_of({"quantity": "6", "lines": [{"cost": "2"}]})
    assert seen != mark_of({"quantity": "5", "lines": [{"cost": "3"}]})


def test_only_what_was_seen_is_booked() -> None:
    fields = {"quantity": "5"}
    seen = RawForm((("do", "book"), ("seen", mark_of(fields))))
    assert is_booking(seen, fields)
    assert not changed_since_look(seen, fields)
    assert not is_booking(seen, {"quantity": "6"})
    assert changed_since_look(seen, {"quantity": "6"})
    assert not is_booking(RawForm((("do", "look"), ("seen", mark_of(fields)))), fields)
    unseen = RawForm((("do", "book"),))
    assert not is_booking(unseen, fields)
    assert not changed_since_look(unseen, fields)


@pytest.mark.parametrize(
    ("then", "goes"),
    [("/stock/drawer?place=B4", True), ("/stock", True), ("", False), ("/settings", False), ("//else.example", False),
     ("/stock//else.example", False), ("https://else.example/stock", False), ("/stock\\else", False)],
)  # fmt: skip
def test_a_page_leads_only_to_a_page_of_its_room(then: str, goes: bool) -> None:
    assert then_or(RawForm((("then", then),)), "/stock/usual") == (then if goes else "/stock/usual")
