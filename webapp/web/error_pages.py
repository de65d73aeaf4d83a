"""The one place that turns errors into a status and words: a page for people, problem details under /api."""

from __future__ import annotations

from dataclasses import dataclass
from http import HTTPStatus

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import HTMLResponse
from filelock import Timeout
from sqlalchemy.exc import DatabaseError
from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.types import Scope

from models.disk import disk_words
from models.errors import (
    Conflict,
    KeyReused,
    Missing,
    NotEnoughForBuild,
    NotEnoughStock,
    Refused,
    Stale,
    Unfit,
    WorkedTooLong,
)
from models.intake.faults import Fault, Faults
from models.intake.stock.offer import from_milli
from models.queries.shop.shop import UNFOUNDED
from webapp.logs import logger
from webapp.security import add_headers
from webapp.web.json_api import RETRY_S, TITLES, Problem, plain, problem
from webapp.web.numbers import LARGEST
from webapp.web.render import bare_frame, html

WORDS = {
    400: "What was sent could not be read. Go back, and send it again.",
    404: "There is nothing at this address. It may have been moved, or the link was not whole.",
    405: "This address cannot be used that way. Go back, and use the button on the page.",
    415: "This kind of file or content cannot be used here.",
    500: "The shop's data is as it was: what was not finished was taken back. Try again; if it happens again, "
    "the log in the shop's folder says what broke.",
    503: "Another write is taking its time. Nothing was changed; try again in a moment.",
}


@dataclass(frozen=True, slots=True)
class Trouble:
    """What the error page says."""

    status: int
    title: str
    words: str


def refuse(scope: Scope, status: int, words: str) -> Response:
    """The answer to a refused request: problem details under /api, else a page. Asks the shop nothing."""
    if str(scope.get("path", "")).startswith("/api/"):
        return problem(status, words)
    trouble = Trouble(status, TITLES.get(status, HTTPStatus(status).phrase), words)
    rooms = scope["app"].state.room_links if "app" in scope and status not in {403, 421} else ()
    context = {"view": trouble, "form": None, "frame": bare_frame(scope.get("path", "/"), rooms)}
    return HTMLResponse(html("error.html", context, UNFOUNDED), status_code=status)


def install(app: FastAPI) -> None:
    """Register the handlers."""
    app.add_exception_handler(HTTPException, _http)
    app.add_exception_handler(RequestValidationError, _invalid)
    app.add_exception_handler(Problem, _problem)
    app.add_exception_handler(Refused, _refused)
    app.add_exception_handler(Timeout, _busy)
    app.add_exception_handler(OverflowError, _past_all_rows)
    app.add_exception_handler(DatabaseError, _unwritten)
    app.add_exception_handler(OSError, _unwritten)
    app.add_exception_handler(Exception, _broken)


def _http(request: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)  # noqa: S101  (registered for this class)
    plain = error.detail if error.status_code in {403, 408, 409, 413, 421} else ""
    words = plain or WORDS.get(error.status_code) or str(error.detail)
    answer = refuse(request.scope, error.status_code, words)
    answer.headers.update(error.headers or {})
    return answer


def _invalid(request: Request, error: Exception) -> Response:
    assert isinstance(error, RequestValidationError)  # noqa: S101  (registered for this class)
    if not request.url.path.startswith("/api/"):
        # A page's address holds a number that is none: there is no such page.
        in_path = any(one["loc"][0] == "path" for one in error.errors())
        status = 404 if in_path else 422
        return refuse(request.scope, status, WORDS[404] if in_path else "Something in the address cannot be read.")
    faults = Faults(
        tuple(Fault(".".join(str(part) for part in one["loc"][1:]), str(one["msg"]) + ".") for one in error.errors())
    )
    return problem(422, "Something in the address cannot be read.", faults)


def _problem(request: Request, error: Exception) -> Response:
    assert isinstance(error, Problem)  # noqa: S101  (registered for this class)
    if request.url.path.startswith("/api/"):
        answer: Response = problem(error.status, error.detail, error.faults)
    else:
        answer = refuse(request.scope, error.status, error.detail)
    if error.status == 503:
        answer.headers["Retry-After"] = str(RETRY_S)
    return answer


def _refused(request: Request, error: Exception) -> Response:
    if isinstance(error, Missing):
        return refuse(request.scope, 404, str(error))
    if isinstance(error, Unfit):
        if request.url.path.startswith("/api/"):
            return problem(422, str(error), error.faults)
        return refuse(request.scope, 422, str(error))
    if isinstance(error, Stale) and request.url.path.startswith("/api/"):
        changes = [{"field": label, "saved": saved, "sent": typed} for label, saved, typed in error.changes]
        return problem(409, str(error), changes=changes)
    if isinstance(error, (NotEnoughStock, NotEnoughForBuild)) and request.url.path.startswith("/api/"):
        return problem(409, str(error), short=_short_of(error))
    if isinstance(error, WorkedTooLong):
        return refuse(request.scope, 503, str(error))
    if isinstance(error, (Stale, Conflict, KeyReused)):
        return refuse(request.scope, 409, str(error))
    return refuse(request.scope, 409, str(error) or "This cannot be done as things stand; nothing was changed.")


def _short_of(error: NotEnoughStock | NotEnoughForBuild) -> list[dict[str, object]]:
    """What is short, item by item: numbers in the item's own unit."""
    shorts = error.shorts if isinstance(error, NotEnoughForBuild) else (error,)
    return [
        {
            "item_id": short.item_id,
            "item": short.item,
            "unit": short.unit,
            "needed": plain(from_milli(short.needed_milli)),
            "available": plain(from_milli(short.available_milli)),
            "reserved": plain(from_milli(short.reserved_milli)),
            "lot_id": short.lot_id,
            "place": short.place,
        }
        for short in shorts
    ]


def _past_all_rows(request: Request, error: Exception) -> Response:
    # A number that is larger than any database can keep. In a query it was refused already (`web/numbers.py`).
    numbers = (str(value).lstrip("-") for value in request.path_params.values())
    if any(number.isdecimal() and int(number[:40]) >= LARGEST for number in numbers):
        return refuse(request.scope, 404, WORDS[404])
    if "too large to convert" in str(error):
        return refuse(request.scope, 422, "A number in it is larger than can be kept. Nothing was changed.")
    return _broken(request, error)


def _busy(request: Request, _error: Exception) -> Response:
    answer = refuse(request.scope, 503, WORDS[503])
    answer.headers["Retry-After"] = str(RETRY_S)
    return answer


def _unwritten(request: Request, error: Exception) -> Response:
    words = disk_words(error)
    if not words:
        raise error
    logger.error("%s %r could not be written: %s", request.method, request.url.path, error)
    return refuse(request.scope, 507, words)


def _broken(request: Request, error: Exception) -> Response:
    if words := disk_words(error):
        # Met outside the routes: by the gate, or while the answer was on its way.
        answer = refuse(request.scope, 507, words)
        add_headers(MutableHeaders(raw=answer.raw_headers))
        return answer
    logger.error("%s %r broke", request.method, request.url.path, exc_info=error)
    answer = refuse(request.scope, 500, WORDS[500])
    # This handler stands outside the middleware that dresses every other answer.
    add_headers(MutableHeaders(raw=answer.raw_headers))
    return answer
