"""The page of a piece that is being laid out: its answer, drawing, palette, rows, checks, what hangs on it, sizes.

What a button does to the piece is in `editor_state`, what follows from it in `layout_view`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from sqlmodel import Session

from models.intake.designs.design import read_rough_design
from models.intake.layouts.hang import place_word
from models.intake.layouts.layout import LayoutDraft
from models.intake.layouts.rows import ROWS_SHOWN, RowFields, rows_of_plan
from models.layouts.drawing.drawing import FULL_UP_TO, Look
from models.layouts.drawing.tints import safe
from models.layouts.engine.attach import Attachment
from models.layouts.engine.chain_weaves import CHAINS
from models.layouts.engine.chains import Chain
from models.layouts.engine.checks import Check
from models.layouts.engine.edits import SIDES, edge_at
from models.layouts.engine.net import Net
from models.layouts.engine.piece import Drawn, draw_chain, draw_piece
from models.layouts.engine.rows import EDGES, Layout
from models.layouts.places.chain_sizes import Choices, NoLength, for_length
from models.layouts.places.sizes import Finished, Nearest, NoPitch, Pitch, pitch_of, rings_for, rows_for
from models.layouts.weaves.sheets import SHEETS
from models.queries.designs.editor_state import EditorState
from models.queries.designs.form import DesignForm, design_form
from models.queries.designs.layout import LayoutFacts, layout_items
from models.queries.designs.layout_change import LayoutChange, layout_change
from models.queries.designs.layout_palette import usual_size
from models.queries.designs.layout_view import LayoutView, costed, worked
from models.queries.layouts.words import layout_line
from models.queries.stock.material import Material
from models.trade.weaves import WEAVES

PREFIX = "p"
"""What the ids of the room's drawing begin with; the painter repaints by them."""


MOST_INLINE = 5_000
"""Larger pieces are shown by their file, so that their page stays light."""


@dataclass(frozen=True, slots=True)
class Swatch:
    """One ring or finding of the palette: its short word, how many the piece takes, the number of its tint."""

    key: str
    word: str
    thing: Material
    count: int
    ring: bool
    tint: int
    guess: Decimal | None = None


@dataclass(frozen=True, slots=True)
class Hanging:
    """What hangs on the piece: its number from 1, what it is, where, and how many rings carry it."""

    number: int
    attachment: Attachment
    where: str
    hosts: int
    ring: str
    finding: str


@dataclass(frozen=True, slots=True)
class Warn:
    """A check as the page shows it: its words, what is offered, and the rings or the row that the offer is about."""

    check: Check
    names: str
    many: int


@dataclass(frozen=True, slots=True)
class Fitting:
    """The row numbers nearest a wanted size: `rings` along the rows, `rows` across them; None where not asked."""

    rings: Nearest | None
    rows: Nearest | None
    rings_wide: bool
    reason: str = ""


@dataclass(frozen=True, slots=True)
class EditorPage:
    """The whole page. `work` is None before the first shape; `light` tells that `svg` is a light drawing."""

    shop: DesignForm
    desk: EditorState
    work: LayoutView | None = None
    svg: str | None = None
    drawing_notes: tuple[str, ...] = ()
    light: bool = False
    palette: tuple[Swatch, ...] = ()
    rows: tuple[RowFields, ...] = ()
    first_row: int = 1
    all_rows: int = 0
    hanging: tuple[Hanging, ...] = ()
    warnings: tuple[Warn, ...] = ()
    lengths: Choices | None = None
    fitting: Fitting | None = None
    change: LayoutChange | None = None
    around: str = ""

    @property
    def design_id(self) -> int | None:
        """The saved design; None for a new one."""
        return self.shop.design.id if self.shop.design else None

    @property
    def is_new(self) -> bool:
        """Whether the design was never saved."""
        return self.shop.design is None

    @property
    def plan(self) -> Layout | Chain | None:
        """The rows or the chain."""
        return self.desk.draft.plan if self.desk.draft else None

    @property
    def is_chain(self) -> bool:
        """Whether it is a length of chain."""
        return isinstance(self.plan, Chain)

    @property
    def weave_code(self) -> str:
        """The code of its weave; European 4-in-1 before the first shape."""
        return self.plan.weave if self.plan else next(iter(SHEETS))

    @property
    def weave_name(self) -> str:
        """Its weave in words."""
        weave = WEAVES.get(self.weave_code)
        return weave.name if weave else self.weave_code

    @property
    def weave_note(self) -> str:
        """What to know of a chain's weave."""
        return CHAINS[self.plan.weave].note if isinstance(self.plan, Chain) else ""

    @property
    def size_words(self) -> str:
        """The finished size in words: '26.5 × 36.0 mm', '45.2 cm', or that it is to be measured."""
        return "" if self.work is None else size_words(self.work)

    @property
    def steps(self) -> int:
        """The steps from one ring to the next along a row."""
        sheet = SHEETS.get(self.weave_code)
        return sheet.steps_per_ring if sheet else 1

    @property
    def edges(self) -> tuple[tuple[str, str], ...]:
        """The edges as the piece hangs: (side, words)."""
        plan = self.plan
        if not isinstance(plan, Layout):
            return ()
        names = {"first row": "row 1", "last row": f"row {len(plan.rows)}", "row starts": "where rows start",
                 "row ends": "where rows end"}  # fmt: skip
        return tuple((side, f"{side} ({names[edge_at(plan.up, side)]})") for side in SIDES)

    @property
    def hanging_names(self) -> list[tuple[str, str]]:
        """What hangs on the piece, by name, as a choice."""
        return [(one.attachment.name, one.attachment.name) for one in self.hanging]

    @property
    def connector_asked(self) -> bool:
        """Whether the weave has hubs that another ring joins."""
        return self.weave_code.startswith("japanese")

    @property
    def more_rows(self) -> int:
        """How many rows stand after those shown."""
        return max(0, self.all_rows - (self.first_row + len(self.rows) - 1))


def editor_page(
    session: Session,
    desk: EditorState,
    design_id: int | None,
    *,
    first_row: int = 1,
    around: str = "",
    wanted_mm: tuple[float | None, float | None] = (None, None),
    quiet: bool = False,
) -> EditorPage:
    """The page of a piece on the desk. `quiet` leaves the drawing out; `wanted_mm` are a wanted width and height.

    Raises: Missing for a design that is not there.
    """
    shop = design_form(session, design_id)
    if desk.draft is None or desk.facts is None:
        return EditorPage(shop, desk)
    plan, facts = desk.draft.plan, desk.facts
    # A new design is costed with the work that it will be saved with.
    around_it = shop.design.draft if shop.design else read_rough_design({})[0]
    work = worked(session, desk.draft, design=around_it, design_id=design_id)
    net = work.worked.net
    drawn = Drawn(None) if quiet else _drawn(desk, work, around)
    shown = _first_row(plan, first_row)
    return EditorPage(
        shop=shop,
        desk=desk,
        work=work,
        svg=drawn.svg,
        drawing_notes=drawn.notes,
        light=is_light(net),
        palette=_palette(desk, facts, net),
        rows=rows_of_plan(plan, desk.known.words, shown),
        first_row=shown,
        all_rows=len(plan.rows) if isinstance(plan, Layout) else 0,
        hanging=_hanging(desk, net),
        warnings=tuple(_warn(check, net) for check in work.worked.checks),
        lengths=_lengths(plan, work, facts) if isinstance(plan, Chain) else None,
        fitting=_fitting(plan, facts, wanted_mm) if isinstance(plan, Layout) else None,
        change=_change(session, shop, work),
        around=around if around in net.names else "",
    )


def is_light(net: Net) -> bool:
    """Whether the drawing is a light one, which a page fetches again to repaint it."""
    return len(net) > FULL_UP_TO


def _first_row(plan: Layout | Chain, wanted: int) -> int:
    if not isinstance(plan, Layout) or wanted > len(plan.rows):
        return 1
    return max(1, (wanted - 1) // ROWS_SHOWN * ROWS_SHOWN + 1)


def size_words(work: LayoutView) -> str:
    """The finished size of a piece in words, or that it is to be measured."""
    size = work.worked.size
    if isinstance(size, Finished):
        wide, high = size.width_mm, size.height_mm
        if wide is not None and high is not None:
            return f"{wide:.1f}\u00a0×\u00a0{high:.1f}\u00a0mm"
        if wide is not None:
            return f"{wide:.1f} mm wide, height to be measured"
        if high is not None:
            return f"{high:.1f} mm high, width to be measured"
        return "size to be measured"
    if size.mm is None:
        return "length to be measured"
    return f"{size.mm / 10:.1f} cm" if size.mm >= 100 else f"{size.mm:.1f} mm"


def _drawn(desk: EditorState, work: LayoutView, around: str) -> Drawn:
    draft, facts = desk.draft, desk.facts
    if draft is None or facts is None:
        return Drawn(None)
    net = work.worked.net
    marks = {index: check.words for check in work.worked.checks if check.level == "warning" for index in check.rings}
    if desk.looked:
        marks = dict.fromkeys(desk.looked.indices, "chosen")
    look = Look(
        prefix=PREFIX,
        title=f"The piece as it is laid out: {net.woven:,} rings",
        answer=True,
        legend=False,
        marks=marks,
        around=net.names.index(around) if around in net.names else None,
    )
    # On the drawing each ring is called as in the palette beside it.
    items = {key: replace(item, label=desk.known.words.get(key, item.label)) for key, item in facts.items.items()}
    if isinstance(draft.plan, Layout):
        return draw_piece(draft.plan, items, look, net)
    return draw_chain(draft.plan, items, look, net)


@dataclass(frozen=True, slots=True)
class DesignDrawing:
    """A laid-out design's drawing for its page, or why there is none, and how it is laid out in one line.

    A `large` one is not made here: the page fetches it as a file.
    """

    line: str
    svg: str | None
    notes: tuple[str, ...]
    large: bool = False


def drawing_of(session: Session, layout: LayoutDraft | None, title: str) -> DesignDrawing | None:
    """The drawing of a laid-out design with its legend; None for a plain list of parts."""
    if layout is None:
        return None
    if layout.rings > MOST_INLINE:
        return DesignDrawing(layout_line(layout), None, (), large=True)
    items, net = layout_items(session, layout), layout.net()
    if len(net) > MOST_INLINE:
        return DesignDrawing(layout_line(layout), None, (), large=True)
    look = Look(prefix="d", title=title)
    if isinstance(layout.plan, Layout):
        drawn = draw_piece(layout.plan, items, look, net)
    else:
        drawn = draw_chain(layout.plan, items, look, net)
    return DesignDrawing(layout_line(layout), drawn.svg, drawn.notes)


def _palette(desk: EditorState, facts: LayoutFacts, net: Net) -> tuple[Swatch, ...]:
    tints = list(dict.fromkeys(safe(item.tint) for item in facts.items.values() if not item.finding))
    counts = net.counts
    return tuple(
        Swatch(
            key=entry.key,
            word=desk.known.words[entry.key],
            thing=facts.things[entry.key],
            count=counts.get(entry.key, 0),
            ring=not facts.items[entry.key].finding,
            tint=-1 if facts.items[entry.key].finding else tints.index(safe(facts.items[entry.key].tint)),
            guess=entry.thing.guess,
        )
        for entry in (desk.draft.palette if desk.draft else ())
    )


def _hanging(desk: EditorState, net: Net) -> tuple[Hanging, ...]:
    plan = desk.draft.plan if desk.draft else None
    if plan is None:
        return ()
    words = desk.known.words
    return tuple(
        Hanging(
            number, each, place_word(plan, each.on), len(net.hosts.get(each.name, ())), words.get(each.ring, ""),
            words.get(each.finding, ""),
        )
        for number, each in enumerate(plan.attachments, 1)
    )  # fmt: skip


def _warn(check: Check, net: Net) -> Warn:
    names = [net.names[index] for index in check.rings]
    # Rings that hang are not in the rows, so dropping goes by the rings of the rows alone.
    woven = [name for name in names if not name.startswith("a")]
    return Warn(check, ", ".join(woven), len(names))


def _lengths(plan: Chain, work: LayoutView, facts: LayoutFacts) -> Choices | None:
    """The next lengths down and up that can be made."""
    size = work.worked.size
    ring = usual_size(plan, facts)
    if isinstance(size, Finished) or size.mm is None or ring is None or len(plan.stretches) != 1:
        return None
    found = for_length(plan.weave, ring, size.mm, closed=plan.closed, swatches=facts.chain_swatches)
    return None if isinstance(found, NoLength) else found


def _fitting(plan: Layout, facts: LayoutFacts, wanted_mm: Sequence[float | None]) -> Fitting | None:
    wide, high = wanted_mm
    if wide is None and high is None:
        return None
    upright = plan.up in EDGES[:2]
    pitch = _pitch(plan, facts)
    if isinstance(pitch, NoPitch):
        return Fitting(None, None, upright, pitch.reason)
    along, across = (wide, high) if upright else (high, wide)
    return Fitting(
        rings_for(along, plan.weave, pitch, len(plan.rows)) if along else None,
        rows_for(across, pitch) if across else None,
        upright,
    )


def _pitch(plan: Layout, facts: LayoutFacts) -> Pitch | NoPitch:
    size = usual_size(plan, facts)
    if size is None:
        return NoPitch("The size of its rings is not known.")
    return pitch_of(plan.weave, size, facts.swatch_for(size), facts.connector_of(plan))


def _change(session: Session, shop: DesignForm, work: LayoutView) -> LayoutChange | None:
    """What the change of a saved piece makes; None where there is nothing saved to compare with."""
    design = shop.design
    if design is None or design.draft.layout is None or design.draft.layout == work.draft:
        return None
    before = costed(session, design.draft.layout, design=design.draft, design_id=design.id)
    return layout_change(before, work)
