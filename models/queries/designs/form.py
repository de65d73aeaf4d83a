"""What the editor of a design has to know of the shop: its metals, its stock to pick from, its rates and allowance."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import select as columns
from sqlmodel import Session, col

from models.intake.stock.item import short_metal
from models.queries.designs.design import DesignView, design_view, pieces_in_use
from models.queries.shop.shop import shop_rates, shop_settings
from models.queries.stock.metal import all_metals
from models.tables import Item
from models.trade.vocabulary.things import PART_KINDS

USUAL_PIECES = (
    "anklet", "bracelet", "brooch", "charm", "choker", "earrings", "finger ring", "hair piece", "key fob", "necklace",
    "pendant",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class DesignForm:
    """The editor's surroundings; `design` is None for a new one.

    `metals` are (code, words), `stock` is by kind: (id, name) each. `rate_minutes` is what the shop's rate of a kind of
    work comes to for one, `allowance_percent` what is spoiled or dropped where the design does not say.
    """

    design: DesignView | None
    metals: tuple[tuple[str, str], ...]
    stock: tuple[tuple[str, tuple[tuple[int, str], ...]], ...]
    pieces: tuple[str, ...]
    rate_minutes: Mapping[str, Decimal]
    allowance_percent: Decimal
    once_pieces: int


def design_form(session: Session, design_id: int | None) -> DesignForm:
    """What the editor shows around a design, or around a new one. Raises: Missing."""
    settings = shop_settings(session)
    rates = shop_rates(session)
    rows = session.execute(
        columns(col(Item.id), col(Item.kind), col(Item.name)).where(col(Item.retired).is_(False))
    ).all()
    by_kind = {
        kind: tuple(sorted(((row.id, row.name) for row in rows if row.kind == kind), key=lambda one: one[1].casefold()))
        for kind in PART_KINDS
    }
    return DesignForm(
        design=None if design_id is None else design_view(session, design_id),
        metals=tuple((code, short_metal(metal)) for code, metal in all_metals(session).items()),
        stock=tuple((kind, items) for kind, items in by_kind.items() if items),
        pieces=tuple(sorted({*USUAL_PIECES, *pieces_in_use(session)}, key=str.casefold)),
        rate_minutes={kind: rate.seconds / 60 for kind, rate in rates.rates.items()},
        allowance_percent=rates.allowance * 100,
        once_pieces=settings.once_pieces,
    )
