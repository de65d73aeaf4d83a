"""What must be bought: the list of needs, the cheapest packs for them, and drafting those in one touch."""

from __future__ import annotations

import re
from typing import Final

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Missing, fit, fit_or
from models.intake.buying.need import read_buy_request, read_need, read_picks
from models.operations.buying import need as operations
from models.operations.buying.draft import draft_packs, drop_drafts
from models.operations.shop.clock import today
from models.queries.buying.buy_plan import answer, ask_shop
from models.queries.buying.purchase import coming
from models.queries.stock.room import item_names
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import let_go, render

router = APIRouter()
_SEVERAL: Final = re.compile(r"[0-9]{1,9}\.[0-9]{1,15}(?:-[0-9]{1,9}\.[0-9]{1,15}){0,199}")


@router.get("/buying")
def buying_page(request: Request) -> Response:
    """What must be bought, and where it is cheapest."""
    return _buying(request, read_address(request), None)


@router.post("/buying/needs")
@submits(lambda request, form: _buying(request, RawForm(()), form))
def add_need(session: Session, raw: RawForm) -> Done:
    """Put something on the list."""
    draft = fit(read_need(raw.raw()))
    (need_id,) = operations.add_needs(session, operations.need_items(session, (draft,)))
    return Done("/buying#list", "It is on the list.", f"/buying/needs/{need_id}/strike")


@router.post("/buying/needs/several")
@submits(lambda request, form: _buying(request, RawForm(()), form))
def add_needs(session: Session, raw: RawForm) -> Done:
    """Put several things on the list that another page worked out: `needs` with item_id, quantity and purpose."""
    asked = fit(read_buy_request(raw.raw()))
    made = operations.list_needs(session, operations.need_items(session, asked.needs or ()))
    many = "It is" if len(made) == 1 else f"{len(made)} things are"
    undo = "-".join(f"{need_id}.{before_milli}" for need_id, before_milli in made)
    return Done("/buying#list", f"{many} on the list.", f"/buying/needs/several/{undo}/undo" if made else "")


@router.post("/buying/needs/several/{before}/undo")
@submits(lambda request, form: _buying(request, RawForm(()), form))
def undo_needs(session: Session, before: str) -> Done:
    """Let the list be as it was before several things came onto it: id and thousandths of each."""
    if not _SEVERAL.fullmatch(before):
        raise Missing("list", before)
    each = [tuple(int(number) for number in one.split(".")) for one in before.split("-")]
    operations.put_needs_back(session, [(need_id, milli) for need_id, milli in each])
    return Done("/buying#list", "The list is as it was before.")


@router.post("/buying/needs/{need_id}/strike")
@submits(lambda request, form: _buying(request, RawForm(()), form))
def strike(session: Session, need_id: int) -> Done:
    """Strike something off the list."""
    operations.strike_need(session, need_id)
    return Done("/buying#list", "It is off the list.", f"/buying/needs/{need_id}/back")


@router.post("/buying/needs/{need_id}/back")
@submits(lambda request, form: _buying(request, RawForm(()), form))
def put_back(session: Session, need_id: int) -> Done:
    """Put back what was struck off."""
    operations.strike_need(session, need_id, struck=False)
    return Done("/buying#list", "It is on the list again.", f"/buying/needs/{need_id}/strike")


@router.post("/buying/draft")
@submits(lambda request, form: _buying(request, RawForm(()), form))
def draft(session: Session, raw: RawForm) -> Done:
    """Draft the packs as they were shown, one purchase for each supplier."""
    picks = fit(read_picks(raw.raw()))
    made = draft_packs(session, picks)
    only = f"/buying/purchases/{made[0]}"
    said = "A purchase is drafted." if len(made) == 1 else f"{len(made)} purchases are drafted."
    undo = f"/buying/drafts/{'-'.join(str(number) for number in made)}/undo"
    return Done(only if len(made) == 1 else "/buying/purchases", said, undo)


@router.post("/buying/drafts/{numbers}/undo")
@submits(lambda request, form: _buying(request, RawForm(()), form))
def undo_drafts(session: Session, numbers: str) -> Done:
    """Take drafting back."""
    parts = numbers.split("-")
    if not all(part.isascii() and part.isdigit() and len(part) < 10 for part in parts):
        raise Missing("draft", numbers)
    drop_drafts(session, [int(part) for part in parts])
    return Done("/buying", "The drafts are cancelled.")


def _buying(request: Request, asked: RawForm, form: Form | None) -> Response:
    wanted, faults = fit_or(read_buy_request(asked.raw()), None)
    session = reading(request)
    shop = ask_shop(session, lead_days=wanted.lead_days if wanted else None)
    on_the_way = coming(session)
    names = item_names(session)
    let_go(request)
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
