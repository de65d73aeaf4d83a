"""Signing in and out, and the page of password, devices and keys. The gate itself is `webapp/sign_in.py`."""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter, Request
from fastapi.responses import HTMLResponse, RedirectResponse
from filelock import Timeout
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Conflict, fit
from models.intake.faults import Faults
from models.intake.shop.sign_in import read_key_name, read_new_password, read_password
from models.operations.shop import sign_in as operations
from models.operations.shop.clock import now
from models.queries.shop.idempotency import done_with
from models.queries.shop.shop import UNFOUNDED, shop_settings
from models.queries.shop.sign_in import has_password, sign_in_page
from webapp.sign_in import (
    DEVICES_PAGE,
    SIGN_IN_PAGE,
    address_of,
    device_words,
    drop_cookie,
    keep_cookie,
    safe_next,
    visitor_of,
)
from webapp.web.acting import Done, Sent, submits
from webapp.web.forms import Form, RawForm
from webapp.web.reading import reading
from webapp.web.render import bare_frame, html, render
from webapp.web.submit_once import busy, submit_once

router = APIRouter()

WRONG_PASSWORD = "That is not the password."  # noqa: S105  (words of a page)


@dataclass(frozen=True, slots=True)
class SignInView:
    """The sign-in page: where it goes on to, and whether something sent before was not saved."""

    next: str
    unsent: bool


@dataclass(frozen=True, slots=True)
class Tried:
    """What came of a try at the password: right, wrong, or too early by so many seconds."""

    right: bool
    wait_s: int
    password_hash: str


@router.get(SIGN_IN_PAGE)
def sign_in_form(request: Request, next: str = "/", unsent: str = "") -> Response:  # noqa: A002  (a word of the address)
    """Ask for the password; who is signed in goes on."""
    if visitor_of(request).may_enter:
        return RedirectResponse(safe_next(next), status_code=303)
    return _sign_in(Form.blank({"next": safe_next(next)}), unsent=bool(unsent))


@router.post(SIGN_IN_PAGE)
def sign_in(request: Request, raw: Sent) -> Response:
    """Open a session for the right password."""
    store = request.app.state.store
    going = safe_next(raw.get("next"))
    visitor = visitor_of(request)
    if not visitor.guarded:
        return RedirectResponse(going, status_code=303)
    password = read_password(raw.raw())
    if not password:
        return _sign_in(Form.sent(raw, Faults.of("password", "Type the password.")))
    try:
        tried = try_password(request, password)
        if not tried.right:
            return _refused(_sign_in(_wrong(raw, tried, "password")), tried)
        with store.writing() as session:
            token = operations.sign_in(
                session,
                address=address_of(request.scope),
                device=device_words(request.headers.get("user-agent", "")),
                password=password,
                checked_hash=tried.password_hash,
                instead_of=visitor.id if visitor.kind == "device" else None,
            )
    except Conflict as changed:
        return _sign_in(Form.sent(raw, Faults.of("", str(changed)), status=409))
    except Timeout:
        return busy(raw, _sign_in)
    answer = RedirectResponse(going, status_code=303, headers={"Cache-Control": "no-store"})
    keep_cookie(answer, request, token)
    return answer


@router.post("/sign-out")
def sign_out(request: Request) -> Response:
    """End the session of this device; once more does no harm."""
    visitor = visitor_of(request)
    if visitor.kind == "device" and visitor.id is not None:
        with request.app.state.store.writing() as session:
            operations.end_session(session, visitor.id)
    answer = RedirectResponse(SIGN_IN_PAGE, status_code=303)
    drop_cookie(answer, request)
    return answer


@router.get(DEVICES_PAGE)
def devices(request: Request) -> Response:
    """The password, who is signed in, and the keys of programs."""
    return _devices(request, None)


@router.post(DEVICES_PAGE)
def set_password(request: Request, raw: Sent) -> Response:
    """Set the password, or another one for who knows the old one."""
    visitor = visitor_of(request)
    session = reading(request)
    guarded, studio = has_password(session), shop_settings(session).name
    repeated = done_with(session, raw.token) is not None
    checked = ""
    if guarded and not repeated:
        try:
            tried = try_password(request, read_password(raw.raw(), "old_password"))
        except Timeout:
            return busy(raw, lambda form: _devices(request, form))
        if not tried.right:
            return _refused(_devices(request, _wrong(raw, tried, "old_password")), tried)
        checked = tried.password_hash
    opened: list[str] = []

    def act(session: Session) -> Done:
        chosen = fit(read_new_password(raw.raw(), studio=studio))
        operations.change_password(session, chosen, checked_hash=checked, stays=visitor.id)
        if visitor.kind != "device":
            opened.append(operations.open_session(session, device_words(request.headers.get("user-agent", ""))))
        return Done(DEVICES_PAGE, "The password is changed." if guarded else "The password is set. You are signed in.")

    answer = submit_once(request, raw, act, show_again=lambda form: _devices(request, form))
    if opened and answer.status_code == 303:
        keep_cookie(answer, request, opened[0])
    return answer


@router.post(DEVICES_PAGE + "/devices/{device_id}/sign-out")
@submits(lambda request, form: _devices(request, form))
def sign_out_device(session: Session, device_id: int) -> Done:
    """End the session of one device."""
    device = operations.sign_out(session, device_id)
    return Done(DEVICES_PAGE, f"{device} is signed out.")


@router.post(DEVICES_PAGE + "/everywhere")
def sign_out_everywhere(request: Request, raw: Sent) -> Response:
    """End every session, this one too."""

    def act(session: Session) -> Done:
        operations.sign_out_everywhere(session)
        return Done(SIGN_IN_PAGE)

    answer = submit_once(request, raw, act, show_again=lambda form: _devices(request, form))
    drop_cookie(answer, request)
    return answer


@router.get(DEVICES_PAGE + "/keys/new")
def new_key(request: Request) -> Response:
    """Ask what a key is for."""
    return _new_key(request, None)


@router.post(DEVICES_PAGE + "/keys/new")
def make_key(request: Request, raw: Sent) -> Response:
    """Make a key, and show it this once; sent twice it makes one, and the second answer does not show it."""
    made: list[tuple[str, str]] = []

    def act(session: Session) -> Done:
        name = fit(read_key_name(raw.raw()))
        made.append((name, operations.make_key(session, name)))
        return Done(
            DEVICES_PAGE, "The key was made, and shown once. If you did not see it, revoke it and make another."
        )

    answer = submit_once(request, raw, act, show_again=lambda form: _new_key(request, form))
    if not made or answer.status_code != 303:
        return answer
    name, key = made[0]
    shown = render(request, "shop/key_made.html", name, key=key)
    shown.headers["Cache-Control"] = "no-store"
    return shown


@router.post(DEVICES_PAGE + "/keys/{key_id}/revoke")
@submits(lambda request, form: _devices(request, form))
def revoke_key(session: Session, key_id: int) -> Done:
    """Make a key worthless."""
    name = operations.revoke_key(session, key_id)
    return Done(DEVICES_PAGE, f"The key '{name}' is revoked; what used it is kept out from now on.")


def try_password(request: Request, password: str) -> Tried:
    """Count a try in one transaction, then check it with none open, as that takes its time.

    Raises `Conflict` when there is no password.
    """
    store = request.app.state.store
    with store.writing() as session:
        counted = operations.count_try(session, address_of(request.scope))
    if counted.wait_s:
        return Tried(False, counted.wait_s, "")
    return Tried(operations.is_right(password, counted.password_hash), 0, counted.password_hash)


def _wrong(raw: RawForm, tried: Tried, field: str) -> Form:
    if not tried.wait_s:
        return Form.sent(raw, Faults.of(field, WRONG_PASSWORD))
    span = f"{tried.wait_s} seconds" if tried.wait_s < 90 else f"{-(-tried.wait_s // 60)} minutes"
    words = f"There were too many tries. Wait {span}, then try again."
    return Form.sent(raw, Faults.of("", words), status=429)


def _refused(answer: Response, tried: Tried) -> Response:
    if tried.wait_s:
        answer.headers["Retry-After"] = str(tried.wait_s)
    return answer


def _sign_in(form: Form, *, unsent: bool = False) -> Response:
    context = {
        "view": SignInView(safe_next(form.value("next")), unsent),
        "form": form,
        "frame": bare_frame(SIGN_IN_PAGE),
    }
    page = html("shop/sign_in.html", context, UNFOUNDED)
    return HTMLResponse(page, status_code=form.status, headers={"Cache-Control": "no-store"})


def _devices(request: Request, form: Form | None) -> Response:
    visitor = visitor_of(request)
    view = sign_in_page(reading(request), at=now(), this_device=visitor.id if visitor.kind == "device" else None)
    state = request.app.state
    return render(
        request,
        "shop/devices.html",
        view,
        form=form or Form.blank(),
        addresses=state.addresses,
        open_shop=state.settings.demo,
    )


def _new_key(request: Request, form: Form | None) -> Response:
    return render(request, "shop/key_new.html", None, form=form or Form.blank())
