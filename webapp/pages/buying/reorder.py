"""When to buy again: proposals from past use, accepted one by one or all together, and the wishes behind them."""

from __future__ import annotations

from collections.abc import Sequence

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Missing, fit
from models.intake.buying.reorder import Accepted, read_accepted, read_reorder_wishes
from models.operations.buying.reorder import accept_levels, set_reorder_wishes
from models.operations.shop.clock import today
from models.queries.buying.reorder import reorder_page, reorder_wishes
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter(prefix="/buying/reorder")


@router.get("")
def proposals_page(request: Request) -> Response:
    """Every proposal, with the figures that it rests on."""
    return _page(request, None)


@router.post("/accept")
@submits(lambda request, form: _page(request, form))
def accept(session: Session, raw: RawForm) -> Done:
    """Accept one proposal or all of them, as they were shown."""
    accepted = fit(read_accepted(raw.raw()))
    before = accept_levels(session, accepted)
    many = "The reorder point is" if len(before) == 1 else f"{len(before)} reorder points are"
    return Done("/buying/reorder", f"{many} kept.", f"/buying/reorder/back/{_as_path(before)}")


@router.post("/back/{levels}")
@submits(lambda request, form: _page(request, form))
def put_back(session: Session, levels: str) -> Done:
    """Put reorder points back to what they were."""
    before = _from_path(levels)
    accept_levels(session, before)
    return Done("/buying/reorder", "They are as they were.")


@router.get("/wishes")
def wishes_page(request: Request) -> Response:
    """The form of what proposals rest on."""
    return _wishes(request, None)


@router.post("/wishes")
@submits(lambda request, form: _wishes(request, form))
def change_wishes(session: Session, raw: RawForm) -> Done:
    """Change what proposals rest on."""
    wishes = fit(read_reorder_wishes(raw.raw()))
    set_reorder_wishes(session, wishes, raw.version or 0)
    return Done("/buying/reorder", "The proposals rest on this now.")


def _page(request: Request, form: Form | None) -> Response:
    view = reorder_page(reading(request), today(prefs_of(request).time_zone))
    return render(request, "buying/reorder.html", view, form=form or Form.blank())


def _wishes(request: Request, form: Form | None) -> Response:
    view = reorder_wishes(reading(request))
    if form is None:
        typed = {
            "service": view.service_percent,
            "order_cost": view.order_cost,
            "holding": view.holding_percent,
            "days": view.days,
        }
        form = Form.blank(typed, version=view.version)
    return render(request, "buying/wishes.html", view, form=form)


def _as_path(levels: Sequence[Accepted]) -> str:
    """Reorder points as one part of an address: item, point and target, an x for none."""
    return "_".join(
        f"{one.item_id}-{'x' if one.reorder_milli is None else one.reorder_milli}"
        f"-{'x' if one.target_milli is None else one.target_milli}"
        for one in levels
    )


def _from_path(levels: str) -> tuple[Accepted, ...]:
    found = []
    for one in levels.split("_"):
        parts = one.split("-")
        if len(parts) != 3 or not all(_is_figure(part) for part in parts) or parts[0] == "x":
            raise Missing("change", levels)
        reorder, target = (None if part == "x" else int(part) for part in parts[1:])
        found.append(Accepted(int(parts[0]), reorder, target))
    return tuple(found)


def _is_figure(part: str) -> bool:
    return part == "x" or (part.isascii() and part.isdigit() and len(part) < 12)
