"""What can be made now: the list, and what making one design does to the others. The best mix is in `make_plan`."""

from __future__ import annotations

from urllib.parse import urlencode

from fastapi import APIRouter, Request
from starlette.responses import Response

from models.errors import fit_or
from models.intake.builds.build import instead_value
from models.intake.planning.makeable import MOST_SKILL, MakeFilter, read_make_filter
from models.queries.planning.makeable import MakeRow, Proposal, makeable_view
from models.trade.vocabulary.plans import MAKE_ORDERS
from webapp.web.forms import Form, RawForm, read_address
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()

SKILLS = (
    ("", "any"),
    *((str(skill), f"{skill} of {MOST_SKILL}, or easier") for skill in range(1, MOST_SKILL)),
)


@router.get("/makeable")
def list_page(request: Request) -> Response:
    """Every design with how many can be made, what runs out first, how long it takes and what it earns."""
    asked = read_address(request)
    wanted, faults = fit_or(read_make_filter(asked.raw()), MakeFilter())
    view = makeable_view(reading(request), wanted)
    return render(
        request,
        "planning/list.html",
        view,
        block="list",
        status=422 if faults else 200,
        asked=Form.sent(asked, faults),
        query=_query_without(asked, "making", "pieces", "page"),
        orders=tuple(MAKE_ORDERS.items()),
        skills=SKILLS,
        build_query=build_query,
        instead_query=instead_query,
    )


def build_query(row: MakeRow, pieces: int, *, spare: bool = False) -> str:
    """The address of a build of a row, after its question mark."""
    fields = [("design_id", str(row.design_id)), ("pieces", str(pieces))]
    fields += [("choice", choice) for choice in row.recipe.choices]
    return urlencode([*fields, *([("spare", "yes")] if spare else [])])


def instead_query(row: MakeRow, proposal: Proposal) -> str:
    """The same with a stand-in chosen, for all that it gives."""
    pieces = max(1, min(proposal.told.more_pieces or 1, 999))
    pair = instead_value(proposal.item.id, proposal.other.id)
    return f"{build_query(row, pieces, spare=row.answer.with_allowance)}&{urlencode({'instead': pair})}"


def _query_without(asked: RawForm, *names: str) -> str:
    """What was asked, as the beginning of an address that adds the names left out."""
    return urlencode([(name, value) for name, value in asked.items if name not in (*names, "said") and value])
