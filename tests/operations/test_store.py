"""The store: one place commits, an error takes everything back, and two writers never lose each other's change."""

from __future__ import annotations

import threading
from datetime import UTC, datetime, timedelta, timezone
from decimal import Decimal

import pytest
from sqlalchemy import event, text
from sqlalchemy.exc import IntegrityError, StatementError
from sqlmodel import Session, select

from models.database import Store
from models.tables import Item, Once, OutletFee, Shop, WorkRate
from models.trade.money import from_micros, to_micros


def test_an_error_takes_back_everything_that_was_written(store: Store) -> None:
    def half_done(session: Session) -> None:
        session.get_one(Shop, 1).name = "Half done"
        session.flush()
        session.add(Once(key="k", body_hash="h", result="{}", used_at=datetime.now(UTC)))
        session.flush()
        raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError), store.writing() as session:
        half_done(session)
    with store.reading() as session:
        assert session.get_one(Shop, 1).name == "Test bench"
        assert session.exec(select(Once)).all() == []


def test_after_an_error_the_next_write_goes_through(store: Store) -> None:
    with pytest.raises(ZeroDivisionError), store.writing():
        raise ZeroDivisionError
    with store.writing() as session:
        session.get_one(Shop, 1).name = "Renamed"
    with store.reading() as session:
        assert session.get_one(Shop, 1).name == "Renamed"


def test_what_is_written_while_reading_is_never_kept(store: Store) -> None:
    with store.reading() as session:
        session.get_one(Shop, 1).name = "Never"
        session.flush()
    with store.reading() as session:
        assert session.get_one(Shop, 1).name == "Test bench"


def test_writes_begin_at_once_and_reads_wait_for_their_first_question(store: Store) -> None:
    seen: list[str] = []

    @event.listens_for(store.engine, "before_cursor_execute")
    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        seen.append(statement)

    with store.writing():
        assert seen == ["BEGIN IMMEDIATE"]
    seen.clear()
    with store.reading() as session:
        session.get(Shop, 1)
    assert seen[0] == "BEGIN"


def test_a_row_without_the_row_it_belongs_to_is_refused(store: Store) -> None:
    with pytest.raises(IntegrityError), store.writing() as session:
        session.add(OutletFee(outlet_id=4711, position=1, label="Orphan"))


def test_a_word_that_is_not_known_is_refused_by_the_table_itself(store: Store) -> None:
    with pytest.raises(IntegrityError, match="kind_known"), store.writing() as session:
        session.add(Item(kind="spaceship", name="x", created_at=datetime.now(UTC)))


def test_two_threads_that_read_and_then_write_lose_nothing(store: Store) -> None:
    rounds = 25
    failed: list[BaseException] = []

    def count_up() -> None:
        try:
            for _ in range(rounds):
                with store.writing() as session:
                    shop = session.get_one(Shop, 1)
                    shop.once_pieces = shop.once_pieces + 1
                    session.add(shop)
        except BaseException as error:
            failed.append(error)

    threads = [threading.Thread(target=count_up) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    with store.reading() as session:
        assert session.get_one(Shop, 1).once_pieces == 10 + 2 * rounds


def test_two_stores_on_one_folder_that_read_and_then_write_lose_nothing(store: Store) -> None:
    other = Store(store.folder)
    rounds = 10

    def count_up(one: Store) -> None:
        for _ in range(rounds):
            with one.writing() as session:
                shop = session.get_one(Shop, 1)
                shop.once_pieces = shop.once_pieces + 1
                session.add(shop)

    threads = [threading.Thread(target=count_up, args=(one,)) for one in (store, other)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    with other.reading() as session:
        assert session.get_one(Shop, 1).once_pieces == 10 + 2 * rounds
    other.close()


def test_a_reader_sees_one_state_while_another_writes(store: Store) -> None:
    with store.reading() as reader:
        assert reader.get_one(Shop, 1).name == "Test bench"
        with store.writing() as session:
            session.get_one(Shop, 1).name = "Renamed"
        reader.expire_all()
        assert reader.get_one(Shop, 1).name == "Test bench"


@pytest.mark.parametrize("value", ["0.1", "6.5", "1000000", "0.000001", "33.333333", "0", "1E+3"])
def test_a_decimal_comes_back_digit_for_digit(store: Store, value: str) -> None:
    with store.writing() as session:
        session.get_one(WorkRate, "open").seconds = Decimal(value)
    with store.reading() as session:
        kept = session.get_one(WorkRate, "open").seconds
        assert kept == Decimal(value)
        assert isinstance(kept, Decimal)
        stored = (
            session.connection().execute(text("SELECT typeof(seconds) FROM work_rate WHERE kind = 'open'")).scalar()
        )
    assert stored == "text"


def test_a_float_is_never_stored_as_a_rate(store: Store) -> None:
    with pytest.raises(StatementError, match="never a float"), store.writing() as session:
        session.get_one(WorkRate, "open").seconds = 0.1  # type: ignore[assignment]


def test_a_moment_comes_back_as_the_same_moment_in_utc(store: Store) -> None:
    moment = datetime(2026, 3, 31, 23, 30, 15, 123456, tzinfo=timezone(timedelta(hours=-5)))
    with store.writing() as session:
        session.add(Once(key="k", body_hash="h", result="{}", used_at=moment))
    with store.reading() as session:
        kept = session.get_one(Once, "k").used_at
    assert kept == moment
    assert kept.utcoffset() == timedelta(0)


def test_a_moment_without_a_zone_is_refused(store: Store) -> None:
    with pytest.raises(StatementError, match="time zone"), store.writing() as session:
        session.add(Once(key="k", body_hash="h", result="{}", used_at=datetime(2026, 3, 31)))  # noqa: DTZ001


def test_whole_numbers_beyond_32_bits_are_kept(store: Store) -> None:
    with store.writing() as session:
        session.get_one(Shop, 1).wage_per_hour = from_micros(2**53 + 1)
    with store.reading() as session:
        assert to_micros(session.get_one(Shop, 1).wage_per_hour) == 2**53 + 1
