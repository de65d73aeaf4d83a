"""Which passwords are taken."""

from __future__ import annotations

import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.intake.faults import Faults
from models.intake.shop.sign_in import (
    COMMON,
    COMMON_WORDS,
    LONG,
    SHORT,
    STUDIO,
    UNEQUAL,
    UNSEEN,
    is_common,
    read_key_name,
    read_new_password,
    read_password,
    read_password_if_any,
    why_not,
)

GOOD = "seven kettles by the door"


def fault(raw: dict[str, object], studio: str = "Tin Wren") -> tuple[str, str]:
    found = read_new_password(raw, studio=studio)
    assert isinstance(found, Faults)
    (only,) = found
    return only.field, only.message


@pytest.mark.parametrize(
    "password",
    [
        GOOD,
        "drei Ösen im Glas",
        "k7#pQ9zz!w",
        "たぬきと月とうさぎと鍋",
        "correcthorsebattery",
        "7391846205",
        " k w b z e p m ",
    ],
)
def test_a_long_one_is_taken_whatever_it_is_made_of(password: str) -> None:
    assert read_new_password({"password": password, "password_again": password}, studio="Tin Wren") == password


@pytest.mark.parametrize(
    ("password", "says"),
    [
        ("", SHORT),
        ("kettle by", SHORT),
        ("k" * 201, LONG),
        ("Tin Wren Tin Wren", STUDIO),
        ("tin-wren-2024", STUDIO),
        ("seven kettles\x00by", UNSEEN),
        ("seven\u200bkettles by", UNSEEN),
    ],
)
def test_what_cannot_be_the_password_says_why(password: str, says: str) -> None:
    assert fault({"password": password, "password_again": password}) == ("password", says)


@pytest.mark.parametrize(
    "password",
    [
        "password123", "P4ssw0rd!!", "1234567890", "0987654321", "qwertyuiop", "asdfghjklz", "abcdefghij", "zyxwvutsrq",
        "aaaaaaaaaaaa", "abababababab", "abc123abc123", "welcome2024!", "!!!letmein!!!", "Ring Ring Ring",
        "ringbench2025", "Jump Rings 2024", "copper chain", "1q2w3e4r5t6y",
    ],
)  # fmt: skip
def test_what_anybody_tries_first_is_refused(password: str) -> None:
    assert why_not(password, studio="Tin Wren") == COMMON


@given(st.sampled_from(sorted(COMMON_WORDS)), st.integers(0, 99_999), st.sampled_from(["", "!", "!!", ".", "#"]))
def test_no_common_word_becomes_good_by_figures_behind_it(word: str, number: int, end: str) -> None:
    for shown in (word, word.upper(), word.title()):
        assert why_not(f"{shown}{number:05d}{end}", studio="Tin Wren") != ""


@given(st.text(st.sampled_from(string.ascii_lowercase), min_size=1, max_size=8))
def test_a_short_piece_becomes_no_good_password_by_being_repeated(piece: str) -> None:
    assert is_common(piece * 3)


def test_both_fields_must_say_the_same() -> None:
    assert fault({"password": GOOD, "password_again": GOOD + "s"}) == ("password_again", UNEQUAL)
    assert fault({"password": GOOD}) == ("password_again", UNEQUAL)


def test_the_same_letters_are_the_same_password_on_every_keyboard() -> None:
    composed, apart = "drei \u00d6sen im Glas", "drei O\u0308sen im Glas"
    assert read_password({"password": composed}) == read_password({"password": apart})
    assert read_new_password({"password": composed, "password_again": apart}, studio="x") == composed


def test_blanks_around_it_belong_to_it() -> None:
    assert read_password({"password": "  seven kettles "}) == "  seven kettles "


@pytest.mark.parametrize("wrong", [None, 7, True, ["seven kettles"], {"a": 1}])
def test_what_is_no_text_is_no_password(wrong: object) -> None:
    assert read_password({"password": wrong}) == ""
    assert fault({"password": wrong, "password_again": wrong}) == ("password", SHORT)


def test_a_first_page_may_do_without() -> None:
    assert read_password_if_any({"password": "", "password_again": ""}, studio="x") == ""
    assert read_password_if_any({}, studio="x") == ""
    assert isinstance(read_password_if_any({"password_again": GOOD}, studio="x"), Faults)
    assert read_password_if_any({"password": GOOD, "password_again": GOOD}, studio="x") == GOOD


def test_a_key_says_what_it_is_for() -> None:
    assert read_key_name({"name": " till "}) == "till"
    assert isinstance(read_key_name({"name": ""}), Faults)
    assert isinstance(read_key_name({"name": "x" * 61}), Faults)
