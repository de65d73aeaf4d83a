"""The check of a shop: silent when all is sound, and naming what is wrong when it is not."""

from __future__ import annotations

import pytest

from models.database import Store
from models.operations.check import check_shop
from models.operations.figures import refresh_figures
from models.tables import Design
from tests.ledgers import a_lot
from tests.shops import a_design, a_part, a_ring, an_outlet


@pytest.fixture
def full(store: Store) -> Store:
    """A shop with a priced design."""
    with store.writing() as session:
        an_outlet(session)
        a_design(session, [a_part(a_ring(session), 48)])
        refresh_figures(session)
    return store


def wrong(store: Store) -> tuple[str, ...]:
    with store.reading() as session:
        return check_shop(session, store.photos).wrong


def spoil(store: Store, statement: str) -> None:
    with store.engine.connect() as connection:
        driver = connection.connection.driver_connection
        assert driver is not None
        driver.execute("PRAGMA foreign_keys=OFF")
        driver.execute(statement)
        driver.execute("PRAGMA foreign_keys=ON")


def test_a_sound_shop_is_sound(full: Store) -> None:
    with full.reading() as session:
        found = check_shop(session, full.photos)
    assert found.sound
    assert dict(found.counts) == {
        "stock items": 1,
        "designs": 1,
        "outlets": 1,
        "costs": 1,
        "prices": 1,
        "lots": 0,
        "movements": 0,
        "purchases": 0,
    }


def test_a_shop_that_was_never_set_up_is_sound(store: Store) -> None:
    spoil(store, "DELETE FROM shop")
    assert wrong(store) == ()


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE design_figure SET labour_micros = labour_micros + 1",
        "UPDATE price_figure SET suggested_micros = suggested_micros + 1",
        "UPDATE offer SET price_micros = price_micros + 1000000",
        "UPDATE shop SET wage_micros = wage_micros * 2",
        "DELETE FROM design_figure",
    ],
)
def test_a_figure_that_its_inputs_do_not_give_is_named_with_its_design(full: Store, statement: str) -> None:
    spoil(full, statement)
    assert "Copper leaf pendant" in wrong(full)[0]


def test_a_row_that_belongs_to_nothing_is_named_with_its_table(full: Store) -> None:
    spoil(full, "UPDATE offer SET item_id = 4711")
    (first, *_) = wrong(full)
    assert first == "Row 1 of the table offer belongs to a row of item that is not there."


def test_a_word_that_only_a_newer_program_knows_is_named_with_its_table(full: Store) -> None:
    spoil(full, "UPDATE shop SET ending = 'x.33'")
    (first, *others) = wrong(full)
    assert first == (
        "The table shop holds 'x.33', which is no price ending here. A newer program knows it, or it is damaged. "
        "Bring the program up to date, or restore a backup."
    )
    assert "'x.33'" not in " ".join(others)


def test_a_damaged_file_is_named(full: Store) -> None:
    # An entry of an index that no row stands for is damage that SQLite itself finds.
    with full.engine.connect() as connection:
        driver = connection.connection.driver_connection
        assert driver is not None
        (root,) = driver.execute("SELECT rootpage FROM sqlite_master WHERE name = 'ix_item_name'").fetchone()
        (size,) = driver.execute("PRAGMA page_size").fetchone()
        driver.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    full.close()
    with full.file.open("r+b") as file:
        file.seek((root - 1) * size)
        # A leaf page of an index without cells: the index has lost its one entry.
        file.write(bytes([10, 0, 0, 0, 0]) + size.to_bytes(2, "big") + bytes([0]))
    damaged = Store(full.folder)
    (first, *_) = wrong(damaged)
    damaged.close()
    assert first.startswith("The database file is damaged")


def test_a_photo_that_is_gone_is_named_with_its_design(full: Store) -> None:
    with full.writing() as session:
        session.get_one(Design, 1).photo = f"{'a' * 64}.jpg"
    assert wrong(full) == (
        f"The photo of the design “Copper leaf pendant” ({'a' * 64}.jpg) is not in the shop folder.",
    )


def test_a_broken_rule_of_the_ledger_is_named_with_its_row(full: Store) -> None:
    with full.writing() as session:
        a_lot(session, 1, 100, "4.00")
    assert wrong(full) == ()
    spoil(full, "UPDATE lot SET value_micros = 1")
    assert "a lot is worth what its movements add up to: lot 1. It says 1 millionths" in " ".join(wrong(full))
