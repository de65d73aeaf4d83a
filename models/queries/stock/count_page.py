"""The page that counts one bag: what is known of it, and what a count by hand or on the scale would change."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from models.errors import Missing
from models.intake.stock.count import CountDraft
from models.intake.stock.place import place_word
from models.intake.stock.weigh import WeighDraft
from models.queries.stock.bag_choice import bags_meant
from models.queries.stock.count import CountDifference, count_difference
from models.queries.stock.item import item_view
from models.queries.stock.last_count import LastCount, last_counts
from models.queries.stock.lot import Bag, LotView, lot_view
from models.queries.stock.material import Material
from models.queries.stock.weighing import KnownMass, WeighedBag, count_by_weight, known_masses, scale_step_ug


@dataclass(frozen=True, slots=True)
class CountPage:
    """One bag that is counted. `ways` are how its rings' mass is known already, `step_ug` is the shop's scale."""

    item: Material
    lot: LotView
    bag: Bag
    ways: tuple[KnownMass, ...]
    step_ug: int
    last: LastCount | None

    @property
    def elsewhere(self) -> tuple[Bag, ...]:
        """Where the lot lies when nothing of it should be in this bag: rings that moved are not found anew here."""
        return () if self.bag.quantity_milli else bags_meant(self.lot, None)


@dataclass(frozen=True, slots=True)
class CountLook:
    """What a count comes to: the difference that would be booked, and what the scale says where one was used."""

    difference: CountDifference
    weighed: WeighedBag | None


def count_page(session: Session, lot_id: int, place: str) -> CountPage:
    """One bag of a lot, also one that was emptied. Raises: Missing where none of the lot ever lay."""
    lot = lot_view(session, lot_id)
    bag = next((bag for bag in lot.bags if bag.place == place), None)
    if bag is None:
        raise Missing("bag", f"of lot {lot_id} in {place_word(place)}")
    item = item_view(session, lot.item_id)
    return CountPage(
        item=item,
        lot=lot,
        bag=bag,
        ways=known_masses(session, item, lot_id=lot_id) if item.unit == "piece" else (),
        step_ug=scale_step_ug(session),
        last=last_counts(session, (lot_id,), place).get(lot_id),
    )


def look_at_count(session: Session, count: CountDraft, weighing: WeighDraft | None) -> CountLook:
    """What booking a count would change; nothing is written. Raises: as `count_difference` and `count_by_weight`."""
    bag = None
    if weighing is not None:
        count, bag = count_by_weight(session, weighing, count)
    return CountLook(count_difference(session, count), bag)
