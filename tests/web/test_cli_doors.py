"""Other accounts of the machine: nothing of a shop is theirs to read, whatever the umask, and what was open is closed."""

from __future__ import annotations

import os
import stat
from collections.abc import Iterator
from pathlib import Path

import pytest
from typer.testing import CliRunner, Result

from models import shop_folder
from models.database import Store
from models.operations.shop import backup
from models.operations.shop.shop import found_shop
from tests.damage import a_design_with_photo
from tests.serving import command, running
from webapp.cli import app

pytestmark = [
    pytest.mark.skipif(os.name != "posix", reason="modes say who may read only on POSIX systems"),
    pytest.mark.long,
]


def run(*words: object) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words], catch_exceptions=False)


@pytest.fixture(params=[0o000, 0o022, 0o077, 0o277], ids=oct)
def _umask(request: pytest.FixtureRequest) -> Iterator[None]:
    before = os.umask(request.param)
    yield
    os.umask(before)


def modes(folder: Path) -> dict[str, str]:
    """What is open to others, or closed to its owner: every path under a folder with another mode than it should have."""
    found = {}
    for path in (folder, *folder.rglob("*")):
        wanted = 0o700 if path.is_dir() else 0o600
        mode = stat.S_IMODE(path.stat().st_mode)
        if mode != wanted:
            found[str(path.relative_to(folder))] = oct(mode)
    return found


@pytest.mark.usefixtures("_umask")
def test_nothing_of_a_shop_is_ever_open_to_other_accounts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder, file = tmp_path / "a" / "b" / "shop", tmp_path / "shop.zip"
    store = Store(folder)
    store.prepare()
    with store.writing() as session:
        found_shop(session, name="Test bench", currency="EUR")
    a_design_with_photo(store)
    store.save_copy("before-0007")
    # While it is open its journals lie beside it.
    assert (folder / "shop.db-wal").exists()
    assert modes(tmp_path / "a") == {}

    drafts: list[str] = []
    write = backup.write_archive

    def looked_at(part: Path, *rest: Path) -> object:
        left_out = write(part, *rest)
        drafts.append(oct(stat.S_IMODE(part.stat().st_mode)))
        return left_out

    monkeypatch.setattr(backup, "write_archive", looked_at)
    assert run("backup", file, "--data", folder).exit_code == 0
    assert drafts == ["0o600"]
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    out = tmp_path / "items.csv"
    assert run("export", "items", "--data", folder, "--out", out).exit_code == 0
    assert stat.S_IMODE(out.stat().st_mode) == 0o600
    store.close()
    (folder / "shop.db").write_bytes(b"damaged " * 1000)
    assert run("restore", file, "--data", folder, "--replace").exit_code == 0
    assert run("restore", file, "--data", tmp_path / "a" / "new").exit_code == 0
    assert (folder / "logs" / "ringbench.log").exists()
    assert modes(tmp_path / "a") == {}


def open_up(folder: Path) -> None:
    for path in (folder, *folder.rglob("*")):
        path.chmod(0o755 if path.is_dir() else 0o644)


def test_what_an_older_program_left_open_is_closed_with_a_word_in_the_log(store: Store, tmp_path: Path) -> None:
    a_design_with_photo(store)
    store.save_copy("before-0007")
    run("backup", tmp_path / "one.zip", "--data", store.folder)
    store.close()
    open_up(store.folder)
    done = run("check", "--data", store.folder)
    assert done.exit_code == 0
    assert "Other accounts of this machine could read" in done.stderr
    assert modes(store.folder) == {}
    assert "closed to them now" in (store.folder / "logs" / "ringbench.log").read_text()
    assert run("check", "--data", store.folder).stderr == ""


def test_a_served_shop_is_closed_with_a_word_in_the_log(store: Store) -> None:
    store.close()
    open_up(store.folder)
    with running("serve", "--port", 0, "--data", store.folder) as (_address, server):
        assert "closed to them now" in server.said
        assert modes(store.folder) == {}
    assert "closed to them now" in (store.folder / "logs" / "ringbench.log").read_text()


def test_a_folder_that_serves_for_other_things_keeps_its_mode(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    (store.folder / "site").mkdir(mode=0o755)
    (store.folder / "site" / "index.html").write_text("for all")
    open_up(store.folder)
    words = shop_folder.close_shop_folder(store.folder)
    assert any("serves for other things too" in line for line in words)
    assert set(modes(store.folder)) == {".", "site", "site/index.html"}
    (store.folder / "site" / "index.html").unlink()
    (store.folder / "site").rmdir()
    store.folder.chmod(0o1777)
    shop_folder.close_shop_folder(store.folder)
    assert stat.S_IMODE(store.folder.stat().st_mode) == 0o1777
    store.folder.chmod(0o755)
    monkeypatch.setenv("HOME", str(store.folder / "photos"))
    shop_folder.close_shop_folder(store.folder)
    assert stat.S_IMODE(store.folder.stat().st_mode) == 0o755


def test_a_folder_of_another_account_is_told_of(store: Store, monkeypatch: pytest.MonkeyPatch) -> None:
    open_up(store.folder)

    def refused(path: Path, mode: int) -> None:
        raise PermissionError(1, "Operation not permitted", str(path))

    monkeypatch.setattr(Path, "chmod", refused)
    monkeypatch.setattr(os, "geteuid", lambda: store.folder.stat().st_uid + 1)
    done = run("check", "--data", store.folder)
    assert done.exit_code == 0
    assert "belongs to another account" in done.stderr
    assert "could not be changed (Operation not permitted)" in done.stderr


@pytest.mark.skipif(os.name != "posix" or os.geteuid() != 0, reason="only the administrator can give a folder away")
def test_a_folder_that_this_account_may_not_use_is_refused_in_plain_words(store: Store, tmp_path: Path) -> None:
    store.close()
    for path in (store.folder, *store.folder.rglob("*")):
        os.chown(path, 12345, 12345)
    told = command("check", "--data", store.folder)
    assert told.returncode == 0
    assert "belongs to another account" in told.stderr
    done = as_nobody("check", "--data", store.folder)
    assert done == (1, "", f"Cannot use {store.folder / 'shop.db'}: Permission denied.\n")


def as_nobody(*words: object) -> tuple[int, str, str]:
    """A command under the account of nobody, whose folders are all closed to it."""
    import subprocess
    import sys

    from tests.serving import TOP

    # Whatever a command imports on its way is loaded before: the program itself may lie in a folder that is closed too.
    script = (
        "import os, sys; from typer.testing import CliRunner; import webapp.cli; "
        "CliRunner().invoke(webapp.cli.app, sys.argv[1:]); os.setgid(65534); os.setuid(65534); webapp.cli.main()"
    )
    done = subprocess.run(
        [sys.executable, "-c", script, *map(str, words)], cwd=TOP, capture_output=True, text=True, check=False
    )
    return done.returncode, done.stdout, done.stderr


@pytest.mark.usefixtures("_umask")
def test_a_file_that_a_person_named_keeps_who_may_read_it(store: Store, tmp_path: Path) -> None:
    store.close()
    out = tmp_path / "items.csv"
    out.write_text("old")
    out.chmod(0o644)
    assert run("export", "items", "--data", store.folder, "--out", out).exit_code == 0
    assert out.read_text() != "old"
    assert stat.S_IMODE(out.stat().st_mode) == 0o644
    link = tmp_path / "link.csv"
    link.symlink_to(out)
    assert run("export", "designs", "--data", store.folder, "--out", link).exit_code == 0
    assert link.is_symlink()
    assert out.read_text().startswith("\ufeffname") or "name" in out.read_text()
