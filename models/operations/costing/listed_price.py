"""Listing a design at a price: what is asked at one outlet from now on. What it brings is shown by the queries."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from decimal import Decimal

from sqlmodel import Session, col, select

from models.errors import Conflict, Stale
from models.intake.costing.listed_price import ListedPriceDraft
from models.operations.figures import refresh_figures
from models.operations.shop.clock import now
from models.queries.fetch import fetch
from models.tables import Design, ListedPrice, Outlet
from models.trade.money import from_micros, to_micros

FIRST_VERSIONS = 2**30


@dataclass(frozen=True, slots=True)
class Relisted:
    """What changed at which outlet: the price before and after (None: not listed), and the version that stands now.

    The version is 0 where nothing is listed now.
    """

    outlet: str
    before: Decimal | None
    after: Decimal | None
    version: int


def list_price(session: Session, design_id: int, draft: ListedPriceDraft, version: int | None) -> Relisted:
    """Ask a price for a design at an outlet, or take it off there; the kept figures follow.

    `version` is that of the listed price that the person saw; None or 0 where they saw none. Raises: Missing, Conflict
    (a retired design or outlet), Stale (the price was changed since).
    """
    design = fetch(session, Design, design_id, "design")
    outlet = fetch(session, Outlet, draft.outlet_id, "outlet")
    found = select(ListedPrice).where(
        col(ListedPrice.design_id) == design_id, col(ListedPrice.outlet_id) == draft.outlet_id
    )
    row = session.exec(found).first()
    before = None if row is None else from_micros(row.price_micros)
    if (version or 0) != (row.version if row is not None else 0):
        raise Stale("listed price", ((f"Price at {outlet.name}", _words(before), _words(draft.price)),))
    if draft.price is None:
        return _take_off(session, design_id, outlet.name, row)
    if design.retired:
        raise Conflict("This design is retired. Bring it back before you list it.")
    if outlet.retired:
        raise Conflict(f"You no longer sell at {outlet.name}. Bring that outlet back before you list anything there.")
    if row is None:
        # Counting from one again would take a page from before it was last taken off for a fresh one.
        start = secrets.randbelow(FIRST_VERSIONS)
        row = ListedPrice(
            design_id=design_id, outlet_id=draft.outlet_id, price_micros=0, changed_at=now(), version=start
        )
        session.add(row)
    row.price_micros = to_micros(draft.price)
    row.changed_at = now()
    row.version += 1
    session.flush()
    refresh_figures(session, design_ids=[design_id])
    return Relisted(outlet.name, before, draft.price, row.version)


def _take_off(session: Session, design_id: int, outlet: str, row: ListedPrice | None) -> Relisted:
    if row is None:
        raise Conflict(f"It is not listed at {outlet}, so there is nothing to take off.")
    before = from_micros(row.price_micros)
    session.delete(row)
    session.flush()
    refresh_figures(session, design_ids=[design_id])
    return Relisted(outlet, before, None, 0)


def _words(price: Decimal | None) -> str:
    return "" if price is None else format(price, "f")
