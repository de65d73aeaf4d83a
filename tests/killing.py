"""Kills a program at each step that it takes on files: `python -m tests.killing WHAT FOLDER FILE COPIES`.

For every step a fresh copy of the shop folder is made, and a child does the work and is killed just before that step.
Prints how many steps there were. No test lives here.
"""

from __future__ import annotations

import os
import shutil
import signal
import sqlite3
import sys
from collections.abc import Callable
from contextlib import closing
from itertools import count
from pathlib import Path
from typing import Any

from models import database, sqlite_file
from models.database import Store
from models.operations.shop.archive import BadBackup
from models.operations.shop.backup import write_backup
from models.operations.shop.restore import restore_backup

STEPS = ("replace", "link", "fsync", "unlink", "mkdir", "chmod")
PAGES_AT_A_TIME = 40


class Fuse:
    """Counts the steps of a child, and kills it at one of them."""

    def __init__(self, at: int) -> None:
        self.at = at
        self.steps = 0

    def burn(self) -> None:
        """One more step; the chosen one is the last."""
        self.steps += 1
        if self.steps == self.at:
            os.kill(os.getpid(), signal.SIGKILL)

    def lay(self) -> None:
        """Have every step on files burn it: those of the system, and the pages that SQLite copies."""
        for name in STEPS:
            setattr(os, name, self._before(getattr(os, name)))

        def copy_in_steps(source: Path, target: Path, *, still: bool = False) -> None:
            sqlite_file.make_private_file(target)
            with sqlite_file.reading_only(source, still=still) as origin, closing(sqlite3.connect(target)) as copy:
                origin.backup(copy, pages=PAGES_AT_A_TIME, progress=lambda *_left: self.burn())

        sqlite_file.copy_database = copy_in_steps
        database.copy_database = copy_in_steps

    def _before(self, step: Callable[..., Any]) -> Callable[..., Any]:
        def burning(*words: Any, **more: Any) -> Any:
            self.burn()
            return step(*words, **more)

        return burning


def work(what: str, folder: Path, file: Path) -> None:
    """What the child does."""
    store = Store(folder)
    if what == "backup":
        write_backup(store, folder.with_name(f"{folder.name}.zip"), replace=True)
    elif what == "restore":
        restore_backup(store, file, replace=True)
    elif what == "copy":
        store.prepare()
        store.save_copy("before-0099")
    else:
        raise BadBackup(what)
    store.close()


def main(what: str, folder: Path, file: Path, copies: Path, every: int) -> None:
    """Kill the work at every step, or at every n-th of them."""
    for at in count(1, every):
        shop = copies / f"{at:03}"
        shutil.copytree(folder, shop)
        if what == "backup":
            shutil.copy(file, copies / f"{at:03}.zip")
        child = os.fork()
        if child == 0:
            Fuse(at).lay()
            try:
                work(what, shop, file)
                os._exit(0)
            except BaseException as error:
                print(f"step {at}: {error!r}", file=sys.stderr, flush=True)  # noqa: T201
                os._exit(1)
        _pid, status = os.waitpid(child, 0)
        if os.WIFEXITED(status):
            print(at, os.WEXITSTATUS(status))  # noqa: T201
            return


if __name__ == "__main__":
    main(sys.argv[1], *map(Path, sys.argv[2:5]), int(sys.argv[5]))
