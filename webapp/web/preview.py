"""Looking before booking: a form is shown with what it comes to, and only what was seen like that is booked.

With scripts the look follows what is typed; without them a button asks for it. Either way the page carries a mark of
what was looked at, and a form that differs from its mark is looked at once more.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping
from typing import TypeVar

from fastapi import Request
from filelock import Timeout
from sqlmodel import Session

from models.errors import Conflict, Stale, Unfit
from models.intake.faults import Faults
from webapp.web.forms import Form, RawForm
from webapp.web.render import is_htmx

T = TypeVar("T")
SEEN_FIELD = "seen"
DO_FIELD = "do"
_OUT_OF_SIGHT = frozenset(
    {
        *("token", "version", SEEN_FIELD, DO_FIELD, "then", "more"),
        # What is only written down beside it changes nothing of what was seen.
        *(
            "place",
            "to_place",
            "batch",
            "note",
            "line_note",
            "supplier",
            "tare",
            "received_on",
            "counted_on",
            "done_on",
        ),
    }
)


def mark_of(fields: Mapping[str, object]) -> str:
    """A mark of what stands in a form, whatever order its fields came in; empty fields do not count."""
    said = json.dumps(_said(fields), sort_keys=True, ensure_ascii=True)
    return hashlib.sha256(said.encode()).hexdigest()[:32]


def is_booking(raw: RawForm, fields: Mapping[str, object]) -> bool:
    """Whether the form asks to be booked as it was seen."""
    return raw.get(DO_FIELD) == "book" and raw.get(SEEN_FIELD) == mark_of(fields)


def changed_since_look(raw: RawForm, fields: Mapping[str, object]) -> bool:
    """Whether the form asks to be booked, but says something else than what was looked at."""
    return raw.get(DO_FIELD) == "book" and bool(raw.get(SEEN_FIELD)) and not is_booking(raw, fields)


def tried(request: Request, act: Callable[[Session], T | Faults]) -> T | Faults:
    """What an act would do, by doing it in a copy of the shop; what it refuses comes back as faults.

    No write waits for a look; one that finds too many others under way says so as a fault.
    """
    try:
        with request.app.state.store.trying() as session:
            return asked(session, act)
    except Timeout:
        return Faults.of("", "Too much is being looked at. Look again in a moment; nothing you typed is lost.")


def asked(session: Session, act: Callable[[Session], T | Faults]) -> T | Faults:
    """What an act answers; what it refuses comes back as faults. Raises: Missing."""
    try:
        return act(session)
    except Unfit as unfit:
        return unfit.faults
    except Stale as stale:
        changes = "; ".join(f"{label}: {saved}, not {typed}" for label, saved, typed in stale.changes)
        return Faults.of("", f"{stale} {changes}.")
    except Conflict as conflict:
        return Faults.of("", str(conflict))


def shown(raw: RawForm, found: object) -> Form:
    """The form as it was sent, with the faults of the look where there are any; the status stays 200."""
    return Form.sent(raw, found if isinstance(found, Faults) else None, status=200)


def status_of_look(request: Request, found: object) -> int | None:
    """422 for a whole page whose look has faults; a part that follows what is typed is never refused."""
    return 422 if isinstance(found, Faults) and not is_htmx(request) else None


def then_or(raw: RawForm, usual: str) -> str:
    """Where to go next: the page that the form names, if it is one of this room, else the usual one."""
    then = raw.get("then")
    # Only a page of this room is gone back to, never an address that somebody else put into the form.
    return then if then.startswith("/stock") and "//" not in then and "\\" not in then else usual


def _said(value: object) -> object:
    if isinstance(value, Mapping):
        return {
            str(key): said
            for key, one in value.items()
            if key not in _OUT_OF_SIGHT and (said := _said(one)) not in ("", None, [], {})
        }
    if isinstance(value, (list, tuple)):
        return [said for one in value if (said := _said(one)) not in ("", None, [], {})]
    return value
