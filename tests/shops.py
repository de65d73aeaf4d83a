"""Small shops for tests, written row by row: items with offers, designs with parts, outlets. No test lives here."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime
from decimal import Decimal

from sqlalchemy import event
from sqlmodel import Session

from models.tables import Design, Item, ListedPrice, Offer, Outlet, OutletFee, Part, Revision, Work

NOON = datetime(2026, 3, 2, 12, 0, tzinfo=UTC)
USUAL_WORK = ("setup", "pack", "photograph", "listing")


def a_ring(
    session: Session,
    *,
    name: str = "Bronze ring 1.0 × 3.6 mm",
    metal: str = "bronze-c220",
    wire_nm: int = 1_000_000,
    inner_nm: int = 3_600_000,
    price: str | None = "4.00",
    pack: int = 100,
    pack_unit: str = "piece",
    currency: str = "EUR",
    rate: str = "1",
    colour: str = "",
) -> int:
    """A ring in stock, with a current offer unless `price` is None."""
    item = Item(
        kind="ring", name=name, metal=metal, wire_nm=wire_nm, inner_nm=inner_nm, colour=colour, created_at=NOON
    )  # fmt: skip
    return _with_offer(session, item, price, pack=pack, pack_unit=pack_unit, currency=currency, rate=rate)


def a_finding(session: Session, *, name: str = "Ear wire", price: str | None = "12.00", pack: int = 50) -> int:
    """A finding in stock, bought by the piece."""
    item = Item(kind="finding", name=name, metal="sterling-925", mass_ug=250_000, created_at=NOON)
    return _with_offer(session, item, price, pack=pack)


def a_design(
    session: Session,
    parts: Sequence[Part],
    *,
    name: str = "Copper leaf pendant",
    weave: str | None = "byzantine",
    work: Sequence[str] = USUAL_WORK,
    once_pieces: int = 10,
) -> int:
    """A design with one revision; the parts are given without a revision and are numbered in their order."""
    design = Design(name=name, piece="pendant", created_at=NOON)
    session.add(design)
    session.flush()
    a_revision(session, design.id or 0, parts, weave=weave, work=work, once_pieces=once_pieces)
    return design.id or 0


def a_revision(
    session: Session,
    design_id: int,
    parts: Sequence[Part],
    *,
    number: int = 1,
    weave: str | None = "byzantine",
    work: Sequence[str] = USUAL_WORK,
    once_pieces: int = 10,
) -> int:
    """One more saved state of a design."""
    revision = Revision(design_id=design_id, number=number, weave=weave, once_pieces=once_pieces, made_at=NOON)
    session.add(revision)
    session.flush()
    for position, part in enumerate(parts):
        part.revision_id, part.position = revision.id or 0, position
        session.add(part)
    for kind in work:
        session.add(Work(revision_id=revision.id or 0, kind=kind))
    session.flush()
    return revision.id or 0


def a_part(item_id: int | None, quantity: int = 1, **more: object) -> Part:
    """A part without its place yet; `quantity` in whole units."""
    return Part(revision_id=0, position=0, item_id=item_id, quantity_milli=quantity * 1000, **more)


def an_outlet(
    session: Session,
    *,
    name: str = "Web shop",
    kind: str = "online",
    position: int = 0,
    fees: Sequence[tuple[str, str, str, str]] = (("Selling fee", "6.5", "price", "0.20"),),
    **more: object,
) -> int:
    """An outlet with fees given as (label, per cent, base, fixed sum)."""
    outlet = Outlet(name=name, kind=kind, position=position, created_at=NOON, **more)
    session.add(outlet)
    session.flush()
    for place, (label, percent, base, fixed) in enumerate(fees):
        session.add(
            OutletFee(
                outlet_id=outlet.id or 0,
                position=place,
                label=label,
                percent=Decimal(percent),
                base=base,
                fixed=Decimal(fixed),
            )
        )
    session.flush()
    return outlet.id or 0


def a_listed_price(session: Session, design_id: int, outlet_id: int, price: str) -> None:
    """What is asked for a design at an outlet."""
    session.add(
        ListedPrice(
            design_id=design_id, outlet_id=outlet_id, price_micros=int(Decimal(price) * 1_000_000), changed_at=NOON
        )
    )
    session.flush()


@contextmanager
def counted(session: Session) -> Iterator[list[str]]:
    """The statements that run inside."""
    seen: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_more: object) -> None:
        seen.append(statement)

    engine = session.get_bind()
    event.listen(engine, "before_cursor_execute", note)
    yield seen
    event.remove(engine, "before_cursor_execute", note)


def _with_offer(
    session: Session,
    item: Item,
    price: str | None,
    *,
    pack: int,
    pack_unit: str = "piece",
    currency: str = "EUR",
    rate: str = "1",
) -> int:
    session.add(item)
    session.flush()
    if price is not None:
        session.add(
            Offer(
                item_id=item.id or 0,
                pack_milli=pack * 1000,
                pack_unit=pack_unit,
                price_micros=int(Decimal(price) * 1_000_000),
                currency=currency,
                exchange_rate=Decimal(rate),
                created_at=NOON,
            )
        )
        session.flush()
    return item.id or 0
