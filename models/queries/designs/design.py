"""Designs: one of them as its pages and the API show it, and a saved revision as the draft that it was handed in as.

The list stands in `design_list`, earlier revisions and their differences in `design_history`, files in `design_export`.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from sqlalchemy import select as columns
from sqlmodel import Session, col, func, select

from models.errors import Missing
from models.intake.costing.part import PartDraft
from models.intake.designs.design import OF_THE_DESIGN, DesignDraft, WorkDraft
from models.intake.fields import kept_fields
from models.intake.layouts.layout import LayoutDraft
from models.intake.layouts.plain import from_stored
from models.queries.fetch import fetch
from models.queries.newest_revision import newest_revisions
from models.queries.shop.gathering import Gathering, gathering_in
from models.tables import Design, Layout, Part, Revision, Work
from models.trade.money import from_micros
from models.trade.vocabulary.bench import WORK_KINDS
from models.trade.weaves import WEAVES


@dataclass(frozen=True, slots=True)
class Origin:
    """The design that another one is a copy of."""

    id: int
    name: str


@dataclass(frozen=True, slots=True)
class DesignView:
    """One design with one of its revisions; `draft` holds everything that was handed in for that revision.

    `newest` is the number of the latest revision, `number` that of the one shown. `changed_at` is when it was saved. A
    kit names the design that it is a kit of, and the revision that it is packed by.
    """

    id: int
    version: int
    draft: DesignDraft
    photo: str | None
    retired: bool
    copied_from: Origin | None
    number: int
    newest: int
    change_note: str
    changed_at: datetime
    created_at: datetime
    kit_of_id: int | None = None
    kit_of_revision: int | None = None

    @property
    def name(self) -> str:
        """What the design is called."""
        return self.draft.name

    @property
    def weave_name(self) -> str:
        """The weave in words; empty without one."""
        weave = WEAVES.get(self.draft.weave or "")
        return weave.name if weave else ""

    @property
    def is_latest(self) -> bool:
        """Whether the revision shown is the one that would be made today."""
        return self.number == self.newest


def design_view(session: Session, design_id: int, number: int | None = None) -> DesignView:
    """One design with its latest revision, or with the one of this number. Raises: Missing."""
    design = fetch(session, Design, design_id, "design")
    revision, newest = _revision(session, design_id, number)
    draft = drafts_of(session, [revision.id or 0])[revision.id or 0]
    origin = session.get(Design, design.copied_from_id) if design.copied_from_id else None
    return DesignView(
        id=design_id,
        version=design.version,
        draft=draft,
        photo=design.photo,
        retired=design.retired,
        copied_from=Origin(origin.id or 0, origin.name) if origin else None,
        number=revision.number,
        newest=newest,
        change_note=revision.change_note,
        changed_at=revision.made_at,
        created_at=design.created_at,
        kit_of_id=design.kit_of_id,
        kit_of_revision=design.kit_of_revision,
    )


def draft_of(session: Session, design_id: int, number: int | None = None) -> DesignDraft:
    """A saved revision as the draft that it was handed in as, without its note of what changed. Raises: Missing."""
    if session.get(Design, design_id) is None:
        raise Missing("design", design_id)
    if number is None and (gathering := gathering_in(session)) is not None:
        return gathering.once(_DRAFTS, dict[int, DesignDraft])[design_id]
    revision, _newest = _revision(session, design_id, number)
    return drafts_of(session, [revision.id or 0])[revision.id or 0]


def hold_drafts(gathering: Gathering, design_ids: Collection[int]) -> None:
    """Read the latest revisions of these designs for `draft_of`, with the rows that a change of them writes."""
    newest = newest_revisions(design_ids)
    revisions = gathering.exec(
        select(Revision).join(
            newest, (newest.c.design_id == col(Revision.design_id)) & (newest.c.number == col(Revision.number))
        )
    ).all()
    ids = [revision.id or 0 for revision in revisions]
    gathering.hold(Revision, revisions)
    gathering.hold(Part, gathering.exec(select(Part).where(col(Part.revision_id).in_(ids))).all())
    gathering.hold(Layout, gathering.exec(select(Layout).where(col(Layout.revision_id).in_(ids))).all())
    drafts = drafts_of(gathering, ids)
    gathering.once(_DRAFTS, lambda: {revision.design_id: drafts[revision.id or 0] for revision in revisions})


def drafts_of(session: Session, revision_ids: Collection[int]) -> dict[int, DesignDraft]:
    """Many revisions as drafts by their id, in four queries."""
    heads = session.execute(
        columns(
            col(Revision.id),
            *(col(getattr(Design if name in OF_THE_DESIGN else Revision, name)) for name in _OF_A_DRAFT),
        )
        .join(Design, col(Design.id) == col(Revision.design_id))
        .where(col(Revision.id).in_(revision_ids))
    ).all()
    parts: dict[int, list[PartDraft]] = {}
    for row in session.execute(
        columns(*PART_COLUMNS).where(col(Part.revision_id).in_(revision_ids)).order_by(col(Part.position))
    ):
        parts.setdefault(row.revision_id, []).append(part_in(row))
    work: dict[int, list[WorkDraft]] = {}
    for revision_id, kind, count, minutes_milli in session.execute(
        columns(col(Work.revision_id), col(Work.kind), col(Work.count), col(Work.minutes_milli)).where(
            col(Work.revision_id).in_(revision_ids)
        )
    ):
        work.setdefault(revision_id, []).append(WorkDraft(kind, count, minutes_milli))
    layouts = kept_layouts(session, revision_ids)
    return {
        head.id: DesignDraft(
            **{name: getattr(head, name) for name in _OF_A_DRAFT},
            parts=tuple(parts.get(head.id, ())),
            work=in_order(work.get(head.id, ())),
            layout=layouts.get(head.id),
        )
        for head in heads
    }


_DRAFTS = "drafts"
_OF_A_DRAFT = tuple(name for name in kept_fields(DesignDraft) if name != "change_note")
"""The fields of a draft that is read again: what was noted of a change is only shown in the history."""
PART_COLUMNS: tuple[Any, ...] = (
    col(Part.revision_id), col(Part.item_id), col(Part.typed_kind), col(Part.typed_name), col(Part.typed_metal),
    col(Part.typed_colour), col(Part.typed_wire_nm), col(Part.typed_inner_nm), col(Part.typed_unit),
    col(Part.guess_micros), col(Part.quantity_milli), col(Part.purpose), col(Part.optional), col(Part.choice_group),
    col(Part.choice_name), col(Part.allowance_percent), col(Part.joined), col(Part.layout_key), col(Part.closed_milli),
)  # fmt: skip


def part_in(row: Any) -> PartDraft:
    """The part in a row of `PART_COLUMNS`."""
    return PartDraft(
        quantity_milli=row.quantity_milli,
        item_id=row.item_id,
        typed_kind=row.typed_kind,
        typed_name=row.typed_name,
        typed_metal=row.typed_metal,
        typed_colour=row.typed_colour,
        typed_wire_nm=row.typed_wire_nm,
        typed_inner_nm=row.typed_inner_nm,
        typed_unit=row.typed_unit,
        guess=None if row.guess_micros is None else from_micros(row.guess_micros),
        purpose=row.purpose,
        optional=row.optional,
        choice_group=row.choice_group,
        choice_name=row.choice_name,
        allowance_percent=row.allowance_percent,
        joined=row.joined,
        layout_key=row.layout_key,
        closed_milli=row.closed_milli,
    )


def in_order(work: Collection[WorkDraft]) -> tuple[WorkDraft, ...]:
    """Work in the order of the bench, so that the same work always compares equal."""
    place = {kind: number for number, kind in enumerate(WORK_KINDS)}
    return tuple(sorted(work, key=lambda row: place.get(row.kind, len(place))))


def frozen_part(draft: DesignDraft) -> DesignDraft:
    """What a revision freezes of a draft: no name, kind of piece, note or guessed price."""
    return replace(
        draft,
        name="",
        piece="",
        note="",
        change_note="",
        retired=False,
        parts=tuple(replace(part, guess=None) for part in draft.parts),
        work=in_order(draft.work),
        layout=None if draft.layout is None else without_guesses(draft.layout),
    )


def kept_layouts(session: Session, revision_ids: Collection[int]) -> dict[int, LayoutDraft]:
    """How many revisions are laid out, by their id, in one query; those of a plain list are left out."""
    rows = session.execute(
        columns(
            col(Layout.revision_id), col(Layout.kind), col(Layout.plan), col(Layout.palette), col(Layout.route),
            col(Layout.closed),
        ).where(col(Layout.revision_id).in_(revision_ids))
    )  # fmt: skip
    return {revision_id: from_stored(*texts) for revision_id, *texts in rows}


def without_guesses(layout: LayoutDraft) -> LayoutDraft:
    """A layout without the guessed prices of its palette, which no revision freezes."""
    return replace(
        layout,
        palette=tuple(replace(entry, thing=replace(entry.thing, guess=None)) for entry in layout.palette),
    )


def design_named(session: Session, name: str) -> int | None:
    """The id of the design of this name, retired or not; capitals do not matter, in any alphabet."""
    wanted = name.strip().casefold()
    if (gathering := gathering_in(session)) is not None:
        named = gathering.by(Design, "name", lambda design: design.name.casefold())[wanted]
        return named[0].id if named else None
    # The database folds capitals of plain ASCII only, so names are compared here.
    rows = session.execute(columns(col(Design.id), col(Design.name)))
    return next((design_id for design_id, known in rows if known.casefold() == wanted), None)


def free_name(session: Session, wanted: str) -> str:
    """The wanted name, or the next of 'name 2', 'name 3' … that no design has yet, within 200 characters."""
    name = wanted[:200]
    number = 2
    while design_named(session, name) is not None:
        tail = f" {number}"
        name, number = wanted[: 200 - len(tail)] + tail, number + 1
    return name


def pieces_in_use(session: Session) -> tuple[str, ...]:
    """The kinds of piece that designs have, by name."""
    found = session.exec(select(Design.piece).where(Design.piece != "").distinct().order_by(Design.piece))
    return tuple(found)


def _revision(session: Session, design_id: int, number: int | None) -> tuple[Revision, int]:
    """A revision and the number of the latest one. Raises: Missing."""
    newest = session.exec(select(func.max(Revision.number)).where(Revision.design_id == design_id)).one()
    if newest is None:
        raise Missing("design", design_id)
    wanted = newest if number is None else number
    found = session.exec(
        select(Revision).where(Revision.design_id == design_id, Revision.number == wanted)
    ).one_or_none()
    if found is None:
        raise Missing(f"revision of design {design_id} with the number", number)
    return found, newest
