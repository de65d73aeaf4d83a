"""The shop's settings and its times of work under /api."""

from __future__ import annotations

from dataclasses import fields
from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import BeforeValidator
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.costing.rates import STARTING_RATES
from models.errors import fit
from models.intake.costing.rate import read_rates
from models.intake.faults import Faults
from models.intake.shop.shop import read_settings
from models.operations.costing.rate import rates_version, set_rates
from models.operations.shop.shop import change_settings
from models.queries.shop.shop import settings_page
from models.trade.measures import to_mm
from models.trade.vocabulary.selling import GAUGE_SYSTEMS, LENGTH_UNITS, OVERHEAD_MODES, PRICE_ENDINGS
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.api.answers import Amount, ClosedAnswer, PlainMillimetres, PlainNumber, beneath, path, sent
from webapp.api.shapes import ANY_NUMBER, VERSION
from webapp.web.acting import Answer, Body, renamed, writes
from webapp.web.json_api import json_body, problems, version_of
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["settings"])


class SettingsOut(ClosedAnswer, alias_generator=beneath("settings")):
    """All settings. Percentages are numbers like 12.5; `learning_percent` 100 is no learning."""

    version: int
    name: str
    currency: str
    currency_fixed: Annotated[bool, BeforeValidator(bool)] = path(
        "locked", says="Whether an amount is kept in it, so that it can no longer be changed."
    )
    locale: str
    time_zone: str
    length_unit: str
    gauge_system: str
    wage_per_hour: Amount
    overhead_mode: str
    overhead_per_hour: Amount
    overhead_percent: PlainNumber
    allowance_percent: PlainNumber
    learning_percent: PlainNumber
    wanted_margin_percent: PlainNumber
    ending: str
    one_price: bool
    once_pieces: int
    kerf_mm: PlainMillimetres = path("settings", "kerf_nm")
    near_mm: PlainMillimetres = path("settings", "near_nm")
    demo: bool


class TimeOut(ClosedAnswer):
    """How long one unit of a kind of work takes, with the factors to the tenth and the ninetieth of a hundred."""

    kind: str
    words: str
    per: str
    seconds: PlainNumber
    low_factor: PlainNumber
    high_factor: PlainNumber
    source: str


class TimesOut(ClosedAnswer):
    """Every kind of work, in the order of the work at the bench."""

    version: int
    rates: list[TimeOut]


_LENGTH = {"anyOf": [{"type": "number"}, {"type": "string"}], "description": "Millimetres, or text with a unit."}
_SETTINGS: dict[str, object] = {
    "version": VERSION,
    "name": {"type": "string"},
    "currency": {"type": "string", "description": "ISO 4217; fixed once an amount is kept in it."},
    "locale": {"type": "string"},
    "time_zone": {"type": "string"},
    "length_unit": {"type": "string", "enum": list(LENGTH_UNITS)},
    "gauge_system": {"type": "string", "enum": list(GAUGE_SYSTEMS)},
    "wage_per_hour": MONEY_SCHEMA,
    "overhead_mode": {"type": "string", "enum": list(OVERHEAD_MODES)},
    "overhead_per_hour": MONEY_SCHEMA,
    "overhead_percent": ANY_NUMBER,
    "allowance_percent": ANY_NUMBER,
    "learning_percent": ANY_NUMBER,
    "wanted_margin_percent": ANY_NUMBER,
    "ending": {"type": "string", "enum": list(PRICE_ENDINGS)},
    "one_price": {"type": "boolean"},
    "once_pieces": {"type": "integer", "minimum": 1},
    "kerf_mm": _LENGTH,
    "near_mm": _LENGTH,
}
_TIMES: dict[str, object] = {
    "version": VERSION,
    "rates": {
        "type": "array",
        "items": {
            "type": "object",
            "properties": {
                "kind": {"type": "string", "enum": list(STARTING_RATES)},
                "seconds": ANY_NUMBER,
                "low_factor": ANY_NUMBER,
                "high_factor": ANY_NUMBER,
            },
            "required": ["kind", "seconds", "low_factor", "high_factor"],
        },
    },
}


@router.get("/settings", response_model=SettingsOut)
def show_settings(request: Request) -> Response:
    """All settings, with their version."""
    return JSONResponse(_settings(reading(request)))


@router.put(
    "/settings",
    response_model=SettingsOut,
    responses=problems(400, 409, 415, 422),
    openapi_extra=json_body(_SETTINGS, ("version",)),
)
@writes
def put_settings(session: Session, body: Body) -> Answer:
    """Change settings: what is left out stays as it is."""
    kept = settings_page(session).settings
    sent = fit(plain_amounts(body, str(body.get("currency", kept.currency))))
    raw: dict[str, object] = {field.name: getattr(kept, field.name) for field in fields(kept)}
    raw |= {"kerf_mm": to_mm(kept.kerf_nm), "near_mm": to_mm(kept.near_nm), **sent}
    with renamed(_named):
        draft = fit(read_settings(raw | {"kerf": raw["kerf_mm"], "near": raw["near_mm"]}))
    change_settings(session, draft, version=version_of(body))
    return Answer(_settings(session))


@router.get("/settings/times", response_model=TimesOut)
def show_times(request: Request) -> Response:
    """How long each kind of work takes, and where each time comes from."""
    return JSONResponse(_times(reading(request)))


@router.put(
    "/settings/times",
    response_model=TimesOut,
    responses=problems(400, 409, 415, 422),
    openapi_extra=json_body(_TIMES, ("version", "rates")),
)
@writes
def put_times(session: Session, body: Body) -> Answer:
    """Change times: a kind that is left out stays as it is."""
    drafts = fit(read_rates(body, tuple(STARTING_RATES)))
    set_rates(session, drafts, version=version_of(body))
    return Answer(_times(session))


def _settings(session: Session) -> dict[str, object]:
    view = settings_page(session)
    return sent(SettingsOut, view, currency=view.settings.currency)


def _times(session: Session) -> dict[str, object]:
    rates = settings_page(session).rates
    return sent(TimesOut, version=rates_version(rates), rates=rates)


def _named(faults: Faults) -> Faults:
    """The faults under the names of the API, where lengths carry their unit."""
    names = {"kerf": "kerf_mm", "near": "near_mm"}
    return Faults(tuple(type(fault)(names.get(fault.field, fault.field), fault.message) for fault in faults))
