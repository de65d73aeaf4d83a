"""The JSON side of the edge: bodies in with exact numbers, problem details out (RFC 9457), writes that act once.

A write may carry an `Idempotency-Key`. The same key with the same body answers the stored result again; with another
body it is refused with 422, as the IETF draft of that header (draft-ietf-httpapi-idempotency-key-header) says.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Any, NoReturn, TypeVar

from fastapi import Request
from fastapi.responses import JSONResponse
from sqlmodel import Session
from starlette.responses import Response

from models.errors import KeyReused, Unfit, fit
from models.intake.faults import Faults
from models.operations.shop.idempotency import act_once, body_hash
from webapp.web.reading import end_reading

D = TypeVar("D")
PROBLEM_TYPE = "application/problem+json"
MOST_KEY_SIGNS = 200
MOST_VALUES = 200_000
"""In one body, counted before any is made: empty lists are short to send, and each takes thirty times its room."""
MOST_ROWS = 2000
"""Objects in one list, as many as lines in a file; what may hold fewer says so itself."""
DEEPEST = 60
"""Levels of lists and objects in each other; what we read has five."""
MOST_JSON_BYTES = 4_000_000
"""What is read at once: as values it takes up to thirty times as much memory."""
RETRY_S = 5
"""After how many seconds whoever found the shop busy may try again (the header Retry-After)."""

TITLES = {
    400: "This request cannot be read",
    401: "Sign in first",
    403: "Not allowed from there",
    404: "There is no such thing",
    405: "This cannot be done here",
    408: "It took too long to arrive",
    409: "This cannot be done now",
    413: "Too large",
    415: "Not the right kind of content",
    421: "Not an address of this shop",
    422: "Something in it is wrong",
    429: "Too many tries",
    500: "Something broke on our side",
    503: "The shop is busy",
    507: "There is no room to write",
}


class Problem(Exception):
    """A refusal with its status, words, and faults by field; answered as problem details."""

    def __init__(self, status: int, detail: str, faults: Faults | None = None) -> None:
        super().__init__(detail)
        self.status = status
        self.detail = detail
        self.faults = faults


def problem(status: int, detail: str, faults: Faults | None = None, **more: object) -> JSONResponse:
    """Problem details; `errors` lists the faults as {field, message}."""
    body: dict[str, object] = {
        "type": "about:blank",
        "title": TITLES.get(status, "Refused"),
        "status": status,
        "detail": detail,
    }
    if faults is not None:
        body["errors"] = [{"field": fault.field, "message": fault.message} for fault in faults]
    return JSONResponse({**body, **more}, status_code=status, media_type=PROBLEM_TYPE)


def faulty(faults: Faults) -> JSONResponse:
    """Problem details for faults in what was sent: 422."""
    return problem(422, _count_words(faults), faults)


def readable(read: D | Faults) -> D:
    """What a call asks for in its address, when nothing is wrong with it. Raises `Problem`: 422 with the faults."""
    if isinstance(read, Faults):
        raise Problem(422, _count_words(read), read)
    return read


def _count_words(faults: Faults) -> str:
    count = len(faults.items)
    return "One thing is wrong." if count == 1 else f"{count} things are wrong."


async def read_json(request: Request) -> dict[str, Any]:
    """A dependency for `def` routes: the body as a mapping, fractions as exact Decimals.

    Raises `Problem`: 415 for another kind of content, 413 for too much of it or too many values, 400 for what is no
    JSON object.
    """
    kind = request.headers.get("content-type", "").split(";")[0].strip().lower()
    if kind != "application/json" and not (kind.startswith("application/") and kind.endswith("+json")):
        raise Problem(415, "Send JSON, with the header Content-Type: application/json.")
    content = await request.body()
    if len(content) > MOST_JSON_BYTES:
        raise Problem(413, f"JSON of at most {MOST_JSON_BYTES // 1_000_000} MB is read. Send it in several requests.")
    # Those in a text are counted too, which a text that fits its field never makes too many.
    if content.count(b",") + content.count(b"[") + content.count(b"{") > MOST_VALUES:
        raise Problem(413, f"The body has more than {MOST_VALUES:,} values. Send it in several calls.")
    try:
        # A nesting of thousands of levels ends in RecursionError; a number of thousands of digits in ValueError.
        body = json.loads(
            content.decode("utf-8-sig"), parse_float=_decimal, parse_int=_whole, parse_constant=_no_constant
        )
        _check(body)
    except (ValueError, RecursionError) as unreadable:
        raise Problem(400, "The body is not readable JSON.") from unreadable
    if not isinstance(body, dict):
        raise Problem(400, "The body must be a JSON object with named fields.")
    return body


@dataclass(frozen=True, slots=True)
class Answer:
    """What an API write answers: a body made of plain JSON values, a status, and where the new thing is."""

    body: Mapping[str, object]
    status: int = 200
    location: str = ""


Write = Callable[[Session], Answer | Faults]


def write_once(request: Request, body: Mapping[str, object], act: Write) -> Response:
    """Run `act` in one transaction and answer it, once for the request's `Idempotency-Key` when it has one.

    Raises `Problem` for a key that cannot be used; what the act raises is answered by the app's handlers.
    """
    key = request.headers.get("idempotency-key", "").strip().strip('"')
    end_reading(request)
    try:
        with request.app.state.store.writing() as session:
            if not key:
                return _respond(_stored(act(session)))
            if len(key) > MOST_KEY_SIGNS or not key.isprintable():
                raise Problem(400, f"An Idempotency-Key has at most {MOST_KEY_SIGNS} printable characters.")
            # A form's token has no blank in it, so the keys of pages and of programs never meet.
            stored_key = f"api {key}"
            hashed = body_hash([request.method, request.url.path, dict(body)])
            result, repeated = act_once(session, stored_key, hashed, lambda: _stored(act(session)))
    except Unfit as unfit:
        return faulty(unfit.faults)
    except KeyReused:
        return problem(422, "This Idempotency-Key was already used with another body. Use a new key for a new request.")
    answer = _respond(result)
    if repeated:
        answer.headers["Idempotency-Replayed"] = "true"
    return answer


def read_version(body: Mapping[str, Any]) -> int | Faults:
    """The version that a change was made from."""
    version = body.get("version")
    if not isinstance(version, int) or isinstance(version, bool) or version < 0:
        return Faults.of("version", "Give the version that you read, a whole number.")
    return version


def version_if_sent(body: Mapping[str, Any]) -> int | Faults | None:
    """The version that a change was made from, where the body says one."""
    return None if body.get("version") is None else read_version(body)


def version_of(body: Mapping[str, Any]) -> int:
    """The version that a change was made from. Raises `Unfit` when it is missing or no whole number."""
    return fit(read_version(body))


def flag_of(body: Mapping[str, Any], field: str, kept: bool) -> bool:
    """A field that is true, false, or left as it is. Raises `Unfit` for anything else."""
    value = body.get(field, kept)
    if not isinstance(value, bool):
        raise Unfit(Faults.of(field, "Say true or false."))
    return value


def plain(value: object) -> object:
    """A value as JSON can carry it: a Decimal (a length, a mass, a ratio) becomes a number, a tuple a list.

    Money never comes through here: it is sent as text (`webapp/api/answers.Amount`).
    """
    if isinstance(value, Decimal):
        return int(value) if value == value.to_integral_value() else float(value)
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(one) for one in value]
    return value


def json_body(properties: Mapping[str, object], required: tuple[str, ...] = ()) -> dict[str, object]:
    """The `openapi_extra` of a route that reads its body with `read_json`: the fields as a JSON schema."""
    schema: dict[str, object] = {"type": "object", "properties": dict(properties)}
    if required:
        schema["required"] = list(required)
    return {
        "parameters": [KEY_HEADER],
        "requestBody": {"required": True, "content": {"application/json": {"schema": schema}}},
    }


KEY_HEADER: dict[str, object] = {
    "name": "Idempotency-Key",
    "in": "header",
    "required": False,
    "description": "Any text of your own; the same key with the same body acts once.",
    "schema": {"type": "string", "maxLength": MOST_KEY_SIGNS},
}
PROBLEM_SCHEMA: dict[str, object] = {
    "type": "object",
    "properties": {
        "type": {"type": "string"},
        "title": {"type": "string"},
        "status": {"type": "integer"},
        "detail": {"type": "string"},
        "errors": {
            "type": "array",
            "items": {
                "type": "object",
                "properties": {"field": {"type": "string"}, "message": {"type": "string"}},
                "required": ["field", "message"],
            },
        },
    },
    "required": ["type", "title", "status", "detail"],
}


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """The `responses` of a route that may answer these problems, for the description at /openapi.json."""
    return {
        status: {"description": TITLES[status], "content": {PROBLEM_TYPE: {"schema": PROBLEM_SCHEMA}}}
        for status in statuses
    }


def _stored(answer: Answer | Faults) -> dict[str, object]:
    if isinstance(answer, Faults):
        raise Unfit(answer)
    return {"status": answer.status, "location": answer.location, "body": plain(answer.body)}


def _respond(result: Mapping[str, Any]) -> JSONResponse:
    headers = {"Location": str(result["location"])} if result["location"] else None
    return JSONResponse(result["body"], status_code=int(result["status"]), headers=headers)


def _decimal(text: str) -> Decimal:
    value = Decimal(text)
    # 1e999999 is short to send and endless to write out.
    if abs(value.adjusted()) > 30:
        raise ValueError("a number of more than 30 places")
    return value


def _whole(text: str) -> int:
    if len(text) > 31:
        raise ValueError("a number of more than 30 places")
    return int(text)


def _check(body: object) -> None:
    """Look through everything that was read.

    Raises ValueError for half a letter, and for too deep a nesting; `Problem` for too long a list of objects.

    JSON can write half of a pair that stands for one letter ('\\ud800'); no file, database or answer can hold it.
    """
    level: list[object] = [body]
    for _ in range(DEEPEST):
        deeper: list[object] = []
        for one in level:
            if isinstance(one, dict):
                deeper.extend(one)
                deeper.extend(one.values())
            elif isinstance(one, list):
                if len(one) > MOST_ROWS and any(isinstance(row, dict) for row in one):
                    raise Problem(413, f"A list has {len(one):,} rows; send at most {MOST_ROWS:,} at once.")
                deeper.extend(one)
            elif isinstance(one, str):
                # UnicodeEncodeError is a ValueError.
                one.encode()
        if not deeper:
            return
        level = deeper
    raise ValueError("a nesting of too many levels")


def _no_constant(word: str) -> NoReturn:
    raise ValueError(f"{word} is not JSON")
