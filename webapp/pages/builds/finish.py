"""Ending builds: booking one in, giving it up, unpicking its pieces, and saying whether an odd timing counts."""

from __future__ import annotations

from fastapi import APIRouter, Request
from sqlmodel import Session
from starlette.responses import Response

from models.costing.rates import kind_words
from models.errors import fit
from models.intake.builds.build import BENCH_KINDS, read_abandon, read_finish, read_unpick
from models.operations.builds.finish import abandon_build, finish_build
from models.operations.builds.timing import judge_timing
from models.operations.builds.unpick import unpick_pieces
from models.queries.builds.build import build_view
from models.queries.builds.unpick import unpick_lines
from webapp.pages.builds.builds import done_with, show
from webapp.pages.builds.forms import fields_of, line_rows, line_values, over, precious, unpick_rows, unpick_values
from webapp.web.acting import Done, submits
from webapp.web.forms import Form, RawForm
from webapp.web.reading import reading
from webapp.web.render import render

router = APIRouter()


@router.get("/builds/{build_id}/finish")
def finish_page(request: Request, build_id: int) -> Response:
    """How a build went, where something differed."""
    return _finish(request, build_id, None)


@router.post("/builds/{build_id}/finish")
@submits(lambda request, build_id, form: _finish(request, build_id, form))
def finish(session: Session, build_id: int, raw: RawForm) -> Done:
    """Book a build in."""
    draft = fit(read_finish(fields_of(raw)))
    return done_with(finish_build(session, build_id, draft, version=raw.version))


@router.get("/builds/{build_id}/abandon")
def abandon_page(request: Request, build_id: int) -> Response:
    """What goes back and what is scrap when a build is given up."""
    return _abandon(request, build_id, None)


@router.post("/builds/{build_id}/abandon")
@submits(lambda request, build_id, form: _abandon(request, build_id, form))
def abandon(session: Session, build_id: int, raw: RawForm) -> Done:
    """Give a build up."""
    draft = fit(read_abandon(fields_of(raw)))
    return done_with(abandon_build(session, build_id, draft, version=raw.version))


@router.get("/builds/{build_id}/unpick")
def unpick_page(request: Request, build_id: int, pieces: str = "1") -> Response:
    """What goes back into the bags when pieces are taken apart."""
    return _unpick(request, build_id, pieces, None)


@router.post("/builds/{build_id}/unpick")
@submits(lambda request, build_id, raw, form: _unpick(request, build_id, raw.get("pieces"), form))
def unpick(session: Session, build_id: int, raw: RawForm) -> Done:
    """Take pieces apart."""
    draft = fit(read_unpick(fields_of(raw)))
    return done_with(unpick_pieces(session, build_id, draft, version=raw.version))


@router.post("/builds/{build_id}/timing")
@submits(lambda request, build_id, form: show(request, build_id, form))
def timing(session: Session, build_id: int, raw: RawForm) -> Done:
    """Let an odd timing count for what the shop learns, or leave it out."""
    use = raw.get("timing") == "use"
    words = judge_timing(session, build_id, use=use, version=raw.version)
    return Done(f"/builds/{build_id}#work", words)


def _finish(request: Request, build_id: int, form: Form | None) -> Response:
    view = build_view(reading(request), build_id)
    values = {"good": view.row.pieces, "spoiled": "", "keep_scrap": True, "lines": line_values(view.lines)}
    blank = Form.blank(values, version=view.row.version)
    return render(
        request,
        "builds/finish.html",
        view,
        form=over(form, blank),
        rows=line_rows(view.lines),
        kinds=[(f"time_{kind}", kind_words(kind)) for kind in BENCH_KINDS],
        precious=precious(line.item for line in view.lines),
    )


def _abandon(request: Request, build_id: int, form: Form | None) -> Response:
    view = build_view(reading(request), build_id)
    blank = Form.blank({"keep_scrap": True, "lines": line_values(view.lines)}, version=view.row.version)
    return render(
        request,
        "builds/abandon.html",
        view,
        form=form or blank,
        rows=line_rows(view.lines),
        precious=precious(line.item for line in view.lines),
    )


def _unpick(request: Request, build_id: int, pieces: str, form: Form | None) -> Response:
    many = int(pieces) if pieces.isascii() and pieces.isdigit() and 0 < len(pieces) < 6 else 1
    session = reading(request)
    view = build_view(session, build_id)
    lines = unpick_lines(session, build_id, max(1, many))
    values = {"pieces": max(1, many), "keep_scrap": True, "lines": unpick_values(lines)}
    return render(
        request,
        "builds/unpick.html",
        view,
        form=form or Form.blank(values, version=view.row.version),
        rows=unpick_rows(lines),
        precious=precious(line.item for line in lines),
    )
