"""A piece that is being laid out while one button is at work on it: what is known of it, and what was typed or painted.

Not here: what each button does (editor_state).
"""

from __future__ import annotations

from dataclasses import replace

from sqlmodel import Session

from models.intake.faults import Fault, Faults
from models.intake.layouts.hang import HangLook
from models.intake.layouts.known import Acted, Known
from models.intake.layouts.layout import LayoutDraft, read_layout_text
from models.intake.layouts.paint import painted, read_strokes
from models.intake.layouts.plain import canonical, layout_to_plain
from models.intake.layouts.rows import typed_rows
from models.intake.raw import Raw, Reader
from models.layouts.engine.limits import not_at_hand, too_large
from models.layouts.engine.rows import Layout
from models.queries.designs.layout import LayoutFacts, layout_facts
from models.queries.designs.layout_palette import Asking, known_of, priced

CLOSED_ANEW = "What you chose to close beforehand no longer fits, so it follows the order of work again."
BEGUN = LayoutDraft(Layout("european-4-in-1", ()))
"""A piece before its first shape: no rows and no rings."""


def state_of(draft: LayoutDraft) -> str:
    """The text that carries a piece."""
    return canonical(layout_to_plain(draft))


class EditorAction:
    """One press of a button at work: the draft as it comes to be, and what there is to say."""

    def __init__(self, session: Session, raw: Raw, draft: LayoutDraft | None, length_unit: str) -> None:
        self.session = session
        self.raw = raw
        self.unit = length_unit
        self.draft = draft
        self.faults: list[Fault] = []
        self.said = ""
        self.notes: tuple[str, ...] = ()
        self.looked: HangLook | None = None
        self.asking: Asking | None = None
        self.brush = str(raw.get("brush") or "")
        self.cleared: set[str] = set()
        self._facts: LayoutFacts | None = None

    # --- what there is ---

    def facts(self) -> LayoutFacts:
        if self._facts is None:
            self._facts = layout_facts(self.session, self.draft or BEGUN)
        return self._facts

    def known(self) -> Known:
        return known_of(self.draft or BEGUN, self.facts(), length_unit=self.unit)

    def take(self, draft: LayoutDraft, said: str = "", notes: tuple[str, ...] = ()) -> None:
        """Go on with this draft; facts are read anew where the palette or the weave changed."""
        old = self.draft
        if old is None or old.palette != draft.palette or old.weave != draft.weave:
            self._facts = None
        self.draft = _fitting(draft)
        self.said = said or self.said
        self.notes = notes or self.notes
        if draft.closed is not None and self.draft.closed is None:
            self.notes = (*self.notes, CLOSED_ANEW)

    def take_plan(self, acted: Acted, field: str = "rows") -> None:
        """Go on with this piece, unless it is larger than one may be."""
        much = [each.message for each in too_large(acted.plan)] or [not_at_hand(acted.plan)]
        if any(much):
            self.wrong(Faults(tuple(Fault(field, message) for message in much)))
            return
        begun = self.draft or BEGUN
        self.take(replace(begun, plan=acted.plan), acted.said, acted.notes)

    def wrong(self, faults: Faults) -> None:
        self.faults += faults.items

    # --- the parts of a press ---

    def strokes(self) -> None:
        """Take what the painter painted since the page was last answered."""
        if self.draft is None or not self.raw.get("strokes"):
            return
        known = self.known()
        reader = Reader(self.raw)
        strokes = read_strokes(reader, known)
        faults = reader.faults()
        acted = faults or painted(self.draft.plan, strokes)
        if isinstance(acted, Faults):
            self.wrong(acted)
        elif strokes:
            self.take_plan(acted)

    def prices(self) -> None:
        """Take the guessed prices of what is not in stock."""
        if self.draft is None:
            return
        draft, faults = priced(self.draft, self.raw)
        self.faults += faults
        if draft != self.draft:
            self.take(draft, "Took the guessed prices.")

    def rows(self) -> None:
        """Take what was typed over in the rows."""
        if self.draft is None:
            return
        acted, faults = typed_rows(self.raw, self.draft.plan, self.known())
        self.faults += faults
        if acted.plan != self.draft.plan:
            self.take_plan(acted)


def _fitting(draft: LayoutDraft) -> LayoutDraft:
    """The draft with a route and a set closed beforehand that still belong to its rows."""
    plan, route, closed = draft.plan, draft.route, draft.closed
    if isinstance(plan, Layout) and route.start_row > max(1, len(plan.rows)):
        route = replace(route, start_row=1)
    if closed is not None:
        told = {**layout_to_plain(replace(draft, route=route))}
        if isinstance(read_layout_text(canonical(told)), Faults):
            closed = None
    return replace(draft, route=route, closed=closed)
