"""The finder: any part of a name, or a size in any unit system, over everything there is."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any

import pytest


@pytest.fixture
def empty_shop(demo_folder: Path) -> Path:
    """The invented studio instead of an empty shop."""
    return demo_folder


def test_a_name_finds_designs_stock_and_outlets(client: Any) -> None:
    assert "Saltmarsh pendant" in client.get("/find?q=saltm").text
    assert "Saturday market" in client.get("/find?q=saturday").text
    assert "lobster clasp" in client.get("/find?q=lobster").text


@pytest.mark.parametrize("size", ["16 SWG", "1/4 in", "6.35 mm", "6.35"])
def test_a_size_is_found_in_any_unit_system(client: Any, size: str) -> None:
    found = client.get(f"/find?q={size.replace(' ', '+')}")
    assert "bright aluminium" in found.text


def test_weaves_are_found(client: Any) -> None:
    assert "/stock/weaves/byzantine" in client.get("/find?q=byzant").text


def test_suppliers_and_purchases_are_found_by_their_words_and_number(client: Any) -> None:
    page = client.get("/find?q=quillby").text
    assert re.search(r'href="/stock/suppliers/\d+">Quillby Rings', page)
    assert 'href="/buying/purchases/1">Purchase 1 from Quillby Rings' in page
    assert "/buying/purchases/1" in client.get("/find?q=purchase+1").text
    assert "/buying/purchases/1" not in client.get("/find?q=purchase+7").text
    assert "/buying/purchases/" not in client.get("/find?q=saltm").text


def test_nothing_found_says_so_and_no_words_ask_for_some(client: Any) -> None:
    assert "Nothing matches" in client.get("/find?q=zzzz").text
    assert "Type any part" in client.get("/find").text


def test_what_is_typed_is_shown_as_text(client: Any) -> None:
    assert "<b>x" not in client.get("/find?q=%3Cb%3Ex").text
