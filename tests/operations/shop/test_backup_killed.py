"""Killed in the middle: at whatever step on files a backup, a restore or a copy ends, what was there is still there."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

from models.database import Store
from models.operations.shop.backup import write_backup
from models.operations.shop.photo_names import unreadable_copies
from models.operations.shop.restore import restore_backup
from models.shop_folder import copies_in
from models.sqlite_file import fault_of_database
from models.tables import Shop
from tests.budget import budget
from tests.damage import DAMAGES, a_design_with_photo, content_of, rows_of, settle
from tests.serving import TOP

pytestmark = [
    pytest.mark.skipif(not hasattr(os, "fork"), reason="a child is killed in the place of this process"),
    pytest.mark.long,
]


@pytest.fixture
def every() -> int:
    """A plain run kills at each so many-th step, the long one more often, `tests/soak` at each."""
    return 36 // budget(3, 1)


def killed(what: str, folder: Path, file: Path, copies: Path, every: int) -> list[Path]:
    """The copies of a shop folder in which the work was killed, one for each step; the last one's was done."""
    copies.mkdir()
    left = copies.with_name("temporary")
    left.mkdir()
    done = subprocess.run(
        [sys.executable, "-m", "tests.killing", what, str(folder), str(file), str(copies), str(every)],
        cwd=TOP,
        env={**os.environ, "TMPDIR": str(left)},
        capture_output=True,
        text=True,
        timeout=550,
        check=True,
    )
    assert done.stdout.split()[1] == "0", done.stderr
    shops = sorted(path for path in copies.iterdir() if path.is_dir())
    assert len(shops) > 12 // every
    return shops


@pytest.fixture
def folder(store: Store) -> Path:
    """A shop with a photo, closed and settled."""
    a_design_with_photo(store)
    store.close()
    settle(store.file)
    return store.folder


@pytest.mark.property
def test_a_backup_that_is_killed_leaves_the_old_file_or_a_whole_new_one(
    folder: Path, tmp_path: Path, every: int
) -> None:
    old = tmp_path / "old.zip"
    store = Store(folder)
    write_backup(store, old)
    with store.writing() as session:
        session.get_one(Shop, 1).name = "Since renamed"
    store.close()
    settle(store.file)
    for shop in killed("backup", folder, old, tmp_path / "killed", every):
        file = shop.with_name(f"{shop.name}.zip")
        restored = Store(tmp_path / "restored" / shop.name)
        restore_backup(restored, file)
        restored.close()
        assert rows_of(restored.file)["shop"][0][1] in {"Since renamed", "Test bench"}
    assert rows_of(restored.file)["shop"][0][1] == "Since renamed"


@pytest.mark.property
@pytest.mark.parametrize("damage", ["", "garbage in its first bytes", "gone, its journal left"])
def test_a_restore_that_is_killed_is_done_again_and_loses_nothing(
    damage: str, folder: Path, tmp_path: Path, every: int
) -> None:
    file = tmp_path / "good.zip"
    store = Store(folder)
    write_backup(store, file)
    wanted = rows_of(folder / "shop.db")
    with store.writing() as session:
        session.get_one(Shop, 1).name = "Since renamed"
    store.close()
    settle(store.file)
    since = rows_of(folder / "shop.db")
    if damage:
        DAMAGES[damage](folder / "shop.db")
    found = {name: content for name, content in content_of(folder).items() if name.startswith("shop.db") and content}
    for shop in killed("restore", folder, file, tmp_path / "killed", every):
        there = content_of(shop)
        if damage:
            # Each damaged file is where it was, or aside, byte for byte.
            for name, content in found.items():
                at = [path for path in there if path == name or path.endswith(f"/{name}")]
                assert content in [there[path] for path in at], (shop.name, name)
        else:
            assert fault_of_database(shop / "shop.db") == ""
            assert rows_of(shop / "shop.db") in (wanted, since), shop.name
        again = Store(shop)
        restore_backup(again, file, replace=True)
        again.prepare()
        again.close()
        assert rows_of(shop / "shop.db") == wanted
        assert unreadable_copies(shop) == () or damage
        assert [path for path in content_of(shop) if ".part" in path and "photos" not in path] == []


@pytest.mark.property
def test_a_copy_that_is_killed_has_no_name_and_is_cleared_away_at_the_next_start(
    folder: Path, tmp_path: Path, every: int
) -> None:
    left = 0
    for shop in killed("copy", folder, folder / "shop.db", tmp_path / "killed", min(every, 3)):
        assert unreadable_copies(shop) == ()
        for copy in copies_in(shop):
            assert rows_of(copy) == rows_of(folder / "shop.db")
        drafts = [file for file in (shop / "backups").iterdir() if ".part" in file.name]
        left += len(drafts)
        again = Store(shop)
        again.prepare()
        again.close()
        assert all("cut off while it was written" in words for words in again.notices)
        assert len(again.notices) == len(drafts)
        assert [file for file in (shop / "backups").iterdir() if ".part" in file.name] == []
    assert left
