"""The shop's settings and its times of work under /api."""

from __future__ import annotations

from dataclasses import fields
from decimal import Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Request
from pydantic import BaseModel, ConfigDict, Field
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.costing.rates import STARTING_RATES
from models.intake.costing.rate import read_rates
from models.intake.faults import Faults
from models.intake.shop.shop import read_settings
from models.operations.costing.rate import rates_version, set_rates
from models.operations.shop.shop import change_settings
from models.queries.shop.shop import SettingsPage, settings_page
from models.trade.measures import to_mm
from models.trade.vocabulary.selling import GAUGE_SYSTEMS, LENGTH_UNITS, OVERHEAD_MODES, PRICE_ENDINGS
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.api.shapes import ANY_NUMBER, VERSION, MoneyOut
from webapp.web.json_api import Answer, json_body, money_json, plain, problems, read_json, write_once

router = APIRouter(prefix="/api", tags=["settings"])
Body = Annotated[dict[str, Any], Depends(read_json)]


class SettingsOut(BaseModel):
    """All settings. Percentages are numbers like 12.5; `learning_percent` 100 is no learning."""

    model_config = ConfigDict(extra="forbid")
    version: int
    name: str
    currency: str
    currency_fixed: bool = Field(description="Whether an amount is kept in it, so that it can no longer be changed.")
    locale: str
    time_zone: str
    length_unit: str
    gauge_system: str
    wage_per_hour: MoneyOut
    overhead_mode: str
    overhead_per_hour: MoneyOut
    overhead_percent: float
    allowance_percent: float
    learning_percent: float
    wanted_margin_percent: float
    ending: str
    one_price: bool
    once_pieces: int
    kerf_mm: float
    near_mm: float
    demo: bool


class TimeOut(BaseModel):
    """How long one unit of a kind of work takes, with the factors to the tenth and the ninetieth of a hundred."""

    model_config = ConfigDict(extra="forbid")
    kind: str
    words: str
    per: str
    seconds: float
    low_factor: float
    high_factor: float
    source: str


class TimesOut(BaseModel):
    """Every kind of work, in the order of the work at the bench."""

    model_config = ConfigDict(extra="forbid")
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
    with request.app.state.store.reading() as session:
        return JSONResponse(settings_json(settings_page(session)))


@router.put(
    "/settings",
    response_model=SettingsOut,
    responses=problems(400, 409, 415, 422),
    openapi_extra=json_body(_SETTINGS, ("version",)),
)
def put_settings(request: Request, body: Body) -> Response:
    """Change settings: what is left out stays as it is."""

    def act(session: Session) -> Answer | Faults:
        kept = settings_page(session).settings
        sent = plain_amounts(body, str(body.get("currency", kept.currency)))
        if isinstance(sent, Faults):
            return sent
        raw: dict[str, object] = {field.name: getattr(kept, field.name) for field in fields(kept)}
        raw |= {"kerf_mm": to_mm(kept.kerf_nm), "near_mm": to_mm(kept.near_nm), **sent}
        draft = read_settings(raw | {"kerf": raw["kerf_mm"], "near": raw["near_mm"]})
        version = _version(body)
        if isinstance(draft, Faults):
            return _named(draft)
        if isinstance(version, Faults):
            return version
        change_settings(session, draft, version=version)
        return Answer(settings_json(settings_page(session)))

    return write_once(request, body, act)


@router.get("/settings/times", response_model=TimesOut)
def show_times(request: Request) -> Response:
    """How long each kind of work takes, and where each time comes from."""
    with request.app.state.store.reading() as session:
        return JSONResponse(times_json(settings_page(session)))


@router.put(
    "/settings/times",
    response_model=TimesOut,
    responses=problems(400, 409, 415, 422),
    openapi_extra=json_body(_TIMES, ("version", "rates")),
)
def put_times(request: Request, body: Body) -> Response:
    """Change times: a kind that is left out stays as it is."""

    def act(session: Session) -> Answer | Faults:
        drafts = read_rates(body, tuple(STARTING_RATES))
        version = _version(body)
        if isinstance(drafts, Faults):
            return drafts
        if isinstance(version, Faults):
            return version
        set_rates(session, drafts, version=version)
        return Answer(times_json(settings_page(session)))

    return write_once(request, body, act)


def settings_json(view: SettingsPage) -> dict[str, object]:
    """The settings as the API sends them."""
    kept = view.settings

    def money(amount: Decimal) -> dict[str, str]:
        return money_json(amount, kept.currency)

    return {
        "version": kept.version,
        "name": kept.name,
        "currency": kept.currency,
        "currency_fixed": bool(view.locked),
        "locale": kept.locale,
        "time_zone": kept.time_zone,
        "length_unit": kept.length_unit,
        "gauge_system": kept.gauge_system,
        "wage_per_hour": money(kept.wage_per_hour),
        "overhead_mode": kept.overhead_mode,
        "overhead_per_hour": money(kept.overhead_per_hour),
        "overhead_percent": plain(kept.overhead_percent),
        "allowance_percent": plain(kept.allowance_percent),
        "learning_percent": plain(kept.learning_percent),
        "wanted_margin_percent": plain(kept.wanted_margin_percent),
        "ending": kept.ending,
        "one_price": kept.one_price,
        "once_pieces": kept.once_pieces,
        "kerf_mm": plain(to_mm(kept.kerf_nm)),
        "near_mm": plain(to_mm(kept.near_nm)),
        "demo": kept.demo,
    }


def times_json(view: SettingsPage) -> dict[str, object]:
    """The times as the API sends them; the factors lead to the tenth and the ninetieth of a hundred."""
    return {
        "version": rates_version(view.rates),
        "rates": [
            {
                "kind": rate.kind,
                "words": rate.words,
                "per": rate.per,
                "seconds": plain(rate.seconds),
                "low_factor": plain(rate.low_factor),
                "high_factor": plain(rate.high_factor),
                "source": rate.source,
            }
            for rate in view.rates
        ],
    }


def _version(body: dict[str, Any]) -> int | Faults:
    version = body.get("version")
    if not isinstance(version, int) or isinstance(version, bool):
        return Faults.of("version", "Give the version that you read, a whole number.")
    return version


def _named(faults: Faults) -> Faults:
    """The faults under the names of the API, where lengths carry their unit."""
    names = {"kerf": "kerf_mm", "near": "near_mm"}
    return Faults(tuple(type(fault)(names.get(fault.field, fault.field), fault.message) for fault in faults))
