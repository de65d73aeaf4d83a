"""A whole shop in one file and back: made while people write, restored in one step, never over a shop unasked."""

from __future__ import annotations

import os
import sqlite3
import threading
import zipfile
from collections.abc import Callable, Iterator
from contextlib import closing
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from sqlmodel import select

from models import files
from models.database import BrokenShop, Store
from models.operations.shop import archive as archive_file
from models.operations.shop.archive import BadBackup
from models.operations.shop.backup import write_backup
from models.operations.shop.photo import keep_photo, photo_file, thumbnail_name
from models.operations.shop.restore import restore_backup
from models.queries.shop.shop import is_founded, shop_settings
from models.tables import Design, Shop
from tests.shops import NOON


@pytest.fixture
def photo(store: Store) -> str:
    """A design with a photo, and a photo that no design names."""
    names = []
    for colour in ("brown", "teal"):
        picture = BytesIO()
        Image.new("RGB", (40, 30), colour).save(picture, "PNG")
        kept = keep_photo(store.photos, picture.getvalue())
        assert isinstance(kept, str)
        names.append(kept)
    with store.writing() as session:
        session.add(Design(name="Pendant", photo=names[0], created_at=NOON))
    return names[0]


@pytest.fixture
def empty(tmp_path: Path) -> Iterator[Store]:
    """A folder that nobody has used."""
    fresh = Store(tmp_path / "another folder # 2")
    yield fresh
    fresh.close()


def name_of(store: Store) -> str:
    with store.reading() as session:
        return shop_settings(session).name


def test_a_backup_holds_the_database_and_the_photos_that_it_names(store: Store, photo: str, tmp_path: Path) -> None:
    file = tmp_path / "shop.zip"
    written = write_backup(store, file)
    assert (written.photos, written.missing) == (1, ())
    with zipfile.ZipFile(file) as archive:
        assert sorted(archive.namelist()) == sorted(["shop.db", f"photos/{photo}", f"photos/{thumbnail_name(photo)}"])
        assert archive.testzip() is None
    assert [path.name for path in tmp_path.iterdir() if path.suffix in {".part", ".zip"}] == ["shop.zip"]


def test_a_backup_is_restored_into_an_empty_folder(store: Store, empty: Store, photo: str, tmp_path: Path) -> None:
    write_backup(store, tmp_path / "shop.zip")
    restored = restore_backup(empty, tmp_path / "shop.zip")
    assert (restored.photos, restored.kept_aside) == (1, "")
    assert name_of(empty) == "Test bench"
    assert photo_file(empty.photos, photo) is not None
    assert photo_file(empty.photos, photo, small=True) is not None
    assert empty.prepare() is None
    with empty.writing() as session:
        session.get_one(Shop, 1).name = "Goes on"
    assert name_of(empty) == "Goes on"


def test_a_shop_is_not_replaced_unasked_and_is_kept_aside_when_asked(store: Store, tmp_path: Path) -> None:
    write_backup(store, tmp_path / "shop.zip")
    with store.writing() as session:
        session.get_one(Shop, 1).name = "Since renamed"
    with pytest.raises(BadBackup, match="--replace"):
        restore_backup(store, tmp_path / "shop.zip")
    assert name_of(store) == "Since renamed"
    restored = restore_backup(store, tmp_path / "shop.zip", replace=True)
    assert name_of(store) == "Test bench"
    with closing(sqlite3.connect(store.folder / "backups" / restored.kept_aside)) as aside:
        assert aside.execute("SELECT name FROM shop").fetchone() == ("Since renamed",)


def test_a_file_is_safe_on_disk_before_it_takes_its_name_and_its_name_is_before_it_is_done(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A machine that loses its power in between would otherwise have the name of a file that holds nothing."""
    steps: list[str] = []

    def noted(word: str, step: Callable[..., None]) -> Callable[..., None]:
        def noting(*words: Any) -> None:
            steps.append(word)
            step(*words)

        return noting

    monkeypatch.setattr(files.os, "replace", noted("named", os.replace))
    monkeypatch.setattr(files, "sync_file", noted("content safe", files.sync_file))
    monkeypatch.setattr(files, "sync_folder", noted("name safe", files.sync_folder))
    with files.whole_file(tmp_path / "shop.zip") as part:
        part.write_bytes(b"whole")
    assert steps == ["content safe", "named", "name safe"]


def test_a_backup_file_is_not_overwritten_unasked(store: Store, tmp_path: Path) -> None:
    file = tmp_path / "shop.zip"
    file.write_text("something of mine")
    with pytest.raises(BadBackup, match="already"):
        write_backup(store, file)
    assert file.read_text() == "something of mine"
    write_backup(store, file, replace=True)
    assert zipfile.is_zipfile(file)
    with pytest.raises(BadBackup, match="no folder"):
        write_backup(store, tmp_path / "nowhere" / "shop.zip")


@pytest.mark.long
def test_a_backup_made_while_people_write_is_whole(store: Store, empty: Store, tmp_path: Path) -> None:
    stop = threading.Event()

    def work() -> None:
        count = 0
        while not stop.is_set():
            with store.writing() as session:
                shop = session.get_one(Shop, 1)
                # Both say the same in every state that was ever committed.
                count += 1
                shop.name, shop.once_pieces = f"Count {count}", count

    worker = threading.Thread(target=work)
    worker.start()
    try:
        for turn in range(5):
            write_backup(store, tmp_path / f"{turn}.zip")
    finally:
        stop.set()
        worker.join()
    for turn in range(5):
        restore_backup(empty, tmp_path / f"{turn}.zip", replace=True)
        with empty.reading() as session:
            shop = session.get_one(Shop, 1)
            assert shop.name in {f"Count {shop.once_pieces}", "Test bench"}


def test_a_server_that_runs_meanwhile_sees_the_restored_shop(store: Store, tmp_path: Path) -> None:
    write_backup(store, tmp_path / "shop.zip")
    running = Store(store.folder)
    with running.writing() as session:
        session.get_one(Shop, 1).name = "Before"
    with running.reading() as reader:
        assert reader.get_one(Shop, 1).name == "Before"
        restore_backup(store, tmp_path / "shop.zip", replace=True)
        reader.expire_all()
        assert reader.get_one(Shop, 1).name == "Before"
    assert name_of(running) == "Test bench"
    with running.writing() as session:
        session.get_one(Shop, 1).name = "After"
    assert name_of(store) == "After"
    running.close()


def test_a_photo_that_is_not_in_the_folder_is_named_and_the_rest_is_kept(
    store: Store, photo: str, tmp_path: Path
) -> None:
    (store.photos / photo).unlink()
    assert write_backup(store, tmp_path / "shop.zip").missing == (photo,)


def zip_of(path: Path, members: dict[str, bytes]) -> Path:
    with zipfile.ZipFile(path, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return path


def test_what_is_no_backup_is_refused_and_changes_nothing(store: Store, tmp_path: Path) -> None:
    write_backup(store, tmp_path / "good.zip")
    good = zipfile.ZipFile(tmp_path / "good.zip").read("shop.db")
    foreign = tmp_path / "foreign.db"
    with closing(sqlite3.connect(foreign)) as connection:
        connection.execute("CREATE TABLE shop (id INTEGER)")
        connection.commit()
    text_file = tmp_path / "text.zip"
    text_file.write_text("not a backup")
    cases = (
        ("no file", tmp_path / "missing.zip"),
        ("broken or no backup", text_file),
        ("there is no shop.db", zip_of(tmp_path / "1.zip", {"notes.txt": b"x"})),
        ("does not belong", zip_of(tmp_path / "2.zip", {"shop.db": good, "../evil": b"x"})),
        ("does not belong", zip_of(tmp_path / "3.zip", {"shop.db": good, "photos/../../evil.jpg": b"x"})),
        ("is broken", zip_of(tmp_path / "4.zip", {"shop.db": b"rubbish " * 1000})),
        ("not one of Ringbench", zip_of(tmp_path / "5.zip", {"shop.db": foreign.read_bytes()})),
        ("broken", zip_of(tmp_path / "6.zip", {"shop.db": good[: len(good) // 2]})),
    )
    before = sorted(path.name for path in (store.folder / "backups").iterdir())
    for says, file in cases:
        with pytest.raises(BadBackup, match=says):
            restore_backup(store, file, replace=True)
    assert name_of(store) == "Test bench"
    assert sorted(path.name for path in (store.folder / "backups").iterdir()) == before
    assert not (tmp_path / "evil").exists()


def test_what_unpacks_to_more_than_a_shop_may_is_refused_however_small_the_file_is(
    store: Store, empty: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    write_backup(store, tmp_path / "good.zip")
    database = zipfile.ZipFile(tmp_path / "good.zip").read("shop.db")
    with zipfile.ZipFile(tmp_path / "bomb.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("shop.db", database)
        archive.writestr(f"photos/{'0' * 64}.jpg", bytes(8 * 1024**2))
    most = len(database) + 8 * 1024**2 - 1
    assert (tmp_path / "bomb.zip").stat().st_size < most // 4
    monkeypatch.setattr(archive_file, "MOST_BYTES", most)
    with pytest.raises(BadBackup, match="would unpack to more"):
        restore_backup(empty, tmp_path / "bomb.zip")
    assert restore_backup(empty, tmp_path / "good.zip").photos == 0


def test_a_backup_of_a_newer_program_is_refused(store: Store, empty: Store, tmp_path: Path) -> None:
    write_backup(store, tmp_path / "good.zip")
    file = tmp_path / "shop.db"
    file.write_bytes(zipfile.ZipFile(tmp_path / "good.zip").read("shop.db"))
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = 'from-the-future'")
        connection.commit()
    zip_of(tmp_path / "newer.zip", {"shop.db": file.read_bytes()})
    with pytest.raises(BrokenShop, match="newer Ringbench"):
        restore_backup(empty, tmp_path / "newer.zip")
    empty.prepare()
    with empty.reading() as session:
        assert not is_founded(session)


def test_a_folder_with_something_else_in_it_is_not_written_over(empty: Store, store: Store, tmp_path: Path) -> None:
    write_backup(store, tmp_path / "shop.zip")
    empty.close()
    empty.file.write_bytes(b"a file of some other program")
    with pytest.raises(BadBackup, match="already"):
        restore_backup(empty, tmp_path / "shop.zip")
    assert empty.file.read_bytes() == b"a file of some other program"


def test_designs_come_back_with_their_rows(store: Store, empty: Store, photo: str, tmp_path: Path) -> None:
    write_backup(store, tmp_path / "shop.zip")
    restore_backup(empty, tmp_path / "shop.zip")
    with empty.reading() as session:
        assert session.exec(select(Design)).one().photo == photo
