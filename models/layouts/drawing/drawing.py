"""The piece as SVG: wire thickness, lean and true over and under from the places in space, tints, legend, size bar.

No script and no style: presentation attributes, classes and data attributes only, so that it stands under a strict
content policy and a page may style it and make its rings answer. Not here: what lies over what (picture).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from html import escape
from itertools import islice, pairwise
from math import ceil, pi

from models.layouts.drawing.legend import LETTER, Box, text_units, under
from models.layouts.drawing.picture import Arc, Picture, Shape, picture_of
from models.layouts.drawing.strokes import Ways, arc_path, symbol, tucked
from models.layouts.drawing.tints import body_of, edge_of, gleam_of, mixed, safe
from models.layouts.engine.items import PLAIN_TINT, Items
from models.layouts.engine.net import CONNECTOR, FINDING, HUB, Net
from models.layouts.engine.rows import ring_name
from models.layouts.places.hanging import Tag
from models.layouts.places.sheet import Placement
from models.trade.breaks import go_on

FULL_UP_TO = 1_200
"""So many rings are drawn one element each; larger pieces as one path for each band and tint."""

MOST_MARKED = 2_000
"""So many rings of a drawing are marked; of a piece that is wrong all over no more would be seen."""

_WIRE_UNITS = 40
_PALE = "#f1ece3"
_FEW_KINDS = 12
_TILE_RINGS = 12
_HAIR = 1e-9


@dataclass(frozen=True, slots=True)
class Look:
    """How a piece is drawn. `prefix` keeps the ids of several drawings on one page apart.

    `detail` is 'full', 'light' or 'auto' (full up to 1,200 rings). `answer` adds an area for each ring with its name in
    data-ring and its item in data-item; `link`, with {ring} in it, makes each a link. `marks` names rings to be ringed,
    by index, with the words to show; `only` draws some of the rings, `fresh` names those of them that are new: the
    others are pale. `tags` stand for what has no place. `around` zooms to one ring. `standalone` gives the file its own
    size in millimetres, for downloads.
    """

    prefix: str = "m"
    title: str = ""
    detail: str = "auto"
    legend: bool = True
    size_bar: bool = True
    answer: bool = False
    link: str = ""
    marks: Mapping[int, str] = field(default_factory=dict)
    only: Collection[int] | None = None
    fresh: Collection[int] | None = None
    tags: Sequence[Tag] = ()
    around: int | None = None
    standalone: bool = False
    notes: Sequence[str] = ()


@dataclass(slots=True)
class _Sheet:
    """What every part of a drawing needs: the piece, its picture, and units per millimetre."""

    net: Net
    items: Items
    placed: Placement
    picture: Picture
    scale: float
    look: Look
    shown: list[int]
    tags: Sequence[Tag] = ()

    def xy(self, index: int) -> tuple[int, int]:
        return round(self.placed.xs[index] * self.scale), round(self.placed.ys[index] * self.scale)

    def tint(self, index: int) -> str:
        item = self.items.get(self.net.items[index])
        tint = safe(item.tint) if item else PLAIN_TINT
        if self.look.fresh is not None and index not in self.look.fresh:
            return mixed(tint, _PALE, 0.66)
        return tint


def draw(net: Net, items: Items, placed: Placement, look: Look | None = None) -> str:
    """Return the drawing of a placed piece as one SVG element.

    Rings without a place are left out; the legend counts every item of the piece.
    """
    look = look or Look()
    shown = sorted(look.only) if look.only is not None else range(len(net))
    shown = [index for index in shown if placed.poses[index] >= 0]
    full = look.detail == "full" or (look.detail == "auto" and len(shown) <= FULL_UP_TO)
    picture = picture_of(placed, shown, finer=2 if full else 1)
    wires = [shape.ring.wire_mm for shape in picture.kinds]
    scale = _WIRE_UNITS / min(wires) if wires else 1.0
    sheet = _Sheet(net, items, placed, picture, scale, look, shown, look.tags)
    box, text = _box(sheet)
    sheet.tags = _apart(sheet, text)
    if sheet.tags:
        box = _with_tags(sheet, box, text)
    parts = _full(sheet) if full else _light(sheet)
    parts += _tags(sheet, text)
    parts += _marks(sheet)
    if look.answer:
        parts += _answers(sheet, full=full)
    below, box = under(
        box,
        scale,
        size_bar=look.size_bar and bool(shown),
        counts=net.counts if look.legend else {},
        items=items,
        notes=look.notes,
    )
    return "".join(_framed(sheet, box, [*parts, *below]))


def _box(sheet: _Sheet) -> tuple[Box, float]:
    """Return left, top, width, height of what is drawn, in units, with a margin of half a wire, and its words' size."""
    placed, picture = sheet.placed, sheet.picture
    if not sheet.shown:
        return (0.0, 0.0, 100.0, 100.0), text_units((0.0, 0.0, 100.0, 100.0))
    left = top = float("inf")
    right = bottom = float("-inf")
    around = sheet.look.around
    for kind, members in enumerate(picture.members):
        shape = picture.kinds[kind]
        wide = _reach(shape, 0) + shape.ring.wire_mm
        high = _reach(shape, 1) + shape.ring.wire_mm
        if around is not None and around in picture.kind_of:
            if picture.kind_of[around] != kind:
                continue
            members, wide, high = [around], 1.8 * shape.ring.outer_mm, 1.8 * shape.ring.outer_mm  # noqa: PLW2901
        xs, ys = [placed.xs[index] for index in members], [placed.ys[index] for index in members]
        left, right = min(left, min(xs) - wide), max(right, max(xs) + wide)
        top, bottom = min(top, min(ys) - high), max(bottom, max(ys) + high)
    scale = sheet.scale
    bare = (left * scale, top * scale, (right - left) * scale, (bottom - top) * scale)
    if around is not None or not sheet.tags:
        return bare, text_units(bare)
    # Words make the drawing wider and so need to be larger: they are sized by the box that their first size asks for.
    text = text_units(_with_tags(sheet, bare, text_units(bare)))
    return _with_tags(sheet, bare, text), text


def _with_tags(sheet: _Sheet, bare: Box, text: float) -> Box:
    """Return a box, in units, widened so that no tag and none of its words, of a size in units, is cut off."""
    left, top, wide, high = bare
    right, bottom = left + wide, top + high
    edge = max(shape.ring.outer_mm for shape in sheet.picture.kinds) / 2 * sheet.scale
    for tag in sheet.tags:
        x, y = tag.x_mm * sheet.scale, tag.y_mm * sheet.scale
        room = max(edge, text * (1.2 + LETTER * len(_tag_words(sheet, tag))))
        before, after = (room, edge) if _reads_left(sheet, tag) else (edge, room)
        left, right = min(left, x - before), max(right, x + after)
        top, bottom = min(top, y - edge), max(bottom, y + edge)
    return left, top, right - left, bottom - top


def _apart(sheet: _Sheet, text: float) -> list[Tag]:
    """Return the tags moved down until the words of none, of a size in units, stand over those of another."""
    taken: list[tuple[float, float, float]] = []
    moved: list[Tag] = []
    line = text * 1.5
    for tag in sheet.tags:
        x, y = tag.x_mm * sheet.scale, tag.y_mm * sheet.scale
        reach = text * (1.2 + LETTER * len(_tag_words(sheet, tag)))
        left, right = (x - reach, x + text) if _reads_left(sheet, tag) else (x - text, x + reach)
        # From the highest down, so that each of them is looked at once; a tag only ever moves down.
        for at in sorted(at for begin, end, at in taken if left < end and begin < right):
            if abs(y - at) < line - _HAIR:
                y += ceil((at + line - y) / (line / 3) - _HAIR) * line / 3
        taken.append((left, right, y))
        moved.append(replace(tag, y_mm=y / sheet.scale))
    return moved


def _reach(shape: Shape, axis: int) -> float:
    """Return how far the centre line reaches from its centre, to the side (0) or up and down (1)."""
    return float((shape.first[axis] ** 2 + shape.second[axis] ** 2) ** 0.5)


def _full(sheet: _Sheet) -> list[str]:
    """Return one symbol for each kind of ring, band and tint, and one use of it for each ring.

    In a sheet every tint of the items has its symbols, so that a page can repaint a ring by pointing its uses
    elsewhere.
    """
    picture, prefix = sheet.picture, sheet.look.prefix
    number_of = {tint: number for number, tint in enumerate(_tints(sheet))}
    few = len(picture.kinds) <= _FEW_KINDS
    last = max(1, len(picture.bands) - 1)
    defs: list[str] = []
    body: list[str] = []
    for band, arcs_of in enumerate(picture.bands):
        body.append('<g class="band">')
        for kind, arcs in arcs_of.items():
            go_on()
            name = f"{prefix}k{kind}b{band}t"
            ways = Ways.of(picture.kinds[kind], arcs, sheet.scale)
            here = number_of if few else {sheet.tint(index): 0 for index in picture.members[kind]}
            defs += [symbol(ways, tint, 1 - band / last, f"{name}{number_of[tint]}") for tint in here]
            for index in picture.members[kind]:
                x, y = sheet.xy(index)
                tint = number_of[sheet.tint(index)]
                body.append(f'<use href="#{name}{tint}" x="{x}" y="{y}" data-of="{_name(sheet.net, index)}"/>')
        body.append("</g>")
    return [f"<defs>{''.join(defs)}</defs>", '<g class="woven" fill="none" stroke-linejoin="round">', *body, "</g>"]


def _tints(sheet: _Sheet) -> list[str]:
    """Return the tints that are drawn or may be painted with, in the order of the items."""
    items = [safe(item.tint) for item in sheet.items.values() if not item.finding]
    return list(dict.fromkeys([*items, *(sheet.tint(index) for index in sheet.shown)]))


def _light(sheet: _Sheet) -> list[str]:
    """Return one path for each band, tint and tile, stroked three times: edge, body, gleam.

    Tiles let a browser leave out what is not in view. All edges of a band come before its bodies, so that tiles and
    tints that touch do not darken each other.
    """
    picture, prefix, scale = sheet.picture, sheet.look.prefix, sheet.scale
    last = max(1, len(picture.bands) - 1)
    tiles = [_tiles(sheet, members) for members in picture.members]
    defs: list[str] = []
    body: list[str] = []
    for band, arcs_of in enumerate(picture.bands):
        strokes: dict[tuple[str, float, tuple[int, int]], list[str]] = {}
        for kind, arcs in arcs_of.items():
            go_on()
            shape = picture.kinds[kind]
            wire = round(shape.ring.wire_mm * scale, 1)
            ways = [arc_path(shape, tucked(shape, arc), scale) for arc in arcs]
            for (tint, tile), spots in tiles[kind].items():
                paths = strokes.setdefault((tint, wire, tile), [])
                for (dx, dy), way in ways:
                    paths += [f"M{x + dx} {y + dy}{way}" for x, y in spots]
        named = [(f"{prefix}b{band}p{number}", *key[:2]) for number, key in enumerate(strokes)]
        defs += [
            f'<path id="{name}" d="{"".join(d)}"/>' for (name, _, _), d in zip(named, strokes.values(), strict=True)
        ]
        depth = 1 - band / last
        body += [
            f'<use href="#{name}" stroke="{edge_of(tint)}" stroke-width="{wire:g}"/>' for name, tint, wire in named
        ]
        body += [
            f'<use href="#{name}" stroke="{body_of(tint, depth)}" stroke-width="{wire * 0.78:.1f}"/>'
            for name, tint, wire in named
        ]
        body += [
            f'<use href="#{name}" x="-{wire * 0.12:.0f}" y="-{wire * 0.13:.0f}" stroke="{gleam_of(tint, depth)}" '
            f'stroke-width="{wire * 0.15:.1f}"/>'
            for name, tint, wire in named
        ]
    return [f"<defs>{''.join(defs)}</defs>", '<g class="woven" fill="none" stroke-linejoin="round">', *body, "</g>"]


def _tiles(sheet: _Sheet, members: Iterable[int]) -> dict[tuple[str, tuple[int, int]], list[tuple[int, int]]]:
    """Return where rings stand, in units, by their tint and by the tile of the plane that they stand in."""
    side = round(_TILE_RINGS * max(shape.ring.outer_mm for shape in sheet.picture.kinds) * sheet.scale)
    found: dict[tuple[str, tuple[int, int]], list[tuple[int, int]]] = {}
    for index in members:
        x, y = sheet.xy(index)
        found.setdefault((sheet.tint(index), (x // side, y // side)), []).append((x, y))
    return found


def _outline(sheet: _Sheet, index: int, extra: str) -> str:
    """Return the whole centre line of a ring as a path."""
    shape = sheet.picture.kinds[sheet.picture.kind_of[index]]
    x, y = sheet.xy(index)
    (dx, dy), way = arc_path(shape, Arc(0.0, 2 * pi), sheet.scale)
    return f'<path d="M{x + dx} {y + dy}{way}z" {extra}/>'


def _marks(sheet: _Sheet) -> list[str]:
    """Return a mark on every ring that a check names, of very many the first."""
    found: list[str] = []
    for index, words in islice(sheet.look.marks.items(), MOST_MARKED):
        if index in sheet.picture.kind_of:
            wire = sheet.picture.kinds[sheet.picture.kind_of[index]].ring.wire_mm * sheet.scale
            line = _outline(
                sheet, index, f'stroke-width="{wire * 0.42:.1f}" stroke-dasharray="{wire * 0.9:.0f} {wire * 0.5:.0f}"'
            )
            found.append(f'<g class="mark" data-of="{sheet.net.names[index]}"><title>{escape(words)}</title>{line}</g>')
    return ['<g class="marks" fill="none" stroke="#b3261e">', *found, "</g>"] if found else []


def _tags(sheet: _Sheet, text: float) -> list[str]:
    """Return a dashed line and a label for everything that hangs on the piece without a place of its own."""
    found: list[str] = []
    scale = sheet.scale
    for tag in sheet.tags:
        x, y = tag.x_mm * scale, tag.y_mm * scale
        item = sheet.items.get(tag.item)
        tint = safe(item.tint) if item else PLAIN_TINT
        hosts = [host for host in tag.hosts if host in sheet.picture.kind_of]
        lines = "".join(f"M{sheet.xy(host)[0]} {sheet.xy(host)[1]}L{x:.0f} {y:.0f}" for host in hosts[:60])
        anchor, shift = ("end", -text * 0.7) if _reads_left(sheet, tag) else ("start", text * 0.7)
        found.append(
            f'<g class="tag"><path d="{lines}" fill="none" stroke="currentColor" stroke-width="{text * 0.08:.1f}" '
            f'stroke-dasharray="{text * 0.3:.0f}"/><circle cx="{x:.0f}" cy="{y:.0f}" r="{text * 0.4:.0f}" '
            f'fill="{tint}" stroke="currentColor" stroke-width="{text * 0.1:.1f}"/><text x="{x + shift:.0f}" '
            f'y="{y + text * 0.35:.0f}" text-anchor="{anchor}" font-family="system-ui, sans-serif" '
            f'font-size="{text:.0f}" fill="currentColor">{escape(_tag_words(sheet, tag))}</text></g>'
        )
    return ['<g class="tags">', *found, "</g>"] if found else []


def _reads_left(sheet: _Sheet, tag: Tag) -> bool:
    """Tell whether a tag stands to the left of what it hangs on, so that its words run away from it."""
    hosts = [sheet.placed.xs[host] for host in tag.hosts]
    return bool(hosts) and tag.x_mm < sum(hosts) / len(hosts) - 1e-6


def _tag_words(sheet: _Sheet, tag: Tag) -> str:
    """Return what a tag says: each item, and how many when there are several."""
    words = []
    for key, count in Counter(sheet.net.items[ring] for ring in tag.rings).items():
        item = sheet.items.get(key)
        label = item.label if item else key
        words.append(f"{label}, {count}" if count > 1 else label)
    return "; ".join(words)


def _answers(sheet: _Sheet, *, full: bool) -> list[str]:
    """Return one clear area for each woven ring that a page can make answer; of a hub, one for its place."""
    wide, high = _cell(sheet)
    net, items, link = sheet.net, sheet.items, sheet.look.link
    found: list[str] = ['<g class="rings" fill="#fff" fill-opacity="0">']
    for index in sheet.shown:
        if net.roles[index] in (FINDING, CONNECTOR) or (net.roles[index] == HUB and net.names[index].endswith("b")):
            continue
        x, y = sheet.xy(index)
        name, key = _name(net, index), escape(net.items[index], quote=True)
        inside = ""
        if full:
            item = items.get(net.items[index])
            inside = f"<title>{escape(_where(net, index))}: {escape(item.label if item else net.items[index])}</title>"
        area = (
            f'<rect x="{x - wide // 2}" y="{y - high // 2}" width="{wide}" height="{high}" '
            f'data-ring="{name}" data-item="{key}"' + (f">{inside}</rect>" if inside else "/>")
        )
        found.append(f'<a href="{escape(link.replace("{ring}", name), quote=True)}">{area}</a>' if link else area)
    return [*found, "</g>"]


def _name(net: Net, index: int) -> str:
    """Return the name that a page knows a ring by: of both rings of a hub, the name of their place."""
    return ring_name(net.rows[index], net.places[index]) if net.roles[index] == HUB else net.names[index]


def _where(net: Net, index: int) -> str:
    """Return where a ring is, for people."""
    if net.rows[index] < 0:
        return "hung ring"
    if "." not in net.names[index]:
        return f"ring {net.names[index]}"
    return f"row {net.rows[index] + 1}, ring {net.places[index] + 1}"


def _cell(sheet: _Sheet) -> tuple[int, int]:
    """Return the breadth and height of the area that is nearest to one ring: the pitch to its neighbours.

    Along a row it is the pitch from ring to ring, not the half pitch by which neighbouring rows may stand apart, so
    that the areas leave no gaps between them.
    """
    net = sheet.net
    woven = [index for index in sheet.shown if index < net.woven and net.roles[index] != CONNECTOR]
    within = [(a, b) for a, b in pairwise(islice(woven, 400)) if net.rows[a] == net.rows[b]]
    first = list({net.rows[index]: index for index in reversed(woven)}.values())[::-1][:400]
    wide, high = _least_apart(sheet, within)
    beside, below = _least_apart(sheet, pairwise(first))
    if within and wide is not None and high is None:
        beside = None
    elif within and high is not None and wide is None:
        below = None
    outer = sheet.picture.kinds[0].ring.outer_mm
    sizes = (
        min((each for each in pair if each is not None), default=outer) for pair in ((wide, beside), (high, below))
    )
    across, along = (max(2, round(min(outer, each) * sheet.scale)) for each in sizes)
    return across, along


def _least_apart(sheet: _Sheet, pairs: Iterable[tuple[int, int]]) -> tuple[float | None, float | None]:
    """Return how far rings are apart at least, to the side and up and down; None where all stand in one line."""
    placed, least = sheet.placed, sheet.picture.kinds[0].ring.outer_mm * 0.3
    apart = [(abs(placed.xs[a] - placed.xs[b]), abs(placed.ys[a] - placed.ys[b])) for a, b in pairs]
    return (
        min((dx for dx, _ in apart if dx > least), default=None),
        min((dy for _, dy in apart if dy > least), default=None),
    )


def _framed(sheet: _Sheet, box: Box, parts: Iterable[str]) -> list[str]:
    """Return the SVG element round the parts, with a title that says in words what is drawn."""
    left, top, wide, high = box
    look, net = sheet.look, sheet.net
    title = look.title or "The piece drawn from its rings"
    told = "; ".join(
        f"{sheet.items[key].label if key in sheet.items else key}: {count:,}" for key, count in net.counts.items()
    )
    alone = ""
    if look.standalone:
        alone = (
            f' xmlns="http://www.w3.org/2000/svg" width="{wide / sheet.scale:.2f}mm" '
            f'height="{high / sheet.scale:.2f}mm"'
        )
    # What answers must not stand inside a picture, whose parts are hidden from a screen reader.
    role = "group" if look.answer else "img"
    head = (
        f'<svg{alone} class="piece" viewBox="{left:.0f} {top:.0f} {wide:.0f} {high:.0f}" role="{role}" '
        f'data-units-per-mm="{sheet.scale:.4f}" color="#2a2420">'
        f"<title>{escape(title)}</title><desc>{escape(told)}</desc>"
    )
    return [head, *parts, "</svg>"]
