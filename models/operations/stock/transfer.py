"""Moving a bag to another place, whole or in part; what is remembered of the bag goes along."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sqlmodel import Session

from models.costing.lines import Impossible
from models.errors import Conflict, Missing, Unfit
from models.intake.faults import Faults
from models.intake.stock.place import place_word
from models.intake.stock.transfer import LIES_THERE, TransferDraft
from models.operations.shop.day import resolve_day
from models.operations.stock.bag import blur_bag, carry_marks
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.queries.stock.bag_choice import bags_meant, one_bag
from models.queries.stock.count import reserving_builds
from models.queries.stock.item import item_view
from models.queries.stock.known_place import known_place
from models.queries.stock.lot import Bag, LotView, lot_view
from models.queries.stock.measured import Measured, measured


@dataclass(frozen=True, slots=True)
class Moved:
    """A bag that moved, whole or in part; thousandths."""

    act_id: int
    lot_id: int
    from_place: str
    to_place: str
    quantity_milli: int
    words: str


def move_bag(session: Session, draft: TransferDraft) -> Moved:
    """Move a bag, or part of it, to another place.

    What builds reserved of it stays where it is, so a whole bag that is partly reserved does not move.
    Raises: Missing, Unfit, Conflict, NotEnoughStock.
    """
    lot = lot_view(session, draft.lot_id)
    draft = replace(draft, to_place=known_place(session, draft.to_place))
    bag = _bag(session, lot, draft)
    item = item_view(session, lot.item_id)
    much = Measured(bag.quantity_milli) if draft.how is None else measured(item, draft.how)
    if isinstance(much, Impossible):
        raise Unfit(Faults.of("quantity", much.reason))
    if draft.how is None and bag.reserved_milli:
        raise Conflict(_kept(session, bag))
    day = resolve_day(session, draft.moved_on, "moved_on")
    about = "about " if much.rough else ""
    counted = item.counted(much.milli)
    words = f"Moved {about}{counted} of “{item.name}” from {place_word(bag.place)} to {place_word(draft.to_place)}."
    posted = post(
        session,
        TransactionHeader("move", day, words + (f" {draft.note}" if draft.note else "")),
        [
            Posting(lot.id, bag.place, "transfer", -much.milli),
            Posting(lot.id, draft.to_place, "transfer", much.milli),
        ],
    )
    carry_marks(session, lot.id, bag.place, draft.to_place, much.milli)
    if much.rough:
        blur_bag(session, lot.id, bag.place, much.rough)
        blur_bag(session, lot.id, draft.to_place, much.rough)
    return Moved(posted.act_id, lot.id, bag.place, draft.to_place, much.milli, words)


def _bag(session: Session, lot: LotView, draft: TransferDraft) -> Bag:
    """The bag that moves: the one that is named; else the one without a place, or the only one there is.

    Raises: Missing, Unfit.
    """
    place = draft.from_place
    if place is None and bags_meant(lot, "")[0].quantity_milli:
        place = ""
    bag = one_bag(session, lot, place, field="from_place", asked="Say which bag moves")
    if not bag.quantity_milli:
        raise Missing("bag", f"of lot {lot.id} in {place_word(bag.place)}")
    if bag.place == draft.to_place:
        raise Unfit(Faults.of("to_place", LIES_THERE))
    return bag


def _kept(session: Session, bag: Bag) -> str:
    builds = " and ".join(f"build {number}" for number in reserving_builds(session, bag.lot_id, bag.place))
    return f"Part of this bag is reserved for {builds or 'a build'}. Move only a part, or take out for the build first."
