"""A piece laid out as it is handed in: rows or a chain, what each key of them is, and the maker's way through it.

The same reading takes a JSON body and a form: a form may send its lists as JSON text. Not here: writing a layout out
(`plain`), the parts that follow from one (`parts`), whether an item exists (where the database is).
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal, InvalidOperation
from typing import Any, NoReturn

from models.intake.costing.part import COUNTED_KINDS, PartDraft, read_part
from models.intake.faults import Fault, Faults
from models.intake.raw import Raw, Reader
from models.layouts.document.collector import MAX_KEY, Collector
from models.layouts.document.model import read_chain, read_sheet
from models.layouts.engine.chain_weaves import CHAINS
from models.layouts.engine.chains import Chain, chain_net
from models.layouts.engine.limits import too_large
from models.layouts.engine.links import net_of
from models.layouts.engine.net import Net
from models.layouts.engine.rows import GAP, MAX_RINGS, MAX_ROWS, Layout, Row
from models.layouts.steps.closing import closed_faults
from models.layouts.steps.route import METHODS, SIDES, TURNS, WAYS, WHENS, Route
from models.trade.vocabulary.pieces import LayoutKind

Kind = LayoutKind
Plan = Layout | Chain
MOST_ENTRIES = 60
USUAL_ROUTE = Route()
_ITEM_KEY = re.compile(r"i[1-9][0-9]{0,9}")
_TYPED_KEY = re.compile(r"t[1-9][0-9]{0,3}")
_WHOLE = re.compile(r"-?[0-9]{1,9}")
_LISTS = {"items", "repeat", "runs", "on", "rings"}
_NUMBERS = {"start", "rings", "units", "each", "every", "skip", "start_row"}


@dataclass(frozen=True, slots=True)
class PaletteEntry:
    """What one key of a layout is: 'i12' is stock item 12, 't1', 't2' … are typed things.

    `thing` is one of it as a part: its quantity is what one counts as (for chain by the metre a length, else one), and
    its guess, purpose and allowance go with the part that the rows make.
    """

    key: str
    thing: PartDraft

    @property
    def item_id(self) -> int | None:
        """The stock item; None for a typed thing."""
        return self.thing.item_id


@dataclass(frozen=True, slots=True)
class LayoutDraft:
    """A piece laid out: its plan, its palette in the person's order, the maker's route, and what is closed beforehand.

    `closed` names the rings that the maker chose to close beforehand; None leaves them to the route.
    """

    plan: Plan
    palette: tuple[PaletteEntry, ...] = ()
    route: Route = USUAL_ROUTE
    closed: tuple[str, ...] | None = None

    @property
    def kind(self) -> Kind:
        """Whether it is a sheet of rows or a chain."""
        return "sheet" if isinstance(self.plan, Layout) else "chain"

    @property
    def weave(self) -> str:
        """The code of the weave."""
        return self.plan.weave

    @property
    def rings(self) -> int:
        """How many places of the rows, or rings of the chain, there are; what hangs on it not counted."""
        return self.plan.rings

    def entry(self, key: str) -> PaletteEntry | None:
        """What a key is."""
        return next((entry for entry in self.palette if entry.key == key), None)

    def net(self) -> Net:
        """Every ring and link of the piece."""
        return plan_net(self.plan)


def plan_net(plan: Plan) -> Net:
    """Every ring and link of rows or of a chain."""
    return net_of(plan) if isinstance(plan, Layout) else chain_net(plan)


def item_key(item_id: int) -> str:
    """The key of a stock item in a layout."""
    return f"i{item_id}"


def free_key(keys: Iterable[str]) -> str:
    """The first key of a typed thing that is not in use."""
    used = set(keys)
    return next(key for key in (f"t{number}" for number in range(1, len(used) + 2)) if key not in used)


def read_layout_text(text: str, *, length_unit: str = "mm") -> LayoutDraft | Faults:
    """Read a layout from the JSON text of one field; text that is none is a fault without a field of its own."""
    found = _json(text)
    if not isinstance(found, Mapping):
        return Faults.of("", "This is not a layout: send its weave and its rows as JSON.")
    return read_layout(found, length_unit=length_unit)


def read_layout(raw: Raw, *, loose: bool = False, length_unit: str = "mm") -> LayoutDraft | Faults:
    """Read a layout: the plan's own fields, `palette`, `route`, and `closed_beforehand` (names of rings).

    Faults of rows count from 1 ('rows.3.start'), those of the palette from 0 ('palette.0.wire'), as their lists do.
    Any word may be a key; keys that are not of the shop's form get one ('i12', 't1'). `loose` takes keys that the
    palette does not explain, for counting only.
    """
    told = {name: _told(value) for name, value in raw.items()}
    faults: list[Fault] = []
    plan = _plan(told, faults)
    reader = Reader(told, length_unit=length_unit, faults=faults)
    entries = _palette(reader)
    route = _route(told.get("route"), plan, faults)
    if plan is None or faults:
        return Faults(tuple(faults))
    faults += too_large(plan)
    if faults:
        return Faults(tuple(faults))
    entries, renamed = _keyed(entries)
    plan = rekeyed(plan, renamed)
    net = plan_net(plan)
    entries = _completed(entries, plan, net, faults, loose=loose)
    closed = _closed(told.get("closed_beforehand"), net, faults)
    if len(entries) > MOST_ENTRIES:
        faults.append(Fault("palette", f"A piece can have up to {MOST_ENTRIES} kinds of ring and finding."))
    return Faults(tuple(faults)) if faults else LayoutDraft(plan, entries, route, closed)


def rekeyed(plan: Plan, names: Mapping[str, str]) -> Plan:
    """The same rows or chain with other keys; a key that is not named stays."""
    if not names:
        return plan

    def new(key: str) -> str:
        return names.get(key, key)

    attachments = tuple(
        replace(one, ring=new(one.ring), finding=new(one.finding), on=replace(one.on, item=new(one.on.item)))
        for one in plan.attachments
    )
    if isinstance(plan, Layout):
        rows = tuple(Row(row.start, tuple(new(key) for key in row.items)) for row in plan.rows)
        return replace(plan, rows=rows, attachments=attachments, connector=new(plan.connector))
    stretches = tuple(replace(one, repeat=tuple(new(key) for key in one.repeat)) for one in plan.stretches)
    return replace(plan, stretches=stretches, attachments=attachments)


def keys_of(plan: Plan, net: Net) -> dict[str, None]:
    """The keys that a plan uses, in the order in which they come."""
    found = dict.fromkeys(net.items)
    for one in plan.attachments:
        found |= dict.fromkeys((one.ring, one.finding))
    if isinstance(plan, Layout):
        found[plan.connector] = None
    found.pop(GAP, None)
    return found


# --- the plan ---


def _told(value: object) -> object:
    """What a form sends as JSON text as the list or object that it is; whole numbers that came as text as numbers."""
    if isinstance(value, str) and value.lstrip()[:1] in {"[", "{"}:
        value = _json(value)
    return value


def _json(text: str) -> object:
    try:
        # A nesting of thousands of levels ends in RecursionError; a number of thousands of digits in ValueError.
        return json.loads(text, parse_float=_decimal, parse_constant=_no_constant)
    except (ValueError, RecursionError):
        return text


def _decimal(text: str) -> Decimal:
    try:
        return Decimal(text)
    except InvalidOperation as unreadable:
        raise ValueError(text) from unreadable


def _no_constant(text: str) -> NoReturn:
    raise ValueError(text)


def _numbered(value: Any, name: str = "") -> Any:
    """The same with the lists and whole numbers of a plan as such, where a form sent them as text."""
    if name in _LISTS:
        value = _told(value)
    if isinstance(value, Mapping):
        return {key: _numbered(inner, str(key)) for key, inner in value.items()}
    if isinstance(value, (list, tuple)):
        inside = _inside(name)
        return [_numbered(inner, "count" if name == "run" and place else inside) for place, inner in enumerate(value)]
    if name in _NUMBERS or name == "count":
        if isinstance(value, str):
            return int(value) if _WHOLE.fullmatch(value.strip()) else None if not value.strip() else value
        if isinstance(value, Decimal) and value.is_finite() and value == value.to_integral_value():
            return int(value) if abs(value) < 10**12 else value
    return value


def _inside(name: str) -> str:
    """What the entries of a list are: those of 'runs' are pairs, whose second is a count."""
    return "run" if name == "runs" else "item" if name in {"run", "items", "repeat"} else ""


def _plan(told: Mapping[str, object], faults: list[Fault]) -> Plan | None:
    weave = told.get("weave")
    chain = told.get("kind") == "chain" or (isinstance(weave, str) and weave in CHAINS) or bool(told.get("stretches"))
    raw = {name: _numbered(value, name) for name, value in told.items()}
    if chain and isinstance(raw.get("closed"), str):
        raw["closed"] = str(raw["closed"]).strip().lower() in {"yes", "true", "on", "1"}
    found: Plan | tuple[Fault, ...] = read_chain(raw) if chain else read_sheet(raw)
    if isinstance(found, tuple):
        faults += found
        return None
    return found


# --- the palette ---


def _palette(reader: Reader) -> tuple[PaletteEntry, ...]:
    return tuple(entry for entry in reader.each("palette", _entry) if entry is not None)


def _entry(inside: Reader) -> PaletteEntry | None:
    """One entry: a key, and the thing as a part is read; 'each' is how much of it one counts as."""
    key = inside.text("key", most=MAX_KEY)
    raw: dict[str, object] = {name: value for name, value in inside.raw.items() if name not in {"optional", "joined"}}
    raw.pop("choice_group", None)
    raw.pop("choice_name", None)
    each = raw.pop("each", None)
    raw["quantity"] = 1 if _empty(each) else each
    if _empty(raw.get("item_id")) and _ITEM_KEY.fullmatch(key):
        raw["item_id"] = key[1:]
    faults: list[Fault] = []
    thing = read_part(Reader(raw, length_unit=inside.length_unit, faults=faults))
    for fault in faults:
        inside.fault("each" if fault.field == "quantity" else fault.field, fault.message)
    if thing is None:
        return None
    if thing.item_id is None and thing.typed_kind in COUNTED_KINDS and thing.quantity_milli != 1000:
        inside.fault("each", "These are counted one by one: leave this empty.")
    return PaletteEntry(key, thing)


def _empty(value: object) -> bool:
    return value is None or (isinstance(value, str) and not value.strip())


def _keyed(entries: tuple[PaletteEntry, ...]) -> tuple[tuple[PaletteEntry, ...], dict[str, str]]:
    """The entries under the shop's own keys, each once, and what other keys were renamed to."""
    renamed: dict[str, str] = {}
    kept: dict[str, PaletteEntry] = {}
    taken = {entry.key for entry in entries}
    for entry in entries:
        if entry.item_id is not None:
            key = item_key(entry.item_id)
        elif _TYPED_KEY.fullmatch(entry.key) and entry.key not in kept:
            key = entry.key
        else:
            key = free_key(taken | set(kept))
        if entry.key != key:
            renamed.setdefault(entry.key, key)
        kept.setdefault(key, replace(entry, key=key))
    renamed.pop("", None)
    return tuple(kept.values()), renamed


def _completed(
    entries: tuple[PaletteEntry, ...], plan: Plan, net: Net, faults: list[Fault], *, loose: bool
) -> tuple[PaletteEntry, ...]:
    """The palette with the stock items that only the rows name; a key that nothing explains is a fault."""
    known = {entry.key for entry in entries}
    added = []
    for key in keys_of(plan, net):
        if key in known:
            continue
        if _ITEM_KEY.fullmatch(key):
            added.append(PaletteEntry(key, PartDraft(1000, item_id=int(key[1:]))))
        elif not loose:
            faults.append(Fault("palette", f"“{key}” stands in the piece, but not what it is. Add it to the palette."))
    return (*entries, *added)


# --- the way through it ---


def _route(raw: object, plan: Plan | None, faults: list[Fault]) -> Route:
    if _empty(raw) or isinstance(plan, Chain):
        return USUAL_ROUTE
    found: list[Fault] = []
    read = Collector(_numbered(raw), "route", found)
    usual = USUAL_ROUTE
    route = Route(
        start_row=read.number("start_row", usual.start_row, 1, MAX_ROWS),
        sides=read.choice("sides", SIDES, usual.sides),
        method=read.choice("method", METHODS, usual.method),
        turn=read.choice("turn", TURNS, usual.turn),
        when=read.choice("when", WHENS, usual.when),
        way=read.choice("way", WAYS, usual.way),
    )
    faults += found
    if isinstance(plan, Layout) and route.start_row > len(plan.rows):
        faults.append(Fault("route.start_row", f"Start with a row from 1 to {len(plan.rows)}."))
    return route


def _closed(raw: object, net: Net, faults: list[Fault]) -> tuple[str, ...] | None:
    """The rings to close beforehand, in the order of the piece; no two of them linked."""
    if _empty(raw):
        return None
    if not isinstance(raw, (list, tuple)) or len(raw) > MAX_RINGS:
        faults.append(Fault("closed_beforehand", "Name the rings to close beforehand as a list, such as 1.1 and 1.2."))
        return None
    chosen: set[int] = set()
    for name in raw:
        try:
            chosen.add(net.index(name))
        except (KeyError, TypeError):
            faults.append(Fault("closed_beforehand", f"There is no ring {str(name)[:20]} in this piece."))
            return None
    wrong = closed_faults(net, {}, chosen)
    faults += [Fault("closed_beforehand", fault.message) for fault in wrong[:5]]
    return None if wrong else tuple(net.names[index] for index in sorted(chosen))
