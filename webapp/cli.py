"""The command line `ringbench`: what each command says and answers. What it does lives in `models` and `serve`."""

from __future__ import annotations

import os
import sqlite3
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from getpass import getpass
from pathlib import Path
from typing import Annotated, NoReturn

import typer
from filelock import Timeout
from sqlalchemy.exc import DatabaseError

from models.database import BrokenShop, Store
from models.disk import FULL, disk_words
from models.errors import Refused, Unfit
from models.intake.csv_file import AT_THE_COMMAND
from models.intake.faults import Faults
from models.intake.shop.sign_in import read_new_password
from models.operations.check import check_shop
from models.operations.demo import found_demo
from models.operations.imports import KINDS, ONLY_OUT, FileKind, Look, file_of, look_at_file, take_file
from models.operations.shop.archive import BadBackup
from models.operations.shop.backup import write_backup
from models.operations.shop.photo_sweep import sweep_photos, why_none_is_swept
from models.operations.shop.restore import restore_backup
from models.operations.shop.sign_in import set_password
from models.queries.shop.shop import is_founded, shop_settings
from models.queries.shop.sign_in import has_password
from webapp import VERSION
from webapp.cli_words import database_words, save_file, say_who_may_enter
from webapp.logs import logger, start_log, stop_log
from webapp.serve import reach_of, serve_shop
from webapp.settings import BadSetting, Settings, read_settings

WRONG = 1
BAD_USE = 2
ON_THE_NETWORK = (
    "Anybody in your network can reach its sign-in page. What goes to and fro is not encrypted (plain HTTP), so "
    "somebody in that network could read along, the password too: do this in a network that you trust."
)

app = typer.Typer(
    name="ringbench",
    help="Costs, ring stock, builds and orders of a chainmaille studio, kept on this machine.",
    no_args_is_help=True,
    add_completion=False,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

Data = Annotated[
    Path | None, typer.Option("--data", metavar="DIR", help="The shop's folder. [default: your own data folder]")
]
Host = Annotated[
    str | None,
    typer.Option(
        "--host",
        help="Where to listen: an address of this machine in the home network, or 0.0.0.0 for all of them, once the "
        "shop has a password. [default: 127.0.0.1, this machine only]",
    ),
]
HostHere = Annotated[
    str | None, typer.Option("--host", help="Where to listen; this machine only. [default: 127.0.0.1]")
]
Port = Annotated[str | None, typer.Option("--port", help="The port; 0 finds a free one. [default: 8042]")]
LogLevel = Annotated[str | None, typer.Option("--log-level", help="debug, info, warning or error. [default: info]")]
KindOut = Annotated[str, typer.Argument(metavar="KIND", help=f"One of: {', '.join((*KINDS, *ONLY_OUT))}.")]
Kind = Annotated[str, typer.Argument(metavar="KIND", help=f"One of: {', '.join(KINDS)}.")]


def main() -> None:
    """Run the command that was typed."""
    app()


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"ringbench {VERSION}")
        raise typer.Exit


@app.callback()
def _ringbench(
    _version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say which version this is.")
    ] = False,
) -> None:
    pass


@app.command()
def serve(data: Data = None, host: Host = None, port: Port = None, log_level: LogLevel = None) -> None:
    """Open your own shop; its folder is made when it is not there yet."""
    with plain_words():
        settings = _settings(data, host=host, port=port, log_level=log_level)
        with _store(settings.data_dir) as store:
            with store.reading() as session:
                reach = reach_of(settings, asks=has_password(session))
            where = f"Your shop is in {settings.data_dir}."
            words = where if reach.only_here else f"{where}\n{ON_THE_NETWORK}"
            serve_shop(store, settings, lambda addresses: _ready(addresses, words), reach)


@app.command()
def demo(data: Data = None, host: HostHere = None, port: Port = None, log_level: LogLevel = None) -> None:
    """Open a fresh shop with invented data, to click around in; it is gone when you stop it.

    With --data it is written into that folder, which must not hold a shop yet, and stays.
    """
    with plain_words(), tempfile.TemporaryDirectory(prefix="ringbench-demo-", ignore_cleanup_errors=True) as throw_away:
        settings = _settings(data or Path(throw_away), host=host, port=port, log_level=log_level, demo=True)
        reach = reach_of(settings, asks=False)
        with _store(settings.data_dir) as store:
            with store.writing() as session:
                if is_founded(session):
                    raise BadSetting(
                        "data", f"There is a shop in {settings.data_dir} already; open it with 'ringbench serve'."
                    )
                found_demo(session)
            stays = f"It stays in {settings.data_dir}." if data else "It is gone when you stop it."
            words = f"A demo shop with invented data. {stays}"
            serve_shop(store, settings, lambda addresses: _ready(addresses, words), reach)


@app.command()
def password(data: Data = None) -> None:
    """Set the password that the shop asks for, or another one when it was forgotten; all devices are signed out.

    It is asked for without being shown. When it is piped in, the first line is taken.
    """
    with plain_words(), _existing(data) as store:
        with store.reading() as session:
            had_one, studio = has_password(session), shop_settings(session).name
        typed = _typed_password()
        chosen = read_new_password({"password": typed[0], "password_again": typed[1]}, studio=studio)
        if isinstance(chosen, Faults):
            _fail("\n".join(fault.message for fault in chosen), WRONG)
        with store.writing() as session:
            set_password(session, chosen)
        if had_one:
            typer.echo("The password is changed, and every device has to sign in again. Keys of programs stay.")
        else:
            typer.echo("The password is set. From now on the shop asks for it, also on this machine.")


@app.command()
def check(data: Data = None) -> None:
    """Prove that the shop's data agree; name the first thing that does not, and end with 1."""
    with plain_words(), _existing(data) as store, store.reading() as session:
        found = check_shop(session, store.photos)
        looked_at = ", ".join(f"{count} {words}" for words, count in found.counts)
        if found.sound:
            typer.echo(f"All is sound: {looked_at}.")
            return
        typer.echo(found.wrong[0], err=True)
        if len(found.wrong) > 1:
            typer.echo(f"And {len(found.wrong) - 1} more of the kind; looked at {looked_at}.", err=True)
        raise typer.Exit(WRONG)


@app.command()
def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The ZIP file to write.")],
    data: Data = None,
    replace: Annotated[bool, typer.Option("--replace", help="Write over a file of that name.")] = False,
) -> None:
    """Write the whole shop, with its photos, into one file; people may go on working meanwhile.

    Then photos that no design has any more are cleared away, when they are older than a day.
    """
    with plain_words(), _existing(data) as store:
        written = write_backup(store, file, replace=replace)
        left_out = len(written.missing) + len(written.damaged)
        holds = f"without {left_out} of its photos" if left_out else f"with {written.photos} {_photos(written.photos)}"
        typer.echo(f"The shop is backed up in {file}, {holds}.")
        if written.open_file:
            typer.echo(f"Other accounts of this machine can read {file}: its disk keeps no permissions.", err=True)
        for name in written.missing:
            typer.echo(f"Left out, as it is not in the shop folder: the photo {name}.", err=True)
        for name in written.damaged:
            typer.echo(f"Left out, as its file is damaged: the photo {name}.", err=True)
        if left_out:
            raise typer.Exit(WRONG)
        swept = sweep_photos(store)
        if swept:
            typer.echo(f"Cleared away {swept} {_photos(swept)} that no design has had for a day or more.")
        unread = why_none_is_swept(store.folder)
        if unread:
            typer.echo(unread, err=True)


@app.command()
def restore(
    file: Annotated[
        Path,
        typer.Argument(
            metavar="FILE", help="A file that 'ringbench backup' wrote, or a copy in a shop's backups folder."
        ),
    ],
    data: Data = None,
    replace: Annotated[bool, typer.Option("--replace", help="Put what is there now aside, and restore.")] = False,
    keep_keys: Annotated[
        bool, typer.Option("--keep-keys", help="Let the keys of programs that the backup holds work again.")
    ] = False,
) -> None:
    """Make the shop what it was in a backup; a shop that is there is kept aside, and only replaced when you say so.

    So is a damaged one: its files are put into a folder of their own as they are. Devices must sign in again.
    """
    with plain_words():
        settings = _settings(data)
        folder = settings.data_dir
        store = Store(folder)
        try:
            done = restore_backup(store, file, replace=replace, keep_keys=keep_keys)
            with _logged(settings, store.notices):
                logger.info("restored from %s", file)
        finally:
            store.close()
        typer.echo(f"The shop in {folder} is restored from {file}, with {done.photos} {_photos(done.photos)}.")
        if done.kept_aside:
            typer.echo(f"What was there before is kept in {folder / 'backups' / done.kept_aside}.")
        if done.damaged_aside:
            aside = folder / done.damaged_aside
            typer.echo(f"What was there before was no sound shop. Its files are kept as they were in {aside}.")
        if done.kept_aside or done.damaged_aside:
            typer.echo("A server that has this shop open shows the restored one from its next page.")
        say_who_may_enter(done.access)
        for name in done.without:
            typer.echo(f"Neither the backup nor the shop folder has it whole: the photo {name}.", err=True)
        if done.without:
            raise typer.Exit(WRONG)


@app.command("import")
def take_in(
    kind: Kind,
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="The file to take in; - reads what is piped in.")],
    data: Data = None,
    look: Annotated[bool, typer.Option("--look", help="Only say what would come of it.")] = False,
) -> None:
    """Take in a file: as a whole, or not at all."""
    with plain_words(), _existing(data) as store:
        chosen = _kind(kind)
        content = sys.stdin.buffer.read() if str(file) == "-" else file.read_bytes()
        # What is only looked at waits for nobody.
        with store.reading() if look else store.writing() as session:
            act = look_at_file if look else take_file
            found = act(session, chosen, content, AT_THE_COMMAND)
        if isinstance(found, Faults):
            raise Unfit(found)
        if isinstance(found, Look):
            _say_look(found)
            return
        what, was = (chosen.one, "was") if found == 1 else (chosen.many, "were")
        typer.echo(f"{found} {what} {was} taken in.")


@app.command("export")
def hand_out(
    kind: KindOut,
    data: Data = None,
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE.csv", help="Write it there.")] = None,
    decimal_comma: Annotated[
        bool, typer.Option("--decimal-comma", help="Decimal commas, and semicolons between cells.")
    ] = False,
) -> None:
    """Write everything of one kind as a file, to the screen unless --out is given."""
    with plain_words(), _existing(data) as store:
        with store.reading() as session:
            text = file_of(session, ONLY_OUT.get(kind) or _kind(kind), delimiter=";" if decimal_comma else ",")
        if out is None:
            sys.stdout.buffer.write(text.encode())
            sys.stdout.buffer.flush()
        else:
            save_file(out, text.encode())
            typer.echo(f"Saved in {out}.")


@contextmanager
def plain_words() -> Iterator[None]:
    """Say what went wrong in plain words on the error stream, and end with a status; never with a trace of calls."""
    try:
        yield
    except BadSetting as bad:
        _fail(bad.message, BAD_USE)
    except Unfit as unfit:
        lines = [f"{fault.field}: {fault.message}" if fault.field else fault.message for fault in unfit.faults]
        _fail("\n".join([*lines, "Nothing was stored."]), WRONG)
    except (BrokenShop, BadBackup, Refused) as refused:
        _fail(str(refused), WRONG)
    except Timeout:
        _fail("Another program is writing to this shop and does not finish. Nothing was changed; try again.", WRONG)
    except DatabaseError as broken:
        if words := disk_words(broken):
            _fail(words, WRONG)
        _fail(database_words(broken.orig or broken), WRONG)
    except (sqlite3.Error, UnicodeDecodeError) as broken:
        # SQLite quotes what it finds in a damaged database, and that need not be text.
        _fail(database_words(broken), WRONG)
    except OSError as denied:
        if disk_words(denied) == FULL:
            _fail(FULL, WRONG)
        where = f" {denied.filename}" if denied.filename else ""
        _fail(f"Cannot use{where}: {denied.strerror or denied}.", WRONG)
    except KeyboardInterrupt:
        raise typer.Exit(WRONG) from None


def _typed_password() -> tuple[str, str]:
    """The password and its repetition; from a terminal both are asked for, and nothing is shown."""
    if _is_terminal():
        return getpass("The new password: "), getpass("The same again: ")
    line = sys.stdin.readline().rstrip("\r\n")
    return line, line


def _is_terminal() -> bool:
    return sys.stdin.isatty()


def _fail(words: str, status: int) -> NoReturn:
    typer.echo(words, err=True)
    raise typer.Exit(status)


def _ready(addresses: tuple[str, ...], words: str) -> None:
    typer.echo(f"{words}\nOpen {' or '.join(addresses)} in a browser. Ctrl+C stops it.")
    # What prints the address may be a pipe that somebody waits on.
    sys.stdout.flush()


def _settings(data: Path | None, **flags: object) -> Settings:
    return read_settings({"data_dir": data, **flags}, os.environ)


@contextmanager
def _store(folder: Path) -> Iterator[Store]:
    """The shop in a folder, its tables brought up to this program."""
    store = Store(folder)
    try:
        saved = store.prepare()
        for words in store.notices:
            typer.echo(words, err=True)
        if saved:
            typer.echo(f"The shop was of an older version. It is upgraded, and what it was is kept in backups/{saved}.")
        yield store
    finally:
        store.close()


@contextmanager
def _existing(data: Path | None) -> Iterator[Store]:
    """The shop in a folder, which must be set up already; what was found in the folder is said and logged."""
    settings = _settings(data)
    folder = settings.data_dir
    if not (folder / "shop.db").is_file():
        raise BadSetting(
            "data", f"There is no shop in {folder}. Start one with 'ringbench serve', or name its folder with --data."
        )
    with _store(folder) as store, _logged(settings, store.notices):
        with store.reading() as session:
            founded = is_founded(session)
        if not founded:
            raise BadSetting(
                "data",
                f"The shop in {folder} is not set up yet. Start it with 'ringbench serve' and answer its first page.",
            )
        yield store


@contextmanager
def _logged(settings: Settings, notices: tuple[str, ...]) -> Iterator[None]:
    """Write to the shop's log meanwhile, and say there what was found in its folder."""
    log = start_log(settings.data_dir / "logs", settings.log_level)
    try:
        for words in notices:
            logger.warning("%s", words)
        yield
    finally:
        stop_log(log)


def _kind(code: str) -> FileKind:
    if code not in KINDS:
        raise BadSetting("kind", f"'{code}' is no kind of file. Use one of: {', '.join(KINDS)}.")
    return KINDS[code]


def _say_look(found: Look) -> None:
    for line in found.bad:
        for fault in line.faults:
            typer.echo(f"line {line.line}{f', {fault.field}' if fault.field else ''}: {fault.message}", err=True)
    what = found.kind.one if found.count == 1 else found.kind.many
    if found.bad:
        typer.echo(
            f"{len(found.bad)} of {len(found.lines)} lines cannot be taken in, so the file would not be.", err=True
        )
        raise typer.Exit(WRONG)
    typer.echo(f"This file would bring {found.count} {what}.")


def _photos(count: int) -> str:
    return "photo" if count == 1 else "photos"
