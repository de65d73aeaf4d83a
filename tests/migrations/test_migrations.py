"""The tables of a shop folder: made new, brought up from an older program, and never touched when a newer one wrote them."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import closing
from pathlib import Path
from textwrap import dedent

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import CheckConstraint, inspect, text
from sqlmodel import Session, select

from models import database
from models.database import BrokenShop, Store, alembic_config, migrate
from models.operations.shop.shop import found_shop
from models.tables import Item, Offer, Outlet, OutletFee, Part, Shop, WorkRate, metadata
from tests.shops import a_design, a_part, a_ring, an_outlet


@pytest.fixture
def fresh(tmp_path: Path) -> Iterator[Store]:
    """A shop folder that nobody has opened yet."""
    store = Store(tmp_path / "shop")
    yield store
    store.close()


@pytest.fixture
def full(fresh: Store) -> Store:
    """A shop folder with a row in every table that others point at."""
    fresh.prepare()
    with fresh.writing() as session:
        found_shop(session, name="Test bench", currency="EUR")
        ring = a_ring(session)
        a_design(session, [a_part(ring, 48)])
        an_outlet(session)
    return fresh


def count(store: Store) -> dict[str, int]:
    """Rows by table."""
    with store.reading() as session:
        return {
            name: int(session.connection().execute(text(f'SELECT count(*) FROM "{name}"')).scalar_one())  # noqa: S608
            for name in inspect(session.connection()).get_table_names()
        }


def revision_of(store: Store) -> str | None:
    """The revision that the folder's tables are at."""
    with store.engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def backups(store: Store) -> list[Path]:
    """The copies in the folder."""
    return sorted((store.folder / "backups").iterdir())


NextRevision = Callable[[str, str], None]


@pytest.fixture
def next_revision(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> NextRevision:
    """Adds one more migration after the newest, as a later program would bring it: the bodies of its two functions."""
    folder = tmp_path / "migrations"
    shutil.copytree(database.migrations_folder(), folder, ignore=shutil.ignore_patterns("__pycache__"))
    newest = ScriptDirectory.from_config(alembic_config("sqlite://")).get_current_head()

    def add(upgrade: str, downgrade: str = "pass") -> None:
        lines = [
            "import sqlalchemy as sa",
            "from alembic import op",
            "revision = '9999'",
            f"down_revision = {newest!r}",
            "def upgrade():",
            *(f"    {line}" for line in dedent(upgrade).strip().splitlines()),
            "def downgrade():",
            *(f"    {line}" for line in dedent(downgrade).strip().splitlines()),
        ]
        (folder / "versions" / "9999_later.py").write_text("\n".join(lines) + "\n", encoding="utf-8")
        monkeypatch.setattr(database, "migrations_folder", lambda: folder)

    return add


def test_a_fresh_folder_gets_its_tables_and_no_backup(fresh: Store) -> None:
    assert fresh.prepare() is None
    assert set(count(fresh)) == {*metadata.tables, "alembic_version"}
    assert backups(fresh) == []
    assert sorted(path.name for path in fresh.folder.iterdir() if path.is_dir()) == ["backups", "logs", "photos"]


def test_a_folder_that_is_up_to_date_is_left_alone(full: Store) -> None:
    before = count(full)
    assert full.prepare() is None
    assert count(full) == before
    assert backups(full) == []


def test_tables_and_migrations_say_the_same(fresh: Store) -> None:
    fresh.prepare()
    with fresh.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True, "render_as_batch": True})
        assert compare_metadata(context, metadata) == []


def test_the_checks_of_the_tables_are_in_the_migrations(fresh: Store) -> None:
    # The comparison above passes over CHECK constraints, so their names and conditions are compared here.
    fresh.prepare()
    found = inspect(fresh.engine)
    for name, table in metadata.tables.items():
        # The names of the tables' own file get their prefix when they are written.
        wanted = {
            (str(one.name).removeprefix(f"ck_{name}_"), str(one.sqltext))
            for one in table.constraints
            if isinstance(one, CheckConstraint)
        }
        kept = {
            (str(one["name"]).removeprefix(f"ck_{name}_"), one["sqltext"]) for one in found.get_check_constraints(name)
        }
        assert kept == wanted, name


def test_there_is_one_line_of_migrations_and_each_says_what_it_is_for() -> None:
    script = ScriptDirectory.from_config(alembic_config("sqlite://"))
    assert len(script.get_heads()) == 1
    assert all(revision.doc for revision in script.walk_revisions())


def test_every_migration_goes_down_and_up_again_with_rows_in_the_tables(full: Store) -> None:
    script = ScriptDirectory.from_config(alembic_config(full.url))
    revisions = list(script.walk_revisions())
    for revision in revisions:
        target = revision.down_revision or "base"
        with full.engine.connect() as connection:
            migrate(connection, alembic_config(full.url), f"-{target}")
    assert set(count(full)) == {"alembic_version"}
    with full.engine.connect() as connection:
        migrate(connection, alembic_config(full.url), "head")
    with full.engine.connect() as connection:
        assert compare_metadata(MigrationContext.configure(connection), metadata) == []


def test_an_older_folder_is_backed_up_beside_itself_and_upgraded(full: Store, next_revision: NextRevision) -> None:
    before = count(full)
    old = revision_of(full)
    next_revision("op.add_column('shop', sa.Column('motto', sa.Text(), nullable=True))")
    saved = full.prepare()
    assert saved is not None
    assert [path.name for path in backups(full)] == [saved]
    assert revision_of(full) == "9999"
    assert "motto" in {column["name"] for column in inspect(full.engine).get_columns("shop")}
    assert count(full) == before
    with closing(sqlite3.connect(full.folder / "backups" / saved)) as copy:
        assert copy.execute("SELECT version_num FROM alembic_version").fetchone() == (old,)
        assert copy.execute("SELECT name FROM shop").fetchone() == ("Test bench",)
        assert copy.execute("SELECT count(*) FROM offer").fetchone() == (1,)


def test_a_table_that_is_rebuilt_keeps_the_rows_that_point_at_it(full: Store, next_revision: NextRevision) -> None:
    rebuild = """
        with op.batch_alter_table('outlet', recreate='always') as batch:
            batch.alter_column('note', existing_type=sa.String(), nullable=True)
        with op.batch_alter_table('item', recreate='always') as batch:
            batch.add_column(sa.Column('shelf', sa.Text(), nullable=True))
    """
    undo = """
        with op.batch_alter_table('item', recreate='always') as batch:
            batch.drop_column('shelf')
    """
    old = revision_of(full)
    next_revision(rebuild, undo)
    before = count(full)
    full.prepare()
    assert count(full) == before
    with full.engine.connect() as connection:
        migrate(connection, alembic_config(full.url), f"-{old}")
    assert count(full) == before
    with full.reading() as session:
        assert session.exec(select(OutletFee)).one().label == "Selling fee"
        assert session.exec(select(Part)).one().item_id == session.exec(select(Item)).one().id
        assert session.connection().exec_driver_sql("PRAGMA foreign_keys").scalar() == 1


def test_a_migration_that_breaks_off_changes_nothing(full: Store, next_revision: NextRevision) -> None:
    before, old = count(full), revision_of(full)
    next_revision("""
        op.add_column('shop', sa.Column('motto', sa.Text(), nullable=True))
        op.execute("DELETE FROM work_rate")
        raise ZeroDivisionError
    """)
    with pytest.raises(ZeroDivisionError):
        full.prepare()
    assert (count(full), revision_of(full)) == (before, old)
    assert "motto" not in {column["name"] for column in inspect(full.engine).get_columns("shop")}
    with full.writing() as session:
        session.get_one(Shop, 1).name = "Still open"
        assert session.connection().exec_driver_sql("PRAGMA foreign_keys").scalar() == 1


def test_a_migration_that_would_leave_orphans_is_taken_back(full: Store, next_revision: NextRevision) -> None:
    before = count(full)
    next_revision('op.execute("DELETE FROM outlet")')
    with pytest.raises(BrokenShop, match="nothing was changed"):
        full.prepare()
    assert count(full) == before
    with full.reading() as session:
        assert session.exec(select(Outlet)).one().name == "Web shop"


def test_a_folder_of_a_newer_program_is_refused_and_left_as_it_is(full: Store) -> None:
    with full.writing() as session:
        session.connection().execute(text("UPDATE alembic_version SET version_num = 'from-the-future'"))
    before = count(full)
    with pytest.raises(BrokenShop, match="newer Ringbench"):
        full.prepare()
    assert revision_of(full) == "from-the-future"
    assert (count(full), backups(full)) == (before, [])


def test_figures_kept_by_an_older_program_are_still_read(full: Store) -> None:
    with full.reading() as session:
        assert session.exec(select(Offer)).one().price_micros == 4_000_000
        assert {rate.kind for rate in session.exec(select(WorkRate))}


@pytest.mark.long
def test_two_programs_that_start_at_once_on_a_new_folder_both_find_its_tables(tmp_path: Path) -> None:
    import threading

    stores = [Store(tmp_path / "shop") for _ in range(2)]
    failed: list[Exception] = []

    def start(store: Store) -> None:
        try:
            store.prepare()
        except Exception as error:
            failed.append(error)

    threads = [threading.Thread(target=start, args=(store,)) for store in stores]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failed == []
    with stores[0].reading() as session:
        assert isinstance(session, Session)
        assert session.exec(select(Shop)).all() == []
    for store in stores:
        store.close()
