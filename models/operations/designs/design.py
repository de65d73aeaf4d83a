"""Designs: writing one down, changing it, copying it, retiring it and bringing it back.

A change makes a new revision only where something changed that a revision freezes; what was saved before stays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import delete, or_
from sqlmodel import Session, col, func, select

from models.errors import Conflict, Stale, Unfit
from models.intake.costing.part import PartDraft, PartRow, read_part_row
from models.intake.designs.design import OF_THE_DESIGN, DesignDraft
from models.intake.faults import Fault, Faults
from models.intake.fields import values_of
from models.intake.layouts.plain import stored_texts
from models.operations.designs.resolve import resolve_draft
from models.operations.figures import refresh_figures
from models.operations.shop.clock import now
from models.queries.designs.design import design_named, draft_of, free_name, frozen_part
from models.queries.designs.part_named import named_item
from models.queries.designs.words import changes_between
from models.queries.fetch import fetch
from models.queries.shop.gathering import Gathering, gathering_in
from models.queries.stock.item import load_materials
from models.tables import Build, Design, DesignFigure, Layout, ListedPrice, Part, PriceFigure, Revision, Work
from models.trade.money import to_micros


@dataclass(frozen=True, slots=True)
class Saved:
    """What saving did: the number of the revision that it made (None without one), and whether anything changed."""

    revision: int | None
    changed: bool


def add_design(
    session: Session, draft: DesignDraft, *, photo: str | None = None, copied_from_id: int | None = None
) -> int:
    """Write down a new design with its first revision; answer its id.

    Raises: Unfit, for a name that is taken, an item or a metal that the shop does not have, or a fraction of a ring.
    """
    draft = resolve_draft(session, draft, design_id=None)
    design = Design(
        **{name: getattr(draft, name) for name in OF_THE_DESIGN},
        photo=photo or None,
        copied_from_id=copied_from_id,
        created_at=now(),
    )
    session.add(design)
    session.flush()
    design_id = _id(design)
    _write_revision(session, design_id, 1, draft)
    refresh_figures(session, design_ids=[design_id])
    return design_id


def change_design(
    session: Session,
    design_id: int,
    version: int | None,
    draft: DesignDraft,
    *,
    photo: str | None = None,
    keep_layout: bool = False,
) -> Saved:
    """Keep a changed design; `photo` None leaves the photo as it is, an empty one takes it away.

    `keep_layout` leaves the rows as they are, with the parts that they make: the draft is of the plain list only.
    Raises: Missing; Stale, with both values, when it was changed since that version; Unfit as for a new one.
    """
    design = _design(session, design_id)
    stored = draft_of(session, design_id)
    layout = stored.layout if keep_layout else draft.layout
    draft = resolve_draft(session, replace(draft, retired=design.retired, layout=layout), design_id=design_id)
    if design.version != version:
        differences = changes_between(session, stored, draft)
        if differences:
            raise Stale("design", differences)
    new_photo = design.photo if photo is None else photo or None
    outside = (design.name, design.piece, design.note, design.photo) != (draft.name, draft.piece, draft.note, new_photo)
    guesses = stored.layout != draft.layout or [one.guess for one in stored.parts] != [one.guess for one in draft.parts]
    frozen = frozen_part(stored) != frozen_part(draft)
    if not (outside or guesses or frozen):
        return Saved(None, changed=False)
    design.name, design.piece, design.note, design.photo = draft.name, draft.piece, draft.note, new_photo
    design.version += 1
    number = None
    if frozen:
        number = _newest(session, design_id) + 1
        _write_revision(session, design_id, number, draft)
    elif guesses:
        _write_guesses(session, design_id, draft)
    session.flush()
    refresh_figures(session, design_ids=[design_id])
    return Saved(number, changed=True)


def copy_design(session: Session, design_id: int, *, name: str | None = None) -> int:
    """Begin a design of its own from the latest revision of another; answer its id. Raises: Missing."""
    design = _design(session, design_id)
    draft = replace(
        draft_of(session, design_id), name=free_name(session, name or f"Copy of {design.name}"), retired=False
    )
    return add_design(session, draft, photo=design.photo, copied_from_id=design_id)


def discard_copy(session: Session, design_id: int) -> str:
    """Take a fresh copy back, as if it had never been made; answer its name.

    Raises: Missing; Conflict when it is no copy, or something was done with it since.
    """
    design = _design(session, design_id)
    if design.copied_from_id is None:
        raise Conflict(f"{design.name} is no copy, so it stays. Retire it if you no longer want it.")
    return discard_fresh(session, design_id)


def discard_fresh(session: Session, design_id: int) -> str:
    """Take a design back that was just made, as if it had never been; answer its name.

    Raises: Missing; Conflict when something was done with it since.
    """
    design = _design(session, design_id)
    touched = design.version != 1 or _newest(session, design_id) != 1
    leaned_on = (
        session.exec(
            select(Design.id).where(or_(col(Design.copied_from_id) == design_id, col(Design.kit_of_id) == design_id))
        ).first()
        is not None
        or session.exec(select(ListedPrice.id).where(ListedPrice.design_id == design_id)).first() is not None
        or session.exec(select(Build.id).where(Build.design_id == design_id).limit(1)).first() is not None
    )
    if touched or leaned_on:
        raise Conflict(f"{design.name} was worked on since, so it stays. Retire it if you no longer want it.")
    revisions = select(Revision.id).where(Revision.design_id == design_id)
    for table in (Layout, Part, Work):
        session.execute(delete(table).where(col(table.revision_id).in_(revisions)))
    for kept in (PriceFigure, DesignFigure, Revision):
        session.execute(delete(kept).where(col(kept.design_id) == design_id))
    name = design.name
    session.delete(design)
    session.flush()
    return name


def retire_design(session: Session, design_id: int) -> str:
    """Keep a design out of the list from now on; answer its name. Raises: Missing."""
    return _retire(session, design_id, retired=True)


def bring_back_design(session: Session, design_id: int) -> str:
    """Put a retired design back into the list; answer its name. Raises: Missing."""
    return _retire(session, design_id, retired=False)


def set_parts(session: Session, design_name: str, rows: Sequence[Mapping[str, object]]) -> None:
    """Give a design the parts of a file's rows as its plain list, as a new revision where they differ.

    The parts that its rows make stay: rows of a file that say that they are of the rows are left alone, unless the
    design has no rows here; then they are parts like all others.
    Raises: Unfit; its fields are 'design', or 'parts.0.quantity' for the first row's quantity.
    """
    design_id = design_named(session, design_name)
    if design_id is None:
        raise Unfit(Faults.of("design", f"There is no design called {design_name}. Import the designs first."))
    faults: list[Fault] = []
    parts: list[PartDraft] = []
    items = tuple(load_materials(session).values())
    for place, row in enumerate(rows):
        read = read_part_row(row)
        if isinstance(read, PartRow) and read.item:
            read = named_item(items, read)
        if isinstance(read, Faults):
            faults += [Fault(f"parts.{place}.{fault.field}", fault.message) for fault in read]
        else:
            parts.append(read.part)
    if faults:
        raise Unfit(Faults(tuple(faults)))
    design = _design(session, design_id)
    change_design(session, design_id, design.version, replace(draft_of(session, design_id), parts=tuple(parts)))


def _write_revision(session: Session, design_id: int, number: int, draft: DesignDraft) -> None:
    of_revision = {name: value for name, value in values_of(draft).items() if name not in OF_THE_DESIGN}
    revision = Revision(design_id=design_id, number=number, made_at=now(), **of_revision)
    session.add(revision)
    session.flush()
    if revision.id is None:
        raise RuntimeError("a flushed row has its id")
    for position, part in enumerate(draft.parts):
        session.add(
            Part(
                revision_id=revision.id,
                position=position,
                item_id=part.item_id,
                typed_kind=part.typed_kind,
                typed_name=part.typed_name,
                typed_metal=part.typed_metal,
                typed_colour=part.typed_colour,
                typed_wire_nm=part.typed_wire_nm,
                typed_inner_nm=part.typed_inner_nm,
                typed_unit=part.typed_unit,
                guess_micros=None if part.guess is None else to_micros(part.guess),
                quantity_milli=part.quantity_milli,
                purpose=part.purpose,
                optional=part.optional,
                choice_group=part.choice_group,
                choice_name=part.choice_name,
                allowance_percent=part.allowance_percent,
                joined=part.joined,
                layout_key=part.layout_key,
                closed_milli=part.closed_milli,
            )
        )
    if draft.layout is not None:
        plan, palette, route, closed = stored_texts(draft.layout)
        session.add(
            Layout(
                revision_id=revision.id,
                kind=draft.layout.kind,
                plan=plan,
                palette=palette,
                route=route,
                closed=closed,
            )
        )
    for work in draft.work:
        session.add(Work(revision_id=revision.id, kind=work.kind, count=work.count, minutes_milli=work.minutes_milli))
    session.flush()


def _write_guesses(session: Session, design_id: int, draft: DesignDraft) -> None:
    """Guessed prices are prices, which no revision freezes: the latest one takes the new guesses."""
    if (gathering := gathering_in(session)) is not None:
        (revision_id,) = (each.id for each in _held_revisions(gathering, design_id))
        held = gathering.by(Part, "revision", lambda part: part.revision_id)[revision_id]
        rows: Sequence[Part] = sorted(held, key=lambda part: part.position)
        layouts = gathering.by(Layout, "revision", lambda layout: layout.revision_id)[revision_id]
        layout = layouts[0] if layouts else None
    else:
        revision_id = session.exec(
            select(Revision.id).where(Revision.design_id == design_id, Revision.number == _newest(session, design_id))
        ).one()
        rows = session.exec(select(Part).where(Part.revision_id == revision_id).order_by(col(Part.position))).all()
        layout = session.exec(select(Layout).where(Layout.revision_id == revision_id)).one_or_none()
    for row, part in zip(rows, draft.parts, strict=True):
        row.guess_micros = None if part.guess is None else to_micros(part.guess)
    if layout is not None and draft.layout is not None:
        layout.palette = stored_texts(draft.layout)[1]


def _held_revisions(gathering: Gathering, design_id: int) -> list[Revision]:
    return gathering.by(Revision, "design", lambda revision: revision.design_id)[design_id]


def _newest(session: Session, design_id: int) -> int:
    if (gathering := gathering_in(session)) is not None:
        return max((each.number for each in _held_revisions(gathering, design_id)), default=0)
    return session.exec(select(func.max(Revision.number)).where(Revision.design_id == design_id)).one() or 0


def _retire(session: Session, design_id: int, *, retired: bool) -> str:
    design = _design(session, design_id)
    if design.retired != retired:
        design.retired = retired
        design.version += 1
        session.flush()
        refresh_figures(session, design_ids=[design_id])
    return design.name


def _design(session: Session, design_id: int) -> Design:
    return fetch(session, Design, design_id, "design")


def _id(design: Design) -> int:
    if design.id is None:
        raise RuntimeError("a flushed row has its id")
    return design.id
