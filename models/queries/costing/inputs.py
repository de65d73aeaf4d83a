"""Everything that costing needs, read for many designs at once in a constant number of queries, as plain values.

Columns are read, never entities, so that three hundred designs cost little more than one. What a design costs is not
decided here (`costing`, `figures`).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass, field, replace
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlmodel import Session, col

from models.costing.inputs import OutletInput, ShopRates, WorkInput
from models.intake.costing.part import PartDraft
from models.intake.designs.design import ONCE_WORK, PIECE_WORK, DesignDraft, WorkDraft
from models.intake.stock.item import body_of, short_metal
from models.queries.costing.outlet import outlet_inputs
from models.queries.costing.part_facts import PartFacts
from models.queries.newest_revision import newest_revisions
from models.queries.shop.shop import design_paces, shop_rates, shop_settings
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.tables import Design, ListedPrice, Part, Revision, Work
from models.trade.colours import BARE_TINT, tint_of
from models.trade.measures import format_mm
from models.trade.metals import Metal
from models.trade.money import from_micros

MILLI = Decimal("0.001")


@dataclass(frozen=True, slots=True)
class ShopFacts:
    """What every costing of this shop shares: its currency, its rates, its outlets in use, and its metals.

    `ending` is the shop's own rounding rule, `near_nm` how far two sizes may differ and still be one. `paces` are how
    many times as long a design takes as its work says, for those whose own builds have taught that.
    """

    currency: str
    rates: ShopRates
    outlets: tuple[OutletInput, ...]
    metals: Mapping[str, Metal]
    one_price: bool
    ending: str
    near_nm: int
    paces: Mapping[int, Decimal] = field(default_factory=dict)

    def rates_of(self, design_id: int | None) -> ShopRates:
        """The rates for one design: those of the shop, at the design's own pace where its builds have taught one."""
        pace = self.paces.get(design_id) if design_id is not None else None
        if pace is None:
            return self.rates
        own = {
            kind: rate
            if kind in ONCE_WORK
            else replace(rate, seconds=rate.seconds * pace, source=f"{rate.source}, at the pace of this design")
            for kind, rate in self.rates.rates.items()
        }
        return replace(self.rates, rates=own)


@dataclass(frozen=True, slots=True)
class Listed:
    """What is asked for a design at one outlet today, and the version of that price."""

    price: Decimal
    version: int


@dataclass(frozen=True, slots=True)
class CostInputs:
    """One revision of a design (or a draft: `design_id` None) as costing takes it; `allowance` is a fraction.

    `listed` is by the outlet's number. Sizes are nanometres, the measured mass micrograms.
    """

    name: str
    parts: tuple[PartFacts, ...]
    work: WorkInput
    weave: str | None = None
    allowance: Decimal | None = None
    design_id: int | None = None
    revision_id: int | None = None
    number: int | None = None
    piece: str = ""
    note: str = ""
    photo: str | None = None
    retired: bool = False
    skill: int = 1
    width_nm: int | None = None
    height_nm: int | None = None
    length_nm: int | None = None
    measured_mass_ug: int | None = None
    listed: Mapping[int, Listed] = field(default_factory=dict)


def load_shop_facts(session: Session) -> ShopFacts:
    """What every costing of this shop shares."""
    settings = shop_settings(session)
    return ShopFacts(
        currency=settings.currency,
        rates=shop_rates(session),
        outlets=outlet_inputs(session),
        metals=all_metals(session),
        one_price=settings.one_price,
        ending=settings.ending,
        near_nm=settings.near_nm,
        paces=design_paces(session),
    )


def latest_revisions(session: Session, design_ids: Collection[int] | None = None) -> dict[int, int]:
    """The latest revision's id by design, of all designs or of those named."""
    found = newest_revisions(design_ids)
    rows = session.execute(
        select(col(Revision.design_id), col(Revision.id)).join(
            found, (found.c.design_id == col(Revision.design_id)) & (found.c.number == col(Revision.number))
        )
    )
    return {design_id: revision_id for design_id, revision_id in rows if revision_id is not None}


def load_cost_inputs(
    session: Session, revision_ids: Collection[int], metals: Mapping[str, Metal]
) -> dict[int, CostInputs]:
    """The inputs of many revisions by their id, in a constant number of queries; an unknown id is left out."""
    heads = session.execute(
        select(
            col(Revision.id), col(Revision.design_id), col(Revision.number), col(Revision.weave), col(Revision.skill),
            col(Revision.width_nm), col(Revision.height_nm), col(Revision.length_nm), col(Revision.measured_mass_ug),
            col(Revision.allowance_percent), col(Revision.once_pieces), col(Design.name), col(Design.piece),
            col(Design.note), col(Design.photo), col(Design.retired),
        )
        .join(Design, col(Design.id) == col(Revision.design_id))
        .where(col(Revision.id).in_(revision_ids))
    ).all()  # fmt: skip
    rows = session.execute(
        select(
            col(Part.revision_id), col(Part.position), col(Part.item_id), col(Part.typed_kind), col(Part.typed_name),
            col(Part.typed_metal), col(Part.typed_colour), col(Part.typed_wire_nm), col(Part.typed_inner_nm),
            col(Part.typed_unit), col(Part.guess_micros), col(Part.quantity_milli), col(Part.purpose),
            col(Part.optional), col(Part.choice_group), col(Part.choice_name), col(Part.allowance_percent),
            col(Part.joined), col(Part.layout_key), col(Part.closed_milli),
        )
        .where(col(Part.revision_id).in_(revision_ids))
        .order_by(col(Part.revision_id), col(Part.position))
    ).all()  # fmt: skip
    things = load_materials(session, {row.item_id for row in rows if row.item_id is not None}, metals, offers="last")
    parts: dict[int, list[PartFacts]] = {}
    for row in rows:
        thing = _thing_of_part(row, things, metals)
        parts.setdefault(row.revision_id, []).append(_part_facts(row.position, row, thing, row.allowance_percent))
    works = _works(session, revision_ids)
    listed = _listed(session, {head.design_id for head in heads})
    return {
        head.id: CostInputs(
            name=head.name,
            parts=tuple(parts.get(head.id, ())),
            work=work_input(works.get(head.id, ()), head.once_pieces),
            weave=head.weave,
            allowance=_share(head.allowance_percent),
            design_id=head.design_id,
            revision_id=head.id,
            number=head.number,
            piece=head.piece,
            note=head.note,
            photo=head.photo,
            retired=head.retired,
            skill=head.skill,
            width_nm=head.width_nm,
            height_nm=head.height_nm,
            length_nm=head.length_nm,
            measured_mass_ug=head.measured_mass_ug,
            listed=listed.get(head.design_id, {}),
        )
        for head in heads
    }


def inputs_of_draft(
    session: Session, draft: DesignDraft, metals: Mapping[str, Metal], *, design_id: int | None = None
) -> CostInputs:
    """The inputs of a design that is not saved; listed prices are those of `design_id` where it is given.

    A part whose item does not exist is kept as a thing without a price.
    """
    things = load_materials(
        session, {part.item_id for part in draft.parts if part.item_id is not None}, metals, offers="last"
    )
    parts = []
    for position, part in enumerate(draft.parts):
        thing = things.get(part.item_id) if part.item_id is not None else None
        thing = typed_thing(part, metals) if thing is None else thing.guessed_at(part.guess)
        parts.append(_part_facts(position, part, thing, part.allowance_percent))
    listed = _listed(session, {design_id}).get(design_id, {}) if design_id is not None else {}
    return CostInputs(
        name=draft.name,
        parts=tuple(parts),
        work=work_input(draft.work, draft.once_pieces),
        weave=draft.weave,
        allowance=_share(draft.allowance_percent),
        design_id=design_id,
        piece=draft.piece,
        note=draft.note,
        skill=draft.skill,
        width_nm=draft.width_nm,
        height_nm=draft.height_nm,
        length_nm=draft.length_nm,
        measured_mass_ug=draft.measured_mass_ug,
        listed=listed,
    )


def work_input(work: Iterable[WorkDraft], once_pieces: int) -> WorkInput:
    """The work of a design: a kind that has a row is done; without minutes it takes the shop's rate."""
    rows = {row.kind: row for row in work}

    def count(kind: str) -> Decimal | None:
        row = rows.get(kind)
        return None if row is None or row.count is None else Decimal(row.count)

    def minutes(kind: str) -> Decimal | None:
        milli = rows[kind].minutes_milli
        return None if milli is None else milli * MILLI

    # Packing goes the way of finishing where the design says its own minutes.
    finish = {kind: minutes(kind) for kind in PIECE_WORK if kind in rows and kind != "pack"}
    packs = "pack" in rows
    if packs and minutes("pack") is not None:
        finish["pack"], packs = minutes("pack"), False
    return WorkInput(
        open=count("open"),
        close=count("close"),
        weave=count("weave"),
        attach=count("attach"),
        finish=finish,
        pack=packs,
        once={kind: minutes(kind) for kind in ONCE_WORK if kind in rows},
        once_pieces=once_pieces,
        setup="setup" in rows,
    )


def typed_thing(part: PartDraft | Any, metals: Mapping[str, Metal]) -> Material:
    """A typed thing, from a draft's part or a part's row: an unnamed ring is named by its metal and size."""
    guess = part.guess if isinstance(part, PartDraft) else None
    if not isinstance(part, PartDraft) and part.guess_micros is not None:
        guess = from_micros(part.guess_micros)
    thing = typed_material(
        part.typed_kind or "consumable",
        metals.get(part.typed_metal) if part.typed_metal else None,
        name=part.typed_name,
        unit=part.typed_unit,
        colour=part.typed_colour,
        wire_nm=part.typed_wire_nm,
        inner_nm=part.typed_inner_nm,
    )
    return thing.guessed_at(guess)


def typed_material(
    kind: str,
    metal: Metal | None,
    *,
    name: str = "",
    unit: str = "piece",
    colour: str = "",
    wire_nm: int | None = None,
    inner_nm: int | None = None,
) -> Material:
    """What is only typed in a design, without a price; without a name it takes its usual one."""
    return Material(
        id=0,
        name=name or usual_thing_name(kind, metal, colour, wire_nm, inner_nm),
        kind=kind,
        unit=unit,
        metal=metal.code if metal else None,
        body=body_of(kind=kind, unit=unit, metal=metal, wire_nm=wire_nm, inner_nm=inner_nm, mass_ug=None),
        colour=colour,
        tint=tint_of(colour, metal.tint if metal else BARE_TINT),
        wire_nm=wire_nm,
        inner_nm=inner_nm,
        can_open=metal is None or metal.family != "rubber",
    )


def usual_thing_name(kind: str, metal: Metal | None, colour: str, wire_nm: int | None, inner_nm: int | None) -> str:
    """What an unnamed thing is called: 'Green niobium ring 0.8 × 2.8 mm'."""
    words = " ".join(word for word in (colour, short_metal(metal) if metal else "", kind) if word)
    size = ""
    if wire_nm and inner_nm:
        size = f" {format_mm(wire_nm).removesuffix(' mm')} × {format_mm(inner_nm)}"
    elif wire_nm:
        size = f" {format_mm(wire_nm)}"
    return f"{words[:1].upper()}{words[1:]}{size}"


def _thing_of_part(row: Any, things: Mapping[int, Material], metals: Mapping[str, Metal]) -> Material:
    if row.item_id is None:
        return typed_thing(row, metals)
    return things[row.item_id].guessed_at(None if row.guess_micros is None else from_micros(row.guess_micros))


def _part_facts(position: int, part: PartDraft | Any, thing: Material, allowance_percent: Decimal | None) -> PartFacts:
    return PartFacts(
        position=position,
        thing=thing,
        quantity=part.quantity_milli * MILLI,
        purpose=part.purpose,
        optional=part.optional,
        group=part.choice_group,
        choice=part.choice_name,
        allowance=_share(allowance_percent),
        joined=part.joined,
        from_rows=bool(part.layout_key),
        closed=None if part.closed_milli is None else part.closed_milli * MILLI,
    )


def _share(percent: Decimal | None) -> Decimal | None:
    return None if percent is None else percent.scaleb(-2)


def _works(session: Session, revision_ids: Collection[int]) -> dict[int, list[WorkDraft]]:
    rows = session.execute(
        select(col(Work.revision_id), col(Work.kind), col(Work.count), col(Work.minutes_milli)).where(
            col(Work.revision_id).in_(revision_ids)
        )
    )
    found: dict[int, list[WorkDraft]] = {}
    for revision_id, kind, count, minutes_milli in rows:
        found.setdefault(revision_id, []).append(WorkDraft(kind, count, minutes_milli))
    return found


def _listed(session: Session, design_ids: Collection[int]) -> dict[int, dict[int, Listed]]:
    rows = session.execute(
        select(
            col(ListedPrice.design_id),
            col(ListedPrice.outlet_id),
            col(ListedPrice.price_micros),
            col(ListedPrice.version),
        ).where(col(ListedPrice.design_id).in_(design_ids))
    )
    found: dict[int, dict[int, Listed]] = {}
    for design_id, outlet_id, price_micros, version in rows:
        found.setdefault(design_id, {})[outlet_id] = Listed(from_micros(price_micros), version)
    return found
