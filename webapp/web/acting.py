"""Routes that act, written as what they do: a form that is submitted once, a call that writes once.

`submits` turns a function of a session into the route of a form, `writes` into the route of a call. The function names
what it needs (`session`, `raw` or `body`, `request`, and what stands in the path) and answers what was done; what is
wrong with what was handed in is raised by `fit` and shown once, here.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from typing import Annotated, Any, TypeVar

from fastapi import Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Unfit
from models.intake.faults import Faults
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.json_api import Answer, read_json, write_once
from webapp.web.submit_once import Done, submit_once

R = TypeVar("R")
Sent = Annotated[RawForm, Depends(read_form)]
Body = Annotated[dict[str, Any], Depends(read_json)]


def submits(
    again: Callable[..., Response], *, only_show: Sequence[str] = ()
) -> Callable[[Callable[..., Done]], Callable[..., Response]]:
    """Make the route of a form of a function that does the act in the session that it is given.

    `again` shows the page once more when the act was refused, or when one of the buttons `only_show` was pressed; it
    takes `form`, and of the rest what it names.
    """

    shows = _taking_what_it_names(again)

    def decorate(act: Callable[..., Done]) -> Callable[..., Response]:
        does = _taking_what_it_names(act)

        def route(request: Request, raw: RawForm, **path: Any) -> Response:
            given = {"request": request, "raw": raw, **path}
            if any(button in raw for button in only_show):
                return shows(**given, form=Form.sent(raw))
            return submit_once(
                request,
                raw,
                lambda session: does(**given, session=session),
                show_again=lambda form: shows(**given, form=form),
            )

        return _signed(route, act, raw=Sent)

    return decorate


@contextmanager
def renamed(rename: Callable[[Faults], Faults]) -> Iterator[None]:
    """In this block what is wrong is named as the page or the body names its fields. Raises `Unfit`."""
    try:
        yield
    except Unfit as unfit:
        raise Unfit(rename(unfit.faults)) from unfit


def writes(act: Callable[..., Answer]) -> Callable[..., Response]:
    """Make the route of a call of a function that does the act in the session that it is given."""
    does = _taking_what_it_names(act)

    def route(request: Request, body: dict[str, Any], **path: Any) -> Response:
        return write_once(request, body, lambda session: does(**path, request=request, body=body, session=session))

    return _signed(route, act, body=Body)


def writes_without_body(act: Callable[..., Answer]) -> Callable[..., Response]:
    """Make the route of a call that is sent nothing but its address, as `writes` does of one that is sent a body."""
    does = _taking_what_it_names(act)

    def route(request: Request, **path: Any) -> Response:
        return write_once(request, {}, lambda session: does(**path, request=request, session=session))

    return _signed(route, act)


def _taking_what_it_names(function: Callable[..., R]) -> Callable[..., R]:
    """The function, called with more than it names; the rest is left out."""
    names = tuple(inspect.signature(function).parameters)
    return lambda **given: function(**{name: given[name] for name in names if name in given})


def _signed(route: Callable[..., Response], act: Callable[..., Any], **sent: Any) -> Callable[..., Response]:
    """The route with the signature that the web framework is to see: the request, what is sent, and the path."""
    keyword = inspect.Parameter.KEYWORD_ONLY
    own = {"session", "request", *sent}
    path = [
        parameter.replace(kind=keyword)
        for name, parameter in inspect.signature(act, eval_str=True).parameters.items()
        if name not in own
    ]
    first = [inspect.Parameter("request", keyword, annotation=Request)]
    bodies = [inspect.Parameter(name, keyword, annotation=kind) for name, kind in sent.items()]
    route.__name__, route.__doc__, route.__module__ = act.__name__, act.__doc__, act.__module__
    route.__signature__ = inspect.Signature([*first, *bodies, *path], return_annotation=Response)  # type: ignore[attr-defined]
    return route


__all__ = ["Answer", "Body", "Done", "Form", "Sent", "Session", "renamed", "submits", "writes", "writes_without_body"]
