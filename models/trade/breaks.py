"""Long work that can be stopped: it asks now and then whether it may go on.

Who is asked, by what clock, and what is raised to stop the work is set from outside; where nobody is, work goes on. Not
here: what is refused before any work (layout.limits).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

Ask = Callable[[], None]
_ASK: ContextVar[Ask | None] = ContextVar("who is asked whether work may go on", default=None)


def go_on() -> None:
    """Ask whether to go on. Raises: whatever stops the work."""
    ask = _ASK.get()
    if ask is not None:
        ask()


@contextmanager
def asking(ask: Ask) -> Iterator[None]:
    """Let this be asked by all work within, in this thread and in those that it hands its context to."""
    before = _ASK.set(ask)
    try:
        yield
    finally:
        _ASK.reset(before)
