"""Photos that no design names are cleared away after a day, and never one that is about to be named."""

from __future__ import annotations

import os
import sqlite3
import threading
import time
from contextlib import closing
from io import BytesIO
from pathlib import Path

import pytest
from PIL import Image
from sqlalchemy import Column, Integer, Table, text

from models.database import Store
from models.operations.shop.photo import hold_photo, keep_photo, photo_file, thumbnail_name
from models.operations.shop.photo_names import photos_named
from models.operations.shop.photo_sweep import sweep_photos, why_none_is_swept
from models.tables import Design, columns, metadata
from models.tables.columns import PhotoName, photo_columns
from tests.shops import NOON

DAY = 24 * 3600


def a_photo(store: Store, colour: str, *, days_old: float = 2) -> str:
    name = keep_photo(store.photos, content(colour))
    assert isinstance(name, str)
    grow_old(store, name, days_old)
    return name


def content(colour: str) -> bytes:
    out = BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, "PNG")
    return out.getvalue()


def grow_old(store: Store, name: str, days_old: float = 2) -> None:
    then = time.time() - days_old * DAY
    for file in (name, thumbnail_name(name)):
        os.utime(store.photos / file, (then, then))


def there(store: Store) -> list[str]:
    return sorted(file.name for file in store.photos.iterdir())


def with_thumbnails(*names: str) -> list[str]:
    return sorted([*names, *map(thumbnail_name, names)])


def name_it(store: Store, photo: str | None, design_id: int | None = None) -> int:
    with store.writing() as session:
        design = session.get_one(Design, design_id) if design_id else Design(name="Pendant", created_at=NOON)
        design.photo = photo
        session.add(design)
        session.flush()
        return design.id or 0


def test_only_old_photos_that_no_design_names_are_cleared_away(store: Store) -> None:
    named, old, young = a_photo(store, "brown"), a_photo(store, "teal"), a_photo(store, "plum", days_old=0.9)
    name_it(store, named)
    (store.photos / "mine.txt").write_text("not ours")
    assert sweep_photos(store) == 1
    assert there(store) == sorted(["mine.txt", *with_thumbnails(named, young)])
    assert photo_file(store.photos, old) is None
    assert sweep_photos(store) == 0


def test_drafts_that_a_cut_off_write_left_are_cleared_away(store: Store) -> None:
    draft = store.photos / f".{'a' * 64}.jpg.0badcafe"
    draft.write_bytes(b"half")
    assert sweep_photos(store) == 0
    assert draft.exists()
    os.utime(draft, (1, 1))
    assert sweep_photos(store) == 0
    assert there(store) == []


def test_a_photo_that_was_taken_off_stays_while_a_copy_among_the_backups_names_it(store: Store) -> None:
    photo = a_photo(store, "brown")
    design = name_it(store, photo)
    copy = store.save_copy("before-restore")
    name_it(store, None, design)
    assert sweep_photos(store) == 0
    assert there(store) == with_thumbnails(photo)
    (store.folder / "backups" / copy).write_bytes(b"nobody can read this")
    assert sweep_photos(store) == 0
    (store.folder / "backups" / copy).unlink()
    assert sweep_photos(store) == 1


@pytest.mark.parametrize("sent_anew", [True, False])
def test_a_photo_that_is_sent_or_held_again_is_young_again(store: Store, sent_anew: bool) -> None:
    photo = a_photo(store, "brown")
    assert keep_photo(store.photos, content("brown")) == photo if sent_anew else hold_photo(store.photos, photo)
    assert sweep_photos(store) == 0
    assert there(store) == with_thumbnails(photo)
    assert not hold_photo(store.photos, "b" * 64 + ".jpg")
    assert not hold_photo(store.photos, "../shop.db")


def test_a_photo_that_is_held_at_the_very_moment_it_is_swept_is_put_back(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo = a_photo(store, "brown")
    replace = Path.replace

    def held_just_before(file: Path, target: Path) -> Path:
        if target.name.startswith(".swept-"):
            assert hold_photo(store.photos, photo)
        return replace(file, target)

    monkeypatch.setattr(Path, "replace", held_just_before)
    assert sweep_photos(store) == 0
    assert photo in there(store)


def test_a_photo_that_is_sent_while_it_is_put_aside_is_written_again(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo = a_photo(store, "brown")
    unlink = Path.unlink

    def sent_just_before(file: Path, **more: bool) -> None:
        if file.name == f".swept-{photo}":
            assert keep_photo(store.photos, content("brown")) == photo
        unlink(file, **more)

    monkeypatch.setattr(Path, "unlink", sent_just_before)
    sweep_photos(store)
    assert photo in there(store)


def test_no_photo_is_swept_while_a_row_that_names_it_waits_to_be_committed(store: Store) -> None:
    photo = a_photo(store, "brown")
    swept: list[int] = []
    sweep = threading.Thread(target=lambda: swept.append(sweep_photos(store)))
    with store.writing() as session:
        session.add(Design(name="Pendant", photo=photo, created_at=NOON))
        session.flush()
        sweep.start()
        sweep.join(0.3)
        assert swept == []
    sweep.join()
    assert swept == [0]
    assert there(store) == with_thumbnails(photo)


def test_a_thumbnail_stays_as_long_as_its_photo(store: Store) -> None:
    photo = a_photo(store, "brown")
    os.utime(store.photos / photo)
    assert sweep_photos(store) == 0
    assert there(store) == with_thumbnails(photo)


def test_every_column_that_is_called_a_photo_is_declared_as_one() -> None:
    declared = set(photo_columns())
    called = {
        (table.name, column.name)
        for table in metadata.sorted_tables
        for column in table.columns
        if "photo" in column.name
    }
    assert called == declared == {("design", "photo")}


def test_a_table_that_comes_later_is_asked_too_here_and_in_copies(store: Store) -> None:
    # A later version's table with photos: its rows keep them, and so do rows that only a copy has.
    here, only_in_copy, nowhere = (a_photo(store, colour) for colour in ("brown", "teal", "plum"))
    with store.writing() as session:
        session.connection().execute(text("CREATE TABLE lookbook (id INTEGER PRIMARY KEY, cover VARCHAR)"))
        session.connection().execute(text("INSERT INTO lookbook (cover) VALUES (:cover)"), {"cover": only_in_copy})
    store.save_copy("before-restore")
    with store.writing() as session:
        session.connection().execute(text("UPDATE lookbook SET cover = :cover"), {"cover": here})
    later = Table("lookbook", metadata, Column("id", Integer, primary_key=True), Column("cover", PhotoName))
    try:
        assert sweep_photos(store) == 1
        with store.reading() as session:
            assert photos_named(session) == {here}
    finally:
        metadata.remove(later)
    assert there(store) == with_thumbnails(here, only_in_copy)
    assert nowhere not in there(store)


def test_a_column_that_was_dropped_since_is_still_asked_in_copies(
    store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    photo = a_photo(store, "brown")
    with store.writing() as session:
        session.connection().execute(text("CREATE TABLE album (id INTEGER PRIMARY KEY, picture VARCHAR)"))
        session.connection().execute(text("INSERT INTO album (picture) VALUES (:name)"), {"name": photo})
    store.save_copy("before-restore")
    with store.writing() as session:
        session.connection().execute(text("DROP TABLE album"))
    monkeypatch.setattr(columns, "FORMER_PHOTO_COLUMNS", (("album", "picture"),))
    assert sweep_photos(store) == 0
    assert there(store) == with_thumbnails(photo)


def test_a_copy_of_a_newer_version_keeps_every_photo(store: Store) -> None:
    photo = a_photo(store, "brown")
    copy = store.backups / store.save_copy("before-restore")
    with closing(sqlite3.connect(copy)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = 'from-the-future'")
        connection.commit()
    assert sweep_photos(store) == 0
    assert there(store) == with_thumbnails(photo)
    assert "from-the-future" in why_none_is_swept(store.folder)


def test_a_damaged_database_that_was_put_aside_keeps_every_photo(store: Store) -> None:
    photo = a_photo(store, "brown")
    aside = store.folder / "damaged-20260101T000000000000Z"
    aside.mkdir()
    (aside / "shop.db").write_bytes(b"nobody can read this")
    assert sweep_photos(store) == 0
    assert there(store) == with_thumbnails(photo)
    assert str(aside) in why_none_is_swept(store.folder)
    (aside / "shop.db").unlink()
    assert sweep_photos(store) == 1


def test_the_same_picture_sent_again_mends_a_damaged_file(store: Store) -> None:
    photo = a_photo(store, "brown")
    good = (store.photos / photo).read_bytes()
    (store.photos / photo).write_bytes(good[:50])
    assert keep_photo(store.photos, content("brown")) == photo
    assert (store.photos / photo).read_bytes() == good
