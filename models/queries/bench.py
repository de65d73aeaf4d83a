"""The Bench page: what was worked on last and what it earns, which costs are not sure yet, which prices no longer pay.

Everything is read from the kept figures, in a constant number of queries.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Literal

from sqlalchemy import func, select
from sqlmodel import Session, col

from models.queries.costing.inputs import latest_revisions, load_cost_inputs
from models.queries.costing.part_facts import one_piece
from models.queries.costing.price_view import reaches
from models.queries.shop.shop import currency_of
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.tables import Design, DesignFigure, Item, ListedPrice, Outlet, PriceFigure, Revision
from models.trade.money import from_micros

LATEST = 6
MOST_NAMED = 12
RINGS_DRAWN = 3


@dataclass(frozen=True, slots=True)
class DesignAnswer:
    """A design with its answer; money in millionths. `outlet` is the first one with a listed price, else the first.

    `price_micros` is the listed price there, else the suggested one; None where no price can pay or there is no outlet.
    `rings` are its most used rings, for the drawing.
    """

    id: int
    name: str
    piece: str
    total_micros: int
    minutes_milli: int
    provisional: bool
    parts: int
    outlet: str
    price_micros: int | None
    hourly_micros: int | None
    listed: bool
    rings: tuple[Material, ...]

    @property
    def largest_nm(self) -> int:
        """The outer diameter of the largest of its rings, so that they can be drawn to one scale."""
        return max((thing.size.outer_nm for thing in self.rings if thing.size), default=1)


@dataclass(frozen=True, slots=True)
class NotSure:
    """A design whose cost is provisional, and the parts that have no price (none: a guess or an old price)."""

    id: int
    name: str
    unpriced: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class DoesNotPay:
    """A listed price under its break-even or its target; money in millionths."""

    design_id: int
    design: str
    outlet_id: int
    outlet: str
    price_micros: int
    floor_micros: int
    short_of: Literal["break-even", "target"]


@dataclass(frozen=True, slots=True)
class BenchPage:
    """The Bench page. `designs` and `outlets` count what is in use; the lists hold the first few, the counts all."""

    designs: int
    outlets: int
    items: int
    latest: tuple[DesignAnswer, ...]
    not_sure: tuple[NotSure, ...]
    not_sure_count: int
    short: tuple[DoesNotPay, ...]
    short_count: int


def bench_page(session: Session) -> BenchPage:
    """What stands on the bench today."""
    not_sure = _not_sure(session)
    short = _short(session)
    return BenchPage(
        designs=_count(session, Design),
        outlets=_count(session, Outlet),
        items=_count(session, Item),
        latest=_latest(session),
        not_sure=not_sure[:MOST_NAMED],
        not_sure_count=len(not_sure),
        short=short[:MOST_NAMED],
        short_count=len(short),
    )


def _count(session: Session, table: type[Design] | type[Outlet] | type[Item]) -> int:
    counted = session.execute(select(func.count()).select_from(table).where(~col(table.retired)))
    return int(counted.scalar_one())


def _latest(session: Session) -> tuple[DesignAnswer, ...]:
    newest = func.max(col(Revision.id))
    rows = session.execute(
        select(
            col(Design.id),
            col(Design.name),
            col(Design.piece),
            col(DesignFigure.total_micros),
            col(DesignFigure.minutes_milli),
            col(DesignFigure.provisional),
        )
        .join(Revision, col(Revision.design_id) == col(Design.id))
        .join(DesignFigure, col(DesignFigure.design_id) == col(Design.id))
        .where(~col(Design.retired))
        .group_by(
            col(Design.id),
            col(Design.name),
            col(Design.piece),
            col(DesignFigure.total_micros),
            col(DesignFigure.minutes_milli),
            col(DesignFigure.provisional),
        )
        .order_by(newest.desc())
        .limit(LATEST)
    ).all()
    ids = [row.id for row in rows]
    answers = _answers(session, ids)
    revisions = latest_revisions(session, ids)
    inputs = load_cost_inputs(session, tuple(revisions.values()), all_metals(session))
    found = []
    for row in rows:
        outlet, price, hourly, listed = answers.get(row.id, ("", None, None, False))
        parts = one_piece(inputs[revisions[row.id]].parts)
        sized = sorted((part for part in parts if part.thing.size), key=lambda part: -part.quantity)
        things = dict.fromkeys(part.thing for part in sized)
        found.append(
            DesignAnswer(
                id=row.id,
                name=row.name,
                piece=row.piece,
                total_micros=row.total_micros,
                minutes_milli=row.minutes_milli,
                provisional=row.provisional,
                parts=len(parts),
                outlet=outlet,
                price_micros=price,
                hourly_micros=hourly,
                listed=listed,
                rings=tuple(things)[:RINGS_DRAWN],
            )
        )
    return tuple(found)


def _answers(session: Session, ids: Collection[int]) -> dict[int, tuple[str, int | None, int | None, bool]]:
    """Outlet, price, earned an hour, and whether it is listed: a design's first listed outlet, else its first."""
    rows = session.execute(
        select(
            col(PriceFigure.design_id),
            col(Outlet.name),
            col(PriceFigure.price_micros),
            col(PriceFigure.hourly_micros),
            col(ListedPrice.id).is_not(None).label("listed"),
        )
        .join(Outlet, col(Outlet.id) == col(PriceFigure.outlet_id))
        .join(
            ListedPrice,
            (col(ListedPrice.design_id) == col(PriceFigure.design_id))
            & (col(ListedPrice.outlet_id) == col(PriceFigure.outlet_id)),
            isouter=True,
        )
        .where(col(PriceFigure.design_id).in_(ids))
        .order_by(col(Outlet.position), col(Outlet.id))
    ).all()
    found: dict[int, tuple[str, int | None, int | None, bool]] = {}
    for design_id, outlet, price, hourly, listed in rows:
        known = found.get(design_id)
        better = known is None or (listed and not known[3]) or (known[1] is None and price is not None)
        if better and not (known is not None and known[3]):
            found[design_id] = (outlet, price, hourly, bool(listed))
    return found


def _not_sure(session: Session) -> tuple[NotSure, ...]:
    rows = session.execute(
        select(col(Design.id), col(Design.name), col(DesignFigure.unpriced))
        .join(DesignFigure, col(DesignFigure.design_id) == col(Design.id))
        .where(col(DesignFigure.provisional), ~col(Design.retired))
        .order_by(col(Design.id).desc())
    )
    return tuple(
        NotSure(design_id, name, tuple(dict.fromkeys(unpriced.split("\n"))) if unpriced else ())
        for design_id, name, unpriced in rows
    )


def _short(session: Session) -> tuple[DoesNotPay, ...]:
    """Listed prices that lose money, then those under their target."""
    rows = session.execute(
        select(
            col(Design.id), col(Design.name), col(Outlet.id), col(Outlet.name), col(ListedPrice.price_micros),
            col(PriceFigure.break_even_micros), col(PriceFigure.target_micros),
        )
        .join(Design, col(Design.id) == col(ListedPrice.design_id))
        .join(Outlet, col(Outlet.id) == col(ListedPrice.outlet_id))
        .join(
            PriceFigure,
            (col(PriceFigure.design_id) == col(ListedPrice.design_id))
            & (col(PriceFigure.outlet_id) == col(ListedPrice.outlet_id)),
        )
        .where(~col(Design.retired), ~col(Outlet.retired))
        .order_by(col(Design.name), col(Outlet.position))
    )  # fmt: skip
    currency = currency_of(session)
    losing: list[DoesNotPay] = []
    under: list[DoesNotPay] = []
    for design_id, design, outlet_id, outlet, price, break_even, target in rows:

        def short_of(floor_micros: int | None, price: int = price) -> bool:
            return floor_micros is not None and not reaches(from_micros(price), from_micros(floor_micros), currency)

        if short_of(break_even):
            losing.append(DoesNotPay(design_id, design, outlet_id, outlet, price, break_even, "break-even"))
        elif short_of(target):
            under.append(DoesNotPay(design_id, design, outlet_id, outlet, price, target, "target"))
    return (*losing, *under)
