"""What was said of the bags of a build, worked out: weights become quantities, items become their bags.

Nothing is moved here; only tares are remembered, and that what was weighed is rough from now on.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from sqlalchemy import select
from sqlmodel import Session, col

from models.costing.lines import Impossible
from models.errors import Unfit
from models.intake.builds.build import LineDraft
from models.intake.faults import Fault, Faults
from models.intake.how_much import HowMuch
from models.intake.stock.place import known_as, place_word
from models.operations.stock.bag import bag_of, blur_bag, remember_tare
from models.queries.stock.bag_choice import Taking, one_bag, pick, take_from_lot
from models.queries.stock.item import item_view, load_materials
from models.queries.stock.known_place import spellings
from models.queries.stock.lot import BagKey, lot_view
from models.queries.stock.material import Material
from models.queries.stock.measured import Measured, measured
from models.tables import Lot, LotPlace


@dataclass(frozen=True, slots=True)
class Said:
    """What was said of one bag, with weights worked out; thousandths, None where nothing was said.

    `left_milli` is what the scale says left the bag. `row` is the row of the form, for faults that are found later.
    """

    bag: BagKey
    item: Material
    row: int
    used_milli: int | None
    spoiled_milli: int | None
    returned_milli: int | None
    left_milli: int | None
    tare_ug: int | None

    def fault(self, name: str, words: str) -> Unfit:
        """What is wrong with a field of its row."""
        return Unfit(Faults.of(_field(self.row, name), words))


def bags_said(
    session: Session,
    lines: Sequence[LineDraft],
    *,
    out: Mapping[BagKey, int] | None = None,
    among: Collection[BagKey] | None = None,
) -> list[Said]:
    """What was said of bags. `out` is what is out of each bag already, `among` are the bags of a build that has them.

    A line that names only its item takes the oldest lots, one that names only its lot the fullest bags of it, unless
    the build has its bags already. Raises: Unfit beside every line whose bag is unknown or could be several, whose
    weights cannot be counted, or that has a fraction of a ring; NotEnoughStock.
    """
    if any(line.place for line in lines):
        names = spellings(session)
        lines = [line if line.place is None else replace(line, place=known_as(line.place, names)) for line in lines]
    rows = (
        _in_bags(session, lines) if among is None else [(row, _of(among, row, line)) for row, line in enumerate(lines)]
    )
    bags = _bags(session, {line.lot_id for _, line in rows if line.lot_id is not None})
    items = load_materials(session, {known.item_id for known in bags.values()})
    faults: list[Fault] = []
    found: list[Said] = []
    for row, line in rows:
        bag = (line.lot_id or 0, line.place or "")
        known = bags.get(bag)
        if known is None:
            faults.append(Fault(_field(row, "bag"), "There is no such bag any more. Choose another one."))
            continue
        item = items[known.item_id]
        for name in ("used", "spoiled", "returned"):
            milli = getattr(line, f"{name}_milli")
            if milli is not None and item.unit == "piece" and milli % 1000:
                faults.append(Fault(_field(row, name), "These are counted one by one. Give a whole number."))
        full = known.quantity_milli + (out or {}).get(bag, 0)
        left = _left(item, line, full, known.tare_ug)
        if isinstance(left, Impossible):
            faults.append(Fault(_field(row, "after"), left.reason))
            continue
        found.append(Said(bag, item, row, line.used_milli, line.spoiled_milli, line.returned_milli, left, line.tare_ug))
    if faults:
        raise Unfit(Faults(tuple(faults)))
    return found


def note_bags(session: Session, said: Iterable[Said]) -> None:
    """Remember the tares that were given, and that a bag which was weighed instead of counted is rough from now on."""
    for one in said:
        if one.tare_ug is not None:
            remember_tare(session, *one.bag, one.tare_ug)
        # A bag that is empty now is known to be, however its rings were weighed.
        if one.left_milli is not None and one.item.unit == "piece" and bag_of(session, *one.bag).quantity_milli:
            blur_bag(session, *one.bag, "about")


@dataclass(frozen=True, slots=True)
class _Known:
    """A bag as it is: its item, what lies in it, and its remembered tare."""

    item_id: int
    quantity_milli: int
    tare_ug: int | None


def _bags(session: Session, lot_ids: set[int]) -> dict[BagKey, _Known]:
    rows = session.execute(
        select(
            col(LotPlace.lot_id), col(LotPlace.place), col(Lot.item_id), col(LotPlace.quantity_milli),
            col(LotPlace.tare_ug),
        )
        .join(Lot, col(Lot.id) == col(LotPlace.lot_id))
        .where(col(LotPlace.lot_id).in_(lot_ids))
    )  # fmt: skip
    return {(lot_id, place): _Known(item_id, milli, tare_ug) for lot_id, place, item_id, milli, tare_ug in rows}


def _of(among: Collection[BagKey], row: int, line: LineDraft) -> LineDraft:
    """A line of a build that names only its lot, with the bag that the build has of it. Raises: Unfit for several."""
    if line.lot_id is None or line.place is not None:
        return line
    places = [place for lot_id, place in among if lot_id == line.lot_id]
    if len(places) > 1:
        named = ", ".join(map(place_word, places))
        raise Unfit(Faults.of(_field(row, "bag"), f"The build has this lot from several places. Say which: {named}."))
    return replace(line, place=places[0] if places else "")


def _in_bags(session: Session, lines: Sequence[LineDraft]) -> list[tuple[int, LineDraft]]:
    """Lines with their rows; one that names only its item or lot as lines of the bags that it comes from.

    No two of them take the same rings. Raises: Unfit for what was weighed without its bag; NotEnoughStock, Missing.
    """
    spent: dict[BagKey, int] = {}
    for line in lines:
        if line.lot_id is not None and line.place is not None:
            bag = (line.lot_id, line.place)
            spent[bag] = spent.get(bag, 0) + (line.used_milli or 0) + (line.spoiled_milli or 0)
    found = []
    for row, line in enumerate(lines):
        parts = _parts(session, row, line, spent)
        found += [(row, part) for part in parts]
    return found


def _parts(session: Session, row: int, line: LineDraft, spent: dict[BagKey, int]) -> Sequence[LineDraft]:
    """One line as lines of bags; what it takes is counted in `spent`. Spoiled rings come last."""
    if line.place is not None or (line.lot_id is None and line.item_id is None):
        return (line,)
    used, spoiled = line.used_milli or 0, line.spoiled_milli or 0
    if line.lot_id is not None and (line.weighed or not used + spoiled):
        lot = lot_view(session, line.lot_id)
        bag = one_bag(session, lot, None, field=_field(row, "bag"), asked="Say which bag is meant")
        return (replace(line, place=bag.place),)
    if line.weighed:
        raise Unfit(Faults.of(_field(row, "bag"), "Say which bag was weighed."))
    if not used + spoiled:
        return ()
    found = []
    for taking in _takings(session, line, used + spoiled, spent):
        spent[taking.bag] = spent.get(taking.bag, 0) + taking.quantity_milli
        part = min(used, taking.quantity_milli)
        used -= part
        rest = taking.quantity_milli - part
        found.append(
            replace(line, lot_id=taking.lot_id, place=taking.place, used_milli=part, spoiled_milli=rest or None)
        )
    return found


def _takings(session: Session, line: LineDraft, milli: int, spent: Mapping[BagKey, int]) -> Sequence[Taking]:
    if line.lot_id is None:
        return pick(session, line.item_id or 0, milli, spent=spent).takings
    lot = lot_view(session, line.lot_id)
    return take_from_lot(lot, item_view(session, lot.item_id), milli, None, spent=spent)


def _left(item: Material, line: LineDraft, full_milli: int, known_tare_ug: int | None) -> int | Impossible | None:
    """What left a bag by its weights: the difference of two, or what was in it less what is in it now."""
    if line.after_ug is None:
        return None
    if line.before_ug is not None:
        found = measured(item, HowMuch(weight_ug=line.before_ug - line.after_ug))
        return found.milli if isinstance(found, Measured) else found
    tare_ug = line.tare_ug if line.tare_ug is not None else known_tare_ug
    if tare_ug is None:
        return Impossible(
            "What the empty bag weighs is not known. Give the weight before too, or what the empty bag weighs."
        )
    if tare_ug > line.after_ug:
        return Impossible("This is less than the empty bag weighs. Check both.")
    there = measured(item, HowMuch(weight_ug=line.after_ug - tare_ug))
    if isinstance(there, Impossible):
        return there
    if there.milli > full_milli:
        return Impossible("There seems to be more in this bag than was known. Count the bag first, then book this.")
    return full_milli - there.milli


def _field(row: int, name: str) -> str:
    return f"lines.{row}.{name}"
