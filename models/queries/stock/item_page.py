"""Everything that one item's page shows: ring facts, fits, offers, what one costs, and the designs that use it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from sqlalchemy import select as columns
from sqlmodel import Session, col, func, select

from models.costing.exact import EXACT
from models.costing.inputs import UnitCost
from models.costing.lines import Line
from models.errors import Missing
from models.intake.stock.offer import from_milli
from models.queries.newest_revision import newest_revisions
from models.queries.stock.item import NearItem, item_view, near_items, near_nm
from models.queries.stock.material import Material, OfferView
from models.queries.stock.metal import all_metals
from models.queries.stock.offer import item_offers
from models.queries.stock.supplier import supplier_names
from models.queries.stock.weave import FitRow, RecordRow, fit_records, shop_weaves
from models.tables import Design, Item, Part, Revision, Shop
from models.trade.measures import Unreadable, format_mm, parse_wire, to_mm
from models.trade.metals import METALS, Metal
from models.trade.rings import RingFacts, RingSize, ring_facts
from models.trade.vocabulary.things import ITEM_KINDS, PART_KINDS, UNITS


@dataclass(frozen=True, slots=True)
class DesignUse:
    """One design that uses an item: how many units for a piece, in its latest revision that has it."""

    design_id: int
    name: str
    quantity: Decimal
    purpose: str
    retired: bool
    now: bool
    """Whether the design's latest revision still has it."""


@dataclass(frozen=True, slots=True)
class RingSheet:
    """A ring's facts with its fits: for an item's page, the ring facts page and the API."""

    facts: RingFacts
    fits: tuple[FitRow, ...]
    records: tuple[RecordRow, ...]
    """The shop's own records of sizes near this one."""
    density: Line
    """The density that counted, unfolding to its source and, for weighed rings, to the catalogue's beside it."""
    cautions: tuple[str, ...]
    weighed: bool

    @property
    def comfortable(self) -> tuple[str, ...]:
        """The names of the weaves that this ring is comfortable in."""
        return tuple(row.fit.weave.name for row in self.fits if row.fit.verdict == "comfortable")

    @property
    def working(self) -> tuple[FitRow, ...]:
        """The fits that work: comfortable ones first, then tight ones."""
        return tuple(row for verdict in ("comfortable", "tight") for row in self.fits if row.fit.verdict == verdict)

    @property
    def others(self) -> tuple[FitRow, ...]:
        """The other fits: loose ones first, then those that are too small."""
        return tuple(row for verdict in ("loose", "too small") for row in self.fits if row.fit.verdict == verdict)


@dataclass(frozen=True, slots=True)
class ItemPage:
    """One item's page."""

    item: Material
    sheet: RingSheet | None
    """For a ring of a known metal."""
    label_note: str
    """How the real wire differs from what the bag says; empty when it does not."""
    offers: tuple[OfferView, ...]
    uses: tuple[DesignUse, ...]
    frozen: str
    """Why metal and sizes cannot change; empty while they can."""
    near: tuple[NearItem, ...]
    """Other rings in stock of nearly this size and the same metal."""
    made_from: tuple[int, str] | None
    """The design (id, name) that a finished piece was made from; None for anything else."""

    @property
    def cost(self) -> UnitCost | None:
        """What one unit costs; None without an offer, or where none follows from it."""
        return self.item.unit_cost

    @property
    def no_cost(self) -> str:
        """Why the current offer says nothing about one unit; empty when it does, or when there is none."""
        return self.item.no_cost


@dataclass(frozen=True, slots=True)
class ItemForm:
    """What the form of an item needs: for a new one of a kind, or for one that is changed."""

    kind: str
    metals: tuple[tuple[str, str], ...]
    """(code, name): those that the stock has most of first, then the rest."""
    suppliers: tuple[str, ...]
    units: tuple[tuple[str, str], ...]
    """(unit, words) that this kind may be counted in."""
    item: Material | None
    frozen: str
    """Why metal and sizes cannot change; empty while they can."""


def item_form(session: Session, kind: str, item_id: int | None = None) -> ItemForm:
    """What the form of an item needs; with an id, of that item and its own kind.

    Raises: Missing, also for finished pieces and scrap, which come by themselves.
    """
    item = item_view(session, item_id) if item_id is not None else None
    kind = item.kind if item else kind
    if kind not in PART_KINDS:
        raise Missing(f"form for a {kind}, as item", item_id)
    uses = uses_of(session, item_id) if item_id is not None else ()
    return ItemForm(
        kind=kind,
        metals=metal_options(session),
        suppliers=supplier_names(session),
        units=tuple((unit, UNITS[unit]) for unit in ITEM_KINDS.term(kind).units),
        item=item,
        frozen=frozen_words(kind, [use.name for use in uses]),
    )


def metal_options(session: Session) -> tuple[tuple[str, str], ...]:
    """Every metal as (code, name): those that the stock has most of first, then the rest."""
    counted = select(Item.metal, func.count()).group_by(col(Item.metal))
    many: dict[str | None, int] = dict(session.exec(counted).all())
    metals = sorted(all_metals(session).values(), key=lambda metal: -many.get(metal.code, 0))
    return tuple((metal.code, metal.name) for metal in metals)


def item_page(session: Session, item_id: int) -> ItemPage:
    """Everything that an item's page shows. Raises: Missing."""
    item = item_view(session, item_id)
    metal = item.body.metal
    uses = uses_of(session, item_id)
    size = item.size
    sheet = None
    near: tuple[NearItem, ...] = ()
    if size is not None:
        if metal is not None:
            sheet = ring_sheet(session, size, metal, measured_mass_ug=item.measured_mass_ug)
        found = near_items(session, size, item.metal, near_nm(session))
        near = tuple(ring for ring in found if ring.id != item_id)
    return ItemPage(
        item=item,
        sheet=sheet,
        label_note=_label_note(item),
        offers=item_offers(session, item_id),
        uses=uses,
        frozen=frozen_words(item.kind, [use.name for use in uses]),
        near=near,
        made_from=_made_from(session, item_id) if item.kind == "piece" else None,
    )


def _made_from(session: Session, item_id: int) -> tuple[int, str] | None:
    wanted = select(Design.id, Design.name).join(Item, col(Item.design_id) == col(Design.id)).where(Item.id == item_id)
    found = session.exec(wanted).first()
    return (found[0] or 0, found[1]) if found else None


def ring_sheet(
    session: Session,
    size: RingSize,
    metal: Metal,
    *,
    kerf_mm: Decimal | None = None,
    measured_mass_ug: int | None = None,
) -> RingSheet:
    """The facts of a ring, its fits and the shop's records; `kerf_mm` None takes the shop's usual saw cut.

    A measured mass stands in for the computed one in every figure that follows from it. Raises: ValueError for a cut
    that is not from zero up to less than the ring's wire.
    """
    if kerf_mm is None:
        usual_mm = to_mm(session.exec(select(Shop.kerf_nm)).first() or 0)
        # The usual cut says nothing about a ring that is smaller than it.
        kerf_mm = usual_mm if usual_mm < size.wire_length_mm else Decimal(0)
    density = Line(
        f"Density of {metal.name}", metal.density, amount_unit="g/cm³", reason="At 20 °C.", source=_source(metal)
    )
    used = metal
    if measured_mass_ug:
        real = EXACT.divide(Decimal(measured_mass_ug).scaleb(-3), size.volume_mm3)
        used = replace(metal, density=real)
        density = Line(
            "Density of your rings",
            real,
            amount_unit="g/cm³",
            reason="Your weighed mass divided by the volume of the ring. It stands in for the density of the metal.",
            source="your own scale",
            because=(density,),
        )
    knows = shop_weaves(session)
    return RingSheet(
        facts=ring_facts(size, used, kerf_mm),
        fits=knows.fit_rows(size),
        records=fit_records(session, near=size, tolerance_nm=knows.near_nm),
        density=density,
        cautions=metal.notes,
        weighed=bool(measured_mass_ug),
    )


def uses_of(session: Session, item_id: int) -> tuple[DesignUse, ...]:
    """The designs that use an item in any revision, each once, those of today first."""
    latest = newest_revisions()
    found = (
        columns(
            col(Design.id),
            col(Design.name),
            col(Design.retired),
            col(Part.quantity_milli),
            col(Part.purpose),
            col(Revision.number),
            latest.c.number.label("latest"),
        )
        .select_from(Part)
        .join(Revision, col(Revision.id) == col(Part.revision_id))
        .join(Design, col(Design.id) == col(Revision.design_id))
        .join(latest, latest.c.design_id == col(Design.id))
        .where(col(Part.item_id) == item_id)
        .order_by(col(Design.name), col(Design.id), col(Revision.number).desc(), col(Part.position))
    )
    uses: dict[int, DesignUse] = {}
    numbers: dict[int, int] = {}
    for row in session.execute(found):
        known = uses.get(row.id)
        if known is not None and numbers[row.id] != row.number:
            continue
        quantity = from_milli(row.quantity_milli)
        numbers[row.id] = row.number
        uses[row.id] = DesignUse(
            design_id=row.id,
            name=row.name,
            quantity=quantity + known.quantity if known else quantity,
            purpose=known.purpose if known else row.purpose,
            retired=row.retired,
            now=row.number == row.latest,
        )
    return tuple(sorted(uses.values(), key=lambda use: (not use.now, use.retired, use.name.casefold())))


def frozen_words(kind: str, designs: list[str]) -> str:
    """Why an item's metal and sizes stay, naming the designs that use it; empty when none does."""
    if not designs:
        return ""
    named = ", ".join(designs[:3]) + (f" and {len(designs) - 3} more" if len(designs) > 3 else "")
    uses = "uses" if len(designs) == 1 else "use"
    return f"{named} {uses} this {kind}, so its metal and sizes stay as they are. Add another item for another size."


def _label_note(item: Material) -> str:
    if not item.wire_label or item.wire_nm is None:
        return ""
    try:
        named_nm = parse_wire(item.wire_label).nm
    except Unreadable:
        return ""
    off_nm = item.wire_nm - named_nm
    if off_nm == 0:
        return ""
    side = "thicker" if off_nm > 0 else "thinner"
    return (
        f"Sold as {item.wire_label}, which is {format_mm(named_nm)} by the table. "
        f"The real wire is {format_mm(item.wire_nm)}, "
        f"{format_mm(abs(off_nm))} {side}, and counts in every figure here."
    )


def _source(metal: Metal) -> str:
    return metal.source if metal.code in METALS else f"{metal.source} (a metal of your own)"
