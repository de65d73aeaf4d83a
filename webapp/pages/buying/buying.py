"""What must be bought: the list of needs, the cheapest packs for them, and drafting those in one touch."""

from __future__ import annotations

import re
from typing import Annotated, Final

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Missing
from models.intake.buying.need import read_buy_request, read_need, read_picks
from models.intake.faults import Faults
from models.operations.buying import need as operations
from models.operations.buying.draft import draft_packs, drop_drafts
from models.operations.shop.clock import today
from models.queries.buying.buy_plan import answer, ask_shop
from models.queries.buying.purchase import coming
from models.queries.stock.room import item_names
from webapp.web.forms import Form, RawForm, read_address, read_form
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]
_SEVERAL: Final = re.compile(r"[0-9]{1,9}\.[0-9]{1,15}(?:-[0-9]{1,9}\.[0-9]{1,15}){0,199}")


@router.get("/buying")
def buying_page(request: Request) -> Response:
    """What must be bought, and where it is cheapest."""
    return _buying(request, read_address(request), None)


@router.post("/buying/needs")
def add_need(request: Request, raw: Sent) -> Response:
    """Put something on the list."""

    def act(session: Session) -> Done | Faults:
        draft = read_need(raw.raw())
        if isinstance(draft, Faults):
            return draft
        (need_id,) = operations.add_needs(session, operations.need_items(session, (draft,)))
        return Done("/buying#list", "It is on the list.", f"/buying/needs/{need_id}/strike")

    return submit_once(request, raw, act, show_again=lambda form: _buying(request, RawForm(()), form))


@router.post("/buying/needs/several")
def add_needs(request: Request, raw: Sent) -> Response:
    """Put several things on the list that another page worked out: `needs` with item_id, quantity and purpose."""

    def act(session: Session) -> Done | Faults:
        asked = read_buy_request(raw.raw())
        if isinstance(asked, Faults):
            return asked
        made = operations.list_needs(session, operations.need_items(session, asked.needs or ()))
        many = "It is" if len(made) == 1 else f"{len(made)} things are"
        undo = "-".join(f"{need_id}.{before_milli}" for need_id, before_milli in made)
        return Done("/buying#list", f"{many} on the list.", f"/buying/needs/several/{undo}/undo" if made else "")

    return submit_once(request, raw, act, show_again=lambda form: _buying(request, RawForm(()), form))


@router.post("/buying/needs/several/{before}/undo")
def undo_needs(request: Request, before: str, raw: Sent) -> Response:
    """Let the list be as it was before several things came onto it: id and thousandths of each."""
    if not _SEVERAL.fullmatch(before):
        raise Missing("list", before)
    each = [tuple(int(number) for number in one.split(".")) for one in before.split("-")]

    def act(session: Session) -> Done:
        operations.put_needs_back(session, [(need_id, milli) for need_id, milli in each])
        return Done("/buying#list", "The list is as it was before.")

    return submit_once(request, raw, act, show_again=lambda form: _buying(request, RawForm(()), form))


@router.post("/buying/needs/{need_id}/strike")
def strike(request: Request, need_id: int, raw: Sent) -> Response:
    """Strike something off the list."""

    def act(session: Session) -> Done:
        operations.strike_need(session, need_id)
        return Done("/buying#list", "It is off the list.", f"/buying/needs/{need_id}/back")

    return submit_once(request, raw, act, show_again=lambda form: _buying(request, RawForm(()), form))


@router.post("/buying/needs/{need_id}/back")
def put_back(request: Request, need_id: int, raw: Sent) -> Response:
    """Put back what was struck off."""

    def act(session: Session) -> Done:
        operations.strike_need(session, need_id, struck=False)
        return Done("/buying#list", "It is on the list again.", f"/buying/needs/{need_id}/strike")

    return submit_once(request, raw, act, show_again=lambda form: _buying(request, RawForm(()), form))


@router.post("/buying/draft")
def draft(request: Request, raw: Sent) -> Response:
    """Draft the packs as they were shown, one purchase for each supplier."""

    def act(session: Session) -> Done | Faults:
        picks = read_picks(raw.raw())
        if isinstance(picks, Faults):
            return picks
        made = draft_packs(session, picks)
        only = f"/buying/purchases/{made[0]}"
        said = "A purchase is drafted." if len(made) == 1 else f"{len(made)} purchases are drafted."
        undo = f"/buying/drafts/{'-'.join(str(number) for number in made)}/undo"
        return Done(only if len(made) == 1 else "/buying/purchases", said, undo)

    return submit_once(request, raw, act, show_again=lambda form: _buying(request, RawForm(()), form))


@router.post("/buying/drafts/{numbers}/undo")
def undo_drafts(request: Request, numbers: str, raw: Sent) -> Response:
    """Take drafting back."""
    parts = numbers.split("-")
    if not all(part.isascii() and part.isdigit() and len(part) < 10 for part in parts):
        raise Missing("draft", numbers)

    def act(session: Session) -> Done:
        drop_drafts(session, [int(part) for part in parts])
        return Done("/buying", "The drafts are cancelled.")

    return submit_once(request, raw, act, show_again=lambda form: _buying(request, RawForm(()), form))


def _buying(request: Request, asked: RawForm, form: Form | None) -> Response:
    wanted = read_buy_request(asked.raw())
    faults = wanted if isinstance(wanted, Faults) else None
    session = reading(request)
    shop = ask_shop(session, lead_days=None if isinstance(wanted, Faults) else wanted.lead_days)
    on_the_way = coming(session)
    names = item_names(session)
    # The search runs when nothing of the shop is held open any more.
    return render(
        request,
        "buying/buying.html",
        answer(shop),
        form=form or Form.blank(),
        status=422 if faults else None,
        asked=Form.sent(asked, faults),
        shop=shop,
        coming=on_the_way,
        names=names,
        today=today(prefs_of(request).time_zone),
    )
