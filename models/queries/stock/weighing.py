"""Counting a bag by weight: what is known of one ring's mass, what the scale says, and whether something is odd.

The arithmetic of the scale stands in `models/trade/weighing.py`; what booking the count changes, in `count`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from decimal import Decimal

from sqlalchemy import select
from sqlmodel import Session, col

from models.errors import Unfit
from models.intake.faults import Faults
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.intake.stock.weigh import WeighDraft
from models.queries.stock.item import item_view, load_materials
from models.queries.stock.lot import lot_view
from models.queries.stock.material import Material
from models.tables import Shop, Weighing
from models.trade.learned_mass import DEFAULT_BETWEEN, LearnedMass, learn_mass, seems_other
from models.trade.measures import to_grams
from models.trade.ring_mass import (
    DEFAULT_SCATTER,
    RingMass,
    Sample,
    Unweighable,
    mass_from_samples,
    mass_from_size,
)
from models.trade.units import unit_words
from models.trade.weighing import WeighedCount, count_bag, largest_settled

MOST_LEARNED = 60
"""As many of an item's latest weighings are learned from: wire and suppliers change."""
_LEAST_PORTION = 5


@dataclass(frozen=True, slots=True)
class KnownMass:
    """One way in which the mass of a ring is known, with the words for it; masses in grams, as estimates."""

    code: str
    words: str
    ring: RingMass


@dataclass(frozen=True, slots=True)
class OddRings:
    """A weighed sample that does not weigh what rings of this item do; `likely` is the item that would, if any."""

    seen_g: float
    expected_g: float
    chance: float
    likely_id: int | None
    likely: str

    @property
    def seen(self) -> Decimal:
        """What one weighs, in grams to the microgram."""
        return _grams(self.seen_g)

    @property
    def expected(self) -> Decimal:
        """What one was expected to weigh, in grams to the microgram."""
        return _grams(self.expected_g)


@dataclass(frozen=True, slots=True)
class WeighedBag:
    """What the scale says of a bag; masses in grams, as estimates.

    `mass_from` names the way in which `ring` is known, `others` are the further ways. `portion` is the most rings
    that could be weighed at once to be certain, None when that helps nobody.
    """

    item: Material | None
    count: WeighedCount
    ring: RingMass
    mass_from: str
    others: tuple[KnownMass, ...]
    odd: OddRings | None
    portion: int | None
    net_ug: int

    @property
    def one_g(self) -> Decimal:
        """What one is taken to weigh, in grams to the microgram."""
        return _grams(self.ring.mass_g)

    @property
    def words(self) -> str:
        """What is counted: 'rings', or 'pieces' of anything else."""
        return unit_words(self.item.kind if self.item else "ring", "piece", Decimal(self.count.count))


@dataclass(frozen=True, slots=True)
class WeighingRow:
    """One counted sample that was kept, in micrograms; `odd` when it does not fit the others of the item."""

    id: int
    lot_id: int | None
    place: str
    rings: int
    net_ug: int
    step_ug: int
    weighed_at: datetime
    odd: bool

    @property
    def one_g(self) -> Decimal:
        """What one ring of the sample weighs."""
        return to_grams(self.net_ug) / self.rings


def weigh_bag(session: Session, draft: WeighDraft) -> WeighedBag:
    """What a weighing says; nothing is written.

    Raises: Missing for an unknown item or lot; Unfit beside the field that makes the weighing say nothing.
    """
    item = _item(session, draft)
    if item is not None and item.unit != "piece":
        raise Unfit(
            Faults.of("item_id", "This goes by weight or length already, so its weight is all there is to know.")
        )
    ways = _ways(session, draft, item)
    chosen = next((way for way in ways if draft.mass_from in ("", way.code)), None)
    if chosen is None:
        raise Unfit(Faults.of(*_no_way(draft)))
    step_g, tare_g = to_grams(draft.step_ug), to_grams(draft.tare_ug)
    try:
        count = count_bag(
            to_grams(draft.gross_ug),
            tare_g,
            chosen.ring,
            step_g=step_g,
            sample_in_bag=draft.sample_in_bag and chosen.code == "sample",
        )
    except Unweighable as unweighable:
        raise Unfit(Faults.of("gross_g", unweighable.message)) from unweighable
    except ValueError as impossible:
        raise Unfit(Faults.of("gross_g", f"Nothing can be told from this: {impossible}.")) from impossible
    portion = None
    if not count.certain and count.fits and count.sample_needed is None:
        most = largest_settled(chosen.ring, step_g=step_g, tare_step_g=step_g if draft.tare_ug else 0, most=count.count)
        portion = most if _LEAST_PORTION <= most < count.count else None
    return WeighedBag(
        item=item,
        count=count,
        ring=chosen.ring,
        mass_from=chosen.code,
        others=tuple(way for way in ways if way is not chosen),
        odd=_odd(session, draft, item),
        portion=portion,
        net_ug=draft.gross_ug - draft.tare_ug,
    )


def count_by_weight(session: Session, draft: WeighDraft, count: CountDraft) -> tuple[CountDraft, WeighedBag | None]:
    """The count that a weighing comes to, with everything else as `count` says it; no bag where weight is the count.

    What is not certain is 'about' so many. A bag that weighs just what it weighs empty holds none, also where nobody
    knows what one weighs. Raises: as `weigh_bag`.
    """
    item = _item(session, draft)
    tare_ug = draft.tare_ug or None
    if item is not None and item.unit != "piece":
        if draft.gross_ug < draft.tare_ug:
            raise Unfit(Faults.of("gross_g", "The bag weighs less than its tare. Check both, and which bag it is."))
        found = HowMuch(weight_ug=draft.gross_ug - draft.tare_ug)
        return replace(count, found=found, tare_ug=tare_ug), None
    if item is not None and draft.gross_ug == draft.tare_ug and not _ways(session, draft, item):
        return replace(count, found=HowMuch(milli=0), tare_ug=tare_ug), None
    bag = weigh_bag(session, draft)
    found = HowMuch(milli=bag.count.count * 1000, rough="" if bag.count.certain else "about")
    return replace(count, found=found, tare_ug=tare_ug), bag


def scale_step_ug(session: Session) -> int:
    """The step of the shop's scale, in micrograms: the one that was used last."""
    return session.scalar(select(col(Shop.scale_step_ug))) or 10_000


def known_masses(session: Session, item: Material, *, lot_id: int | None = None) -> tuple[KnownMass, ...]:
    """How the mass of one ring of an item is known without weighing a sample now, the surest way first."""
    rows = _rows(session, item.id)
    found: list[KnownMass] = []
    own = [row for row in rows if row.lot_id == lot_id and lot_id is not None]
    if own:
        try:
            ring = _of_one_lot(own)
        except Unweighable:
            # Samples of one lot that do not weigh alike say less than all weighings of the item do.
            own = []
        else:
            found.append(KnownMass("lot", f"from rings of this lot that you weighed before ({ring.source})", ring))
    learned = _learned(rows)
    if learned is not None and len(rows) > len(own):
        found.append(KnownMass("learned", f"from {_times(learned.weighings)} of this item", learned.ring_mass()))
    if item.measured_mass_ug:
        mass = float(to_grams(item.measured_mass_ug))
        source = "the weighed mass on the item's page"
        ring = RingMass(mass, DEFAULT_SCATTER * mass, DEFAULT_BETWEEN * mass, float("inf"), (), source)
        found.append(KnownMass("measured", f"from {source}", ring))
    computed = _computed(item)
    if computed is not None:
        found.append(KnownMass("computed", "from its size and metal", computed))
    return tuple(found)


def learned_mass(session: Session, item_id: int) -> LearnedMass | None:
    """What the shop's weighings say about one ring of an item; None before the first."""
    return _learned(_rows(session, item_id))


def weighing_rows(session: Session, item_id: int) -> tuple[WeighingRow, ...]:
    """The counted samples of an item, newest first; each is held against all others."""
    rows = _rows(session, item_id)
    return tuple(_shown(row, rows[:place] + rows[place + 1 :]) for place, row in enumerate(rows))


def _item(session: Session, draft: WeighDraft) -> Material | None:
    if draft.lot_id is not None:
        lot = lot_view(session, draft.lot_id)
        if draft.item_id not in (None, lot.item_id):
            raise Unfit(Faults.of("lot_id", "This lot is of another item."))
        return item_view(session, lot.item_id)
    return item_view(session, draft.item_id) if draft.item_id is not None else None


def _ways(session: Session, draft: WeighDraft, item: Material | None) -> tuple[KnownMass, ...]:
    """Every way in which the ring's mass is known, the surest first."""
    found: list[KnownMass] = []
    if draft.samples:
        samples = [Sample(one.rings, to_grams(one.mass_ug)) for one in draft.samples]
        try:
            ring = mass_from_samples(samples, step_g=to_grams(draft.step_ug), scatter=draft.scatter)
        except Unweighable as unweighable:
            raise Unfit(Faults.of("sample.0.mass_g", unweighable.message)) from unweighable
        found.append(KnownMass("sample", f"from {ring.source}", ring))
    if item is not None:
        found += known_masses(session, item, lot_id=draft.lot_id)
    elif draft.size is not None and draft.metal is not None:
        ring = mass_from_size(draft.size, draft.metal.density)
        found.append(KnownMass("computed", "from its size and metal", ring))
    return tuple(found)


def _no_way(draft: WeighDraft) -> tuple[str, str]:
    if draft.mass_from == "learned":
        return (
            "mass_from",
            "Nothing was learned yet: weigh a counted sample this time, and the next bag can do without.",
        )
    if draft.mass_from == "lot":
        return "mass_from", "No sample of this lot was weighed yet. Weigh one now."
    if draft.mass_from == "measured":
        return "mass_from", "No weighed mass stands on the item's page. Weigh a counted sample instead."
    return "sample.0.rings", "What one weighs is not known. Count some, such as 20, and weigh them together."


def _odd(session: Session, draft: WeighDraft, item: Material | None) -> OddRings | None:
    """Whether the weighed sample is of other rings than the item's, by what was known before."""
    if item is None or not draft.samples:
        return None
    expected = learned_mass(session, item.id) or _as_learned(item)
    if expected is None:
        return None
    step_g = to_grams(draft.step_ug)
    weighed = Sample(sum(one.rings for one in draft.samples), to_grams(sum(one.mass_ug for one in draft.samples)))
    if seems_other(weighed, expected, step_g=step_g) is None:
        return None
    items = {str(each.id): each for each in load_materials(session).values() if _like(each, item)}
    others = {key: ring for key, each in items.items() if (ring := _expected(each)) is not None}
    odd = seems_other(weighed, expected, step_g=step_g, others=others)
    if odd is None:
        return None
    likely = items[odd.likely] if odd.likely is not None else None
    return OddRings(
        seen_g=odd.seen_g,
        expected_g=odd.expected_g,
        chance=odd.chance,
        likely_id=likely.id if likely else None,
        likely=likely.name if likely else "",
    )


def _like(other: Material, item: Material) -> bool:
    return other.id != item.id and other.kind == item.kind and not other.retired


def _expected(item: Material) -> RingMass | None:
    known = _as_learned(item)
    return known.ring_mass() if known else None


def _as_learned(item: Material) -> LearnedMass | None:
    """What to expect of an item's rings before any were weighed: their measured mass, else the computed one."""
    if item.measured_mass_ug:
        mass = float(to_grams(item.measured_mass_ug))
        return LearnedMass(mass, DEFAULT_BETWEEN * mass, DEFAULT_BETWEEN * mass, float("inf"), 0)
    computed = _computed(item)
    if computed is None:
        return None
    return LearnedMass(computed.mass_g, computed.u_g, DEFAULT_BETWEEN * computed.mass_g, float("inf"), 0)


def _computed(item: Material) -> RingMass | None:
    metal, size = item.body.metal, item.size
    if size is None or metal is None or metal.weigh_first:
        return None
    return mass_from_size(size, metal.density)


def _rows(session: Session, item_id: int) -> list[WeighingRow]:
    """An item's counted samples, newest first, not yet held against each other."""
    found = session.execute(
        select(
            col(Weighing.id),
            col(Weighing.lot_id),
            col(Weighing.place),
            col(Weighing.rings),
            col(Weighing.gross_ug),
            col(Weighing.tare_ug),
            col(Weighing.step_ug),
            col(Weighing.weighed_at),
        )
        .where(col(Weighing.item_id) == item_id, col(Weighing.rings).is_not(None))
        .order_by(col(Weighing.id).desc())
        .limit(MOST_LEARNED)
    )
    return [
        WeighingRow(
            id=row.id,
            lot_id=row.lot_id,
            place=row.place,
            rings=row.rings,
            net_ug=row.gross_ug - row.tare_ug,
            step_ug=row.step_ug,
            weighed_at=row.weighed_at,
            odd=False,
        )
        for row in found
        if row.gross_ug > row.tare_ug
    ]


def _learned(rows: Sequence[WeighingRow]) -> LearnedMass | None:
    if not rows:
        return None
    samples = [Sample(row.rings, to_grams(row.net_ug)) for row in rows]
    return learn_mass(samples, step_g=[to_grams(row.step_ug) for row in rows])


def _of_one_lot(rows: Sequence[WeighingRow]) -> RingMass:
    """The mass of a lot's rings by its own samples, those from the finest scale. Raises: Unweighable."""
    finest = min(row.step_ug for row in rows)
    samples = [Sample(row.rings, to_grams(row.net_ug)) for row in rows if row.step_ug == finest]
    return mass_from_samples(samples, step_g=to_grams(finest))


def _shown(row: WeighingRow, others: Sequence[WeighingRow]) -> WeighingRow:
    learned = _learned(others)
    if learned is None:
        return row
    sample = Sample(row.rings, to_grams(row.net_ug))
    return replace(row, odd=seems_other(sample, learned, step_g=to_grams(row.step_ug)) is not None)


def _grams(mass_g: float) -> Decimal:
    return Decimal(repr(round(mass_g, 6)))


def _times(weighings: int) -> str:
    return "1 weighing" if weighings == 1 else f"{weighings} weighings"
