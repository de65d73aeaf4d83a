"""Routes that are written as what they do: what the web framework sees of them, and what reaches the act."""

from __future__ import annotations

import inspect

from fastapi import Request
from sqlmodel import Session

from webapp.web.acting import Answer, Body, Done, submits, writes
from webapp.web.forms import Form, RawForm


def test_a_form_route_shows_the_framework_the_request_the_form_and_the_path() -> None:
    @submits(lambda form: form)
    def keep_peg(session: Session, peg_id: int, raw: RawForm) -> Done:
        """Keep a peg."""
        raise AssertionError((session, peg_id, raw))

    seen = inspect.signature(keep_peg).parameters
    assert list(seen) == ["request", "raw", "peg_id"]
    assert seen["request"].annotation is Request
    assert seen["peg_id"].annotation is int
    assert keep_peg.__name__ == "keep_peg"
    assert keep_peg.__doc__ == "Keep a peg."


def test_a_button_that_only_shows_never_reaches_the_act() -> None:
    @submits(lambda form, peg_id: (form, peg_id), only_show=("more",))
    def keep_peg(session: Session, peg_id: int) -> Done:
        raise AssertionError((session, peg_id))

    form, peg_id = keep_peg(request=None, raw=RawForm((("more", ""), ("label", "Coat"))), peg_id=7)
    assert isinstance(form, Form)
    assert form.value("label") == "Coat"
    assert peg_id == 7


def test_a_call_shows_the_framework_its_body_and_its_path() -> None:
    @writes
    def keep_peg(session: Session, body: Body, peg_id: int) -> Answer:
        raise AssertionError((session, body, peg_id))

    assert list(inspect.signature(keep_peg).parameters) == ["request", "body", "peg_id"]
