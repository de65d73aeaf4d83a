"""A piece on the desk while it is laid out: the state that its page sends, after the button that was pressed.

The whole state travels with the page (the piece, and earlier states for undo); nothing is saved here. What follows from
the piece is in `layout_view`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Final

from sqlmodel import Session

from models.errors import Unfit
from models.intake.faults import Fault, Faults
from models.intake.layouts.act import read_act, split_act
from models.intake.layouts.hang import HangLook, look_of, read_hang, unhung
from models.intake.layouts.known import Acted, Known
from models.intake.layouts.layout import LayoutDraft, Plan, read_layout_text
from models.intake.layouts.past import packed, unpacked
from models.intake.layouts.shape import read_lay
from models.intake.raw import Raw, Reader
from models.layouts.engine import edits
from models.layouts.engine.limits import not_at_hand
from models.layouts.engine.nesting import trimmed
from models.layouts.engine.net import HUB, RING
from models.layouts.engine.rows import Layout, ring_name
from models.queries.designs.editor_action import BEGUN, EditorAction, state_of
from models.queries.designs.layout import LayoutFacts, layout_facts, work_out_draft
from models.queries.designs.layout_palette import (
    Asking,
    Palette,
    added,
    kept_size,
    known_of,
    resized_entries,
    swapped,
    usual_size,
    without,
)
from models.trade.rings import RingSize, absurd

UNREADABLE = "The piece on this page cannot be read any more. Open the page anew; what was saved is safe."
WOVEN = (RING, HUB)


@dataclass(frozen=True, slots=True)
class EditorState:
    """The piece on the desk.

    `draft` is None before the first shape. `said` is what the last button did, `notes` what to know about it, `faults`
    what could not be done and why, by the field of the page. `looked` is an attachment before it is applied, `asking` a
    typed ring that may be one of several. `past` and `ahead` are packed states for undo and redo.
    """

    draft: LayoutDraft | None
    known: Known = field(default_factory=Known)
    facts: LayoutFacts | None = None
    said: str = ""
    notes: tuple[str, ...] = ()
    faults: tuple[Fault, ...] = ()
    looked: HangLook | None = None
    asking: Asking | None = None
    past: str = ""
    ahead: str = ""
    brush: str = ""
    fields: Mapping[str, str] = field(default_factory=dict[str, str])

    @property
    def state(self) -> str:
        """The piece as the page carries it."""
        return state_of(self.draft) if self.draft else ""

    @property
    def can_undo(self) -> bool:
        """Whether there is an earlier state."""
        return bool(self.past)

    @property
    def can_redo(self) -> bool:
        """Whether a state was undone that can come back."""
        return bool(self.ahead)


def editor_state_of(session: Session, draft: LayoutDraft | None, *, length_unit: str = "mm") -> EditorState:
    """A saved piece put on the desk; None for a new one. Raises: Unfit for one that is too large for a page."""
    if draft is None:
        return EditorState(None)
    much = not_at_hand(draft.plan)
    if much:
        raise Unfit(Faults.of("", much))
    facts = layout_facts(session, draft)
    known = known_of(draft, facts, length_unit=length_unit)
    return EditorState(draft, known, facts, brush=next(iter(known.rings), ""))


def press_button(session: Session, raw: Raw, act: str, *, length_unit: str = "mm") -> EditorState:
    """The piece that a page sent, after what was typed over in its rows and after the button that was pressed."""
    text = str(raw.get("state") or "")
    draft = read_layout_text(text) if text else None
    if isinstance(draft, Faults):
        return EditorState(None, faults=(Fault("", UNREADABLE),))
    much = not_at_hand(draft.plan) if draft else ""
    if much:
        return EditorState(None, faults=(Fault("", much),))
    working = _ButtonPress(session, raw, draft, length_unit)
    before = state_of(draft) if draft else ""
    if draft is not None:
        working.strokes()
        working.prices()
        working.rows()
    if split_act(act)[0] in LAYS_ANEW:
        # Rows that are laid anew take the place of whatever was typed over in the old ones.
        working.faults = [fault for fault in working.faults if not fault.field.startswith("row.")]
    if act in {"undo", "redo"}:
        return working.back(act, before)
    if not working.faults:
        working.press(act)
    return working.desk(before)


LAYS_ANEW = frozenset({"lay", "lay-item", "lay-typed", "fit-rings", "fit-rows", "fit-units", "undo", "redo"})
"""Buttons after which the rows on the page are others."""


class _ButtonPress(EditorAction):
    """A button at work on a piece."""

    def press(self, act: str) -> None:
        """Do what the button asks for; one that is in no table of buttons is an act on the piece by itself."""
        verb, number = split_act(act)
        action = _ACTIONS.get(verb)
        if action is not None:
            action(self, number)
        elif self.draft is not None:
            self._change(act)

    def offered(self, number: int) -> None:
        """Take up what the check of this number offers: its rings are dropped, what hangs there is taken away."""
        draft = self.draft
        if draft is None or not isinstance(draft.plan, Layout):
            return
        done = work_out_draft(draft, self.facts())
        if not 1 <= number <= len(done.checks):
            self.wrong(Faults.of("rows", "That is put right already."))
            return
        net, rings = done.net, done.checks[number - 1].rings
        hanging = [name for name, group in net.groups.items() if not set(group).isdisjoint(rings)]
        if hanging:
            names = [each.name for each in draft.plan.attachments]
            taken = unhung(draft.plan, names.index(hanging[0]) + 1)
            if isinstance(taken, Acted):
                self.take_plan(taken)
            return
        places = (
            (net.rows[index], net.places[index])
            for index in rings
            if net.rows[index] >= 0 and net.places[index] >= 0 and net.roles[index] in WOVEN
        )
        names = list(dict.fromkeys(ring_name(row, place) for row, place in places))
        made = edits.drop_rings(draft.plan, names)
        if isinstance(made, Fault):
            self.wrong(Faults.of("rows", made.message))
            return
        many = len(names)
        said = f"Dropped ring {names[0]}." if many == 1 else f"Dropped {many:,} rings."
        self.take_plan(Acted(made, said))

    def look(self) -> None:
        """Show what would hang on which rings before it is hung."""
        if self.draft is None:
            return
        found = read_hang(self.raw, self.draft.plan, self.known())
        if isinstance(found, Faults):
            self.wrong(found)
        else:
            self.looked = look_of(self.draft.plan, found)

    def _change(self, act: str) -> None:
        draft = self.draft
        if draft is None:
            return
        read = read_act(act, self.raw, self.known())
        if read is None:
            return
        if isinstance(read, Faults):
            self.wrong(read)
            return
        acted = read.apply(draft.plan)
        if isinstance(acted, Faults):
            self.wrong(acted)
            return
        self.take_plan(acted)
        if act == "attach":
            self.cleared |= {"hang_name", "hang_rings"}

    def lay(self, item_id: int | None = None, *, as_typed: bool = False) -> None:
        """Lay a shape or a length of chain; a new piece first gets the ring that its fields name."""
        weave = str(self.raw.get("weave") or "")
        key = self.add(item_id, as_typed=as_typed, quiet=True) if self.draft is None else ""
        if self.faults or self.asking:
            return
        raw = {**self.raw, "lay_item": key} if key else self.raw
        if self.draft is None or self.draft.weave != weave:
            self._facts = layout_facts(self.session, _of_weave(self.draft or BEGUN, weave))
        read = read_lay(raw, self.known())
        if isinstance(read, Faults):
            self.wrong(read)
            return
        acted = read(self.draft.plan if self.draft and self.draft.plan.rings else None)
        if isinstance(acted, Faults):
            self.wrong(acted)
        else:
            self.take_plan(acted)

    def add(self, item_id: int | None = None, *, as_typed: bool = False, quiet: bool = False) -> str:
        raw = {**self.raw, "new_item": str(item_id), "new_line": ""} if item_id else self.raw
        begun = self.draft or BEGUN
        found = added(self.session, begun.palette, raw, "new", length_unit=self.unit, as_typed=as_typed)
        if found is None:
            if not quiet:
                self.wrong(Faults.of("new_line", "Choose one from stock, or type one such as bronze 1.0 x 4.0."))
            return ""
        if isinstance(found, Faults):
            self.wrong(found)
            return ""
        if isinstance(found, Asking):
            self.asking = found
            return ""
        self.take(replace(begun, palette=found.entries), "" if quiet else "Added to the rings and findings.")
        self.cleared |= {"new_item", "new_line"}
        if found.key in self.known().rings:
            self.brush = found.key
        return found.key

    def take_out(self) -> None:
        key = str(self.raw.get("brush") or "")
        if self.draft is None:
            return
        left = without(self.draft, key)
        if isinstance(left, Faults):
            self.wrong(Faults.of("brush", left.items[0].message))
        else:
            self.take(left, "Took it out of the rings and findings.")

    def swap(self, *, every: bool) -> None:
        """Put another ring in the place of one, or another size in the place of all of the usual size."""
        draft, facts = self.draft, self.facts()
        if draft is None:
            return
        before = usual_size(draft.plan, facts)
        made = self._resized(draft, before) if every else self._one_swapped(draft)
        if made is None:
            return
        self._facts = None
        self.draft = made
        facts = self.facts()
        after = usual_size(made.plan, facts)
        self.said, self.notes = "Swapped.", ()
        if str(self.raw.get("swap_keep") or "shape") == "size" and before and after and before != after:
            kept = kept_size(made, before, after, facts)
            if isinstance(kept, Faults):
                self.draft = draft
                self._facts = None
                self.wrong(kept)
                return
            made, self.notes = kept.draft, kept.notes
            self.said = "Swapped, and laid again to come near the size it had."
        self.take(made)

    def _one_swapped(self, draft: LayoutDraft) -> LayoutDraft | None:
        old = str(self.raw.get("swap_old") or "")
        if draft.entry(old) is None:
            self.wrong(Faults.of("swap_old", "Choose which ring to swap."))
            return None
        found = added(self.session, draft.palette, self.raw, "swap", length_unit=self.unit, as_typed=True)
        if isinstance(found, Faults):
            self.wrong(found)
            return None
        if not isinstance(found, Palette):
            words = "Choose one from stock, or type one such as bronze 1.2 x 5.0."
            self.wrong(Faults.of("swap_line", found.row.says if found else words))
            return None
        entry = next(each for each in found.entries if each.key == found.key)
        self.cleared |= {"swap_item", "swap_line"}
        if self.brush == old:
            self.brush = entry.key
        return swapped(draft, [old], {old: entry})

    def _resized(self, draft: LayoutDraft, before: RingSize | None) -> LayoutDraft | None:
        reader = Reader(self.raw, length_unit=self.unit)
        wire, inner = reader.wire("resize_wire"), reader.inner("resize_inner")
        faults = reader.faults()
        if faults or wire is None or inner is None:
            self.wrong(faults or Faults.of("resize_wire", "Give a size."))
            return None
        after = RingSize(wire.nm, inner.nm)
        words = absurd(after)
        if words or before is None or before == after:
            self.wrong(Faults.of("resize_inner", words or "These rings have that size already."))
            return None
        new = resized_entries(self.session, draft, self.facts(), before, after)
        if self.brush in new:
            self.brush = new[self.brush].key
        return swapped(draft, list(new), new)

    def fitted(self, name: str, number: int) -> None:
        """Lay the rectangle, or the chain, again with a count (`name`) that was offered for a wanted size."""
        fields = {**self.raw, name: str(number), "shape": "rectangle", "chain_wanted": ""}
        plan = self._plan()
        if isinstance(plan, Layout):
            rows = len(plan.rows)
            widest = max((len(trimmed(row, plan.weave).items) for row in plan.rows), default=1)
            fields.setdefault("rectangle_rows", str(rows))
            if name == "rectangle_rings":
                fields["rectangle_rows"] = str(rows)
            else:
                fields["rectangle_rings"] = str(widest)
        self.raw = fields
        self.lay()

    def _plan(self) -> Plan | None:
        return self.draft.plan if self.draft else None

    # --- undo ---

    def back(self, act: str, now: str) -> EditorState:
        """Go back to the state before, or on to the one that was undone."""
        past, ahead = unpacked(str(self.raw.get("past") or "")), unpacked(str(self.raw.get("ahead") or ""))
        working = state_of(self.draft) if self.draft else ""
        if working != now:
            # What was painted or typed just before is a step of its own.
            past, ahead, now = (*past, now), (), working
        source = past if act == "undo" else ahead
        if not source:
            return self._shown(packed(past), packed(ahead))
        found = read_layout_text(source[-1]) if source[-1] else None
        if isinstance(found, Faults):
            return self._shown("", "")
        kept = (now,) if now else ()
        if act == "undo":
            past, ahead = past[:-1], (*ahead, *kept)
        else:
            past, ahead = (*past, *kept), ahead[:-1]
        self.draft, self._facts = found, None
        self.said = "Undone." if act == "undo" else "Done again."
        return self._shown(packed(past), packed(ahead))

    def desk(self, before: str) -> EditorState:
        now = state_of(self.draft) if self.draft and self.draft.plan.rings else ""
        past = unpacked(str(self.raw.get("past") or ""))
        if not now or now == before:
            return self._shown(packed(past), str(self.raw.get("ahead") or ""))
        return self._shown(packed((*past, before) if before else past), "")

    def _shown(self, past: str, ahead: str) -> EditorState:
        draft = self.draft if self.draft and self.draft.plan.rings else None
        if draft is None:
            return EditorState(None, faults=tuple(self.faults), asking=self.asking, past=past, ahead=ahead)
        known = self.known()
        brush = self.brush if self.brush in known.rings else next(iter(known.rings), "")
        return EditorState(
            draft=draft,
            known=known,
            facts=self.facts(),
            said="" if self.faults else self.said,
            notes=self.notes,
            faults=tuple(self.faults),
            looked=self.looked,
            asking=self.asking,
            past=past,
            ahead=ahead,
            brush=brush,
            fields=dict.fromkeys(self.cleared, ""),
        )


_Press = Callable[[_ButtonPress, int | None], object]

_ACTIONS: Final[dict[str, _Press]] = {
    "lay": lambda press, _number: press.lay(),
    "lay-item": lambda press, number: press.lay(number),
    "lay-typed": lambda press, _number: press.lay(as_typed=True),
    "add": lambda press, _number: press.add(),
    "add-item": lambda press, number: press.add(number),
    "add-typed": lambda press, _number: press.add(as_typed=True),
    "offer": lambda press, number: press.offered(number or 0),
    "attach-look": lambda press, number: press.look() if number is None else None,
    "take-out": lambda press, _number: press.take_out(),
    "swap": lambda press, _number: press.swap(every=False),
    "resize": lambda press, _number: press.swap(every=True),
    "fit-rings": lambda press, number: press.fitted("rectangle_rings", number or 0),
    "fit-rows": lambda press, number: press.fitted("rectangle_rows", number or 0),
    "fit-units": lambda press, number: press.fitted("chain_units", number or 0),
}
"""What each button does to the piece and its palette; `number` is what the button's value ends in."""


def _of_weave(draft: LayoutDraft, weave: str) -> LayoutDraft:
    """The draft as far as its swatches and fits are asked for: of another weave."""
    return replace(draft, plan=replace(BEGUN.plan, weave=weave))
