"""The password, the sessions that it opens, and the keys of programs."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

import pytest
from argon2 import PasswordHasher
from sqlmodel import select

from models.database import Store
from models.errors import Conflict, Missing
from models.operations.shop import sign_in as operations
from models.operations.shop.clock import now
from models.queries.shop.sign_in import PER_ADDRESS, has_password, hashed, sign_in_page, visitor
from models.tables import Owner, ProgramKey, SignedIn, SignInTry

GOOD = "seven kettles by the door"
OTHER = "two herons on one leg"


@pytest.fixture
def guarded(store: Store) -> Store:
    """A shop with a password."""
    with store.writing() as session:
        operations.set_password(session, GOOD)
    return store


def signed_in(store: Store, token: str) -> bool:
    with store.reading() as session:
        return visitor(session, token=token, key="", at=now()).may_enter


def stored_hash(store: Store) -> str:
    with store.reading() as session:
        return session.exec(select(Owner.password_hash)).one()


def open_by_password(store: Store, address: str = "10.0.0.1", **more: int) -> str:
    with store.writing() as session:
        tried = operations.count_try(session, address)
    assert tried.wait_s == 0
    assert operations.is_right(GOOD, tried.password_hash)
    with store.writing() as session:
        return operations.sign_in(
            session, address=address, device="Firefox", password=GOOD, checked_hash=tried.password_hash, **more
        )


def test_the_password_is_kept_as_argon2id_of_19_mib_and_two_rounds(guarded: Store) -> None:
    assert re.match(r"\$argon2id\$v=19\$m=19456,t=2,p=1\$", stored_hash(guarded))
    assert GOOD not in stored_hash(guarded)
    assert operations.is_right(GOOD, stored_hash(guarded))
    for wrong in (OTHER, "", GOOD + " ", GOOD.upper(), GOOD[:-1]):
        assert not operations.is_right(wrong, stored_hash(guarded))


def test_a_hash_that_is_broken_lets_nobody_in() -> None:
    for broken in ("", "x", "$argon2id$v=19$m=19456,t=2,p=1$", "$argon2id$broken"):
        assert not operations.is_right(GOOD, broken)


def test_a_session_is_kept_only_as_a_hash_of_a_long_random_token(guarded: Store) -> None:
    first, second = open_by_password(guarded), open_by_password(guarded)
    assert first != second
    assert len(first) >= 43
    with guarded.reading() as session:
        kept = {row.token_hash for row in session.exec(select(SignedIn))}
    assert kept == {hashed(first), hashed(second)}
    assert signed_in(guarded, first)
    assert not signed_in(guarded, first + "x")


def test_signing_in_again_replaces_the_session_that_the_device_had(guarded: Store) -> None:
    first = open_by_password(guarded)
    with guarded.reading() as session:
        (device,) = sign_in_page(session, at=now(), this_device=None).devices
    second = open_by_password(guarded, instead_of=device.id)
    assert not signed_in(guarded, first)
    assert signed_in(guarded, second)


def test_a_try_is_counted_before_it_is_checked_so_that_many_at_once_are_all_counted(guarded: Store) -> None:
    with guarded.writing() as session:
        waits = [operations.count_try(session, "10.0.0.1").wait_s for _ in range(PER_ADDRESS.free + 3)]
        assert waits[: PER_ADDRESS.free] == [0] * PER_ADDRESS.free
        assert all(0 < seconds <= PER_ADDRESS.first_s for seconds in waits[PER_ADDRESS.free :])
        # One that must wait is not counted, so going on trying does not keep the owner out for longer.
        assert len(session.exec(select(SignInTry)).all()) == PER_ADDRESS.free


def test_the_right_password_forgets_the_tries_of_its_address_only(guarded: Store) -> None:
    with guarded.writing() as session:
        for address in ("10.0.0.1", "10.0.0.1", "10.0.0.2"):
            operations.count_try(session, address)
    open_by_password(guarded, "10.0.0.1")
    with guarded.reading() as session:
        assert [row.address for row in session.exec(select(SignInTry))] == ["10.0.0.2"]


def test_tries_of_yesterday_are_taken_out(guarded: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    with guarded.writing() as session:
        operations.count_try(session, "10.0.0.1")
    later(monkeypatch, timedelta(hours=24, seconds=1))
    with guarded.writing() as session:
        operations.count_try(session, "10.0.0.2")
        assert [row.address for row in session.exec(select(SignInTry))] == ["10.0.0.2"]


def test_nobody_can_try_where_there_is_no_password(store: Store) -> None:
    with store.writing() as session, pytest.raises(Conflict):
        operations.count_try(session, "10.0.0.1")


def test_another_password_signs_out_all_but_the_device_that_set_it_and_forgets_tries(guarded: Store) -> None:
    mine, other = open_by_password(guarded), open_by_password(guarded)
    with guarded.writing() as session:
        operations.count_try(session, "10.0.0.9")
        key = operations.make_key(session, "till")
        me = visitor(session, token=mine, key="", at=now()).id
        operations.change_password(session, OTHER, checked_hash=stored_hash(guarded), stays=me)
    assert signed_in(guarded, mine)
    assert not signed_in(guarded, other)
    assert operations.is_right(OTHER, stored_hash(guarded))
    with guarded.reading() as session:
        assert session.exec(select(SignInTry)).all() == []
        assert visitor(session, token="", key=key, at=now()).may_enter


def test_a_password_that_changed_since_it_was_checked_opens_nothing(guarded: Store) -> None:
    before = stored_hash(guarded)
    with guarded.writing() as session:
        operations.set_password(session, OTHER)
    with guarded.writing() as session, pytest.raises(Conflict):
        operations.sign_in(session, address="a", device="b", password=GOOD, checked_hash=before)
    with guarded.writing() as session, pytest.raises(Conflict):
        operations.change_password(session, GOOD, checked_hash=before)
    with guarded.writing() as session, pytest.raises(Conflict):
        operations.change_password(session, GOOD, checked_hash="")
    assert operations.is_right(OTHER, stored_hash(guarded))


def test_a_hash_of_older_settings_is_brought_up_when_somebody_signs_in(guarded: Store) -> None:
    old = PasswordHasher(time_cost=1, memory_cost=8 * 1024, parallelism=1).hash(GOOD)
    with guarded.writing() as session:
        session.get_one(Owner, 1).password_hash = old
    open_by_password(guarded)
    assert "m=19456,t=2" in stored_hash(guarded)
    assert operations.is_right(GOOD, stored_hash(guarded))


def test_sessions_can_be_ended_one_by_one_and_all_at_once(guarded: Store) -> None:
    first, second, third = (open_by_password(guarded) for _ in range(3))
    with guarded.writing() as session:
        row = session.exec(select(SignedIn).where(SignedIn.token_hash == hashed(second))).one()
        gone = row.id or 0
        assert operations.sign_out(session, gone) == "Firefox"
        with pytest.raises(Missing):
            operations.sign_out(session, gone)
        operations.end_session(session, gone)
    assert [signed_in(guarded, token) for token in (first, second, third)] == [True, False, True]
    with guarded.writing() as session:
        operations.sign_out_everywhere(session)
    assert not any(signed_in(guarded, token) for token in (first, third))


def test_a_key_is_kept_only_as_a_hash_and_can_be_revoked(guarded: Store) -> None:
    with guarded.writing() as session:
        key = operations.make_key(session, "till")
        row = session.exec(select(ProgramKey)).one()
        assert (row.name, row.key_hash) == ("till", hashed(key))
    assert key.startswith("rb_")
    assert len(key) >= 46
    with guarded.writing() as session:
        assert visitor(session, token="", key=key, at=now()).kind == "program"
        assert operations.revoke_key(session, row.id or 0) == "till"
        with pytest.raises(Missing):
            operations.revoke_key(session, row.id or 0)
        assert not visitor(session, token="", key=key, at=now()).may_enter


def test_without_a_password_there_is_nothing_to_make_a_key_for(store: Store) -> None:
    with store.writing() as session, pytest.raises(Conflict):
        operations.make_key(session, "till")
    with store.reading() as session:
        assert not has_password(session)


def test_the_last_visit_is_kept_for_devices_and_for_keys(guarded: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    token = open_by_password(guarded)
    with guarded.writing() as session:
        operations.make_key(session, "till")
    assert operations.is_worth_keeping(None)
    assert not operations.is_worth_keeping(now())
    later(monkeypatch, timedelta(minutes=6))
    with guarded.writing() as session:
        device = session.exec(select(SignedIn)).one()
        key = session.exec(select(ProgramKey)).one()
        before = device.seen_at
        assert operations.is_worth_keeping(before)
        operations.seen(session, kind="device", visitor_id=device.id or 0)
        operations.seen(session, kind="program", visitor_id=key.id or 0)
        operations.seen(session, kind="device", visitor_id=999)
        operations.seen(session, kind="program", visitor_id=999)
    assert signed_in(guarded, token)
    with guarded.reading() as session:
        page = sign_in_page(session, at=now(), this_device=device.id)
        (shown,), (till,) = page.devices, page.keys
        assert shown.seen_at - before >= timedelta(minutes=5)
        assert shown.this_one
        assert till.used_at is not None


def later(monkeypatch: pytest.MonkeyPatch, span: timedelta) -> None:
    """Let the clock of these operations go by a span."""

    def moved() -> datetime:
        return now() + span

    monkeypatch.setattr(operations, "now", moved)
