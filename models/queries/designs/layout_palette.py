"""The rings and findings of a piece that is being laid out: added from stock or as typed, swapped, taken out.

Nothing is saved here. Not here: what is done to the rows (models/intake/layouts/act), the page's state (editor_state).
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from sqlmodel import Session

from models.intake.costing.part import PartDraft, read_part
from models.intake.faults import Fault, Faults
from models.intake.layouts.known import Known
from models.intake.layouts.layout import (
    MOST_ENTRIES,
    LayoutDraft,
    PaletteEntry,
    Plan,
    free_key,
    item_key,
    keys_of,
    plan_net,
    rekeyed,
)
from models.intake.layouts.row_text import short_words
from models.intake.raw import Raw, Reader
from models.layouts.engine.chains import Chain, Stretch, chain_faults
from models.layouts.engine.resize import same_size
from models.layouts.engine.rows import Layout
from models.layouts.places.chain_sizes import NoLength, for_length, length_of
from models.layouts.places.sizes import NoPitch, pitch_of
from models.queries.designs.layout import LayoutFacts
from models.queries.designs.part_rows import SettledRow, resolve_rows
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.trade.measures import format_mm
from models.trade.number_shape import Typed
from models.trade.rings import RingSize

MOST_LINE = 200


@dataclass(frozen=True, slots=True)
class Asking:
    """A typed ring or finding that may be one of several: what was typed, and the candidates to choose from."""

    text: str
    row: SettledRow


@dataclass(frozen=True, slots=True)
class Palette:
    """The palette after a change; `key` is what was added or found in it again."""

    entries: tuple[PaletteEntry, ...]
    key: str = ""


def added(
    session: Session, entries: Sequence[PaletteEntry], raw: Raw, group: str, *, length_unit: str, as_typed: bool = False
) -> Palette | Asking | Faults | None:
    """The palette with what the fields `<group>_item` (a stock item's number) or `<group>_line` (typed) name.

    None when both are empty.
    """
    reader = Reader(raw)
    item_id = reader.identity(f"{group}_item", required=False)
    line = reader.text(f"{group}_line", most=MOST_LINE)
    faults = reader.faults()
    if faults:
        return faults
    if item_id is not None:
        if item_id not in load_materials(session, [item_id]):
            return Faults.of(f"{group}_item", "This item is not in stock any more. Choose another.")
        return _with(entries, PaletteEntry(item_key(item_id), PartDraft(1000, item_id=item_id)), f"{group}_item")
    if not line:
        return None
    typed = Typed(line, reader.shape(f"{group}_line"))
    return _typed(session, entries, typed, f"{group}_line", length_unit=length_unit, as_typed=as_typed)


def _typed(
    session: Session, entries: Sequence[PaletteEntry], line: Typed, field: str, *, length_unit: str, as_typed: bool
) -> Palette | Asking | Faults:
    # A line of parts begins with how many; here only what it is matters.
    text = line if line[0].isdigit() and " " in line and not line.split(maxsplit=1)[0].endswith("ga") else f"1 {line}"
    rows = resolve_rows(session, [], text, length_unit=length_unit, shape=line.shape).rows
    if len(rows) != 1:
        return Faults.of(field, "Name one ring or finding, such as bronze 1.0 x 4.0.")
    row = rows[0]
    if row.state == "ask" and as_typed and row.readable and not row.gauges:
        row = resolve_rows(session, [{**row.fields, "pick": "typed"}], "", length_unit=length_unit).rows[0]
    if row.state == "ask":
        return Asking(line, row) if row.candidates or row.typed_words else Faults.of(field, row.says)
    if row.item is not None:
        return _with(entries, PaletteEntry(item_key(row.item.id), PartDraft(1000, item_id=row.item.id)), field)
    fields = {**row.fields, "quantity": "1"}
    inside = Reader(fields, length_unit=length_unit)
    thing = read_part(inside)
    wrong = inside.faults()
    if thing is None or wrong:
        return Faults.of(field, " ".join(fault.message for fault in wrong or ()) or row.says)
    plain = replace(thing, purpose="", optional=False, joined=True)
    same = next((entry for entry in entries if entry.thing == plain), None)
    if same:
        return Palette(tuple(entries), same.key)
    return _with(entries, PaletteEntry(free_key(entry.key for entry in entries), plain), field)


def _with(entries: Sequence[PaletteEntry], entry: PaletteEntry, field: str) -> Palette | Faults:
    if any(each.key == entry.key for each in entries):
        return Palette(tuple(entries), entry.key)
    if len(entries) >= MOST_ENTRIES:
        return Faults.of(field, f"A piece can have up to {MOST_ENTRIES} kinds of ring and finding.")
    return Palette((*entries, entry), entry.key)


def without(draft: LayoutDraft, key: str) -> LayoutDraft | Faults:
    """The palette without a ring that the piece does not use."""
    if key in keys_of(draft.plan, plan_net(draft.plan)):
        return Faults.of("new_line", "This one is in the piece. Paint or swap its rings first.")
    return replace(draft, palette=tuple(entry for entry in draft.palette if entry.key != key))


def priced(draft: LayoutDraft, raw: Raw) -> tuple[LayoutDraft, tuple[Fault, ...]]:
    """The palette with the guessed prices of typed things that were sent ('price.0.guess'), and their faults."""
    sent = raw.get("price")
    faults: list[Fault] = []
    guesses: dict[str, Decimal | None] = {}
    for place, one in enumerate(sent if isinstance(sent, list) else ()):
        if isinstance(one, Mapping):
            reader = Reader(one, prefix=f"price.{place}.", faults=faults)
            key, before = reader.text("key"), len(faults)
            guess = reader.money("guess", required=False)
            if len(faults) == before:
                guesses[key] = guess
    palette = tuple(
        replace(entry, thing=replace(entry.thing, guess=guesses[entry.key]))
        if entry.item_id is None and entry.key in guesses
        else entry
        for entry in draft.palette
    )
    return replace(draft, palette=palette), tuple(faults)


# --- another ring in its place ---


@dataclass(frozen=True, slots=True)
class Swapped:
    """The piece with other rings, and what a person should know of it."""

    draft: LayoutDraft
    notes: tuple[str, ...] = ()


def swapped(draft: LayoutDraft, old: Sequence[str], new: Mapping[str, PaletteEntry]) -> LayoutDraft:
    """The piece with other rings in the place of some: each old key's entry gives its place to the new one."""
    plan = rekeyed(draft.plan, {key: new[key].key for key in old})
    entries: dict[str, PaletteEntry] = {}
    for entry in draft.palette:
        there = new.get(entry.key, entry)
        entries.setdefault(there.key, there)
    return replace(draft, plan=plan, palette=tuple(entries.values()))


def kept_size(draft: LayoutDraft, before: RingSize, after: RingSize, facts: LayoutFacts) -> Swapped | Faults:
    """The piece laid again for rings of another size so that it comes near the size it had. `facts` know both."""
    if isinstance(draft.plan, Chain):
        return _kept_length(draft, draft.plan, before, after, facts)
    layout = draft.plan
    joined = facts.connector_of(layout)
    old = pitch_of(layout.weave, before, facts.swatch_for(before), before if joined == after else joined)
    new = pitch_of(layout.weave, after, facts.swatch_for(after), joined)
    for pitch in (old, new):
        if isinstance(pitch, NoPitch):
            return Faults.of("swap_keep", f"{pitch.reason} Keep the shape instead.")
    if isinstance(old, NoPitch) or isinstance(new, NoPitch):
        return Faults.of("swap_keep", "Keep the shape instead.")
    made = same_size(layout, old, new)
    return Swapped(replace(draft, plan=made.layout), made.notes)


def _kept_length(
    draft: LayoutDraft, chain: Chain, before: RingSize, after: RingSize, facts: LayoutFacts
) -> Swapped | Faults:
    if len(chain.stretches) != 1:
        return Faults.of("swap_keep", "A chain of several stretches keeps its units: lay it again for its length.")
    old_items = {key: replace(facts.items[key], size=before) for key in chain.stretches[0].repeat}
    length = length_of(chain, old_items, facts.chain_swatches)
    if length.mm is None:
        return Faults.of("swap_keep", " ".join(length.notes) + " Keep the units instead.")
    found = for_length(chain.weave, after, length.mm, closed=chain.closed, swatches=facts.chain_swatches)
    if isinstance(found, NoLength):
        return Faults.of("swap_keep", f"{found.reason} Keep the units instead.")
    made = replace(chain, stretches=(Stretch(found.nearest.units, chain.stretches[0].repeat),))
    wrong = chain_faults(made)
    if wrong:
        return Faults.of("swap_keep", wrong[0].message)
    return Swapped(replace(draft, plan=made))


def resized_entries(
    session: Session, draft: LayoutDraft, facts: LayoutFacts, before: RingSize, after: RingSize
) -> dict[str, PaletteEntry]:
    """For each ring of one size the same metal and colour in another: from stock where there is one, else typed."""
    stock = load_materials(session, None).values()
    found: dict[str, PaletteEntry] = {}
    taken = {entry.key for entry in draft.palette}
    for entry in draft.palette:
        thing = facts.things[entry.key]
        if thing.size != before:
            continue
        same = next(
            (
                item
                for item in stock
                if item.kind == "ring"
                and not item.retired
                and item.size == after
                and (item.metal, item.colour, item.finish) == (thing.metal, thing.colour, thing.finish)
            ),
            None,
        )
        if same is not None:
            found[entry.key] = PaletteEntry(item_key(same.id), PartDraft(1000, item_id=same.id))
            continue
        colour = " ".join(word for word in (thing.colour, thing.finish) if word)
        typed = PartDraft(
            1000,
            typed_kind="ring",
            typed_metal=thing.metal,
            typed_colour=colour[:60],
            typed_wire_nm=after.wire_nm,
            typed_inner_nm=after.inner_nm,
            guess=entry.thing.guess,
        )
        key = free_key(taken)
        taken.add(key)
        found[entry.key] = PaletteEntry(key, typed)
    return found


# --- words ---


def known_of(draft: LayoutDraft, facts: LayoutFacts, *, length_unit: str = "mm") -> Known:
    """What acts may know of the palette: items, and a short word for each."""
    wanted = {entry.key: _wanted_words(facts.things[entry.key]) for entry in draft.palette}
    return Known(
        items=facts.items,
        words=short_words(wanted),
        swatches=facts.sheet_swatches,
        chain_swatches=facts.chain_swatches,
        length_unit=length_unit,
    )


def _wanted_words(thing: Material) -> tuple[str, ...]:
    """The words that a ring may be called by, shortest first: blue, blue niobium, blue niobium 1.0 × 4.0."""
    if thing.kind != "ring":
        return (_sayable(thing.name),)
    metal = thing.metal_name
    size = ""
    if thing.wire_nm and thing.inner_nm:
        size = f" {_mm(thing.wire_nm)} × {_mm(thing.inner_nm)}"
    plain = [word for word in metal.split(" ") if word.isalpha()]
    first = plain[-1] if plain else metal
    whole = thing.look or thing.name
    bare = () if thing.colour else (first, f"{first}{size}", metal)
    words = (thing.colour, *bare, whole, f"{whole}{size}", thing.name)
    return tuple(dict.fromkeys(_sayable(word) for word in words if word))


def _sayable(word: str) -> str:
    """A word without the signs that part a row's words from each other."""
    return " ".join(re.sub(r"[,()]", " ", word).split())


def _mm(nm: int) -> str:
    return format_mm(nm).removesuffix(" mm")


def usual_size(plan: Plan, facts: LayoutFacts) -> RingSize | None:
    """The ring size of most rings of the rows, or of the chain."""
    used: dict[RingSize, int] = {}
    items = [key for row in plan.rows for key in row.items] if isinstance(plan, Layout) else plan.items
    for key in items:
        size = facts.items[key].size if key in facts.items else None
        if size is not None:
            used[size] = used.get(size, 0) + 1
    return max(used, key=lambda size: used[size], default=None)
