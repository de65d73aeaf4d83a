"""The Bench: the first page. What stands on it is read in `models/queries/bench`."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from models.operations.shop.clock import today
from models.queries.bench import bench_page
from models.queries.builds.list import builds_under_way, designs_to_make
from models.queries.buying.needs import needs
from models.queries.buying.purchase import coming
from models.queries.planning.recipes import short_answer
from webapp.web.forms import Form
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()


@router.get("/")
def bench(request: Request) -> Response:
    """What is under way, can be made, must be bought, was worked on last, is not sure yet, and what no longer pays."""
    session = reading(request)
    view = bench_page(session)
    under_way, designs = builds_under_way(session), designs_to_make(session)
    makeable = short_answer(session)
    needed = needs(session)
    on_the_way = coming(session)
    quick = Form.blank({"pieces": 1})
    return render(
        request,
        "bench/bench.html",
        view,
        under_way=under_way,
        designs=designs,
        quick=quick,
        makeable=makeable,
        to_buy=tuple(row for row in needed if row.wanted_milli),
        covered=tuple(row for row in needed if row.low and not row.wanted_milli),
        coming=on_the_way,
        today=today(prefs_of(request).time_zone),
    )
