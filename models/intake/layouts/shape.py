"""Whole shapes and lengths of chain as they are asked for: the fields of one shape become its rows or its units.

Not here: single rows and edits (layout_act), what hangs on a piece (layout_hang).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Final, Literal

from models.intake.faults import Fault, Faults
from models.intake.layouts.known import Acted, Known
from models.intake.layouts.layout import Plan
from models.intake.layouts.row_text import read_rings
from models.intake.raw import Raw, Reader
from models.layouts.engine import shapes
from models.layouts.engine.chain_weaves import CHAINS
from models.layouts.engine.chains import Chain, Stretch, chain_faults, graduated
from models.layouts.engine.nesting import faults_of
from models.layouts.engine.rows import MAX_RINGS, MAX_ROWS, Layout
from models.layouts.engine.shapes import Shape, Step
from models.layouts.places.chain_sizes import NoLength, for_length, graduated_units
from models.layouts.places.sizes import NoPitch, pitch_of
from models.layouts.weaves.sheets import SHEETS
from models.trade.rings import RingSize
from models.trade.vocabulary.pieces import SHAPES

MOST_STEP: Final = 99
_WIDE: Final = 3_000

Laid = Callable[["Plan | None"], "Acted | Faults"]


@dataclass(frozen=True, slots=True)
class ChainRequest:
    """A length of chain as it was asked for: so many units, or the units nearest a wanted length less its clasp.

    `wanted_mm` and `clasp_mm` are millimetres. `large` is the second, larger ring of a graduated chain, which takes
    `large_share` of its length.
    """

    weave: str
    repeat: tuple[str, ...]
    units: int | None
    wanted_mm: float | None
    clasp_mm: float
    closed: bool
    even: bool
    large: str
    large_share: float
    own_links: tuple[int, ...]


def read_lay(raw: Raw, known: Known) -> Laid | Faults:
    """Read a whole shape, or a length of chain where the weave is a chain's."""
    reader = Reader(raw, length_unit=known.length_unit)
    weave = reader.choice("weave", (*SHEETS, *CHAINS))
    item = _ring(reader, known)
    if reader.faults() is None and weave in CHAINS:
        return _read_chain(reader, weave, item, known)
    laid = _read_sheet(reader, weave, item, known) if reader.faults() is None else None
    return reader.faults() or laid or Faults.of("weave", "Choose a weave.")


def _ring(reader: Reader, known: Known) -> str:
    """The ring that the shape is laid in: the chosen one, or the first there is."""
    rings = known.rings
    if not rings:
        reader.fault("lay_item", "Choose a ring to lay it in.")
        return ""
    key = reader.text("lay_item") or rings[0]
    if key not in rings:
        reader.fault("lay_item", "Choose one of the rings of this piece.")
    return key


# --- sheets ---


def _read_sheet(reader: Reader, weave: str, item: str, known: Known) -> Laid | None:
    code = reader.choice("shape", SHAPES.codes, default="lozenge")
    shape = _SHAPES[code](reader, weave, item, known)
    if reader.faults():
        return None
    if shape is None or shape.faults:
        reader.fault(SHAPES.term(code).main, " ".join(shape.faults) if shape else "This shape cannot be laid.")
        return None
    connector = reader.text("connector") if SHEETS[weave].joined else ""
    connector = connector if connector in known.words else ""

    def lay(plan: Plan | None) -> Acted | Faults:
        begun = replace(plan, weave=weave) if isinstance(plan, Layout) else Layout(weave, ())
        joined = (connector or begun.connector or item) if SHEETS[weave].joined else ""
        laid = replace(begun, rows=shape.rows, connector=joined)
        faults = faults_of(laid)
        if faults:
            return Faults(tuple(Fault(SHAPES.term(code).main, fault.message) for fault in faults))
        many = len(laid.rows)
        return Acted(laid, f"Laid {many} {'row' if many == 1 else 'rows'}.", shape.notes)

    return lay


def _whole(reader: Reader, field: str, default: int, most: int, least: int = 1) -> int:
    return reader.integer(field, least=least, most=most, default=default) or default


def _rectangle(reader: Reader, weave: str, item: str, _known: Known) -> Shape:
    rows = _whole(reader, "rectangle_rows", 10, MAX_ROWS)
    return shapes.rectangle(weave, rows, _whole(reader, "rectangle_rings", 8, _WIDE), item)


def _strip(reader: Reader, weave: str, item: str, _known: Known) -> Shape:
    along: Literal["rows", "across"] = (
        "across" if reader.choice("strip_along", ("rows", "across"), default="rows") == "across" else "rows"
    )
    long = _whole(reader, "strip_long", 60, MAX_ROWS if along == "across" else _WIDE)
    return shapes.strip(weave, long, _whole(reader, "strip_wide", 5, _WIDE), item, along=along)


def _lozenge(reader: Reader, weave: str, item: str, _known: Known) -> Shape:
    middle, tips = _whole(reader, "lozenge_middle", 6, _WIDE), _whole(reader, "lozenge_tips", 1, _WIDE)
    return shapes.lozenge(weave, middle, item, tips=tips, step=_whole(reader, "lozenge_step", 1, MOST_STEP))


def _triangle(reader: Reader, weave: str, item: str, _known: Known) -> Shape:
    point: Literal["first", "last"] = (
        "first" if reader.choice("triangle_point", ("last", "first"), default="last") == "first" else "last"
    )
    widest = _whole(reader, "triangle_widest", 8, _WIDE)
    return shapes.triangle(weave, widest, item, point=point, step=_whole(reader, "triangle_step", 1, MOST_STEP))


def _trapezium(reader: Reader, weave: str, item: str, _known: Known) -> Shape:
    first, last = _whole(reader, "trapezium_first", 4, _WIDE), _whole(reader, "trapezium_last", 9, _WIDE)
    return shapes.trapezium(weave, first, last, item, step=_whole(reader, "trapezium_step", 1, MOST_STEP))


def _fan(reader: Reader, weave: str, item: str, _known: Known) -> Shape:
    straight: Literal["row starts", "row ends"] = (
        "row ends"
        if reader.choice("fan_straight", ("row starts", "row ends"), default="row starts") == "row ends"
        else "row starts"
    )
    rows, widest = _whole(reader, "fan_rows", 8, MAX_ROWS), _whole(reader, "fan_widest", 9, _WIDE)
    step = reader.integer("fan_step", least=1, most=MOST_STEP, default=1) or 1
    return shapes.fan(weave, rows, widest, item, straight=straight, step=-step)


def _disc(reader: Reader, weave: str, item: str, known: Known) -> Shape:
    rows = _whole(reader, "disc_rows", 11, MAX_ROWS)
    size = known.items[item].size if item in known.items else None
    joined = _size(known, reader.text("connector")) if SHEETS[weave].joined else None
    pitch = (
        pitch_of(weave, size, known.swatch_of(size), joined) if size else NoPitch("The size of this ring is not known.")
    )
    if isinstance(pitch, NoPitch):
        reader.fault("disc_rows", f"A disc needs the size of its rings. {pitch.reason}")
        return Shape()
    return shapes.disc(weave, rows, item, pitch_share=pitch.across_mm / pitch.along_mm)


def _edges(reader: Reader, weave: str, item: str, _known: Known) -> Shape:
    starts, ends, first, last = (_step(reader, f"edges_{name}") for name in ("starts", "ends", "first", "last"))
    rows, rings = _whole(reader, "edges_rows", 8, MAX_ROWS), _whole(reader, "edges_rings", 8, _WIDE)
    return shapes.by_edges(weave, rows, rings, item, starts=starts, ends=ends, first=first, last=last)


def _step(reader: Reader, field: str) -> Step:
    """An edge's step: flush, or a number of half pitches that each further row reaches outward."""
    typed = reader.text(field).casefold()
    if typed in ("", "flush", "straight"):
        return "flush"
    number = typed.removeprefix("+").replace("\u2212", "-")
    if not number.removeprefix("-").isdigit() or len(number) > 3 or not number.isascii():
        reader.fault(field, f"Say flush, or a step from -{MOST_STEP} to {MOST_STEP}, such as 1 or -1.")
        return "flush"
    return int(number)


_SHAPES: Final[dict[str, Callable[[Reader, str, str, Known], Shape]]] = {
    "lozenge": _lozenge,
    "rectangle": _rectangle,
    "strip": _strip,
    "triangle": _triangle,
    "trapezium": _trapezium,
    "fan": _fan,
    "disc": _disc,
    "edges": _edges,
}


# --- chains ---


def _read_chain(reader: Reader, weave: str, item: str, known: Known) -> Laid | Faults:
    wanted = reader.length("chain_wanted", required=False)
    clasp = reader.length("chain_clasp", required=False)
    repeat: tuple[str, ...] = (item,)
    if reader.has("chain_repeat"):
        read = read_rings(reader.text("chain_repeat", most=2_000), known.words, "chain_repeat", gaps=False)
        if isinstance(read, Fault):
            reader.fault(read.field, read.message)
        else:
            repeat = read
    large = reader.text("chain_large")
    if large and large not in known.rings:
        reader.fault("chain_large", "Choose one of the rings of this piece.")
    share = reader.percent("chain_share", required=False)
    ask = ChainRequest(
        weave=weave,
        repeat=repeat,
        units=reader.integer("chain_units", least=1, most=MAX_RINGS, required=False),
        wanted_mm=wanted.nm / 1e6 if wanted else None,
        clasp_mm=clasp.nm / 1e6 if clasp else 0.0,
        closed=reader.flag("chain_closed"),
        even=reader.flag("chain_even"),
        large=large,
        large_share=float(share) / 100 if share is not None else 0.4,
        own_links=_own_links(reader),
    )
    if ask.units is None and ask.wanted_mm is None:
        reader.fault("chain_wanted", "Give the length that you want, such as 45 cm, or the units below.")
    return reader.faults() or (lambda plan: lay_chain(ask, plan, known))


def _own_links(reader: Reader) -> tuple[int, ...]:
    """The shop's own rule for a weave whose links are not sure: which further rings each ring links, '1, 3'."""
    typed = reader.text("chain_own_links")
    parts = [part.strip() for part in typed.split(",") if part.strip()]
    if any(not (part.isascii() and part.isdigit() and len(part) < 3) for part in parts):
        reader.fault("chain_own_links", "Say how many rings further on each ring links, such as 1, 3.")
        return ()
    return tuple(dict.fromkeys(int(part) for part in parts))


def lay_chain(ask: ChainRequest, plan: Plan | None, known: Known) -> Acted | Faults:
    """Lay a chain as it was asked for; what hangs on a chain of the same weave is kept."""
    kept = plan.attachments if isinstance(plan, Chain) and plan.weave == ask.weave else ()
    chain = Chain(ask.weave, (Stretch(ask.units or 1, ask.repeat),), ask.closed, kept, ask.own_links)
    said = "the units that you asked for"
    if ask.large:
        shaped = _graduated(ask, chain, known)
        if isinstance(shaped, Faults):
            return shaped
        chain, said = shaped, "small at its ends, large in its middle"
    elif ask.wanted_mm is not None:
        units = _units_for(ask, known)
        if isinstance(units, Faults):
            return units
        chain, said = replace(chain, stretches=(Stretch(units, ask.repeat),)), "the nearest to the length that you want"
    faults = chain_faults(chain)
    if faults:
        names = {"closed": "chain_closed", "own_links": "chain_own_links"}
        return Faults(tuple(Fault(names.get(each.field, "chain_units"), each.message) for each in faults))
    many = chain.units
    return Acted(chain, f"{many:,} {'unit' if many == 1 else 'units'}: {said}.")


def _units_for(ask: ChainRequest, known: Known) -> int | Faults:
    size = _size(known, ask.repeat[0])
    if size is None:
        return Faults.of("chain_wanted", "The size of this ring is not known, so give the units instead.")
    found = for_length(
        ask.weave,
        size,
        ask.wanted_mm or 0.0,
        clasp_mm=ask.clasp_mm,
        closed=ask.closed,
        even=ask.even,
        swatches=known.chain_swatches,
    )
    if isinstance(found, NoLength):
        return Faults.of("chain_wanted", f"{found.reason} Until then give the units instead.")
    return found.nearest.units


def _graduated(ask: ChainRequest, chain: Chain, known: Known) -> Chain | Faults:
    small, large = _size(known, ask.repeat[0]), _size(known, ask.large)
    if ask.closed:
        return Faults.of("chain_closed", "A graduated chain stays open: its ends are not alike.")
    if small is None or large is None:
        return Faults.of("chain_large", "The sizes of both rings must be known.")
    if ask.wanted_mm is None:
        return Faults.of("chain_wanted", "Give the length that you want, such as 45 cm.")
    found = graduated_units(
        ask.weave,
        small,
        large,
        ask.wanted_mm,
        large_share=ask.large_share,
        clasp_mm=ask.clasp_mm,
        swatches=known.chain_swatches,
    )
    if isinstance(found, NoLength):
        return Faults.of("chain_wanted", found.reason)
    return graduated(chain, ask.repeat, (ask.large,), found)


def _size(known: Known, key: str) -> RingSize | None:
    item = known.items.get(key)
    return item.size if item else None
