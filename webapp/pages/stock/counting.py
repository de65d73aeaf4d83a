"""Counting: one bag by hand or on the scale, and a whole drawer line by line.

What a count would change is shown before it is booked. How a bag is counted by weight stands in `models/trade`.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import RedirectResponse, Response

from models.errors import Unfit, fit
from models.intake.faults import Faults
from models.intake.stock.count import CountDraft, read_count
from models.intake.stock.offer import from_milli
from models.intake.stock.weigh import WeighDraft, read_weigh
from models.operations.shop.clock import today
from models.operations.stock.count import count_bag
from models.operations.stock.weigh import count_weighed_bag
from models.queries.stock.count_page import CountLook, CountPage, count_page, look_at_count
from models.queries.stock.known_place import known_place
from models.queries.stock.last_count import DrawerPage, drawer_page
from models.queries.stock.lot import places
from models.queries.stock.weighing import scale_step_ug
from models.trade.measures import exact_mass_text
from webapp.pages.stock.bags import choose_bag, place_named
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.numbers import Whole
from webapp.web.prefs import prefs_of
from webapp.web.preview import (
    DO_FIELD,
    SEEN_FIELD,
    asked,
    changed_since_look,
    is_booking,
    mark_of,
    shown,
    status_of_look,
    then_or,
)
from webapp.web.reading import reading
from webapp.web.render import is_htmx, render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]
SAMPLE_ROWS = 3
INSTEAD = "instead"
"""What the button of another bag's count page asks for: this bag with what was typed there."""


@dataclass(frozen=True, slots=True)
class LineLook:
    """One line of a drawer that was typed: what was found, and what booking it would change or why it cannot be."""

    lot_id: int
    found: str
    look: CountLook | None
    trouble: str


@router.get("/stock/count")
def count_one(request: Request, lot: Whole, place: str | None = None, then: str = "") -> Response:
    """The page that counts one bag."""
    where = place_named(request, lot, place)
    return choose_bag(lot) if where is None else _count(request, lot, where, None, then=then)


@router.post("/stock/count")
def count_sent(request: Request, lot: Whole, raw: Sent, place: str | None = None) -> Response:
    """Look at a count, or book it as it was seen."""
    fields, where = raw.raw(), place_named(request, lot, place)
    if where is None:
        return choose_bag(lot)
    if raw.get(DO_FIELD) == INSTEAD:
        return _count_instead(request, lot, where, raw, fields)
    if not is_booking(raw, fields):
        return _count(request, lot, where, raw, fields=fields, changed=changed_since_look(raw, fields))

    def act(session: Session) -> Done:
        count, weighing = _drafts(session, lot, where, fields)
        counted = count_weighed_bag(session, weighing, count) if weighing else count_bag(session, count)
        return Done(then_or(raw, f"/stock/lots/{lot}"), counted.words, f"/stock/acts/{counted.act_id}/undo")

    return submit_once(request, raw, act, show_again=lambda form: _count(request, lot, where, raw, form=form))


@router.get("/stock/drawers")
def drawers_page(request: Request) -> Response:
    """The places with bags in them, and how well each is counted."""
    view = places(reading(request))
    return render(request, "stock/drawers.html", view)


@router.get("/stock/drawer")
def drawer(request: Request, place: str = "", next_lot: Whole | None = None) -> Response:
    """One drawer, one line per bag."""
    return _drawer(request, place, next_lot=next_lot)


@router.post("/stock/drawer")
def drawer_line(request: Request, raw: Sent, place: str = "") -> Response:
    """Save one line: a count as expected at once, a difference when it was seen."""
    fields = raw.raw()
    lot_id = raw.number_of("lot_id") or 0
    draft = read_count(fields)
    found = raw.get("found").strip()
    if isinstance(draft, Faults):
        trouble = " ".join(fault.message for fault in draft)
        return _drawer(request, place, looked=LineLook(lot_id, found, None, trouble))
    # The page names its place itself: the bag that has none is meant by it, not left to be found.
    session = reading(request)
    place = known_place(session, place)
    draft = replace(draft, place=place)
    look = asked(session, lambda session: look_at_count(session, draft, None))
    if isinstance(look, Faults):
        trouble = " ".join(fault.message for fault in look)
        return _drawer(request, place, looked=LineLook(lot_id, found, None, trouble))
    if look.difference.difference_milli and raw.get(SEEN_FIELD) != found:
        return _drawer(request, place, looked=LineLook(lot_id, found, look, ""))

    def act(session: Session) -> Done:
        counted = count_bag(session, draft)
        page = drawer_page(session, place, day=today(prefs_of(request).time_zone))
        following = page.next_after(lot_id)
        query = urlencode({"place": place, **({"next_lot": following} if following else {})})
        return Done(
            f"/stock/drawer?{query}", "" if is_htmx(request) else counted.words, f"/stock/acts/{counted.act_id}/undo"
        )

    return submit_once(
        request,
        raw,
        act,
        show_again=lambda form: _drawer(
            request, place, looked=LineLook(lot_id, found, None, " ".join(form.general)), status=form.status
        ),
    )


def _drafts(
    session: Session, lot_id: int, place: str, fields: Mapping[str, object]
) -> tuple[CountDraft, WeighDraft | None]:
    """The count as typed, and the weighing where the bag was put on a scale. Raises: Unfit."""
    by_hand, on_scale = _said(fields, "found"), _said(fields, "gross_g")
    if by_hand and on_scale:
        raise Unfit(Faults.of("found", "Give the count or the weight, not both."))
    if not by_hand and not on_scale:
        raise Unfit(Faults.of("found", "Count what is in the bag, or weigh it."))
    head = {name: fields.get(name, "") for name in ("expected", "counted_on", "note")}
    typed = {**head, "lot_id": lot_id, "found": fields.get("found", "") if by_hand else "0"}
    count = replace(fit(read_count(typed)), place=place)
    if by_hand:
        return count, None
    return count, fit(read_weigh({**fields, "lot_id": lot_id}, step_ug=scale_step_ug(session)))


def _said(fields: Mapping[str, object], name: str) -> bool:
    return bool(str(fields.get(name, "")).strip())


def _look(session: Session, lot_id: int, place: str, fields: Mapping[str, object]) -> CountLook:
    return look_at_count(session, *_drafts(session, lot_id, place, fields))


def _count_instead(request: Request, lot_id: int, place: str, raw: RawForm, fields: dict[str, object]) -> Response:
    """Look at what was typed on the page of an emptied bag as the count of this one; with nothing typed, its page."""
    if not (_said(fields, "found") or _said(fields, "gross_g")):
        query = {"lot": lot_id, "place": place, **({"then": raw.get("then")} if raw.get("then") else {})}
        return RedirectResponse(f"/stock/count?{urlencode(query)}", status_code=303)
    held = count_page(reading(request), lot_id, place).bag.quantity_milli
    # What that page expected was of the other bag.
    return _count(request, lot_id, place, raw, fields={**fields, "expected": _plain_units(held)})


def _count(
    request: Request,
    lot_id: int,
    place: str,
    raw: RawForm | None,
    *,
    fields: Mapping[str, object] | None = None,
    form: Form | None = None,
    changed: bool = False,
    then: str = "",
) -> Response:
    session = reading(request)
    view = count_page(session, lot_id, place)
    found: CountLook | Faults | None = None
    if fields is not None:
        found = asked(session, lambda session: _look(session, lot_id, view.bag.place, fields))
    empty = is_htmx(request) and fields is not None and not (_said(fields, "found") or _said(fields, "gross_g"))
    if raw is not None and form is None:
        form = Form.blank() if empty else shown(raw, found)
    return render(
        request,
        "stock/count.html",
        view,
        block="looked" if fields is not None else None,
        form=form or Form.blank(_usual(view)),
        status=status_of_look(request, found),
        looked=found if isinstance(found, CountLook) else None,
        seen=mark_of(fields) if fields is not None else "",
        changed=changed,
        sample_rows=SAMPLE_ROWS,
        then=then or (raw.get("then") if raw else ""),
        query=urlencode({"lot": lot_id, "place": view.bag.place}),
        expected=_plain_units(view.bag.quantity_milli),
    )


def _usual(view: CountPage) -> dict[str, object]:
    """What stands in the form at first: the remembered tare and scale, and the sample back in the bag."""
    return {
        "tare_g": _grams(view.bag.tare_ug) if view.bag.tare_ug else "",
        "scale_step_g": _grams(view.step_ug),
        "sample_in_bag": True,
    }


def _grams(mass_ug: int) -> str:
    return exact_mass_text(mass_ug).removesuffix(" g")


def _drawer(
    request: Request,
    place: str,
    *,
    looked: LineLook | None = None,
    next_lot: Whole | None = None,
    status: int | None = None,
) -> Response:
    day = today(prefs_of(request).time_zone)
    session = reading(request)
    view: DrawerPage = drawer_page(session, known_place(session, place), day=day)
    if status is None:
        status = 422 if looked and looked.trouble else 200
    return render(
        request,
        "stock/drawer.html",
        view,
        status=status,
        looked=looked,
        focus=looked.lot_id if looked else next_lot or view.next_after(0),
        query=urlencode({"place": view.place}),
        plain_units=_plain_units,
    )


def _plain_units(milli: int) -> str:
    """Thousandths as plain units, for a field that a program reads."""
    return format(from_milli(milli), "f")
