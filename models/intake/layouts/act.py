"""What a person does to a piece, by the name of the button and the fields beside it: edits, colours, turns, offers.

`read_act` reads raw fields into an act that is applied to a piece later; nothing is stored. Not here: whole shapes and
chains (layout_shape), what hangs on a piece (layout_hang), the palette (models/queries/designs/editor_state).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from models.intake.faults import Fault, Faults
from models.intake.layouts.hang import hung, read_hang, ring_names, unhung
from models.intake.layouts.known import Acted, Known
from models.intake.layouts.layout import Plan
from models.intake.layouts.paint import painted
from models.intake.layouts.row_text import read_rings
from models.intake.raw import Raw, Reader
from models.layouts.engine import edits, patterns, shapes
from models.layouts.engine import rows as plain_rows
from models.layouts.engine.edits import SIDES, edge_at
from models.layouts.engine.nesting import faults_of, nests, staggered, steps_per_ring, trimmed
from models.layouts.engine.rows import Edge, Layout, Row

MOST_BY: Final = 500
MOST_NUMBER: Final = 6

Applied = Acted | Faults
Apply = Callable[[Plan], Applied]
OnRows = Callable[[Layout], "Layout | Fault"]

ROWS_ONLY: Final = "This is for pieces that are laid in rows."


@dataclass(frozen=True, slots=True)
class LayoutAct:
    """One act: its name and what it does to a piece."""

    verb: str
    apply: Apply


def split_act(act: str) -> tuple[str, int | None]:
    """Return the verb and the number of a button's value: ('row-wider', 3) of 'row-wider-3'."""
    verb, dash, number = act.rpartition("-")
    if dash and number.isascii() and number.isdigit() and len(number) <= MOST_NUMBER:
        return verb, int(number)
    return act, None


def read_act(act: str, raw: Raw, known: Known) -> LayoutAct | Faults | None:
    """Read what a button asks for; None for a button that changes nothing by itself."""
    verb, number = split_act(act)
    if number is None and verb.startswith("row-") and verb in _NUMBERED:
        reader = Reader(raw)
        number = reader.integer("row_number", least=1, most=plain_rows.MAX_ROWS)
        if number is None:
            return reader.faults()
    if number is not None and verb in _NUMBERED:
        return LayoutAct(verb, _NUMBERED[verb](number))
    if number is not None or verb not in _VERBS:
        return None
    read = _VERBS[verb](raw, known)
    return read if isinstance(read, Faults) else LayoutAct(verb, read)


# --- helpers ---


def _on_rows(act: OnRows, said: str, field: str, names: Mapping[str, str] | None = None) -> Apply:
    """Do it to rows, and put what is wrong beside the field of the page that it belongs to."""

    def apply(plan: Plan) -> Applied:
        if not isinstance(plan, Layout):
            return Faults.of(field, ROWS_ONLY)
        done = act(plan)
        if isinstance(done, Fault):
            return Faults.of((names or {}).get(done.field, field), done.message)
        faults = faults_of(done)
        return Faults(tuple(Fault(field, each.message) for each in faults)) if faults else Acted(done, said)

    return apply


def _edge(reader: Reader, field: str) -> str:
    return reader.choice(field, SIDES, default="bottom")


def _ring(reader: Reader, field: str, known: Known, *, needed: bool = True) -> str:
    key = reader.text(field)
    if not key and needed and len(known.rings) == 1:
        return known.rings[0]
    if (key or needed) and key not in known.rings:
        reader.fault(field, "Choose one of the rings of this piece.")
    return key


# --- single rows, by their number ---


def _row_act(said: str, change: Callable[[Layout, int], Layout | Fault]) -> Callable[[int], Apply]:
    return lambda number: _on_rows(lambda layout: change(layout, number), said.format(number), "rows")


def _copy_row(layout: Layout, number: int) -> Layout | Fault:
    """Add a row after this one, as wide, half a pitch on or back so that it nests; the rows after it follow."""
    if not 1 <= number <= len(layout.rows):
        return Fault("rows", f"There is no row {number}.")
    before, row = layout.rows[number - 2] if number > 1 else None, layout.rows[number - 1]
    shift = 0
    if staggered(layout.weave):
        shift = -1 if before is not None and before.start < row.start else 1
    added = Row(row.start + shift, row.items)
    rest = layout.rows[number:]
    if rest and not nests(layout.weave, added, rest[0]):
        rest = tuple(Row(each.start - shift, each.items) for each in rest)
    return edits.insert_row(layout.with_rows((*layout.rows[:number], *rest)), number + 1, added)


def _remove_row(layout: Layout, number: int) -> Layout | Fault:
    """Take a row out; where the rows after it would no longer nest, they move half a pitch."""
    left = edits.remove_row(layout, number)
    if isinstance(left, Fault) or not 1 < number <= len(left.rows):
        return left
    above, below = left.rows[number - 2], left.rows[number - 1]
    if nests(layout.weave, above, below):
        return left
    way = 1 if above.start > below.start else -1
    moved = tuple(Row(row.start + way, row.items) for row in left.rows[number - 1 :])
    return left.with_rows((*left.rows[: number - 1], *moved))


def _ends(at_start: int, at_end: int) -> Callable[[Layout, int], Layout | Fault]:
    """Make one row longer or shorter at its ends; a new ring takes the item of its neighbour."""

    def change(layout: Layout, number: int) -> Layout | Fault:
        if not 1 <= number <= len(layout.rows):
            return Fault("rows", f"There is no row {number}.")
        per = steps_per_ring(layout.weave)
        row = trimmed(layout.rows[number - 1], layout.weave)
        items, start = row.items, row.start
        if at_start > 0:
            items, start = (items[0], *items), start - per
        if at_start < 0:
            items, start = items[1:], start + per
        if at_end > 0:
            items = (*items, items[-1])
        if at_end < 0:
            items = items[:-1]
        return edits.set_row(layout, number, trimmed(Row(start, items), layout.weave))

    return change


def _nest(number: int) -> Apply:
    return _on_rows(
        lambda layout: edits.nest(layout, number), f"Row {number} and those after it moved to nest.", "rows"
    )


_NUMBERED: Final[dict[str, Callable[[int], Apply]]] = {
    "row-copy": _row_act("Added a row after row {}.", _copy_row),
    "row-remove": _row_act("Took row {} out.", _remove_row),
    "row-back": _row_act("Moved row {} a step back.", lambda layout, number: edits.move_row(layout, number, -1)),
    "row-on": _row_act("Moved row {} a step on.", lambda layout, number: edits.move_row(layout, number, 1)),
    "row-start-longer": _row_act("One ring more at the start of row {}.", _ends(1, 0)),
    "row-start-shorter": _row_act("One ring less at the start of row {}.", _ends(-1, 0)),
    "row-end-longer": _row_act("One ring more at the end of row {}.", _ends(0, 1)),
    "row-end-shorter": _row_act("One ring less at the end of row {}.", _ends(0, -1)),
    "nest": _nest,
    "detach": lambda number: lambda plan: unhung(plan, number),
}


# --- acts with fields ---


def _grow(raw: Raw, known: Known) -> Apply | Faults:
    reader = Reader(raw)
    side, by = _edge(reader, "grow_edge"), reader.integer("grow_by", least=1, most=MOST_BY, default=1) or 1
    item = _ring(reader, "grow_item", known, needed=False)
    said = f"Grown at the {side} edge."
    return reader.faults() or _on_rows(
        lambda piece: edits.grow(piece, edge_at(piece.up, side), by, item), said, "grow_by"
    )


def _shrink(raw: Raw, _known: Known) -> Apply | Faults:
    reader = Reader(raw)
    side, by = _edge(reader, "grow_edge"), reader.integer("grow_by", least=1, most=MOST_BY, default=1) or 1
    said = f"Shrunk at the {side} edge."
    return reader.faults() or _on_rows(lambda piece: edits.shrink(piece, edge_at(piece.up, side), by), said, "grow_by")


def _bands(reader: Reader, field: str, known: Known) -> tuple[str, ...]:
    read = read_rings(reader.text(field, most=2_000), known.ring_words, field, gaps=False)
    if isinstance(read, Fault):
        reader.fault(read.field, read.message)
        return ()
    return read


def _stripes(raw: Raw, known: Known) -> Apply | Faults:
    reader = Reader(raw)
    bands = plain_rows.runs(_bands(reader, "stripes_bands", known))
    from_row = reader.integer("stripes_from_row", least=1, most=plain_rows.MAX_ROWS, default=1) or 1
    outward = reader.flag("stripes_outward")
    names = {"from_row": "stripes_from_row"}
    return reader.faults() or _on_rows(
        lambda piece: patterns.stripes(piece, bands, from_row=from_row, outward=outward),
        "Striped.",
        "stripes_bands",
        names,
    )


def _along(raw: Raw, known: Known) -> Apply | Faults:
    reader = Reader(raw)
    repeat = _bands(reader, "along_repeat", known)
    return reader.faults() or _on_rows(
        lambda piece: patterns.along_rows(piece, repeat), "Coloured along the rows.", "along_repeat"
    )


def _checks(raw: Raw, known: Known) -> Apply | Faults:
    reader = Reader(raw)
    items = _bands(reader, "checks_items", known)
    rows = reader.integer("checks_rows", least=1, most=MOST_BY, default=1) or 1
    rings = reader.integer("checks_rings", least=1, most=MOST_BY, default=1) or 1
    return reader.faults() or _on_rows(
        lambda piece: patterns.checks(piece, items, rows=rows, rings=rings), "Coloured in checks.", "checks_items"
    )


def _border(raw: Raw, known: Known) -> Apply | Faults:
    reader = Reader(raw)
    item = _ring(reader, "border_item", known)
    width = reader.integer("border_width", least=1, most=MOST_BY, default=1) or 1
    return reader.faults() or _on_rows(
        lambda piece: patterns.border(piece, item, width), "Gave it a border.", "border_width"
    )


def _recolour(raw: Raw, known: Known) -> Apply | Faults:
    reader = Reader(raw)
    old, new = _ring(reader, "recolour_old", known), _ring(reader, "recolour_new", known)
    return reader.faults() or _on_rows(lambda piece: patterns.recolour(piece, old, new), "Recoloured.", "recolour_new")


def _paint(raw: Raw, known: Known) -> Apply | Faults:
    """The rings that were named in words, in the chosen ring; the painter's own strokes come before any act."""
    reader = Reader(raw)
    typed, item = reader.text("paint_rings", most=20_000), _ring(reader, "brush", known)
    faults = reader.faults()
    if faults:
        return faults

    def apply(plan: Plan) -> Applied:
        named = ring_names(typed, plan, "paint_rings")
        return Faults((named,)) if isinstance(named, Fault) else painted(plan, ((item, named),))

    return apply


def _fill(raw: Raw, known: Known) -> Apply | Faults:
    reader = Reader(raw)
    typed, item = reader.text("paint_rings", most=200), _ring(reader, "brush", known)
    first = typed.split(",")[0].strip()
    return reader.faults() or _on_rows(lambda piece: patterns.fill(piece, first, item), "Filled.", "paint_rings")


def _drop(raw: Raw, _known: Known) -> Apply | Faults:
    """Take named rings away: those of a check's offer, or those that were typed."""
    reader = Reader(raw)
    typed = reader.text("paint_rings", most=400_000)
    if reader.faults():
        return Faults.of("paint_rings", "Name fewer rings.")

    def apply(plan: Plan) -> Applied:
        named = ring_names(typed, plan, "paint_rings")
        if isinstance(named, Fault):
            return Faults((named,))
        many = len(named)
        said = f"Dropped ring {named[0]}." if many == 1 else f"Dropped {many:,} rings."
        return _on_rows(lambda piece: edits.drop_rings(piece, named), said, "paint_rings")(plan)

    return apply


def _turn(raw: Raw, _known: Known) -> Apply | Faults:
    """Hang the piece from the edge that is now at a side."""
    reader = Reader(raw)
    side = reader.choice("turn_up", SIDES, default="top")

    def turn(piece: Layout) -> Layout:
        up: Edge = edge_at(piece.up, side)
        return edits.turned(piece, up)

    return reader.faults() or _on_rows(turn, f"The edge that was at the {side} hangs up now.", "turn_up")


def _mirror(raw: Raw, _known: Known) -> Apply | Faults:
    """Mirror the rows about the first, or each row about its last ring; the rows laid so far are one half."""
    reader = Reader(raw)
    way = reader.choice("mirror_about", ("row", "between rows", "ring", "between rings"), default="row")
    if reader.faults():
        return reader.faults() or Faults.of("mirror_about", "")

    def apply(plan: Plan) -> Applied:
        if not isinstance(plan, Layout):
            return Faults.of("mirror_about", ROWS_ONLY)
        if way in ("row", "between rows"):
            shape = shapes.mirrored(plan.weave, plan.rows, about="row" if way == "row" else "between")
        else:
            shape = shapes.mirrored_across(plan.weave, plan.rows, about="ring" if way == "ring" else "between")
        return _shaped(plan, shape, "Mirrored.", "mirror_about")

    return apply


def _repeat(raw: Raw, _known: Known) -> Apply | Faults:
    reader = Reader(raw)
    first = reader.integer("repeat_first", least=1, most=plain_rows.MAX_ROWS) or 1
    last = reader.integer("repeat_last", least=1, most=plain_rows.MAX_ROWS) or 1
    times = reader.integer("repeat_times", least=1, most=plain_rows.MAX_ROWS, default=2) or 2

    def apply(plan: Plan) -> Applied:
        if not isinstance(plan, Layout):
            return Faults.of("repeat_first", ROWS_ONLY)
        if (last - first + 1) * times > plain_rows.MAX_ROWS:
            return Faults.of("repeat_times", f"A piece has up to {plain_rows.MAX_ROWS:,} rows here.")
        shape = shapes.repeated_rows(plan.weave, plan.rows, first, last, times)
        return _shaped(plan, shape, f"Rows {first} to {last} stand {times} times now.", "repeat_first")

    return reader.faults() or apply


def _shaped(plan: Layout, shape: shapes.Shape, said: str, field: str) -> Applied:
    if shape.faults:
        return Faults.of(field, " ".join(shape.faults))
    laid = plan.with_rows(shape.rows)
    faults = faults_of(laid)
    return Faults.of(field, faults[0].message) if faults else Acted(laid, said, shape.notes)


def _attach(raw: Raw, known: Known) -> Apply | Faults:
    def apply(plan: Plan) -> Applied:
        found = read_hang(raw, plan, known)
        return found if isinstance(found, Faults) else hung(plan, found)

    return apply


_VERBS: Final[dict[str, Callable[[Raw, Known], Apply | Faults]]] = {
    "grow": _grow,
    "shrink": _shrink,
    "stripes": _stripes,
    "along": _along,
    "checks": _checks,
    "border": _border,
    "recolour": _recolour,
    "paint": _paint,
    "fill": _fill,
    "drop": _drop,
    "turn": _turn,
    "mirror": _mirror,
    "repeat": _repeat,
    "attach": _attach,
}
