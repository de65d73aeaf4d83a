"""What the invented studio buys: other sellers' offers, prices that moved, a list, and a purchase half received.

Every name and figure is invented. Items are named by the keys of `stock_key`, or by their names.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, timedelta
from typing import NamedTuple

from sqlmodel import Session

from models.intake.buying.purchase import read_came, read_purchase
from models.intake.faults import Faults
from models.intake.stock.offer import read_offer
from models.operations.buying.need import add_needs
from models.operations.buying.purchase import draft_purchase, send_purchase
from models.operations.buying.receipt import receive_purchase
from models.operations.demo.stock import BARN, RINGS
from models.operations.stock.offer import add_offer
from models.queries.buying.purchase import lines_of
from models.tables import Shop


class Asked(NamedTuple):
    """What a seller asks for a pack of an item, beside what costs follow or in its place; `breaks` as typed."""

    item: str
    supplier: str
    pack: str
    price: str
    breaks: str = ""
    current: bool = False


OFFERS: tuple[Asked, ...] = (
    Asked("bronze-c226 1.0 3.6", BARN, "500", "14.50"),
    Asked("bronze-c226 1.0 3.6", RINGS, "100", "3.55", "5 at 3.20; 10 at 2.95", current=True),
    Asked("aluminium-5356 1.0 3.6 leaf green", BARN, "250", "4.90"),
    Asked("titanium 0.8 2.8", BARN, "250", "16.00", "2 at 15.00"),
    Asked("titanium 0.8 2.8", RINGS, "100", "7.90", "3 at 7.10", current=True),
    Asked("niobium 0.8 2.8 plum", BARN, "100", "12.90"),
)
ORDERED: tuple[tuple[str, int], ...] = (("titanium 0.8 2.8", 4), ("niobium 0.8 2.8 plum", 4))
"""What is on order at the ring seller, in packs; half of the first line is here."""
NEEDED: tuple[tuple[str, int, str], ...] = (
    ("brass-c260 1.2 5.0", 400, "the spring market"),
    ("copper 1.2 4.0", 500, "the Thursday class"),
)
SENT_DAYS, CAME_DAYS = 9, 2


def buy(session: Session, items: Mapping[str, int], now: date, date_back: Callable[[int, date], None]) -> None:
    """Note the offers, keep the list, send a purchase and receive half of it; `date_back` moves an act to its day."""
    currency = session.get_one(Shop, 1).currency
    for asked in OFFERS:
        raw = {"supplier": asked.supplier, "pack": asked.pack, "price": asked.price, "breaks": asked.breaks}
        offer = read_offer({**raw, "current": asked.current}, currency=currency)
        if isinstance(offer, Faults):
            raise ValueError(f"{raw}: {offer.by_field()}")
        add_offer(session, items[asked.item], offer)
    add_needs(session, [(items[key], many * 1000, purpose) for key, many, purpose in NEEDED])
    drafted = read_purchase(
        {"supplier": RINGS, "lines": [{"item_id": items[key], "packs": packs} for key, packs in ORDERED]}
    )
    if isinstance(drafted, Faults):
        raise ValueError(drafted.by_field())
    number = draft_purchase(session, drafted)
    send_purchase(session, number, sent_on=now - timedelta(days=SENT_DAYS), due_on=now + timedelta(days=1))
    first = lines_of(session, number)[0]
    day = now - timedelta(days=CAME_DAYS)
    raw_came = {
        "received_on": day.isoformat(),
        "lines": [{"line_id": first.id, "packs": first.packs // 2, "place": "drawer C2", "batch": "K 152"}],
    }
    came = read_came(raw_came)
    if isinstance(came, Faults):
        raise ValueError(came.by_field())
    date_back(receive_purchase(session, number, came).act_id, day)
