"""What differs between two states of a design, in words: for a stale edit, and for two revisions side by side.

What a difference costs is not here (`design_history`).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from sqlmodel import Session, col, select

from models.costing.rates import kind_words
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft, WorkDraft
from models.intake.fields import Declared, kept_fields
from models.queries.costing.inputs import usual_thing_name
from models.queries.layouts.words import layout_changes
from models.queries.stock.metal import all_metals
from models.tables import Item
from models.trade.metals import Metal
from models.trade.units import unit_words
from models.trade.vocabulary import plans
from models.trade.weaves import WEAVES

Change = tuple[str, str, str]
"""What changed, and how it was and is, in words; nothing is an empty text."""


@dataclass(frozen=True, slots=True)
class PartChange:
    """One part that was added, taken out or changed; the side on which it is missing is None."""

    kind: plans.PartChange
    before: PartDraft | None
    after: PartDraft | None


class Namer:
    """The names of parts: those of their stock items, or what a typed thing is called."""

    def __init__(self, items: Mapping[int, tuple[str, str]], metals: Mapping[str, Metal]) -> None:
        self._items = items
        self._metals = metals

    def name(self, part: PartDraft) -> str:
        """What the part is called."""
        if part.item_id is not None:
            return self._items.get(part.item_id, ("", f"item {part.item_id}"))[1]
        metal = self._metals.get(part.typed_metal or "")
        return part.typed_name or usual_thing_name(
            part.typed_kind, metal, part.typed_colour, part.typed_wire_nm, part.typed_inner_nm
        )

    def words(self, part: PartDraft | None) -> str:
        """All that is said of the part but its name: '48 rings, petals, optional'."""
        if part is None:
            return ""
        kind = self._items.get(part.item_id, ("", ""))[0] if part.item_id is not None else part.typed_kind
        quantity = Decimal(part.quantity_milli).scaleb(-3)
        said = [f"{plain(quantity)} {unit_words(kind, part.typed_unit, quantity)}", part.purpose]
        said.append("optional" if part.optional else "")
        said.append(f"{part.choice_group}: {part.choice_name}" if part.choice_group else "")
        said.append(f"{plain(part.allowance_percent)} % spoiled" if part.allowance_percent is not None else "")
        said.append("closed beforehand" if kind == "ring" and not part.joined else "")
        said.append(f"{plain(Decimal(part.closed_milli).scaleb(-3))} closed beforehand" if part.closed_milli else "")
        said.append("from the rows" if part.layout_key else "")
        said.append(f"guessed at {plain(part.guess)}" if part.guess is not None else "")
        return ", ".join(word for word in said if word)


def load_namer(session: Session, *drafts: DesignDraft) -> Namer:
    """The names of everything in these drafts and the palettes of their rows."""
    ids = {part.item_id for draft in drafts for part in draft.parts if part.item_id is not None}
    for draft in drafts:
        ids |= {entry.item_id for entry in (draft.layout.palette if draft.layout else ()) if entry.item_id is not None}
    rows = session.exec(select(Item.id, Item.kind, Item.name).where(col(Item.id).in_(ids))).all() if ids else []
    return Namer({number: (kind, name) for number, kind, name in rows if number is not None}, all_metals(session))


def changes_between(session: Session, before: DesignDraft, after: DesignDraft) -> tuple[Change, ...]:
    """Everything that differs, the parts last; nothing when both say the same."""
    namer = load_namer(session, before, after)
    return (
        *field_changes(before, after),
        *work_changes(before.work, after.work),
        *layout_changes(before.layout, after.layout, namer.name),
        *_part_words(before, after, namer),
    )


def field_changes(before: DesignDraft, after: DesignDraft) -> tuple[Change, ...]:
    """What differs outside parts and work."""
    return tuple(
        (field.label, _said(name, field, getattr(before, name)), _said(name, field, getattr(after, name)))
        for name, field in kept_fields(DesignDraft).items()
        if name not in {"change_note", "retired"} and getattr(before, name) != getattr(after, name)
    )


def _said(name: str, field: Declared, value: Any) -> str:
    if name == "weave":
        return WEAVES[value].name if value in WEAVES else value or ""
    return _percent(value) if name == "allowance_percent" else field.words(value)


def work_changes(before: Sequence[WorkDraft], after: Sequence[WorkDraft]) -> tuple[Change, ...]:
    """The kinds of work that differ."""
    old, new = {row.kind: row for row in before}, {row.kind: row for row in after}
    return tuple(
        (kind_words(kind), _work(old.get(kind)), _work(new.get(kind)))
        for kind in dict.fromkeys((*old, *new))
        if old.get(kind) != new.get(kind)
    )


def part_changes(before: Sequence[PartDraft], after: Sequence[PartDraft]) -> tuple[PartChange, ...]:
    """The parts that differ, in the order of the later state, what was taken out last.

    A part that only moved is no change. Of the same thing on both sides the nearest pairs are taken together.
    """
    left = list(before)
    rest: list[PartDraft] = []
    for part in after:
        if part in left:
            left.remove(part)
        else:
            rest.append(part)
    found: list[PartChange] = []
    for part in rest:
        same = [old for old in left if _thing(old) == _thing(part)]
        if same:
            old = max(same, key=lambda old: (old.purpose == part.purpose, old.choice_name == part.choice_name))
            left.remove(old)
            found.append(PartChange("changed", old, part))
        else:
            found.append(PartChange("added", None, part))
    return (*found, *(PartChange("taken out", old, None) for old in left))


def plain(number: Decimal) -> str:
    """A number without zeros at its end."""
    return format(number.normalize(), "f")


def _part_words(before: DesignDraft, after: DesignDraft, namer: Namer) -> tuple[Change, ...]:
    found = []
    for change in part_changes(before.parts, after.parts):
        part = change.after or change.before
        if part is not None:
            found.append((f"Part: {namer.name(part)}", namer.words(change.before), namer.words(change.after)))
    return tuple(found)


def _thing(part: PartDraft) -> PartDraft:
    """A part reduced to the thing that it is."""
    return replace(
        PartDraft(quantity_milli=0),
        item_id=part.item_id,
        typed_kind=part.typed_kind,
        typed_name=part.typed_name,
        typed_metal=part.typed_metal,
        typed_colour=part.typed_colour,
        typed_wire_nm=part.typed_wire_nm,
        typed_inner_nm=part.typed_inner_nm,
    )


def _percent(percent: Decimal | None) -> str:
    return "as the shop has it" if percent is None else f"{plain(percent)} %"


def _work(row: WorkDraft | None) -> str:
    if row is None:
        return ""
    if row.count is not None:
        return f"{row.count} times"
    return "at your rate" if row.minutes_milli is None else f"{plain(Decimal(row.minutes_milli).scaleb(-3))} min"
