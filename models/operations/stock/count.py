"""Counting a bag: the ledger is brought to what was found, and the count is remembered with how sure it is."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from models.errors import Conflict
from models.intake.stock.count import CountDraft
from models.intake.stock.offer import from_milli
from models.operations.shop.day import resolve_day
from models.operations.stock.bag import mark_bag, remember_tare
from models.operations.stock.ledger import Posting, TransactionHeader, post
from models.queries.stock.count import CountDifference, count_difference
from models.tables import BagCount
from models.trade.vocabulary.ledger import ROUGH


@dataclass(frozen=True, slots=True)
class Counted:
    """A count as it was booked; `difference_milli` is what was more than expected, `value_micros` what it is worth."""

    act_id: int
    lot_id: int
    place: str
    expected_milli: int
    found_milli: int
    difference_milli: int
    value_micros: int
    rough: str
    words: str


def count_bag(session: Session, draft: CountDraft) -> Counted:
    """Book what was found in a bag; a difference changes the lot by its share of the value.

    Raises: Missing; Stale when the bag changed since its page was opened; Unfit; Conflict when builds reserved more
    than was found.
    """
    found = count_difference(session, draft)
    if found.builds or found.found_milli < found.bag.reserved_milli:
        raise Conflict(_kept(found))
    day = resolve_day(session, draft.counted_on, "counted_on")
    lot_id, place, difference = found.lot.id, found.bag.place, found.difference_milli
    words = _words(found) + (f" {draft.note}" if draft.note else "")
    posting = Posting(lot_id, place, "count", difference, None if difference < 0 else found.value_micros)
    posted = post(session, TransactionHeader("count", day, words), [posting])
    session.add(
        BagCount(
            act_id=posted.act_id,
            lot_id=lot_id,
            place=place,
            expected_milli=found.expected_milli,
            found_milli=found.found_milli,
            rough=found.rough,
            rough_before=found.bag.rough,
            counted_before=found.bag.counted_on,
        )
    )
    mark_bag(session, lot_id, place, rough=found.rough, counted_on=day)
    if draft.tare_ug is not None:
        remember_tare(session, lot_id, place, draft.tare_ug)
    return Counted(
        act_id=posted.act_id,
        lot_id=lot_id,
        place=place,
        expected_milli=found.expected_milli,
        found_milli=found.found_milli,
        difference_milli=difference,
        value_micros=posted.value_micros,
        rough=found.rough,
        words=words,
    )


def _words(found: CountDifference) -> str:
    about = ROUGH.term(found.rough).counted if found.rough else ""
    where = f" in {found.bag.place}" if found.bag.place else ""
    said = f"Counted {about}{found.item.counted(found.found_milli)} of “{found.item.name}”{where}"
    difference = found.difference_milli
    if not difference:
        return f"{said}, as expected."
    return f"{said}, {from_milli(abs(difference))} {'more' if difference > 0 else 'less'} than expected."


def _kept(found: CountDifference) -> str:
    kept = found.item.counted(found.bag.reserved_milli)
    builds = " and ".join(f"build {number}" for number in found.builds) or "a build"
    return (
        f"{kept} of this bag are reserved for {builds}, and only {from_milli(found.found_milli)} were found. "
        "Count again, or let the build take from another lot first."
    )
