"""Declaring on an item's page which ring may stand in for it, and taking that back."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.intake.faults import Faults
from models.intake.stock.stand_in import StandInDraft, read_stand_in
from models.operations.stock.stand_in import declare_stand_in, drop_stand_in
from webapp.pages.stock.items import item_answer
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]


@router.post("/stock/items/{item_id}/stand-ins")
def declare(request: Request, item_id: int, sent: Sent) -> Response:
    """Declare what may stand in for an item."""

    def act(session: Session) -> Done | Faults:
        draft = read_stand_in(sent.raw())
        if isinstance(draft, Faults):
            return draft
        done = declare_stand_in(session, item_id, draft)
        return Done(_back(item_id), done.words, f"/stock/items/{item_id}/stand-ins/{done.id}/drop")

    return submit_once(request, sent, act, show_again=lambda form: _again(request, item_id, form))


@router.post("/stock/items/{item_id}/stand-ins/{stand_in_id}/drop")
def drop(request: Request, item_id: int, stand_in_id: int, sent: Sent) -> Response:
    """Take a declaration back."""

    def act(session: Session) -> Done:
        done = drop_stand_in(session, stand_in_id)
        way = "both" if done.both_ways else "one"
        return Done(_back(item_id), done.words, f"/stock/items/{done.item_id}/stand-ins/{done.stand_in_id}/{way}")

    return submit_once(request, sent, act, show_again=lambda form: _again(request, item_id, form))


@router.post("/stock/items/{item_id}/stand-ins/{other_id}/one")
def restore(request: Request, item_id: int, other_id: int, sent: Sent) -> Response:
    """Put a declaration that was taken back in its place again."""
    return _restore(request, item_id, sent, StandInDraft(other_id))


@router.post("/stock/items/{item_id}/stand-ins/{other_id}/both")
def restore_both(request: Request, item_id: int, other_id: int, sent: Sent) -> Response:
    """The same for one that holds both ways."""
    return _restore(request, item_id, sent, StandInDraft(other_id, both_ways=True))


def _restore(request: Request, item_id: int, sent: RawForm, draft: StandInDraft) -> Response:
    def act(session: Session) -> Done:
        return Done(_back(item_id), declare_stand_in(session, item_id, draft).words)

    return submit_once(request, sent, act, show_again=lambda form: _again(request, item_id, form))


def _back(item_id: int) -> str:
    return f"/stock/items/{item_id}#stand-ins"


def _again(request: Request, item_id: int, form: Form) -> Response:
    return item_answer(request, item_id, stand_in=form)
