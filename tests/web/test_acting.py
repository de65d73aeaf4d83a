"""Routes that are written as what they do: what the web framework sees of them, and what reaches the act."""

from __future__ import annotations

import inspect

import pytest
from fastapi import Request
from sqlmodel import Session

from models.errors import Unfit, fit, fit_both, fit_or
from models.intake.faults import Fault, Faults
from webapp.web.acting import Answer, Body, Done, renamed, submits, writes, writes_without_body
from webapp.web.forms import Form, RawForm
from webapp.web.json_api import Problem, readable


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


def test_a_call_without_a_body_shows_the_framework_only_its_address() -> None:
    @writes_without_body
    def drop_peg(session: Session, peg_id: int) -> Answer:
        raise AssertionError((session, peg_id))

    assert list(inspect.signature(drop_peg).parameters) == ["request", "peg_id"]


def test_what_is_wrong_is_named_as_the_page_names_it() -> None:
    def on_page(faults: Faults) -> Faults:
        return Faults(tuple(Fault(f"peg.{fault.field}", fault.message) for fault in faults))

    with pytest.raises(Unfit) as refused, renamed(on_page):
        fit(Faults.of("label", "Give it a label."))
    assert refused.value.faults.by_field() == {"peg.label": "Give it a label."}


def test_two_readings_with_faults_are_refused_with_the_faults_of_both_in_order() -> None:
    wrong, also = Faults.of("version", "Give the version."), Faults.of("label", "Give it a label.")
    assert fit_both(3, "Coat") == (3, "Coat")
    for first, second, fields in (
        (wrong, "Coat", ["version"]),
        (3, also, ["label"]),
        (wrong, also, ["version", "label"]),
    ):
        with pytest.raises(Unfit) as refused:
            fit_both(first, second)
        assert [fault.field for fault in refused.value.faults] == fields


def test_an_address_that_cannot_be_read_is_answered_with_the_count_of_its_faults() -> None:
    assert readable("Coat") == "Coat"
    with pytest.raises(Problem) as refused:
        readable(Faults((Fault("a", "No."), Fault("b", "No."))))
    assert (refused.value.status, refused.value.detail) == (422, "2 things are wrong.")


def test_the_number_of_a_thing_is_read_from_a_field_and_nonsense_is_none() -> None:
    raw = RawForm((("peg_id", "17"), ("word", "x"), ("minus", "-1"), ("long", "1234567890"), ("other", "\u0663")))
    assert raw.number_of("peg_id") == 17
    assert {name: raw.number_of(name) for name in ("word", "minus", "long", "other", "gone")} == dict.fromkeys(
        ("word", "minus", "long", "other", "gone")
    )


def test_what_cannot_be_read_is_given_with_what_stands_in_its_place() -> None:
    wrong = Faults.of("label", "Give it a label.")
    assert fit_or("Coat", "Hat") == ("Coat", None)
    assert fit_or(wrong, "Hat") == ("Hat", wrong)
