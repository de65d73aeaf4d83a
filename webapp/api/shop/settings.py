"""The shop's settings and its times of work under /api."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Request
from pydantic import BeforeValidator, ConfigDict
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.costing.rates import STARTING_RATES
from models.errors import fit
from models.intake.costing.rate import RateDraft, read_rates
from models.intake.faults import Fault, Faults
from models.intake.fields import Size, fields_of, list_of, properties_of, raw_of
from models.intake.shop.shop import SettingsDraft, read_settings
from models.operations.costing.rate import rates_version, set_rates
from models.operations.shop.shop import change_settings
from models.queries.shop.shop import settings_page
from webapp.api.amounts import plain_amounts
from webapp.api.answers import ClosedAnswer, PlainMillimetres, PlainNumber, answer_of, beneath, path, sent
from webapp.api.shapes import VERSION
from webapp.web.acting import Answer, Body, renamed, writes
from webapp.web.json_api import json_body, problems, version_of
from webapp.web.reading import reading

router = APIRouter(prefix="/api", tags=["settings"])


_SENT_AS = {field.typed: f"{field.typed}_mm" for field in fields_of(SettingsDraft).values() if isinstance(field, Size)}
"""Sizes are sent as plain millimetres, under names that say so."""
_FIELDS = answer_of("SettingsFields", SettingsDraft, beneath="settings", sizes=PlainMillimetres)


class SettingsOut(_FIELDS):  # type: ignore[misc, valid-type]
    """All settings. Percentages are numbers like 12.5; `learning_percent` 100 is no learning."""

    model_config = ConfigDict(alias_generator=beneath("settings"))

    version: int
    currency_fixed: Annotated[bool, BeforeValidator(bool)] = path(
        "locked", says="Whether an amount is kept in it, so that it can no longer be changed."
    )
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


_SETTINGS: dict[str, object] = {
    "version": VERSION,
    **{_SENT_AS.get(name, name): schema for name, schema in properties_of(SettingsDraft).items()},
}
_TIMES: dict[str, object] = {"version": VERSION, "rates": list_of(RateDraft)}


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
    with renamed(_named):
        draft = fit(read_settings(raw_of(SettingsDraft, kept) | _by_typed_names(sent)))
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


def _by_typed_names(sent: dict[str, object]) -> dict[str, object]:
    """What was sent by the names that are read, where lengths carry no unit."""
    typed = {name: field for field, name in _SENT_AS.items()}
    return {typed.get(name, name): value for name, value in sent.items() if name not in _SENT_AS}


def _named(faults: Faults) -> Faults:
    """The faults under the names of the API, where lengths carry their unit."""
    return Faults(tuple(Fault(_SENT_AS.get(fault.field, fault.field), fault.message) for fault in faults))
