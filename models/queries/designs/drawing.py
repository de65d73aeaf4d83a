"""A design's rows as a drawing needs them: the plan, what its rings are, and the net of its links."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from models.errors import Missing
from models.intake.layouts.layout import LayoutDraft
from models.layouts.engine.items import Item
from models.layouts.engine.net import Net
from models.queries.designs.design import DesignView, design_view
from models.queries.designs.layout import layout_items


@dataclass(frozen=True, slots=True)
class PieceDrawing:
    """One revision of a design with its rows, ready to be drawn."""

    design: DesignView
    layout: LayoutDraft
    items: dict[str, Item]
    net: Net

    @property
    def title(self) -> str:
        """What the drawing is of."""
        return self.design.name if self.design.is_latest else f"{self.design.name}, revision {self.design.number}"


def piece_drawing(session: Session, design_id: int, number: int | None = None) -> PieceDrawing:
    """A design's rows, in its latest revision or the one of this number. Raises: Missing, also without rows."""
    view = design_view(session, design_id, number)
    layout = view.draft.layout
    if layout is None:
        raise Missing("drawing of design", design_id)
    return PieceDrawing(view, layout, layout_items(session, layout), layout.net())
