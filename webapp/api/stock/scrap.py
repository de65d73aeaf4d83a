"""Stock that leaves without a build, under /api: spoiled, lost, given away or sold; and scrap metal that is put by."""

from __future__ import annotations

from fastapi import APIRouter
from sqlmodel import Session

from models.errors import fit
from models.intake.fields import needed_of, properties_of
from models.intake.stock.scrap import read_scrap
from models.intake.stock.stock_out import StockOutDraft, read_stock_out
from models.operations.stock.scrap_metal import keep_scrap
from models.operations.stock.stock_out import remove_stock
from models.queries.shop.shop import currency_of
from models.queries.stock.metal import all_metals
from webapp.api.amounts import plain_amounts
from webapp.api.shapes import ANY_NUMBER
from webapp.api.stock.movements import ActOut, act_body
from webapp.web.acting import Answer, Body, writes
from webapp.web.json_api import json_body, problems

router = APIRouter(prefix="/api", tags=["scrap"])


@router.post(
    "/scrap",
    status_code=201,
    responses={201: {"model": ActOut}, **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(properties_of(StockOutDraft), needed_of(StockOutDraft)),
)
@writes
def scrap(session: Session, body: Body) -> Answer:
    """Take stock out without a build; what is spoiled of precious metal is kept as scrap by weight."""
    draft = fit(read_stock_out(fit(plain_amounts(body, currency_of(session)))))
    return Answer(act_body(session, remove_stock(session, draft).act_id), status=201)


SCRAP_METAL_FIELDS: dict[str, object] = {
    "metal": {"type": "string", "description": "A precious metal, by its code or name."},
    "weight": {**ANY_NUMBER, "description": "What it weighs: grams as a number, or '1 ozt'."},
    "kept_on": {"type": "string", "format": "date", "description": "Today when it is left out."},
    "note": {"type": "string"},
}


@router.post(
    "/scrap-metal",
    status_code=201,
    responses={201: {"model": ActOut}, **problems(400, 409, 415, 422)},
    openapi_extra=json_body(SCRAP_METAL_FIELDS, ("metal", "weight")),
)
@writes
def put_by(session: Session, body: Body) -> Answer:
    """Put scrap of a precious metal by, by its weight; it is worth nothing until it is sold (`/api/scrap`, sold)."""
    draft = fit(read_scrap(body, metals=all_metals(session)))
    return Answer(act_body(session, keep_scrap(session, draft).act_id), status=201)
