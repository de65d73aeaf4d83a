"""Everything that one item's page shows: ring facts, fits, offers, what one costs, and the designs that use it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from decimal import Decimal

from sqlalchemy import select as columns
from sqlmodel import Session, col, func, select

from models.costing.exact import EXACT
from models.costing.inputs import UnitCost
from models.costing.lines import Impossible, Line
from models.intake.offer import from_milli
from models.queries.item import ItemView, NearItem, item_view, near_items
from models.queries.metal import all_metals
from models.queries.offer import OfferView, item_offers
from models.queries.weave import RecordRow, fit_records, shop_weaves
from models.tables import Design, Part, Revision, Shop
from models.trade.measures import Unreadable, format_mm, parse_wire, to_mm
from models.trade.metals import METALS, Metal
from models.trade.rings import RingFacts, RingSize, ring_facts
from models.trade.weaves import Fit


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
    fits: tuple[Fit, ...]
    records: tuple[RecordRow, ...]
    """The shop's own records of sizes near this one."""
    density: Line
    """The density that counted, unfolding to its source and, for weighed rings, to the catalogue's beside it."""
    cautions: tuple[str, ...]
    weighed: bool

    @property
    def comfortable(self) -> tuple[Fit, ...]:
        """The weaves that this ring is comfortable in."""
        return tuple(fit for fit in self.fits if fit.verdict == "comfortable")

    @property
    def by_verdict(self) -> tuple[tuple[str, tuple[Fit, ...]], ...]:
        """The fits in the order that people read them: what works first."""
        order = ("comfortable", "tight", "loose", "too small")
        groups = ((verdict, tuple(fit for fit in self.fits if fit.verdict == verdict)) for verdict in order)
        return tuple((verdict, fits) for verdict, fits in groups if fits)


@dataclass(frozen=True, slots=True)
class ItemPage:
    """One item's page."""

    item: ItemView
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

    @property
    def cost(self) -> UnitCost | None:
        """What one unit costs; None without an offer, or where none follows from it."""
        cost = self.item.unit_cost
        return cost if isinstance(cost, UnitCost) else None

    @property
    def no_cost(self) -> str:
        """Why the current offer says nothing about one unit; empty when it does, or when there is none."""
        cost = self.item.unit_cost
        return cost.reason if isinstance(cost, Impossible) else ""


def item_page(session: Session, item_id: int) -> ItemPage:
    """Everything that an item's page shows. Raises: Missing."""
    item = item_view(session, item_id)
    metal = all_metals(session).get(item.metal) if item.metal else None
    uses = uses_of(session, item_id)
    size = item.size
    sheet = None
    near: tuple[NearItem, ...] = ()
    if size is not None:
        if metal is not None:
            sheet = ring_sheet(session, size, metal, measured_mass_ug=item.measured_mass_ug)
        tolerance_nm = session.exec(select(Shop.near_nm)).first() or 0
        near = tuple(ring for ring in near_items(session, size, item.metal, tolerance_nm) if ring.id != item_id)
    return ItemPage(
        item=item,
        sheet=sheet,
        label_note=_label_note(item),
        offers=item_offers(session, item_id),
        uses=uses,
        frozen=frozen_words(item.kind, [use.name for use in uses]),
        near=near,
    )


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
        fits=knows.fits(size),
        records=fit_records(session, near=size),
        density=density,
        cautions=metal.notes,
        weighed=bool(measured_mass_ug),
    )


def uses_of(session: Session, item_id: int) -> tuple[DesignUse, ...]:
    """The designs that use an item in any revision, each once, those of today first."""
    latest = (
        columns(col(Revision.design_id), func.max(col(Revision.number)).label("number"))
        .group_by(col(Revision.design_id))
        .subquery()
    )
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


def _label_note(item: ItemView) -> str:
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
