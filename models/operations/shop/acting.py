"""Who acts: what is done while a request is answered is that person's, so that no operation has to be told.

The gate says who signed in; the command line, the planner and a shop without a password act for the owner.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from models.tables import FIRST_PERSON

_ACTING: ContextVar[int] = ContextVar("the person who acts", default=FIRST_PERSON)


def acting_person() -> int:
    """The number of the person who acts."""
    return _ACTING.get()


@contextmanager
def acting_as(person_id: int) -> Iterator[None]:
    """Let what is done within be done by this person, in threads that are started from here too."""
    before = _ACTING.set(person_id)
    try:
        yield
    finally:
        _ACTING.reset(before)
