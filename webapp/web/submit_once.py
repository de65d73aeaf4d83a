"""Acting on a form once: one transaction, then a redirect that says what was done, or the form again with its faults.

What the act does lives in `models/operations`; how fields are read lives in `models/intake`.
"""

from __future__ import annotations

import string
from collections.abc import Callable
from dataclasses import dataclass, replace
from urllib.parse import urlencode, urlsplit, urlunsplit

from fastapi import Request
from fastapi.responses import RedirectResponse
from filelock import Timeout
from sqlalchemy.exc import DatabaseError
from sqlmodel import Session
from starlette.responses import Response

from models.disk import disk_words
from models.errors import Conflict as CannotBeDone
from models.errors import KeyReused, Stale, Unfit
from models.intake.faults import Faults
from models.operations.shop.idempotency import act_once, body_hash
from webapp.web.forms import Conflict, Form, RawForm
from webapp.web.json_api import RETRY_S, Problem
from webapp.web.reading import end_reading, read_anew

BUSY = (
    "Another write is taking its time, so this was not kept yet. Nothing you typed is lost: send it again in a moment."
)
NOTHING_CHANGED = "Another write is taking its time. Nothing was changed; try again in a moment."
TOKEN_SIGNS = frozenset(string.ascii_letters + string.digits + "-_")


@dataclass(frozen=True, slots=True)
class Done:
    """What an act did: where to go next, what to say there, and the path that takes it back when there is one."""

    location: str
    said: str = ""
    undo_path: str = ""
    undo_label: str = "Undo"
    after: Callable[[Response], None] | None = None
    """What is begun once it is kept, or put on the answer; a form that was sent twice does not do it again."""


Submission = Callable[[Session], Done | Faults]
ShowAgain = Callable[[Form], Response]


def submit_once(request: Request, raw: RawForm, act: Submission, *, show_again: ShowAgain) -> Response:
    """Run `act` in one transaction, once for the form's token, and answer 303 to where it points.

    Faults (returned, or raised as `Unfit`) show the form again with 422; a stale edit and a thing that cannot be done
    now show it with 409, a shop that is busy with 503, a full disk with 507. Whatever is shown again keeps what was
    typed, and nothing was stored; it is read anew, as the shop is after the act was taken back.
    """

    def anew(form: Form) -> Response:
        read_anew(request)
        return show_again(form)

    if not _is_token(raw.token):
        return show_again(
            _general(raw, "This page was open without its one-time mark. Nothing was changed yet; send it again.", 422)
        )
    sent = [request.url.path, raw.digest_source()]
    kept: list[Done] = []
    end_reading(request)
    try:
        with request.app.state.store.writing() as session:
            result, _repeated = act_once(session, raw.token, body_hash(sent), lambda: _stored(act(session), kept))
    except Unfit as unfit:
        return anew(Form.sent(raw, unfit.faults))
    except KeyReused:
        words = (
            "This page was already sent once with other words in it, and that was kept. Send it again to keep this too."
        )
        return anew(_general(raw, words, 409))
    except Stale as stale:
        return anew(_stale(raw, stale))
    except CannotBeDone as conflict:
        return anew(_general(raw, str(conflict), 409))
    except Timeout:
        return busy(raw, anew)
    except (DatabaseError, OSError) as unwritten:
        words = disk_words(unwritten)
        if not words:
            raise
        return anew(_general(raw, words, 507))
    location = str(result["location"])
    answer = RedirectResponse(with_said(location, raw.token) if result["said"] else location, status_code=303)
    for done in kept:
        if done.after:
            done.after(answer)
    return answer


def busy(raw: RawForm, show_again: ShowAgain) -> Response:
    """The form again with all that was typed, for who found another write under way: 503, and when to try again.

    Raises `Problem` where the page behind it is no form, so that the refusal is seen.
    """
    answer = show_again(_general(raw, BUSY, 503))
    if answer.status_code != 503:
        raise Problem(503, NOTHING_CHANGED)
    answer.headers["Retry-After"] = str(RETRY_S)
    return answer


def with_said(location: str, key: str) -> str:
    """The location with `said=KEY` added to its query, before its fragment."""
    parts = urlsplit(location)
    query = "&".join(part for part in (parts.query, urlencode({"said": key})) if part)
    return urlunsplit(parts._replace(query=query))


def _is_token(token: str) -> bool:
    return 16 <= len(token) <= 64 and TOKEN_SIGNS.issuperset(token)


def _stored(done: Done | Faults, kept: list[Done]) -> dict[str, object]:
    # Raising is what takes the transaction back, also when the act had already written something.
    if isinstance(done, Faults):
        raise Unfit(done)
    kept.append(done)
    return {
        "location": done.location,
        "said": done.said,
        "undo_path": done.undo_path,
        "undo_label": done.undo_label,
    }


def _general(raw: RawForm, words: str, status: int) -> Form:
    return Form.sent(raw, Faults.of("", words), status=status)


def _stale(raw: RawForm, stale: Stale) -> Form:
    shown = Form.sent(raw, Faults.of("", f"{stale} Both are shown below; nothing of yours was lost."), status=409)
    conflicts = tuple(Conflict(label, saved, typed) for label, saved, typed in stale.changes)
    # Without a version of its own the form takes the one the page is built from now: sending again is a choice.
    return replace(shown, conflicts=conflicts, version=None)
