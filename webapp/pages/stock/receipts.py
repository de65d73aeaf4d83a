"""Taking stock in: one page for one or many lines, and one for what lies in the bags already.

Both show what everything comes to before it is booked. What a receipt means is read in
`models/intake/stock/receipt.py`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit, fit_or
from models.intake.faults import Fault, Faults
from models.intake.stock.item_find import ItemFilter, read_item_filter
from models.intake.stock.offer import from_milli
from models.intake.stock.receipt import read_receipt
from models.operations.shop.clock import today
from models.operations.stock.receipt import Received, ReceivedLot, receive_lots
from models.queries.stock.item import item_view, load_materials
from models.queries.stock.item_find import ItemList
from models.queries.stock.item_words import item_words
from models.queries.stock.material import ItemWords, Material
from models.queries.stock.room import item_names, never_stocked, place_names
from models.queries.stock.supplier import supplier_names
from models.trade.money import from_micros
from models.trade.vocabulary.ledger import COSTS
from webapp.pages.stock.words import cost_field
from webapp.web.acting import renamed
from webapp.web.forms import Form, RawForm, read_address, read_form
from webapp.web.numbers import Whole
from webapp.web.prefs import prefs_of
from webapp.web.preview import changed_since_look, is_booking, mark_of, shown, status_of_look, tried
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]

LINE_FIELDS = ("item", "item_id", "quantity", "packs", "pack", "cost", "batch", "place", "tare", "line_note")
MOST_LINES = 60


@dataclass(frozen=True, slots=True)
class LookedLine:
    """What one line of a receipt comes to: its quantity in words, and its cost with its share of the freight."""

    name: str
    lot: ReceivedLot
    words: ItemWords

    @property
    def each(self) -> Decimal | None:
        """What one unit then costs, unrounded; None where there is none."""
        if not self.lot.quantity_milli:
            return None
        return from_micros(self.lot.value_micros) / from_milli(self.lot.quantity_milli)


@dataclass(frozen=True, slots=True)
class ReceiptLook:
    """What a receipt comes to, line by line; nothing of it is kept."""

    lines: tuple[LookedLine, ...]

    @property
    def any_there(self) -> bool:
        """Whether there is any of anything."""
        return any(line.lot.quantity_milli for line in self.lines)

    @property
    def total_micros(self) -> int:
        """What all of it is worth, freight included."""
        return sum(line.lot.value_micros for line in self.lines)


@router.get("/stock/receive")
def receive_page(request: Request, item: Whole | None = None) -> Response:
    """The form of a receipt; the address may name the first item."""
    first: dict[str, object] = {"cost_of": "total"}
    if item is not None:
        first |= {"item_id": item, "item": item_view(reading(request), item).name}
    values = {"received_on": today(prefs_of(request).time_zone).isoformat(), "lines": [first]}
    return _receive(request, Form.blank(values))


@router.post("/stock/receive")
def receive(request: Request, raw: Sent) -> Response:
    """Look at a receipt, or book it as it was seen."""
    fields, places = _typed(raw)
    if "more" in raw:
        return _receive(request, shown(raw, None), more=True)
    if is_booking(raw, fields):
        return submit_once(
            request,
            raw,
            _booking(fields, places),
            show_again=lambda form: _receive(request, form),
        )
    found = tried(request, lambda session: _looked(session, fields, places))
    changed = changed_since_look(raw, fields)
    return _receive(request, shown(raw, found), looked=found, fields=fields, changed=changed)


@router.get("/stock/opening")
def opening_page(request: Request) -> Response:
    """The form of what lies in the bags already: every item that was never booked, one line each."""
    asked = read_address(request)
    return _opening(request, asked, Form.blank())


@router.post("/stock/opening")
def opening(request: Request, raw: Sent) -> Response:
    """Look at opening stock, or book it as it was seen."""
    fields, places = _typed(raw)
    fields["opening"] = True
    if is_booking(raw, fields):
        return submit_once(
            request, raw, _booking(fields, places, opening=True), show_again=lambda form: _opening(request, raw, form)
        )
    found = tried(request, lambda session: _looked(session, fields, places))
    changed = changed_since_look(raw, fields)
    return _opening(request, raw, shown(raw, found), looked=found, fields=fields, changed=changed)


def _typed(raw: RawForm) -> tuple[dict[str, object], tuple[int, ...]]:
    """What was typed as `read_receipt` takes it, without empty lines, and the place on the page of each line.

    The page has one field for the cost and a choice of what it is for. A line that only has the number of its item is
    empty: on the page of opening stock every line has that.
    """
    fields = raw.raw()
    rows = fields.get("lines", [])
    kept: list[dict[str, object]] = []
    places: list[int] = []
    for place, row in enumerate(rows if isinstance(rows, list) else []):
        said = {name: value for name, value in row.items() if name in LINE_FIELDS and str(value).strip()}
        if "item" in row and said.get("item", "") != row.get("named", ""):
            # Another name was typed over the one that came with the page, or it was taken out.
            said.pop("item_id", None)
        if not said.keys() - {"item_id"}:
            continue
        cost = said.pop("cost", "")
        if cost:
            said[cost_field(row.get("cost_of"))] = cost
        kept.append(said)
        places.append(place)
    return {**{name: value for name, value in fields.items() if name != "lines"}, "lines": kept}, tuple(places)


def _on_page(faults: Faults, places: Sequence[int]) -> Faults:
    """The same faults beside the fields as the page has them."""
    costs = {cost.field for cost in COSTS.terms.values()}
    found = []
    for fault in faults:
        group, _, rest = fault.field.partition(".")
        number, _, name = rest.partition(".")
        if group == "lines" and number.isdigit():
            place = places[int(number)] if int(number) < len(places) else 0
            name = "cost" if name in costs else "item" if name == "item_id" else name
            found.append(Fault(f"lines.{place}.{name}", fault.message))
        else:
            found.append(fault)
    return Faults(tuple(found))


def _received(session: Session, fields: Mapping[str, object], places: Sequence[int]) -> Received:
    """Book what was typed. Raises: Unfit beside the fields as the page names them."""
    with renamed(lambda faults: _on_page(faults, places)):
        return receive_lots(session, fit(read_receipt(fields)))


def _booking(
    fields: Mapping[str, object], places: Sequence[int], *, opening: bool = False
) -> Callable[[Session], Done]:
    def act(session: Session) -> Done:
        received = _received(session, fields, places)
        items = {lot.item_id for lot in received.lots}
        where = f"/stock/items/{received.lots[0].item_id}" if len(items) == 1 else f"/stock/acts/{received.act_id}"
        return Done("/stock/opening" if opening else where, received.words, f"/stock/acts/{received.act_id}/undo")

    return act


def _looked(session: Session, fields: Mapping[str, object], places: Sequence[int]) -> ReceiptLook:
    received = _received(session, fields, places)
    words = item_words(session, {lot.item_id for lot in received.lots})
    return ReceiptLook(tuple(LookedLine(words[lot.item_id].name, lot, words[lot.item_id]) for lot in received.lots))


def _receive(
    request: Request,
    form: Form,
    *,
    looked: ReceiptLook | Faults | None = None,
    fields: Mapping[str, object] | None = None,
    changed: bool = False,
    more: bool = False,
) -> Response:
    session = reading(request)
    names = item_names(session)
    suppliers, places = supplier_names(session), place_names(session)
    rows = len(form.rows("lines"))
    return render(
        request,
        "stock/receive.html",
        looked if isinstance(looked, ReceiptLook) else None,
        block="looked" if fields is not None else None,
        form=form,
        status=status_of_look(request, looked) or form.status,
        rows=min(max(rows + 3 if more else rows, 1), MOST_LINES),
        most_lines=MOST_LINES,
        cost_words=tuple(COSTS.items()),
        names=names,
        suppliers=suppliers,
        places=places,
        seen=mark_of(fields) if fields is not None else "",
        changed=changed,
    )


def _opening(
    request: Request,
    asked: RawForm,
    form: Form,
    *,
    looked: ReceiptLook | Faults | None = None,
    fields: Mapping[str, object] | None = None,
    changed: bool = False,
) -> Response:
    session = reading(request)
    listed: tuple[Material, ...]
    listed, found = _listed(session, form), _page(session, asked, prefs_of(request).length_unit)
    places = place_names(session)
    return render(
        request,
        "stock/opening.html",
        looked if isinstance(looked, ReceiptLook) else None,
        block="looked" if fields is not None else None,
        form=form,
        status=status_of_look(request, looked) or form.status,
        found=found,
        items=listed or found.items,
        asked=Form.sent(RawForm(tuple(item for item in asked.items if item[0] in {"find", "kind", "page"}))),
        places=places,
        seen=mark_of(fields) if fields is not None else "",
        changed=changed,
    )


def _listed(session: Session, form: Form) -> tuple[Material, ...]:
    """The items of a form that is shown again, in its own order, so that every line stays where it was typed."""
    numbers = [form.value(f"lines.{place}.item_id") for place in form.rows("lines")]
    ids = [int(number) for number in numbers if number.isascii() and number.isdigit() and len(number) < 10]
    items = load_materials(session, ids)
    return tuple(items[item_id] for item_id in ids if item_id in items)


def _page(session: Session, asked: RawForm, length_unit: str) -> ItemList:
    typed = {name: asked.get(name) for name in ("find", "kind", "page")}
    wanted, _ = fit_or(read_item_filter(typed, length_unit=length_unit), ItemFilter())
    return never_stocked(session, wanted)
