"""Proof that a shop's data agree with one another: kept figures, what points at what, what is on disk."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from sqlmodel import Session, func, select

from models.intake.layouts.plain import KEPT_CLOSED, KEPT_PALETTE, KEPT_PLAN, KEPT_ROUTE
from models.intake.planning.make_plan import PLAN_QUESTION
from models.kept import KeptDocument
from models.operations.builds.check import check_builds
from models.operations.buying.check import check_purchases
from models.operations.designs.check_layouts import check_layouts
from models.operations.figures import stale_figures
from models.operations.shop.check_rows import check_documents, check_rows, check_words
from models.operations.shop.photo import fault_of_photo, fault_of_thumbnail
from models.operations.shop.photo_names import photo_rows, unreadable_copies
from models.operations.stock.check_ledger import check_ledger
from models.queries.builds.parts import KEPT_PICKS
from models.queries.planning.answer import KEPT_ANSWER, KEPT_LIMITS
from models.queries.planning.make_plan import KEPT_BOOKED
from models.queries.shop.idempotency import KEPT_RESULT
from models.queries.shop.shop import is_founded
from models.shop_folder import BACKUPS
from models.tables import Design, DesignFigure, Item, Lot, Movement, Outlet, PriceFigure, Purchase

DOCUMENTS: Final[Mapping[tuple[str, str], KeptDocument[Any]]] = {
    ("build", "choices"): KEPT_PICKS,
    ("layout", "plan"): KEPT_PLAN,
    ("layout", "palette"): KEPT_PALETTE,
    ("layout", "route"): KEPT_ROUTE,
    ("layout", "closed"): KEPT_CLOSED,
    ("make_plan", "question"): PLAN_QUESTION,
    ("make_plan", "result"): KEPT_ANSWER,
    ("make_plan", "limits"): KEPT_LIMITS,
    ("make_plan", "booked"): KEPT_BOOKED,
    ("once", "result"): KEPT_RESULT,
}
"""What every column of documents keeps, by table and column."""


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
    """Recompute every kept figure, play the ledger again, follow every reference, and look at every photo and copy.

    `photos` is the folder of photos in the shop folder.
    """
    wrong = [*_database_faults(session), *_orphans(session)]
    if not wrong:
        wrong += [f"{words}. Restore a backup." for words in check_rows(session)]
    if not wrong:
        wrong += [f"{words}. Bring the program up to date, or restore a backup." for words in check_words(session)]
    documents = [] if wrong else [f"{words}. Restore a backup." for words in check_documents(session, DOCUMENTS)]
    # A database that is broken answers nothing that could be believed.
    if not wrong and is_founded(session):
        wrong += [*(str(stale) for stale in stale_figures(session)), *_photo_faults(session, photos)]
        wrong += [str(breach) for breach in (*check_ledger(session), *check_builds(session), *check_purchases(session))]
        wrong += [str(breach) for breach in check_layouts(session)]
    wrong += documents
    wrong += _copy_faults(photos.parent)
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


def _photo_faults(session: Session, photos: Path) -> Iterator[str]:
    for table, row, photo in photo_rows(session.connection()):
        whose = f"of the {table.replace('_', ' ')} “{row}” ({photo})"
        fault = fault_of_photo(photos, photo)
        if fault == "missing":
            yield f"The photo {whose} is not in the shop folder."
        elif fault:
            yield (
                f"The photo {whose} is damaged: its file is not what was kept. Restore a backup that has it, or choose "
                "the photo again."
            )
        elif fault_of_thumbnail(photos, photo):
            yield f"The small picture {whose} is missing or damaged. Restore a backup, or choose the photo again."


def _copy_faults(folder: Path) -> Iterator[str]:
    """Copies among the backups that cannot be read; a damaged database that was put aside is known to be one."""
    for copy, why in unreadable_copies(folder):
        if copy.parent.name == BACKUPS:
            yield (
                f"The copy {copy} cannot be read ({why}), so no photo is cleared away. Move it elsewhere, or delete "
                "it, once you do not need it any more."
            )


def _on_sqlite(session: Session) -> bool:
    return session.get_bind().dialect.name == "sqlite"
