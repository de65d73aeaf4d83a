"""Random damage to a shop, an archive or a photo: nothing is called good that does not come back, and nothing gets worse."""

from __future__ import annotations

import errno
import os
import random
import shutil
import zipfile
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from models.database import Store
from tests.budget import budget
from tests.damage import a_design_with_photo, content_of, cut, flip, rows_of, settle
from webapp.cli import app

pytestmark = pytest.mark.long


def run(*words: object) -> Result:
    """A command; an exception that is not put into words fails the test."""
    done = CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)
    assert done.exit_code == 0 or done.stderr
    return done


@pytest.fixture
def rounds() -> range:
    """The seeds of this run; `tests/soak` has more."""
    return range(budget(8, 3))


@pytest.fixture
def good(demo_folder: Path, tmp_path: Path) -> Path:
    """The invented studio with a photo, closed and settled, and `good.zip` of it beside it."""
    shop = tmp_path / "good"
    shutil.copytree(demo_folder, shop)
    store = Store(shop)
    a_design_with_photo(store)
    store.close()
    settle(store.file)
    assert run("backup", tmp_path / "good.zip", "--data", shop).exit_code == 0
    return shop


def harm(file: Path, chance: random.Random) -> None:
    """Flip one byte or a few, cut the file off, or lose a run of bytes."""
    kind = chance.randrange(4)
    if kind == 0:
        flip(file, chance)
    elif kind == 1:
        flip(file, chance, times=chance.randint(2, 200))
    elif kind == 2:
        cut(file, chance)
    else:
        content = bytearray(file.read_bytes())
        start = chance.randrange(len(content))
        length = chance.randint(1, 40_000)
        content[start : start + length] = bytes(len(content[start : start + length]))
        file.write_bytes(content)


def fresh(good: Path, turn: int) -> Path:
    """A copy of the good shop for one round; the one of the round before is cleared away."""
    shutil.rmtree(good.with_name(f"shop-{turn - 1}"), ignore_errors=True)
    shutil.rmtree(good.with_name(f"other-{turn - 1}"), ignore_errors=True)
    return Path(shutil.copytree(good, good.with_name(f"shop-{turn}")))


@pytest.mark.property
def test_no_backup_is_called_good_that_is_not_restored_equal(good: Path, tmp_path: Path, rounds: range) -> None:
    last = (tmp_path / "good.zip").read_bytes()
    called_good = 0
    for turn in rounds:
        shop, file, chance = fresh(good, turn), tmp_path / "new.zip", random.Random(turn)
        harm(shop / "shop.db", chance)
        file.write_bytes(last)
        done = run("backup", file, "--replace", "--data", shop)
        if done.exit_code:
            assert "is backed up" not in done.output
            assert file.read_bytes() == last, turn
            continue
        called_good += 1
        other = good.with_name(f"other-{turn}")
        assert run("restore", file, "--data", other).exit_code == 0, turn
        with zipfile.ZipFile(file) as archive:
            archive.extract("shop.db", tmp_path / "taken-out")
        assert rows_of(other / "shop.db") == rows_of(tmp_path / "taken-out" / "shop.db"), turn
        assert content_of(other / "photos") == content_of(shop / "photos"), turn
    assert called_good < len(rounds)


@pytest.mark.property
def test_a_damaged_shop_is_always_restored_and_what_it_was_is_kept(good: Path, tmp_path: Path, rounds: range) -> None:
    wanted = rows_of(good / "shop.db")
    for turn in rounds:
        shop, chance = fresh(good, turn), random.Random(1000 + turn)
        harm(shop / "shop.db", chance)
        harmed = (shop / "shop.db").read_bytes()
        done = run("restore", tmp_path / "good.zip", "--replace", "--data", shop)
        assert done.exit_code == 0, (turn, done.stderr)
        assert rows_of(shop / "shop.db") == wanted, turn
        kept = [file.read_bytes() for file in shop.glob("damaged-*/shop.db")]
        # Damage that no one can tell from a change leaves a shop, and is copied as one.
        assert kept == [harmed] or (not harmed and not kept) or list((shop / "backups").glob("shop-*.db")), turn


@pytest.mark.property
def test_a_damaged_archive_never_leaves_the_shop_worse(good: Path, tmp_path: Path, rounds: range) -> None:
    wanted, photos = rows_of(good / "shop.db"), content_of(good / "photos")
    refused = 0
    for turn in rounds:
        shop, file, chance = fresh(good, turn), tmp_path / "harmed.zip", random.Random(2000 + turn)
        shutil.copy(tmp_path / "good.zip", file)
        harm(file, chance)
        done = run("restore", file, "--replace", "--data", shop)
        refused += done.exit_code
        assert rows_of(shop / "shop.db") == wanted, turn
        assert content_of(shop / "photos") == photos, turn
        assert list(shop.glob("damaged-*")) == []
    assert refused


@pytest.mark.property
def test_a_damaged_photo_is_always_seen_and_always_mended(good: Path, tmp_path: Path, rounds: range) -> None:
    wanted = content_of(good / "photos")
    name = next(name for name in wanted if not name.endswith("-small.jpg"))
    last = (tmp_path / "good.zip").read_bytes()
    for turn in rounds:
        shop, chance = fresh(good, turn), random.Random(3000 + turn)
        harm(shop / "photos" / name, chance)
        if (shop / "photos" / name).read_bytes() == wanted[name]:
            continue
        assert name in run("check", "--data", shop).output, turn
        assert run("backup", tmp_path / "good.zip", "--replace", "--data", shop).exit_code == 1
        assert (tmp_path / "good.zip").read_bytes() == last
        assert run("restore", tmp_path / "good.zip", "--replace", "--data", shop).exit_code == 0
        assert content_of(shop / "photos") == wanted, turn


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_disk_that_refuses_is_told_in_plain_words_and_the_old_file_stays(
    good: Path, tmp_path: Path, call: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    last, wanted = (tmp_path / "good.zip").read_bytes(), rows_of(good / "shop.db")
    step = getattr(os, call)
    for at in range(3):
        left = [at]

        def refusing(*words: object, left: list[int] = left, **more: object) -> object:
            left[0] -= 1
            if left[0] < 0:
                raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
            return step(*words, **more)

        with monkeypatch.context() as patch:
            patch.setattr(os, call, refusing)
            done = run("backup", tmp_path / "good.zip", "--replace", "--data", good)
        if done.exit_code == 0:
            break
        assert "The disk is full" in done.stderr
        assert run("restore", tmp_path / "good.zip", "--data", tmp_path / f"{call}-{at}").exit_code == 0
        assert rows_of(tmp_path / f"{call}-{at}" / "shop.db") == wanted
        assert [file.name for file in tmp_path.iterdir() if file.name.endswith(".part")] == []
        if at == 0:
            assert (tmp_path / "good.zip").read_bytes() == last
    assert at
