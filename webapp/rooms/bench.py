"""The Bench: the first page. What stands on it is read in `models/queries/bench`."""

from __future__ import annotations

from fastapi import APIRouter, Request
from starlette.responses import Response

from models.queries.bench import bench_page
from webapp.frame.render import render

router = APIRouter()


@router.get("/")
def bench(request: Request) -> Response:
    """What was worked on last, what is not sure yet, and what no longer pays."""
    with request.app.state.store.reading() as session:
        view = bench_page(session)
    return render(request, "bench/bench.html", view)
