"""How failed tries slow down the next one, and who counts as signed in."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.database import Store
from models.queries.shop.sign_in import (
    IDLE_DAYS,
    PER_ADDRESS,
    SLOW_AFTER,
    SLOW_FOR,
    SLOW_S,
    Throttle,
    hashed,
    seconds_late,
    seconds_to_wait,
    visitor,
    wait,
)
from models.tables import Owner, ProgramKey, SignedIn, SignInTry
from tests.counting import queries_of

TOKEN = "token"  # noqa: S105
NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
RULE = Throttle(free=3, first_s=5, most_s=60, remembered=timedelta(hours=1))


def at_once(count: int, at: datetime = NOON) -> list[datetime]:
    return [at] * count


def test_the_first_tries_cost_nothing_and_then_the_wait_doubles_up_to_its_most() -> None:
    assert [wait(RULE, at_once(count), NOON) for count in range(9)] == [0, 0, 0, 5, 10, 20, 40, 60, 60]


def test_the_wait_counts_from_the_last_try_and_is_rounded_up() -> None:
    tried = at_once(4)
    assert wait(RULE, tried, NOON + timedelta(seconds=4)) == 6
    assert wait(RULE, tried, NOON + timedelta(seconds=4, milliseconds=1)) == 6
    assert wait(RULE, tried, NOON + timedelta(seconds=9, milliseconds=999)) == 1
    assert wait(RULE, tried, NOON + timedelta(seconds=10)) == 0


def test_old_tries_are_forgotten() -> None:
    tried = [*at_once(8, NOON - timedelta(hours=1)), NOON]
    assert wait(RULE, tried, NOON) == 0


@given(st.lists(st.integers(-4000, 4000), max_size=60), st.integers(-4000, 4000))
def test_nobody_waits_longer_than_the_most_whatever_the_clock_did(seconds: list[int], later: int) -> None:
    tried = [NOON + timedelta(seconds=one) for one in seconds]
    assert 0 <= wait(RULE, tried, NOON + timedelta(seconds=later)) <= RULE.most_s


def test_an_address_waits_for_its_own_tries_only_and_those_of_all_make_everybody_slower(store: Store) -> None:
    with store.writing() as session:
        session.add_all(SignInTry(address="192.168.1.7", tried_at=NOON) for _ in range(PER_ADDRESS.free))
        session.flush()
        assert seconds_to_wait(session, "192.168.1.7", NOON) == PER_ADDRESS.first_s
        assert seconds_to_wait(session, "192.168.1.8", NOON) == 0
        assert seconds_late(session, "192.168.1.8", NOON) == 0
        session.add_all(SignInTry(address=f"10.0.0.{n}", tried_at=NOON) for n in range(SLOW_AFTER))
        session.flush()
        assert seconds_to_wait(session, "192.168.1.8", NOON) == 0
        assert seconds_late(session, "192.168.1.8", NOON) == SLOW_S
        assert seconds_late(session, "192.168.1.8", NOON + SLOW_FOR) == 0


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    st.lists(
        st.tuples(st.sampled_from(["192.168.1.7", "10.0.0.1", "127.0.0.1", ""]), st.integers(1, 10**8)), max_size=50
    )
)
def test_tries_of_a_clock_that_ran_ahead_keep_nobody_waiting(guarded: Store, ahead: list[tuple[str, int]]) -> None:
    with guarded.writing() as session:
        session.add_all(SignInTry(address=one, tried_at=NOON + timedelta(seconds=s)) for one, s in ahead)
        session.flush()
        for address in ("192.168.1.7", "10.0.0.1", "127.0.0.1", "::1", ""):
            assert (seconds_to_wait(session, address, NOON), seconds_late(session, address, NOON)) == (0, 0)
        session.rollback()


@pytest.mark.parametrize("address", ["127.0.0.1", "127.8.9.10", "::1"])
def test_the_machine_itself_may_always_try_and_only_slower(store: Store, address: str) -> None:
    with store.writing() as session:
        for count in range(100):
            assert seconds_to_wait(session, address, NOON) == 0
            assert seconds_late(session, address, NOON) == (SLOW_S if count >= PER_ADDRESS.free else 0)
            session.add(SignInTry(address=address, tried_at=NOON))
            session.flush()


def test_guessing_from_one_address_is_slower_than_a_hundred_a_day() -> None:
    tried: list[datetime] = []
    at = NOON
    while at < NOON + timedelta(days=1):
        pause = wait(PER_ADDRESS, tried, at)
        at += timedelta(seconds=pause)
        tried.append(at)
    assert len(tried) < 115


@pytest.fixture
def guarded(store: Store) -> Store:
    """A shop with a password, one device and one key."""
    with store.writing() as session:
        session.add(Owner(password_hash="x", set_at=NOON))  # noqa: S106  (no hash at all)
        session.add(SignedIn(token_hash=hashed(TOKEN), device="Firefox", opened_at=NOON, seen_at=NOON))
        session.add(ProgramKey(key_hash=hashed("key"), name="till", made_at=NOON))
    return store


def test_without_a_password_everybody_may_enter(store: Store) -> None:
    with store.reading() as session:
        for token, key in (("", ""), ("x", ""), ("", "x")):
            found = visitor(session, token=token, key=key, at=NOON)
            assert (found.guarded, found.kind, found.may_enter) == (False, "", True)


@pytest.mark.parametrize(
    ("token", "key", "kind"),
    [("token", "", "device"), ("", "key", "program"), ("", "", ""), ("key", "", ""), ("", "token", ""),
     (hashed("token"), "", ""), ("", hashed("key"), ""), ("token", "wrong", "")],
)  # fmt: skip
def test_only_a_token_or_a_key_opens_a_guarded_shop(guarded: Store, token: str, key: str, kind: str) -> None:
    with guarded.reading() as session:
        found = visitor(session, token=token, key=key, at=NOON)
    assert (found.guarded, found.kind, found.may_enter) == (True, kind, kind != "")


def test_a_device_that_stayed_away_must_sign_in_again_and_a_key_need_not(guarded: Store) -> None:
    later = NOON + timedelta(days=IDLE_DAYS, seconds=1)
    with guarded.reading() as session:
        assert visitor(session, token=TOKEN, key="", at=later - timedelta(seconds=2)).may_enter
        assert not visitor(session, token=TOKEN, key="", at=later).may_enter
        assert visitor(session, token="", key="key", at=later).may_enter


def test_asking_who_it_is_takes_one_query(guarded: Store) -> None:
    with guarded.reading() as session, queries_of(guarded) as seen:
        visitor(session, token=TOKEN, key="", at=NOON)
    assert len(seen) == 1
