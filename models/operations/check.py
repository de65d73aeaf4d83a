"""Proof that a shop's data agree with one another: kept figures, what points at what, what is on disk."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from sqlmodel import Session, col, func, select

from models.operations.check_builds import check_builds
from models.operations.check_layouts import check_layouts
from models.operations.check_ledger import check_ledger
from models.operations.check_purchases import check_purchases
from models.operations.figures import stale_figures
from models.operations.photo import photo_file
from models.queries.shop import is_founded
from models.tables import Design, DesignFigure, Item, Lot, Movement, Outlet, PriceFigure, Purchase


@dataclass(frozen=True, slots=True)
class Checked:
    """What was looked at, by its words, and everything that is wrong, the first first."""

    counts: tuple[tuple[str, int], ...]
    wrong: tuple[str, ...]

    @property
    def sound(self) -> bool:
        """Whether nothing is wrong."""
        return not self.wrong


def check_shop(session: Session, photos: Path) -> Checked:
    """Recompute every kept figure, play the ledger again, follow every reference, and look for every photo."""
    wrong = [*_database_faults(session), *_orphans(session)]
    # A database that is broken answers nothing that could be believed.
    if not wrong and is_founded(session):
        wrong += [*(str(stale) for stale in stale_figures(session)), *_missing_photos(session, photos)]
        wrong += [str(breach) for breach in (*check_ledger(session), *check_builds(session), *check_purchases(session))]
        wrong += [str(breach) for breach in check_layouts(session)]
    return Checked(_counts(session), tuple(wrong))


def _counts(session: Session) -> tuple[tuple[str, int], ...]:
    tables = (
        ("stock items", Item),
        ("designs", Design),
        ("outlets", Outlet),
        ("costs", DesignFigure),
        ("prices", PriceFigure),
        ("lots", Lot),
        ("movements", Movement),
        ("purchases", Purchase),
    )
    return tuple((words, session.exec(select(func.count()).select_from(table)).one()) for words, table in tables)


def _database_faults(session: Session) -> Iterator[str]:
    if not _on_sqlite(session):
        return
    for (words,) in session.connection().exec_driver_sql("PRAGMA integrity_check"):
        if words != "ok":
            yield f"The database file is damaged: {words}. Restore a backup."


def _orphans(session: Session) -> Iterator[str]:
    if not _on_sqlite(session):
        return
    for table, row, parent, _number in session.connection().exec_driver_sql("PRAGMA foreign_key_check").fetchall():
        yield f"Row {row} of the table {table} belongs to a row of {parent} that is not there."


def _missing_photos(session: Session, photos: Path) -> Iterator[str]:
    found = select(Design.name, Design.photo).where(col(Design.photo).is_not(None)).order_by(col(Design.id))
    for name, photo in session.exec(found):
        if photo and photo_file(photos, photo) is None:
            yield f"The photo of the design “{name}” ({photo}) is not in the shop folder."


def _on_sqlite(session: Session) -> bool:
    return session.get_bind().dialect.name == "sqlite"
