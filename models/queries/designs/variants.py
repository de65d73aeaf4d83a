"""Two variants of a design side by side: the saved one, and one with other rings; nothing is stored.

Quantities stay; fit, mass and cost follow. How two costings are laid beside each other stands in `costing/compare`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal

from sqlalchemy import select
from sqlmodel import Session, col

from models.costing.compare import Comparison, Row, Variant, compare
from models.costing.inputs import UnitCost
from models.costing.lines import Line
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft
from models.intake.designs.variant import PartSwap, VariantDraft
from models.intake.faults import Fault, Faults
from models.intake.layouts.layout import LayoutDraft, PaletteEntry, free_key, item_key
from models.intake.stock.item import short_metal
from models.queries.costing.costing import CostSettings, CostView, build_view, revision_of
from models.queries.costing.inputs import (
    CostInputs,
    ShopFacts,
    load_cost_inputs,
    load_shop_facts,
    typed_material,
)
from models.queries.costing.part_facts import PartFacts
from models.queries.designs.design import draft_of, free_name
from models.queries.designs.layout_palette import swapped
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.queries.stock.weave import shop_weaves
from models.tables import Item
from models.trade.money import millionth
from models.trade.rings import RingSize, absurd

THIS = "As it is"


@dataclass(frozen=True, slots=True)
class Swapped:
    """One part that is another ring in the variant, and where its price comes from."""

    before: PartFacts
    after: PartFacts
    price_words: str


@dataclass(frozen=True, slots=True)
class VariantsPage:
    """A design and a variant of it. `rings` are the parts that can be another ring, by their place in the design.

    `other` and `comparison` are None until something is different. `kept` names parts of the swapped metal that are
    no rings and therefore stay. `name` is what a copy would be called.
    """

    this: CostView
    other: CostView | None
    comparison: Comparison | None
    swapped: tuple[Swapped, ...]
    kept: tuple[str, ...]
    rings: tuple[tuple[int, PartFacts], ...]
    metals_here: tuple[tuple[str, str], ...]
    all_metals: tuple[tuple[str, str], ...]
    stock: tuple[tuple[int, str], ...]
    name: str

    @property
    def telling_rows(self) -> tuple[Row, ...]:
        """The rows that one looks at first: what a piece costs and weighs, how it fits, and what to ask for it."""
        return tuple(row for row in self._rows if _tells(row))

    @property
    def other_rows(self) -> tuple[Row, ...]:
        """All other rows."""
        return tuple(row for row in self._rows if not _tells(row))

    @property
    def _rows(self) -> tuple[Row, ...]:
        return self.comparison.rows if self.comparison is not None else ()

    @property
    def resized(self) -> bool:
        """Whether a ring of the variant has another size, so that the finished size is no longer known."""
        return any(one.before.thing.size != one.after.thing.size for one in self.swapped)

    @property
    def largest_nm(self) -> int:
        """The outer diameter of the largest ring on either side, so that all are drawn to one scale."""
        things = [part.thing for _, part in self.rings] + [one.after.thing for one in self.swapped]
        return max((thing.size.outer_nm for thing in things if thing.size), default=1)


def variants_page(
    session: Session, design_id: int, draft: VariantDraft, faults: Faults | None = None
) -> tuple[VariantsPage, Faults | None]:
    """A design beside its variant, and all that is wrong with what was asked. Raises: Missing."""
    shop = load_shop_facts(session)
    weaves = shop_weaves(session)
    revision_id = revision_of(session, design_id)
    inputs = load_cost_inputs(session, [revision_id], shop.metals)[revision_id]
    stock = _rings_in_stock(session, shop)
    swaps, found = _swaps(inputs, draft, shop, stock)
    wrong = (*(faults or ()), *found)
    this = build_view(inputs, shop, weaves, CostSettings())
    other = comparison = None
    if swaps:
        after = {one.before.position: one.after for one in swaps}
        varied = replace(
            inputs,
            name=_words(swaps),
            parts=tuple(after.get(part.position, part) for part in inputs.parts),
            measured_mass_ug=None,
        )
        other = build_view(varied, shop, weaves, CostSettings())
        comparison = compare(_side(THIS, this), _side(varied.name, other))
    page = VariantsPage(
        this=this,
        other=other,
        comparison=comparison,
        swapped=swaps,
        kept=_kept(inputs, draft),
        rings=tuple((place, part) for place, part in enumerate(inputs.parts) if part.thing.size),
        metals_here=_metals(part.thing for part in inputs.parts if part.thing.size),
        all_metals=tuple((code, short_metal(metal)) for code, metal in shop.metals.items()),
        stock=tuple((item_id, thing.name) for item_id, thing in stock.items()),
        name=free_name(session, f"{inputs.name}, {_words(swaps)}") if swaps else inputs.name,
    )
    return page, Faults(wrong) if wrong else None


def varied_draft(session: Session, design_id: int, page: VariantsPage, name: str) -> DesignDraft:
    """The variant as a design of its own: other rings in its parts, and nothing that was measured on this one.

    A ring that is not in stock keeps its estimated price as a guess. Raises: Missing.
    """
    draft = draft_of(session, design_id)
    after = {one.before.position: one.after.thing for one in page.swapped}
    places = {part.position: place for place, part in enumerate(page.this.inputs.parts)}
    swapped = {places[position]: thing for position, thing in after.items()}
    parts = tuple(
        _part_draft(part, swapped[place]) if place in swapped else part for place, part in enumerate(draft.parts)
    )
    layout = None if draft.layout is None else _layout_with(draft.layout, parts)
    copied = replace(draft, name=name, parts=parts, layout=layout, measured_mass_ug=None, retired=False, change_note="")
    return replace(copied, width_nm=None, height_nm=None, length_nm=None) if page.resized else copied


def _layout_with(layout: LayoutDraft, parts: tuple[PartDraft, ...]) -> LayoutDraft:
    """The rows with the rings that their parts became; a ring that is not in stock gets a key of its own."""
    new: dict[str, PaletteEntry] = {}
    taken = {entry.key for entry in layout.palette}
    for part in parts:
        entry = layout.entry(part.layout_key)
        if entry is None:
            continue
        thing = replace(part, quantity_milli=entry.thing.quantity_milli, layout_key="", closed_milli=None)
        if replace(thing, guess=None) == replace(entry.thing, guess=None):
            continue
        key = free_key(taken) if thing.item_id is None else item_key(thing.item_id)
        taken.add(key)
        new[entry.key] = PaletteEntry(key, thing)
    return swapped(layout, tuple(new), new) if new else layout


def _part_draft(part: PartDraft, thing: Material) -> PartDraft:
    kept = replace(part, item_id=thing.item_id, typed_kind="", typed_name="", typed_metal=None, typed_colour="",
                   typed_wire_nm=None, typed_inner_nm=None, guess=None)  # fmt: skip
    if thing.item_id is not None:
        return kept
    return replace(
        kept,
        typed_kind="ring",
        typed_metal=thing.metal,
        typed_colour=thing.colour,
        typed_wire_nm=thing.wire_nm,
        typed_inner_nm=thing.inner_nm,
        typed_unit="piece",
        guess=None if thing.unit_cost is None else millionth(thing.unit_cost.amount),
    )


def _rings_in_stock(session: Session, shop: ShopFacts) -> dict[int, Material]:
    ids = session.execute(select(col(Item.id)).where(col(Item.kind) == "ring", ~col(Item.retired)))
    found = load_materials(session, [item_id for (item_id,) in ids], shop.metals, offers="last")
    return dict(sorted(found.items(), key=lambda pair: (pair[1].name.casefold(), pair[0])))


def _swaps(
    inputs: CostInputs, draft: VariantDraft, shop: ShopFacts, stock: Mapping[int, Material]
) -> tuple[tuple[Swapped, ...], list[Fault]]:
    found: list[Swapped] = []
    faults: list[Fault] = []
    for place, part in enumerate(inputs.parts):
        swap = draft.parts.get(place) or _metal_swap(part.thing, draft)
        if swap is None or part.thing.size is None:
            continue
        if swap.item_id is not None:
            thing = stock.get(swap.item_id)
            if thing is None:
                faults.append(Fault(f"part.{place}.item", "This ring is not in your stock. Choose one of the list."))
                continue
            words = "from your stock"
        else:
            wrong = absurd(RingSize(swap.wire_nm or part.thing.wire_nm or 1, swap.inner_nm or part.thing.inner_nm or 1))
            if wrong:
                faults.append(Fault(f"part.{place}.{'inner' if swap.inner_nm else 'wire'}", wrong))
                continue
            thing, words = _typed_ring(part.thing, swap, shop, stock)
        if _looks(thing) != _looks(part.thing) or thing.item_id != part.thing.item_id:
            found.append(Swapped(part, replace(part, thing=thing), words))
    return tuple(found), faults


def _metal_swap(thing: Material, draft: VariantDraft) -> PartSwap | None:
    if not (draft.from_metal and draft.to_metal) or thing.metal != draft.from_metal:
        return None
    return PartSwap(metal=draft.to_metal, colour=draft.to_colour)


def _looks(thing: Material) -> tuple[object, ...]:
    return (thing.metal, thing.colour.casefold(), thing.wire_nm, thing.inner_nm)


def _typed_ring(
    before: Material, swap: PartSwap, shop: ShopFacts, stock: Mapping[int, Material]
) -> tuple[Material, str]:
    """The ring that was asked for: the one in stock where there is one, else a typed one with a price to go by."""
    metal = shop.metals[swap.metal] if swap.metal else before.body.metal
    new_metal = metal != before.body.metal
    colour = swap.colour if swap.colour is not None else "" if new_metal else before.colour
    wire_nm, inner_nm = swap.wire_nm or before.wire_nm, swap.inner_nm or before.inner_nm
    thing = typed_material("ring", metal, colour=colour, wire_nm=wire_nm, inner_nm=inner_nm)
    if swap.guess is not None:
        return thing.guessed_at(swap.guess), "at the price that you guessed"
    known = _in_stock(thing, stock, shop.near_nm)
    if known is not None:
        return known, "from your stock"
    return _estimated(thing, stock)


def _in_stock(thing: Material, stock: Mapping[int, Material], near_nm: int) -> Material | None:
    """The ring in stock that is this one, within the shop's tolerance; the nearest of several."""

    def away(one: Material) -> int:
        return abs((one.wire_nm or 0) - (thing.wire_nm or 0)) + abs((one.inner_nm or 0) - (thing.inner_nm or 0))

    same = [
        one
        for one in stock.values()
        if one.metal == thing.metal
        and one.colour.casefold() == thing.colour.casefold()
        and abs((one.wire_nm or 0) - (thing.wire_nm or 0)) <= near_nm
        and abs((one.inner_nm or 0) - (thing.inner_nm or 0)) <= near_nm
    ]
    return min(same, key=away, default=None)


def _estimated(thing: Material, stock: Mapping[int, Material]) -> tuple[Material, str]:
    """A price to go by: that of a gram of the same metal in the ring in stock that is most like it."""
    alike = [one for one in stock.values() if one.metal == thing.metal and one.unit_cost is not None and one.mass_g]

    def unlike(one: Material) -> tuple[bool, int]:
        return one.colour.casefold() != thing.colour.casefold(), abs((one.wire_nm or 0) - (thing.wire_nm or 0))

    nearest = min(alike, key=unlike, default=None)
    if nearest is None or nearest.unit_cost is None or not nearest.mass_g or not thing.mass_g:
        return thing, "without a price: none of your rings is of this metal"
    a_gram = nearest.unit_cost.amount / nearest.mass_g
    source = f"{nearest.name} in your stock"
    lines = (
        Line("A gram of it costs", a_gram, reason="The cost of one ring in stock by its weight.", source=source,
             because=nearest.unit_cost.lines, provisional=True),
        Line("Mass of one ring", thing.mass_g, amount_unit="g", reason="Computed from its size and metal.",
             source=thing.body.metal.source if thing.body.metal else ""),
    )  # fmt: skip
    cost = UnitCost(a_gram * thing.mass_g, lines, provisional=True)
    return replace(thing, cost=cost), f"estimated by weight from {nearest.name}"


def _kept(inputs: CostInputs, draft: VariantDraft) -> tuple[str, ...]:
    if not (draft.from_metal and draft.to_metal):
        return ()
    names = (
        part.thing.name for part in inputs.parts if part.thing.size is None and part.thing.metal == draft.from_metal
    )
    return tuple(dict.fromkeys(names))


def _words(swaps: tuple[Swapped, ...]) -> str:
    """What the variant is called, after what is different in it."""
    if not swaps:
        return THIS
    metals = {one.after.thing.look for one in swaps}
    if len(metals) == 1 and {one.before.thing.look for one in swaps} != metals:
        return metals.pop()
    sizes = {one.after.thing.size for one in swaps}
    if len(sizes) == 1 and (size := sizes.pop()) is not None:
        return f"rings of {_mm(size.wire_nm)} × {_mm(size.inner_nm)} mm"
    return "other rings"


def _mm(length_nm: int) -> str:
    return format((Decimal(length_nm) / 1_000_000).normalize(), "f")


def _metals(things: Iterable[Material]) -> tuple[tuple[str, str], ...]:
    found = {thing.metal: thing.metal_name for thing in things if thing.metal is not None}
    return tuple(found.items())


def _tells(row: Row) -> bool:
    whole = row.label in {"Cost of one piece", "Finished weight", "Fit of the weave"}
    return whole or (row.differs and (row.group in {"cost", "time"} or row.label.endswith("suggested price")))


def _side(name: str, view: CostView) -> Variant:
    # The least comfortable of the rings that matter decides; without any, the most used one.
    main = next((one.fit for one in (*view.short_fits, *view.fits)), None)
    return Variant(
        name=name,
        parts=[part.to_input() for part in view.parts],
        cost=view.cost,
        prices={outlet.outlet.code: outlet.prices for outlet in view.outlets},
        fit=main.verdict if main else "",
    )
