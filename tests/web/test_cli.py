"""The command line: what it does, what it says, and the status that it ends with."""

from __future__ import annotations

import os
import re
import signal
import socket
import sqlite3
import tomllib
import urllib.error
import urllib.request
from contextlib import closing
from pathlib import Path

import pytest
from sqlmodel import select
from typer.testing import CliRunner, Result

from models.database import Store
from models.operations.shop.clock import now
from models.operations.shop.sign_in import is_right, open_session
from models.queries.shop.shop import shop_settings
from models.queries.shop.sign_in import has_password, visitor
from models.tables import Owner, Shop
from tests.operations.test_imports import FILES, rows
from tests.serving import running
from webapp import VERSION
from webapp.cli import app
from webapp.network import own_addresses

TOP = Path(__file__).parents[2]


def run(*words: object, typed: str | bytes | None = None) -> Result:
    return CliRunner().invoke(app, [str(word) for word in words], input=typed, catch_exceptions=False)


@pytest.fixture(autouse=True)
def _no_settings_from_outside(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    for name in list(os.environ):
        if name.startswith("RINGBENCH_"):
            monkeypatch.delenv(name)
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "home"))


@pytest.fixture
def folder(store: Store) -> Path:
    """The folder of a founded shop."""
    return store.folder


def fill(folder: Path, tmp_path: Path) -> None:
    for kind, text in FILES.items():
        file = tmp_path / f"{kind}.csv"
        file.write_text(text, encoding="utf-8")
        assert run("import", kind, file, "--data", folder).exit_code == 0


def test_the_version_is_that_of_the_project() -> None:
    with (TOP / "pyproject.toml").open("rb") as file:
        assert tomllib.load(file)["project"]["version"] == VERSION
    assert run("--version").stdout == f"ringbench {VERSION}\n"


def test_every_command_of_the_contract_is_there_and_takes_a_folder() -> None:
    said = run("--help").stdout
    for command in ("serve", "demo", "check", "backup", "restore", "import", "export", "password"):
        assert command in said
        assert "--data" in run(command, "--help").stdout
    for command in ("serve", "demo"):
        words = run(command, "--help").stdout
        assert "--host" in words
        assert "--port" in words


def test_files_are_taken_in_and_handed_out(store: Store, folder: Path, tmp_path: Path) -> None:
    fill(folder, tmp_path)
    assert rows(store)["Item"] == 7
    out = tmp_path / "out.csv"
    assert run("export", "parts", "--data", folder, "--out", out).exit_code == 0
    shown = run("export", "parts", "--data", folder)
    assert shown.stdout_bytes == out.read_bytes()
    assert b"Copper leaf pendant,Ear wire" in shown.stdout_bytes
    assert ";" in run("export", "outlets", "--data", folder, "--decimal-comma").stdout.splitlines()[0]
    assert run("export", "movements", "--data", folder).stdout.startswith("movement,act,done,")
    assert "is no kind of file" in run("import", "movements", str(out), "--data", folder).stderr


def test_a_file_can_be_piped_in_and_looked_at_first(store: Store, folder: Path) -> None:
    looked = run("import", "outlets", "-", "--look", "--data", folder, typed=FILES["outlets"])
    assert (looked.exit_code, looked.stdout) == (0, "This file would bring 2 outlets.\n")
    assert rows(store)["Outlet"] == 0
    taken = run("import", "outlets", "-", "--data", folder, typed=FILES["outlets"])
    assert (taken.exit_code, taken.stdout) == (0, "2 outlets were taken in.\n")
    assert rows(store)["Outlet"] == 2


@pytest.mark.parametrize("look", [(), ("--look",)])
def test_a_wrong_file_names_its_lines_and_stores_nothing(store: Store, folder: Path, look: tuple[str, ...]) -> None:
    text = FILES["outlets"] + "Barn,barn,200,,,,,,\n"
    done = run("import", "outlets", "-", *look, "--data", folder, typed=text)
    assert done.exit_code == 1
    assert "line 4, kind: Choose one of" in done.stderr
    assert "line 4, tax_percent:" in done.stderr
    assert rows(store)["Outlet"] == 0
    header = run("import", "outlets", "-", *look, "--data", folder, typed="a,b\n1,2\n")
    assert header.exit_code == 1
    assert "lacks name" in header.stderr


def test_a_sound_shop_is_said_to_be_sound(folder: Path, tmp_path: Path) -> None:
    fill(folder, tmp_path)
    done = run("check", "--data", folder)
    assert (done.exit_code, done.stderr) == (0, "")
    assert (
        done.stdout == "All is sound: 7 stock items, 2 designs, 2 outlets, 2 costs, 4 prices, 5 lots, 12 movements, "
        "0 purchases.\n"
    )


def test_a_stale_figure_is_named_and_ends_the_check_with_one(store: Store, folder: Path, tmp_path: Path) -> None:
    fill(folder, tmp_path)
    with closing(sqlite3.connect(store.file)) as connection:
        connection.execute("UPDATE shop SET wage_micros = wage_micros + 1000000")
        connection.commit()
    done = run("check", "--data", folder)
    assert (done.exit_code, done.stdout) == (1, "")
    assert "Copper leaf pendant" in done.stderr.splitlines()[0]
    assert re.search(r"And \d+ more of the kind", done.stderr)


def test_a_backup_clears_away_photos_that_nothing_names(store: Store, folder: Path, tmp_path: Path) -> None:
    left = store.photos / f"{'a' * 64}.jpg"
    left.write_bytes(b"an old photo")
    assert "Cleared" not in run("backup", tmp_path / "one.zip", "--data", folder).stdout
    os.utime(left, (1, 1))
    done = run("backup", tmp_path / "two.zip", "--data", folder)
    assert "Cleared away 1 photo that no design" in done.stdout
    assert not left.exists()


def test_a_shop_is_backed_up_and_restored(store: Store, folder: Path, tmp_path: Path) -> None:
    file, other = tmp_path / "shop.zip", tmp_path / "other"
    assert "with 0 photos" in run("backup", file, "--data", folder).stdout
    assert run("backup", file, "--data", folder).exit_code == 1
    assert run("backup", file, "--data", folder, "--replace").exit_code == 0
    assert run("restore", file, "--data", other).exit_code == 0
    assert run("check", "--data", other).exit_code == 0
    with store.writing() as session:
        session.get_one(Shop, 1).name = "Since renamed"
    refused = run("restore", file, "--data", folder)
    assert refused.exit_code == 1
    assert "--replace" in refused.stderr
    done = run("restore", file, "--data", folder, "--replace")
    assert "A server that has this shop open shows the restored one from its next page." in done.stdout
    assert done.exit_code == 0
    aside = Path(done.stdout.splitlines()[1].removeprefix("What was there before is kept in ").removesuffix("."))
    assert aside.is_file()
    with store.reading() as session:
        assert shop_settings(session).name == "Test bench"


def test_an_older_shop_is_upgraded_with_a_word_of_it(
    store: Store, folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(Store, "prepare", lambda _store: "shop-x-before-0002.db")
    assert "kept in backups/shop-x-before-0002.db" in run("check", "--data", folder).stdout


BAD = {
    "no shop there": (("check",), 2, "There is no shop in"),
    "no shop in a named folder": (("export", "items", "--data", "{tmp}/nowhere"), 2, "There is no shop in"),
    "an unknown kind": (("export", "horses", "--data", "{shop}"), 2, "'horses' is no kind of file. Use one of: items"),
    "a file that is not there": (("import", "items", "{tmp}/none.csv", "--data", "{shop}"), 1, "none.csv: No such file"),
    "a backup that is not there": (("restore", "{tmp}/none.zip", "--data", "{tmp}/new"), 1, "There is no file"),
    "a folder that is a file": (("serve", "--data", "{tmp}/file"), 1, "Cannot use"),
    "another host": (("serve", "--host", "0.0.0.0", "--data", "{shop}"), 2, "answers on this machine only"),  # noqa: S104
    "another host for the demo": (("demo", "--host", "192.168.1.5"), 2, "answers on this machine only"),
    "a host of the open internet without a password": (("serve", "--host", "93.184.216.34", "--data", "{shop}"), 2, "has no password"),
    "a name of a host": (("serve", "--host", "bench.example", "--data", "{shop}"), 2, "answers on this machine only"),
    "a port in words": (("serve", "--port", "many", "--data", "{shop}"), 2, "is not a number between 0 and 65535"),
    "a port out of range": (("demo", "--port", "65536"), 2, "is not a number between 0 and 65535"),
    "a log level of our own": (("serve", "--log-level", "loud", "--data", "{shop}"), 2, "'loud' is not known"),
    "a demo over a shop": (("demo", "--data", "{shop}"), 2, "There is a shop in"),
}  # fmt: skip


@pytest.mark.parametrize("case", BAD)
def test_what_goes_wrong_is_said_in_plain_words(case: str, folder: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way")
    words, status, says = BAD[case]
    done = run(*(word.format(tmp=tmp_path, shop=folder) for word in words))
    assert done.exit_code == status
    assert says in done.stderr
    assert "Traceback" not in done.output
    assert done.stdout == ""


def test_a_shop_that_was_never_set_up_says_so(tmp_path: Path) -> None:
    fresh = Store(tmp_path / "fresh")
    fresh.prepare()
    fresh.close()
    done = run("export", "items", "--data", tmp_path / "fresh")
    assert done.exit_code == 2
    assert "not set up yet" in done.stderr


def test_a_shop_of_a_newer_program_and_a_broken_one_are_refused_in_plain_words(
    store: Store, folder: Path, tmp_path: Path
) -> None:
    with closing(sqlite3.connect(store.file)) as connection:
        connection.execute("UPDATE alembic_version SET version_num = 'from-the-future'")
        connection.commit()
    done = run("check", "--data", folder)
    assert done.exit_code == 1
    assert "newer Ringbench" in done.stderr
    broken = tmp_path / "broken"
    broken.mkdir()
    (broken / "shop.db").write_bytes(b"not a database at all " * 400)
    done = run("check", "--data", broken)
    assert done.exit_code == 1
    assert "cannot be read" in done.stderr


def test_a_port_that_is_taken_is_said_in_plain_words(folder: Path) -> None:
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        taken.listen()
        done = run("serve", "--data", folder, "--port", taken.getsockname()[1])
    assert done.exit_code == 2
    assert "--port 0" in done.stderr


GOOD = "seven kettles by the door"


def right(store: Store, typed: str) -> bool:
    with store.reading() as session:
        return is_right(typed, session.exec(select(Owner.password_hash)).one())


def test_a_password_is_set_and_set_again_on_the_machine_itself(store: Store, folder: Path) -> None:
    done = run("password", "--data", folder, typed=f"{GOOD}\n")
    assert (done.exit_code, done.stderr) == (0, "")
    assert "The password is set." in done.stdout
    assert GOOD not in done.output
    assert right(store, GOOD)
    with store.writing() as session:
        token = open_session(session, "phone")
    done = run("password", "--data", folder, typed="two herons on one leg")
    assert (done.exit_code, done.stderr) == (0, "")
    assert "every device has to sign in again" in done.stdout
    assert right(store, "two herons on one leg")
    with store.reading() as session:
        assert not visitor(session, token=token, key="", at=now()).may_enter


@pytest.mark.parametrize(
    ("typed", "says"),
    [("", "at least 10"), ("password123\n", "one of the first"), ("Test bench!\n", "the name of your studio")],
)
def test_a_password_that_is_no_good_is_not_set(store: Store, folder: Path, typed: str, says: str) -> None:
    done = run("password", "--data", folder, typed=typed)
    assert (done.exit_code, done.stdout) == (1, "")
    assert says in done.stderr
    with store.reading() as session:
        assert not has_password(session)


@pytest.mark.parametrize(("again", "status"), [(GOOD, 0), (GOOD + "s", 1)])
def test_at_a_terminal_it_is_asked_for_twice(
    store: Store, folder: Path, monkeypatch: pytest.MonkeyPatch, again: str, status: int
) -> None:
    typed = iter((GOOD, again))
    monkeypatch.setattr("webapp.cli._is_terminal", lambda: True)
    monkeypatch.setattr("webapp.cli.getpass", lambda _words: next(typed))
    done = run("password", "--data", folder)
    assert done.exit_code == status
    with store.reading() as session:
        assert has_password(session) == (status == 0)
    assert status == 0 or "not the same" in done.stderr


@pytest.mark.long
def test_with_a_password_serve_opens_on_the_network_and_says_what_that_means(store: Store, folder: Path) -> None:
    mine = [address for address in own_addresses() if ":" not in address]
    if not mine:
        # Without a network there is nothing to open on, and it says so.
        run("password", "--data", folder, typed=GOOD)
        assert "has no network" in run("serve", "--host", "0.0.0.0", "--data", folder).stderr  # noqa: S104
        return
    run("password", "--data", folder, typed=GOOD)
    with running("serve", "--host", "0.0.0.0", "--port", 0, "--data", folder, at=mine[0]) as (address, process):  # noqa: S104
        assert "Anybody in your network can reach its sign-in page" in process.said
        assert "not encrypted" in process.said
        assert f"Open {address} in a browser" in process.said
        assert "This shop asks for its password." in get(address)
        port = address.rstrip("/").rpartition(":")[2]
        assert "This shop asks for its password." in get(f"http://127.0.0.1:{port}/settings")
        foreign = urllib.request.Request(address, headers={"host": "elsewhere.example"})  # noqa: S310
        with pytest.raises(urllib.error.HTTPError, match="421"):
            urllib.request.urlopen(foreign, timeout=20)  # noqa: S310
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=20) == 0


def test_an_address_of_another_machine_cannot_be_listened_on(store: Store, folder: Path) -> None:
    run("password", "--data", folder, typed=GOOD)
    done = run("serve", "--host", "10.255.255.1", "--port", 0, "--data", folder)
    assert (done.exit_code, done.stdout) == (2, "")
    assert "not an address of this machine" in done.stderr
    done = run("serve", "--host", "93.184.216.34", "--port", 0, "--data", folder)
    assert (done.exit_code, done.stdout) == (2, "")
    assert "open internet" in done.stderr


def get(address: str) -> str:
    with urllib.request.urlopen(address, timeout=20) as answer:  # noqa: S310  (the address that our own server printed)
        return str(answer.read().decode())


@pytest.mark.long
@pytest.mark.parametrize("stop", [signal.SIGINT, signal.SIGTERM])
def test_the_demo_can_be_clicked_at_once_and_leaves_nothing_behind(tmp_path: Path, stop: signal.Signals) -> None:
    with running("demo", "--port", 0, env={"TMPDIR": str(tmp_path)}) as (address, process):
        (throw_away,) = tmp_path.iterdir()
        assert throw_away.name.startswith("ringbench-demo-")
        page = get(address)
        assert "invented" in page
        assert "Set up your shop" not in page
        process.send_signal(stop)
        assert process.wait(timeout=20) == 0
        assert process.stdout is not None
        assert "Traceback" not in process.stdout.read()
    assert list(tmp_path.iterdir()) == []


@pytest.mark.long
def test_serve_opens_the_shop_and_other_commands_work_beside_it(store: Store, folder: Path, tmp_path: Path) -> None:
    with running("serve", "--data", folder, env={"RINGBENCH_PORT": "0"}) as (address, process):
        assert "Test bench" in get(f"{address}settings")
        fill(folder, tmp_path)
        assert run("check", "--data", folder).exit_code == 0
        assert run("backup", tmp_path / "shop.zip", "--data", folder).exit_code == 0
        assert "Fair" in get(f"{address}outlets")
        with store.writing() as session:
            session.get_one(Shop, 1).name = "Renamed beside it"
        assert "Renamed beside it" in get(f"{address}settings")
        assert run("restore", tmp_path / "shop.zip", "--data", folder, "--replace").exit_code == 0
        assert "Test bench" in get(f"{address}settings")
        process.send_signal(signal.SIGINT)
        assert process.wait(timeout=20) == 0
    log = (folder / "logs" / "ringbench.log").read_text()
    assert "GET '/settings' 200" in log


@pytest.mark.long
def test_a_demo_can_be_kept_in_a_folder(tmp_path: Path) -> None:
    with running("demo", "--port", 0, "--data", tmp_path / "kept") as (address, process):
        assert "invented" in get(address)
        process.send_signal(signal.SIGTERM)
        assert process.wait(timeout=20) == 0
    done = run("check", "--data", tmp_path / "kept")
    assert done.exit_code == 0, done.stderr
    with closing(sqlite3.connect(tmp_path / "kept" / "shop.db")) as connection:
        assert connection.execute("SELECT demo FROM shop").fetchone() == (1,)


@pytest.mark.long
def test_a_shop_opened_for_the_first_time_gets_its_folder_and_its_first_page(tmp_path: Path) -> None:
    with running("serve", "--port", 0, "--data", tmp_path / "mine") as (address, _process):
        assert "Set up your shop" in get(address)
    assert (tmp_path / "mine" / "shop.db").is_file()
