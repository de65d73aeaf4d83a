"""The drawing of a laid-out piece inside a page. Where rings lie, and what lies over what, is in models."""

from __future__ import annotations

import re
from dataclasses import dataclass

from markupsafe import Markup

from models.intake.layouts.layout import Plan
from models.layouts.drawing.drawing import Look
from models.layouts.engine.items import Items
from models.layouts.engine.net import Net
from models.layouts.engine.piece import Hung, draw_chain, draw_hung, draw_piece
from models.layouts.engine.rows import Layout
from models.layouts.places.sheet import Unplaced

_BOX = re.compile(r'viewBox="\S+ \S+ (?P<wide>[0-9.]+) (?P<high>[0-9.]+)"')


@dataclass(frozen=True, slots=True)
class PagePiece:
    """A drawing for a template: the SVG, or None with the reasons in `notes`."""

    svg: Markup | None
    notes: tuple[str, ...] = ()

    @property
    def tall(self) -> bool:
        """Whether the drawing is taller than wide, so that words find room beside it."""
        box = _BOX.search(self.svg or "")
        return box is not None and float(box["high"]) > float(box["wide"])


def page_piece(plan: Plan, items: Items, net: Net, look: Look, hung: Hung | Unplaced | None = None) -> PagePiece:
    """Draw a piece for a page; `hung` are the places of a sheet, where they are known from an earlier drawing."""
    if not isinstance(plan, Layout):
        drawn = draw_chain(plan, items, look, net)
    elif hung is None:
        drawn = draw_piece(plan, items, look, net)
    else:
        drawn = draw_hung(hung, net, items, look)
    # Every word in the drawing was escaped where it was drawn, so the whole may stand in a page as it is.
    return PagePiece(None if drawn.svg is None else Markup(drawn.svg), drawn.notes)  # noqa: S704
