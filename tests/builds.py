"""Short words for tests of builds: a pendant of two kinds of rings with enough of both in stock. No test lives here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from sqlmodel import Session, col, select

from models.intake.builds.build import (
    BuildRequest,
    FinishDraft,
    LineDraft,
    MadeDraft,
    StartDraft,
    TakeOutDraft,
    WorkDone,
)
from models.operations.builds.check import check_builds
from models.operations.builds.finish import finish_build
from models.operations.builds.made import book_made
from models.operations.builds.start import start_build, take_out
from models.operations.figures import refresh_figures
from models.operations.stock.check_ledger import check_ledger
from models.tables import Build, BuildLine, Item, ItemBalance, Lot, LotPlace
from tests.ledgers import DAY, DRAWER, a_lot
from tests.shops import a_design, a_part, a_ring


@dataclass(frozen=True)
class Bench:
    """A shop with a pendant of 20 bronze and 4 silver rings: 100 bronze in two lots, 40 silver in one."""

    bronze: int
    silver: int
    old: int
    new: int
    silver_lot: int
    design: int


def a_bench(session: Session, *, bronze: int = 20, silver: int = 4) -> Bench:
    """Make it; bronze rings cost 0.05 in the old lot and 0.07 in the new one, silver ones 0.50."""
    ring, fine = a_ring(session), a_ring(session, name="Silver ring 1.0 × 4.0 mm", metal="sterling-925")
    old = a_lot(session, ring, 30, "1.50", day=DAY.replace(day=1))
    new = a_lot(session, ring, 70, "4.90", place="tin")
    lot = a_lot(session, fine, 40, "20.00")
    design = a_design(session, [a_part(ring, bronze, purpose="border"), a_part(fine, silver, purpose="middle")])
    refresh_figures(session)
    return Bench(ring, fine, old, new, lot, design)


def started(session: Session, bench: Bench, pieces: int = 2, **more: object) -> int:
    """A started build."""
    return start_build(session, StartDraft(BuildRequest(bench.design, pieces), started_on=DAY, **more)).build_id


def making(session: Session, bench: Bench, pieces: int = 2, **more: object) -> int:
    """A build whose rings are out of their bags."""
    build_id = started(session, bench, pieces, **more)
    take_out(session, build_id, TakeOutDraft(taken_on=DAY))
    return build_id


def finished(session: Session, build_id: int, *, minutes: int | None = 60, **more: object) -> int:
    """Finish a build; answers its id."""
    work = WorkDone(None if minutes is None else minutes * 1000, timing="use")
    finish_build(session, build_id, FinishDraft(work=work, finished_on=DAY, **more))
    return build_id


def made(session: Session, bench: Bench, pieces: int = 1, *, minutes: int | None = 60, **more: object) -> int:
    """Pieces booked as made; answers the build's id."""
    work = WorkDone(None if minutes is None else minutes * 1000, timing="use")
    return book_made(session, MadeDraft(BuildRequest(bench.design, pieces), work=work, made_on=DAY, **more)).build_id


def said(lot_id: int, place: str = DRAWER, **more: int) -> LineDraft:
    """What is said of a bag, in whole rings: used, spoiled, returned."""
    return LineDraft(lot_id, place, **{f"{name}_milli": rings * 1000 for name, rings in more.items()})


def bags(session: Session) -> Mapping[tuple[int, str], tuple[int, int]]:
    """What lies in each bag that holds anything, and what is reserved of it, in whole units."""
    rows = session.exec(select(LotPlace).where(LotPlace.quantity_milli > 0))
    return {(row.lot_id, row.place): (row.quantity_milli // 1000, row.reserved_milli // 1000) for row in rows}


def pieces_of(session: Session, bench: Bench) -> tuple[int, int]:
    """The finished pieces in stock, and what they are worth in millionths."""
    item = session.exec(select(Item).where(Item.design_id == bench.design)).first()
    balance = session.get(ItemBalance, item.id) if item else None
    return (balance.on_hand_milli // 1000, balance.value_micros) if balance else (0, 0)


def lines_of(session: Session, build_id: int) -> list[tuple[int, str, int, int, int, int]]:
    """Lot, place, planned, taken, extra and returned of each line, in whole units."""
    rows = session.exec(select(BuildLine).where(BuildLine.build_id == build_id).order_by(col(BuildLine.position)))
    return [
        (
            row.lot_id,
            row.place,
            *(milli // 1000 for milli in (row.planned_milli, row.taken_milli, row.extra_milli, row.returned_milli)),
        )
        for row in rows
    ]


def whole_state(session: Session) -> tuple[object, ...]:
    """All that an exact undo restores: lots, bags, balances, and every build with its lines."""
    lots = [(row.id, row.quantity_milli, row.value_micros) for row in session.exec(select(Lot)) if row.quantity_milli]
    items = [
        (row.item_id, row.on_hand_milli, row.value_micros, row.reserved_milli)
        for row in session.exec(select(ItemBalance))
        if row.on_hand_milli
    ]
    builds = [
        {
            name: value
            for name, value in row.model_dump().items()
            if name not in {"version", "timer_started_at", "created_at"}
        }
        for row in session.exec(select(Build).order_by(col(Build.id)))
    ]
    lines = [(row.id, *lines_of(session, row.id or 0)) for row in session.exec(select(Build))]
    return lots, sorted(items), sorted(bags(session).items()), builds, lines


def is_sound(session: Session) -> bool:
    """Whether every rule of the ledger and of builds holds."""
    session.flush()
    assert check_ledger(session) == ()
    assert check_builds(session) == ()
    return True
