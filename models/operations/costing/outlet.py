"""Outlets: added, changed, retired and brought back. Listed prices of designs do not live here."""

from __future__ import annotations

from itertools import count

from sqlmodel import Session, col, func, select

from models.errors import Conflict, Stale, Unfit
from models.intake.costing.outlet import OutletDraft
from models.intake.faults import Faults
from models.intake.fields import differences, values_of
from models.operations.figures import refresh_figures
from models.operations.shop.clock import now
from models.queries.costing.outlet import outlet_view
from models.queries.fetch import fetch
from models.queries.shop.gathering import gathering_in
from models.tables import Outlet, OutletFee


def add_outlet(session: Session, draft: OutletDraft, *, refresh: bool = True) -> int:
    """Add an outlet at the end of the list and price every design there; answer its number.

    Whoever adds many prices the designs once at the end, and says so with `refresh`.

    Raises `Unfit` when another outlet has the name.
    """
    _name_is_free(session, draft.name, None)
    row = Outlet(name=draft.name, kind=draft.kind, position=_next_position(session), created_at=now())
    _write(session, row, draft)
    if refresh:
        refresh_figures(session)
    return row.id or 0


def change_outlet(session: Session, outlet_id: int, draft: OutletDraft, *, version: int | None) -> None:
    """Replace what is known of an outlet, its fees included, and every price that rests on it.

    Raises `Missing`, `Stale` when it was changed since `version`, `Unfit` when another outlet has the name.
    """
    row = _row(session, outlet_id)
    if version != row.version:
        raise Stale("outlet", differences(outlet_view(session, outlet_id).draft, draft))
    _name_is_free(session, draft.name, outlet_id)
    row.version += 1
    _write(session, row, draft)
    refresh_figures(session)


def retire_outlet(session: Session, outlet_id: int) -> str:
    """Take an outlet out of use; its listed prices stay, so that it can be brought back. Answer its name.

    Raises `Missing`, `Conflict` when it is retired already.
    """
    return _set_retired(session, outlet_id, retired=True)


def bring_back_outlet(session: Session, outlet_id: int) -> str:
    """Put a retired outlet back into use; answer its name. Raises `Missing`, `Conflict` when it is in use."""
    return _set_retired(session, outlet_id, retired=False)


def _set_retired(session: Session, outlet_id: int, *, retired: bool) -> str:
    row = _row(session, outlet_id)
    if row.retired == retired:
        raise Conflict(f"“{row.name}” is {'retired' if retired else 'in use'} already.")
    row.retired = retired
    row.version += 1
    session.add(row)
    refresh_figures(session)
    return row.name


def _row(session: Session, outlet_id: int) -> Outlet:
    return fetch(session, Outlet, outlet_id, "outlet")


def _next_position(session: Session) -> int:
    if (gathering := gathering_in(session)) is not None:
        held = gathering.held(Outlet).values()
        return next(gathering.once("positions", lambda: count(1 + max((each.position for each in held), default=0))))
    return (session.exec(select(func.max(Outlet.position))).one() or 0) + 1


def _name_is_free(session: Session, name: str, outlet_id: int | None) -> None:
    wanted = name.casefold()
    if (gathering := gathering_in(session)) is not None:
        named = gathering.by(Outlet, "name", lambda outlet: outlet.name.casefold())[wanted]
        other = named[0] if named else None
    else:
        # They are few, and the database's own lower() knows only plain Latin letters.
        other = next((each for each in session.exec(select(Outlet)) if each.name.casefold() == wanted), None)
    if other is not None and other.id != outlet_id:
        place = " among the retired ones" if other.retired else ""
        raise Unfit(Faults.of("name", f"There is an outlet “{other.name}” already{place}. Give this one another name."))


def _write(session: Session, row: Outlet, draft: OutletDraft) -> None:
    row.sqlmodel_update(values_of(draft))
    session.add(row)
    session.flush()
    if gathering_in(session) is None:
        for fee in session.exec(select(OutletFee).where(col(OutletFee.outlet_id) == row.id)):
            session.delete(fee)
        session.flush()
    for position, fee_draft in enumerate(draft.fees, start=1):
        session.add(OutletFee(outlet_id=row.id or 0, position=position, **values_of(fee_draft)))
    session.flush()
