"""The finished size of a design: as the person typed it, and computed from its rows where nothing was typed.

Sizes of a layout with everything else about it are in `layout_view`.
"""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from models.intake.designs.design import DesignDraft
from models.intake.layouts.layout import LayoutDraft
from models.layouts.engine.net import Net
from models.layouts.engine.piece import connector_size
from models.layouts.engine.rows import Layout
from models.layouts.places.chain_sizes import Length, length_of
from models.layouts.places.sheet import Unplaced, one_size
from models.layouts.places.sizes import MEASURE, Finished, finished, pitch_of
from models.queries.designs.layout import LayoutFacts, layout_facts

STEP_NM = 100_000
"""A computed size is told to a tenth of a millimetre: rings at the bench are no truer than that."""


@dataclass(frozen=True, slots=True)
class FinishedSize:
    """Width, height and length in nanometres; `computed` names those that follow from the rows, `source` how.

    `notes` say what to know of a computed size, or why there is none.
    """

    width_nm: int | None = None
    height_nm: int | None = None
    length_nm: int | None = None
    computed: tuple[str, ...] = ()
    source: str = ""
    notes: tuple[str, ...] = ()

    @property
    def known(self) -> bool:
        """Whether any size is known."""
        return any((self.width_nm, self.height_nm, self.length_nm))

    @property
    def told(self) -> tuple[tuple[str, int, bool], ...]:
        """The known sizes for a page: ('wide', nanometres, whether computed)."""
        named = (
            ("wide", "width", self.width_nm),
            ("high", "height", self.height_nm),
            ("long", "length", self.length_nm),
        )
        return tuple((words, nm, name in self.computed) for words, name, nm in named if nm)


def finished_size(
    session: Session, draft: DesignDraft, *, facts: LayoutFacts | None = None, net: Net | None = None
) -> FinishedSize:
    """The finished size of a design: what was typed stands, the rest is computed from its rows where it can be.

    Who has the facts and the net of its layout already hands them in.
    """
    typed = {"width": draft.width_nm, "height": draft.height_nm, "length": draft.length_nm}
    if draft.layout is None or all(typed.values()):
        return FinishedSize(draft.width_nm, draft.height_nm, draft.length_nm)
    size = size_of(draft.layout, facts or layout_facts(session, draft.layout), net)
    if isinstance(size, Finished):
        found = {"width": _nm(size.width_mm), "height": _nm(size.height_mm), "length": None}
    else:
        found = {"width": None, "height": None, "length": _nm(size.mm)}
    used = tuple(name for name, nm in found.items() if nm and not typed[name])
    whole = {name: typed[name] or nm for name, nm in found.items()}
    return FinishedSize(
        whole["width"],
        whole["height"],
        whole["length"],
        computed=used,
        source=size.source if used else "",
        notes=size.notes if used or not any(typed.values()) else (),
    )


def size_of(layout: LayoutDraft, facts: LayoutFacts, net: Net | None = None) -> Finished | Length:
    """The size of a layout alone, in millimetres, without its checks."""
    if not isinstance(layout.plan, Layout):
        return length_of(layout.plan, facts.items, facts.chain_swatches)
    if net is None:
        net = layout.net()
    ring = one_size(net, facts.items)
    if isinstance(ring, Unplaced):
        return Finished(None, None, MEASURE, (ring.reason,))
    swatch = facts.swatch_for(ring)
    return finished(layout.plan, pitch_of(layout.weave, ring, swatch, connector_size(net, facts.items)))


def _nm(mm: float | None) -> int | None:
    return None if mm is None else round(mm * 1e6 / STEP_NM) * STEP_NM
