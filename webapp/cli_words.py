"""What commands say of the shop's files, and how they write one that a person names. The commands stand in `cli`."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import typer

from models.database import RESTORE
from models.files import whole_file
from models.operations.shop.restore import Access


def database_words(broken: BaseException) -> str:
    """What an error of the database means for the person, and what to do."""
    code = getattr(broken, "sqlite_errorcode", None)
    if code is not None and code & 0xFF == sqlite3.SQLITE_FULL:
        return "The disk is full, so nothing was changed. Make room, and try again."
    if code is not None and code & 0xFF in {sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM}:
        return (
            f"The shop's database cannot be opened ({broken}). Look whose the folder is, and whether it can be written."
        )
    if code is not None and code & 0xFF in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}:
        return "Another program is using this shop's database and does not finish. Try again in a moment."
    return f"The shop's database cannot be read ({broken}). {RESTORE}"


def save_file(out: Path, content: bytes) -> None:
    """Write a file whole or not at all, for this account only; one that is there keeps who may read it."""
    if out.exists() and not out.is_file():
        # A pipe or a terminal has no other place that it could be moved from.
        out.write_bytes(content)
        return
    with whole_file(out.resolve()) as part:
        part.write_bytes(content)
        if out.exists():
            shutil.copymode(out, part)


def say_who_may_enter(access: Access) -> None:
    """Say which devices and programs are let in after a restore."""
    if access.has_password:
        typer.echo("The shop asks for the password that it had when the backup was made; every device has to sign in.")
    if access.keys:
        names = ", ".join(f"“{name}”" for name in access.keys)
        if access.keys_live:
            typer.echo(f"These keys of programs work again: {names}.")
        else:
            typer.echo(
                f"The keys of programs in the backup are dropped: {names}. Make new ones, or restore with --keep-keys."
            )
