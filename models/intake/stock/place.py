"""How places are handed in: where a bag lies, and where something goes. One word names the bag that has no place.

Which bag of a lot is meant by a place is decided in `models/queries/stock/bag_choice.py`.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

from models.intake.raw import Reader

MOST_PLACE: Final = 60
NO_PLACE: Final = "no place"
"""What pages and files call the bag without a place; an empty field does not name it, it says nothing."""


def read_place(reader: Reader, field: str) -> str | None:
    """Where a bag lies: None where nothing is said, '' for the bag that has no place."""
    said = reader.text(field, most=MOST_PLACE)
    return _plain(said) if said else None


def read_goal(reader: Reader, field: str, *, required: str = "") -> str:
    """Where something goes; '' without a place. `required` is the message when nothing is said."""
    return _plain(reader.text(field, required=required, most=MOST_PLACE))


def place_word(place: str) -> str:
    """A bag's place as `read_place` reads it again."""
    return place or NO_PLACE


def known_as(place: str, known: Iterable[str]) -> str:
    """The known place that is meant: the same spelling, else the first in another case or spacing, else itself."""
    names = tuple(known)
    if place in names:
        return place
    return next((name for name in names if _key(name) == _key(place)), place)


def _key(place: str) -> str:
    return " ".join(place.split()).casefold()


def _plain(said: str) -> str:
    return "" if _key(said) == NO_PLACE else said
