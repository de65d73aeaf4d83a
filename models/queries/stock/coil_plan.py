"""A batch of rings before it is made: which mandrel, how wide the coil opens, how much wire, at what cost.

The geometry stands in `models/trade/coils.py` and `springback.py`; booking what was made, in `models/operations`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Context, Decimal

from sqlalchemy.orm import aliased
from sqlmodel import Session, col, select

from models.costing.job_cost import JobCost, job_cost
from models.errors import Unfit
from models.intake.faults import Faults
from models.intake.stock.job import CoilRequest
from models.queries.shop.shop import shop_rates, shop_settings
from models.queries.stock.balance import Balance, balance_of, stock_unit_costs
from models.queries.stock.item import NearItem, item_view, near_items, near_nm
from models.queries.stock.material import Material
from models.tables import Item, Job, StockTransaction
from models.trade.coils import Winding, WirePlan, rings_from_wire, wire_for_rings
from models.trade.measures import format_mm, to_mm
from models.trade.money import millionth
from models.trade.rings import RingSize, wire_g_per_m
from models.trade.springback import (
    NoSet,
    Opening,
    Temper,
    TestCoil,
    expected_inner,
    mandrel_for,
    skin_strain,
    tempers_of,
)
from models.trade.vocabulary.bench import CUTS
from models.trade.workshop import workshop_cautions

MOST_COILS = 60
"""As many of the latest measured coils are reckoned with."""
_EXACT = Context(prec=50)
_TIGHT_STRAIN = 0.3


@dataclass(frozen=True, slots=True)
class CoilPlan:
    """What a batch would take and give. Sizes in nanometres, quantities of wire in thousandths of its unit.

    `opening` is how wide the coil opens inside, None where nothing is known of the wire's springback: it is then taken
    to be as wide as its mandrel. `finished` are the rings once cut and closed. `possible` is how many rings the free
    wire gives. `cost` is an estimate, None where nobody knows what the wire costs.
    """

    question: CoilRequest
    wire: Material
    balance: Balance
    mandrel_nm: int
    opening: Opening | None
    wanted_inner_nm: int | None
    plan: WirePlan
    needed_milli: int
    possible: int
    cost: JobCost | None
    near: tuple[NearItem, ...]
    tempers: tuple[Temper, ...]
    temper: Temper | None
    cautions: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def finished(self) -> RingSize:
        """The rings once cut and closed."""
        return self.plan.finished

    @staticmethod
    def about(nm: int) -> int:
        """A size that is only foreseen, to a hundredth of a millimetre."""
        return round(nm, -4)

    @property
    def enough(self) -> bool:
        """Whether the free wire is enough."""
        return self.balance.free_milli >= self.needed_milli

    @property
    def each(self) -> Decimal | None:
        """What one ring would cost, unrounded."""
        return None if self.cost is None else _EXACT.divide(self.cost.line.amount, Decimal(self.question.rings))


def coil_plan(session: Session, question: CoilRequest) -> CoilPlan:
    """Plan a batch of rings. Raises: Missing; Unfit beside what makes it impossible."""
    wire = item_view(session, question.wire_id)
    metal = wire.body.metal
    if wire.kind != "wire" or not wire.wire_nm or metal is None:
        raise Unfit(Faults.of("wire_id", f"“{wire.name}” is no wire. Choose a wire of your stock."))
    coils, tempers = own_coils(session, wire), tempers_of(metal.code)
    temper = _temper(question, tempers) if not coils else None
    mandrel_nm, opening = _opening(question, wire.wire_nm, coils, temper)
    inner_nm = opening.inner_nm if opening else mandrel_nm
    size = RingSize(wire.wire_nm, inner_nm)
    winding = _winding(session, question)
    ratio = opening.ratio if opening else 1.0
    try:
        plan = wire_for_rings(size, question.rings, winding, ratio=ratio)
    except ValueError as impossible:
        field = "mandrel_length" if "mandrel" in str(impossible) else "kerf"
        words = str(impossible)
        raise Unfit(Faults.of(field, f"{words[:1].upper()}{words[1:]}.")) from impossible
    per_mm = _milli_per_mm(wire)
    needed = int(_EXACT.multiply(plan.wire_mm, per_mm).to_integral_value(ROUND_CEILING))
    balance = balance_of(session, wire.id)
    free_mm = _EXACT.divide(Decimal(balance.free_milli), per_mm)
    return CoilPlan(
        question=question,
        wire=wire,
        balance=balance,
        mandrel_nm=mandrel_nm,
        opening=opening,
        wanted_inner_nm=question.inner_nm,
        plan=plan,
        needed_milli=needed,
        possible=rings_from_wire(size, free_mm, winding, ratio=ratio) if balance.free_milli else 0,
        cost=_cost(session, wire, needed, question),
        near=_near(session, wire, plan.finished),
        tempers=tempers,
        temper=temper,
        cautions=workshop_cautions(("coil", question.cutting), (metal,)),
        notes=_notes(wire, mandrel_nm, opening, plan),
    )


def own_coils(session: Session, wire: Material) -> tuple[TestCoil, ...]:
    """The coils that the shop wound and measured: of this very wire, else of other wire of its metal."""
    undo = aliased(StockTransaction)
    found = session.exec(
        select(Job.from_item_id, Item.wire_nm, Job.mandrel_nm, Job.measured_inner_nm)
        .join(Item, col(Item.id) == col(Job.from_item_id))
        .outerjoin(undo, col(undo.undoes_id) == col(Job.act_id))
        .where(
            Job.kind == "coil",
            Item.metal == wire.metal,
            col(Job.mandrel_nm).is_not(None),
            col(Job.measured_inner_nm).is_not(None),
            col(undo.id).is_(None),
        )
        .order_by(col(Job.id).desc())
        .limit(MOST_COILS)
    ).all()
    own = [row for row in found if row[0] == wire.id] or found
    return tuple(
        TestCoil(wire_nm, mandrel_nm, inner_nm)
        for _, wire_nm, mandrel_nm, inner_nm in own
        if wire_nm and mandrel_nm and inner_nm
    )


def _temper(question: CoilRequest, tempers: Sequence[Temper]) -> Temper | None:
    """The temper that was named, else the hardest known: rings are mostly wound from hard wire."""
    named = next((temper for temper in tempers if temper.code == question.temper), None)
    if question.temper and named is None:
        known = ", ".join(temper.name for temper in tempers) or "none for this metal"
        raise Unfit(Faults.of("temper", f"This temper is not known here. Known are: {known}."))
    return named or (tempers[-1] if tempers else None)


def _opening(
    question: CoilRequest, wire_nm: int, coils: Sequence[TestCoil], temper: Temper | None
) -> tuple[int, Opening | None]:
    """The mandrel and how wide its coil opens. Raises: Unfit where the wire would spring back straight."""
    known = bool(coils) or temper is not None
    field = "mandrel" if question.mandrel_nm else "inner"
    try:
        if question.mandrel_nm is not None:
            mandrel_nm = question.mandrel_nm
        elif known:
            mandrel_nm = mandrel_for(question.inner_nm or 0, wire_nm, temper=temper, coils=coils)
        else:
            mandrel_nm = question.inner_nm or 0
        if not known:
            return mandrel_nm, None
        return mandrel_nm, expected_inner(mandrel_nm, wire_nm, temper=temper, coils=coils)
    except NoSet as straight:
        words = "This wire would spring back straight from so wide a bend. Take thicker or softer wire."
        raise Unfit(Faults.of(field, words)) from straight


def _winding(session: Session, question: CoilRequest) -> Winding:
    """How it is wound and cut; without a cut of its own a saw takes the shop's usual one, a cutter nothing."""
    kerf = question.kerf_mm
    if kerf is None:
        kerf = to_mm(shop_settings(session).kerf_nm) if CUTS.term(question.cutting).kerf else Decimal(0)
    return Winding(
        kerf_mm=kerf,
        mandrel_length_mm=question.mandrel_length_mm,
        end_turns=question.end_turns,
        end_waste_mm=question.end_waste_mm,
        spare=question.spare_percent.scaleb(-2),
    )


def _milli_per_mm(wire: Material) -> Decimal:
    """How many thousandths of the wire's unit a millimetre of it is: one of a metre, or its mass."""
    if wire.unit == "m":
        return Decimal(1)
    metal = wire.body.metal
    if metal is None or not wire.wire_nm:
        raise ValueError("wire has its metal and its thickness")
    return wire_g_per_m(wire.wire_nm, metal.density)


def _cost(session: Session, wire: Material, needed_milli: int, question: CoilRequest) -> JobCost | None:
    """What the batch would cost: the wire as the stock's cost, else as the offer asks; with the time thought of."""
    unit = stock_unit_costs(session, (wire.id,)).get(wire.id) or wire.unit_cost
    if unit is None:
        return None
    materials = millionth(_EXACT.multiply(unit.amount, Decimal(needed_milli).scaleb(-3)))
    minutes = Decimal(question.minutes_milli or 0).scaleb(-3)
    return job_cost(materials, minutes, shop_rates(session))


def _near(session: Session, wire: Material, finished: RingSize) -> tuple[NearItem, ...]:
    """The rings of this metal and wire that are there, those nearest to the finished size first."""
    tolerance = max(near_nm(session), finished.inner_nm // 5)
    rings = near_items(session, finished, wire.metal, tolerance)
    return tuple(ring for ring in rings if ring.wire_off_nm <= near_nm(session))


def _notes(wire: Material, mandrel_nm: int, opening: Opening | None, plan: WirePlan) -> tuple[str, ...]:
    """What else is worth knowing, in sentences."""
    notes = []
    if opening is None:
        notes.append(
            "Nothing is known of how this wire springs back, so the coil is taken to be as wide as its mandrel. "
            "Wind a few turns, measure them, and note it with the job: the next batch will be foreseen."
        )
    elif opening.low_nm < opening.high_nm:
        low, high = (format_mm(CoilPlan.about(nm)) for nm in (opening.low_nm, opening.high_nm))
        notes.append(f"The coil opens to between {low} and {high} inside, by {opening.basis}.")
    if skin_strain(mandrel_nm, wire.wire_nm or 1) > _TIGHT_STRAIN:
        notes.append("This is a tight bend for the wire: try a few turns first, and look for cracks on the outside.")
    if plan.coils > 1:
        notes.append(f"That is {plan.coils} coils of up to {plan.rings_per_coil} rings.")
    return tuple(notes)
