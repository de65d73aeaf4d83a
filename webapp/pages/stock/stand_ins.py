"""Declaring on an item's page which ring may stand in for it, and taking that back."""

from __future__ import annotations

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit
from models.intake.stock.stand_in import StandInDraft, read_stand_in
from models.operations.stock.stand_in import declare_stand_in, drop_stand_in
from webapp.pages.stock.items import item_answer
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm

router = APIRouter()


@router.post("/stock/items/{item_id}/stand-ins")
@submits(lambda request, item_id, form: _again(request, item_id, form))
def declare(session: Session, item_id: int, raw: RawForm) -> Done:
    """Declare what may stand in for an item."""
    draft = fit(read_stand_in(raw.raw()))
    done = declare_stand_in(session, item_id, draft)
    return Done(_back(item_id), done.words, f"/stock/items/{item_id}/stand-ins/{done.id}/drop")


@router.post("/stock/items/{item_id}/stand-ins/{stand_in_id}/drop")
@submits(lambda request, item_id, form: _again(request, item_id, form))
def drop(session: Session, item_id: int, stand_in_id: int) -> Done:
    """Take a declaration back."""
    done = drop_stand_in(session, stand_in_id)
    way = "both" if done.both_ways else "one"
    return Done(_back(item_id), done.words, f"/stock/items/{done.item_id}/stand-ins/{done.stand_in_id}/{way}")


@router.post("/stock/items/{item_id}/stand-ins/{other_id}/one")
@submits(lambda request, item_id, form: _again(request, item_id, form))
def restore(session: Session, item_id: int, other_id: int) -> Done:
    """Put a declaration that was taken back in its place again."""
    return Done(_back(item_id), declare_stand_in(session, item_id, StandInDraft(other_id)).words)


@router.post("/stock/items/{item_id}/stand-ins/{other_id}/both")
@submits(lambda request, item_id, form: _again(request, item_id, form))
def restore_both(session: Session, item_id: int, other_id: int) -> Done:
    """Put a declaration that holds both ways in its place again."""
    return Done(_back(item_id), declare_stand_in(session, item_id, StandInDraft(other_id, both_ways=True)).words)


def _back(item_id: int) -> str:
    return f"/stock/items/{item_id}#stand-ins"


def _again(request: Request, item_id: int, form: Form) -> Response:
    return item_answer(request, item_id, stand_in=form)
