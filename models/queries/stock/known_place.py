"""Places as the shop knows them: what is typed in another case or spacing is the place that is there already."""

from __future__ import annotations

from sqlalchemy import func, select
from sqlmodel import Session, col

from models.intake.stock.place import known_as
from models.queries.shop.gathering import gathering_in
from models.tables import LotPlace


def known_place(session: Session, place: str) -> str:
    """A place in the spelling that the shop knows, the oldest where there are several; as it is where it is new."""
    if not place:
        return place
    if (gathering := gathering_in(session)) is None:
        return known_as(place, spellings(session))
    names = gathering.once("places", lambda: list(spellings(session)))
    found = known_as(place, names)
    if found not in names:
        # A later row of the same file may name it in another case.
        names.append(found)
    return found


def spellings(session: Session) -> tuple[str, ...]:
    """Every place that was ever named, the oldest first."""
    return tuple(
        session.scalars(select(col(LotPlace.place)).group_by(col(LotPlace.place)).order_by(func.min(LotPlace.id)))
    )
