"""The command line over damaged shops, copies and photos: what was lost comes back, and what is there is never harmed."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from sqlalchemy import text
from typer.testing import CliRunner, Result

from models.database import Store
from models.operations.shop.sign_in import make_key, open_session, set_password
from models.tables import Shop
from tests.damage import DAMAGES, a_design_with_photo, content_of, rows_of, settle
from webapp.cli import app

pytestmark = pytest.mark.long


def run(*words: object) -> Result:
    """A command; an exception that is not put into words fails the test."""
    done = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)
    assert "Traceback" not in done.output
    return done


@pytest.fixture(autouse=True)
def _no_settings_from_outside(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in list(os.environ):
        if name.startswith("RINGBENCH_"):
            monkeypatch.delenv(name)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "home"))


@pytest.fixture
def folder(store: Store) -> Path:
    """The folder of a founded shop that has one design with a photo, closed and settled."""
    a_design_with_photo(store)
    store.close()
    settle(store.file)
    return store.folder


def damaged_folders(folder: Path) -> list[Path]:
    return sorted(folder.glob("damaged-*"))


@pytest.mark.parametrize("damage", DAMAGES)
def test_a_damaged_shop_is_put_aside_as_it_is_and_the_backup_takes_its_place(
    damage: str, folder: Path, tmp_path: Path
) -> None:
    file = tmp_path / "good.zip"
    assert run("backup", file, "--data", folder).exit_code == 0
    wanted = rows_of(folder / "shop.db")
    DAMAGES[damage](folder / "shop.db")
    found = content_of(folder)

    refused = run("restore", file, "--data", folder)
    assert refused.exit_code == 1
    assert "--replace" in refused.stderr
    assert content_of(folder) == found

    done = run("restore", file, "--data", folder, "--replace")
    assert (done.exit_code, done.stderr) == (0, "")
    (aside,) = damaged_folders(folder)
    assert str(aside) in done.stdout
    kept = {name: content for name, content in found.items() if name.startswith("shop.db")}
    assert content_of(aside) == kept
    assert rows_of(folder / "shop.db") == wanted
    assert run("check", "--data", folder).exit_code == 0

    # The second of two: damaged again, it is put beside the first.
    if damage != "gone, its journal left":
        settle(folder / "shop.db")
    DAMAGES[damage](folder / "shop.db")
    assert run("restore", file, "--data", folder, "--replace").exit_code == 0
    assert len(damaged_folders(folder)) == 2
    assert content_of(aside) == kept
    assert rows_of(folder / "shop.db") == wanted


def test_a_shop_whose_database_is_missing_is_restored_without_a_word_of_replacing(folder: Path, tmp_path: Path) -> None:
    file = tmp_path / "good.zip"
    run("backup", file, "--data", folder)
    wanted = rows_of(folder / "shop.db")
    (folder / "shop.db").unlink()
    for beside in ("shop.db-wal", "shop.db-shm"):
        (folder / beside).unlink(missing_ok=True)
    done = run("restore", file, "--data", folder)
    assert (done.exit_code, done.stderr) == (0, "")
    assert rows_of(folder / "shop.db") == wanted
    assert damaged_folders(folder) == []


@pytest.mark.parametrize("damage", [name for name in DAMAGES if name not in {"a folder", "gone, its journal left"}])
def test_a_damaged_shop_is_never_said_to_be_backed_up_and_the_last_good_backup_stays(
    damage: str, folder: Path, tmp_path: Path
) -> None:
    file, new = tmp_path / "last.zip", tmp_path / "new.zip"
    assert run("backup", file, "--data", folder).exit_code == 0
    good = file.read_bytes()
    DAMAGES[damage](folder / "shop.db")
    for done in (run("backup", file, "--replace", "--data", folder), run("backup", new, "--data", folder)):
        assert done.exit_code == 1
        assert "is backed up" not in done.output
        assert "restore" in done.stderr
    assert file.read_bytes() == good
    assert not new.exists()
    assert [path.name for path in tmp_path.iterdir() if path.name.endswith(".part")] == []


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE design SET copied_from_id = 4711",
        "UPDATE design SET created_at = 'soon'",
        "UPDATE work_rate SET seconds = 'many'",
        "ALTER TABLE design RENAME COLUMN note TO remark",
        "DROP TABLE price_figure",
        "DELETE FROM alembic_version",
    ],
)
def test_a_database_that_would_not_open_as_a_shop_is_not_backed_up(
    statement: str, folder: Path, tmp_path: Path
) -> None:
    file = tmp_path / "last.zip"
    run("backup", file, "--data", folder)
    good = file.read_bytes()
    with closing(sqlite3.connect(folder / "shop.db")) as connection:
        connection.execute(statement)
        connection.commit()
    done = run("backup", file, "--replace", "--data", folder)
    assert done.exit_code == 1
    assert "backed up in" not in done.stdout
    assert file.read_bytes() == good


def test_check_names_a_row_that_cannot_be_read_in_words(folder: Path) -> None:
    with closing(sqlite3.connect(folder / "shop.db")) as connection:
        connection.execute("UPDATE design SET created_at = 'soon'")
        connection.commit()
    done = run("check", "--data", folder)
    assert done.exit_code == 1
    assert "The table design cannot be read to its end" in done.stderr


def photo_in(folder: Path) -> Path:
    (photo,) = [file for file in (folder / "photos").iterdir() if not file.name.endswith("-small.jpg")]
    return photo


SPOILT = {
    "changed": lambda file: file.write_bytes(file.read_bytes()[:-20] + b"x" * 20),
    "cut off": lambda file: file.write_bytes(file.read_bytes()[:100]),
    "empty": lambda file: file.write_bytes(b""),
    "missing": lambda file: file.unlink(),
}
SPOILT_SOON = [pytest.param(name, marks=() if name in {"changed", "missing"} else pytest.mark.long) for name in SPOILT]


@pytest.mark.parametrize("spoil", SPOILT_SOON)
def test_a_damaged_photo_is_seen_by_check_kept_out_of_backups_and_mended_by_restore(
    spoil: str, folder: Path, tmp_path: Path
) -> None:
    file, new = tmp_path / "good.zip", tmp_path / "new.zip"
    run("backup", file, "--data", folder)
    good, photo = file.read_bytes(), photo_in(folder)
    content = photo.read_bytes()
    SPOILT[spoil](photo)

    checked = run("check", "--data", folder)
    assert checked.exit_code == 1
    assert photo.name in checked.stderr

    over = run("backup", file, "--replace", "--data", folder)
    assert (over.exit_code, over.stdout) == (1, "")
    assert photo.name in over.stderr
    assert file.read_bytes() == good
    beside = run("backup", new, "--data", folder)
    assert beside.exit_code == 1
    assert f"the photo {photo.name}" in beside.stderr

    without = run("restore", new, "--data", tmp_path / "other")
    assert without.exit_code == 1
    assert f"the photo {photo.name}" in without.stderr
    assert rows_of(tmp_path / "other" / "shop.db") == rows_of(folder / "shop.db")

    assert run("restore", file, "--data", folder, "--replace").exit_code == 0
    assert photo.read_bytes() == content
    assert run("check", "--data", folder).exit_code == 0


@pytest.mark.parametrize("spoil", SPOILT_SOON)
def test_a_damaged_small_picture_is_seen_by_check_and_mended_by_restore(
    spoil: str, folder: Path, tmp_path: Path
) -> None:
    file = tmp_path / "good.zip"
    run("backup", file, "--data", folder)
    small = photo_in(folder).with_name(photo_in(folder).name.replace(".jpg", "-small.jpg"))
    if spoil == "changed":
        small.write_bytes(b"no picture at all")
    else:
        SPOILT[spoil](small)
    checked = run("check", "--data", folder)
    assert checked.exit_code == 1
    assert "small picture" in checked.stderr
    assert run("restore", file, "--data", folder, "--replace").exit_code == 0
    assert run("check", "--data", folder).exit_code == 0


def test_a_photo_that_is_damaged_in_the_backup_never_replaces_a_whole_one(store: Store, tmp_path: Path) -> None:
    import zipfile

    name = a_design_with_photo(store)
    store.close()
    whole = (store.photos / name).read_bytes()
    file, spoilt = tmp_path / "good.zip", tmp_path / "spoilt.zip"
    run("backup", file, "--data", store.folder)
    with zipfile.ZipFile(file) as good, zipfile.ZipFile(spoilt, "w") as other:
        for member in good.namelist():
            other.writestr(member, b"not what it was" if member.endswith(name) else good.read(member))
    assert run("restore", spoilt, "--data", store.folder, "--replace").exit_code == 0
    assert (store.photos / name).read_bytes() == whole
    done = run("restore", spoilt, "--data", tmp_path / "other")
    assert done.exit_code == 1
    assert name in done.stderr


def test_a_copy_made_before_an_upgrade_is_restored_with_its_photos(folder: Path, tmp_path: Path) -> None:
    store = Store(folder)
    copy = folder / "backups" / store.save_copy("before-0007")
    with store.writing() as session:
        session.get_one(Shop, 1).name = "Since renamed"
    store.close()
    wanted, photo = rows_of(copy), photo_in(folder)
    done = run("restore", copy, "--data", folder, "--replace")
    assert (done.exit_code, done.stderr) == (0, "")
    assert rows_of(folder / "shop.db") == wanted
    elsewhere = run("restore", copy, "--data", tmp_path / "other")
    assert (elsewhere.exit_code, elsewhere.stderr) == (0, "")
    assert "with 1 photo." in elsewhere.stdout
    assert (tmp_path / "other" / "photos" / photo.name).read_bytes() == photo.read_bytes()
    assert sorted(file.name for file in copy.parent.iterdir() if file.name.startswith(copy.name)) == [copy.name]


def test_what_keeps_photos_from_being_cleared_away_is_said_until_it_is_gone(folder: Path, tmp_path: Path) -> None:
    left = folder / "photos" / f"{'a' * 64}.jpg"
    left.write_bytes(b"an old photo")
    os.utime(left, (1, 1))
    broken = folder / "backups" / "shop-20260101T000000000000Z-before-0002.db"
    broken.write_bytes(b"cut off while it was written")
    for turn in range(2):
        done = run("backup", tmp_path / f"{turn}.zip", "--data", folder)
        assert done.exit_code == 0
        assert broken.name in done.stderr
        assert left.exists()
    checked = run("check", "--data", folder)
    assert checked.exit_code == 1
    assert broken.name in checked.stderr
    assert broken.name in (folder / "logs" / "ringbench.log").read_text()
    broken.unlink()
    done = run("backup", tmp_path / "then.zip", "--data", folder)
    assert (done.exit_code, done.stderr) == (0, "")
    assert not left.exists()


@pytest.mark.parametrize("keep", [False, True])
def test_who_was_let_in_when_the_backup_was_made_is_let_in_again_only_when_asked(
    store: Store, tmp_path: Path, keep: bool
) -> None:
    with store.writing() as session:
        set_password(session, "seven kettles by the door")
        open_session(session, "phone")
        make_key(session, "scale by the window")
    store.close()
    file, other = tmp_path / "shop.zip", tmp_path / "other"
    run("backup", file, "--data", store.folder)
    done = run("restore", file, "--data", other, *(("--keep-keys",) if keep else ()))
    assert done.exit_code == 0
    assert "“scale by the window”" in done.stdout
    assert ("work again" if keep else "are dropped") in done.stdout
    assert "password that it had" in done.stdout
    with closing(sqlite3.connect(other / "shop.db")) as connection:
        assert connection.execute("SELECT count(*) FROM signed_in").fetchone() == (0,)
        assert connection.execute("SELECT count(*) FROM program_key").fetchone() == (int(keep),)


def test_a_database_of_another_program_is_not_given_tables(folder: Path) -> None:
    with closing(sqlite3.connect(folder / "shop.db")) as connection:
        connection.execute("DROP TABLE alembic_version")
        connection.commit()
    before = rows_of(folder / "shop.db")
    done = run("check", "--data", folder)
    assert done.exit_code == 1
    assert "another program" in done.stderr
    assert rows_of(folder / "shop.db") == before


def test_a_running_shop_follows_a_database_that_was_put_in_its_place(folder: Path, tmp_path: Path) -> None:
    file = tmp_path / "good.zip"
    run("backup", file, "--data", folder)
    serving = Store(folder)
    with serving.writing() as session:
        session.get_one(Shop, 1).name = "Before the damage"
    settle(serving.file)
    DAMAGES["garbage in its first bytes"](serving.file)
    assert run("restore", file, "--data", folder, "--replace").exit_code == 0
    with serving.reading() as session:
        assert session.get_one(Shop, 1).name == "Test bench"
    with serving.writing() as session:
        session.get_one(Shop, 1).name = "After it"
        session.connection().execute(text("SELECT 1"))
    serving.close()
    assert rows_of(folder / "shop.db")["shop"][0][1] == "After it"
