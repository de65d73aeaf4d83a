"""Files: the pages that look at a file, take it in, and hand one out. What files hold lives in `models`."""

from __future__ import annotations

import base64
import binascii
import re
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.errors import Missing
from models.intake.csv_file import AT_THE_COMMAND, LARGEST_BYTES, ON_A_PAGE
from models.intake.faults import Faults
from models.operations.imports import (
    KINDS,
    ONLY_OUT,
    FileKind,
    FileOut,
    Look,
    file_of,
    look_at_file,
    parts_of,
    take_file,
)
from models.operations.shop.clock import today
from models.queries.shop.shop import display_prefs
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.reading import reading
from webapp.web.render import render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]

CONTENT_FIELD = "content"
"""The looked-at file as base64: the page carries it, so that nothing is stored before the person has said yes."""
SHOWN_LINES = 100
FURTHER_FEE = re.compile(r"fee_(?!1_)\d+_")


@router.get("/settings/files")
def imports(request: Request) -> Response:
    """What kinds of files there are."""
    return render(request, "shop/files.html", tuple(KINDS.values()), only_out=tuple(ONLY_OUT.values()))


@router.get("/settings/files/{code}.csv")
def hand_out(request: Request, code: str, comma: str = "", part: int | None = None) -> Response:
    """Everything of one kind as a file; `comma=decimal` writes decimal commas, with semicolons between cells.

    `part` is one of the files that it comes in so that a page takes each of them in again.
    """
    kind: FileKind | FileOut = ONLY_OUT.get(code) or _kind(code)
    delimiter = ";" if comma == "decimal" else ","
    which = ""
    session = reading(request)
    if part is None:
        text = file_of(session, kind, delimiter=delimiter)
    else:
        parts = parts_of(session, _kind(code), delimiter=delimiter)
        if not 1 <= part <= len(parts):
            raise Missing("part", part)
        text, which = parts[part - 1], f"-part-{part}-of-{len(parts)}"
    day = today(display_prefs(session).time_zone)
    # The mark at the start tells a spreadsheet that this is UTF-8.
    return Response(
        text.encode("utf-8-sig"),
        media_type="text/csv; charset=utf-8",
        headers={
            "Content-Disposition": f'attachment; filename="{kind.code}-{day.isoformat()}{which}.csv"',
            "Cache-Control": "no-store",
        },
    )


@router.get("/settings/files/{code}/parts")
def in_parts(request: Request, code: str) -> Response:
    """The files that everything of one kind comes in, each of which can be taken in again."""
    kind = _kind(code)
    session = reading(request)
    count = len(parts_of(session, kind))
    commas = len(parts_of(session, kind, delimiter=";"))
    return render(request, "shop/parts.html", kind, count=count, commas=commas, limits=ON_A_PAGE)


@router.get("/settings/files/{code}")
def one_kind(request: Request, code: str) -> Response:
    """How a kind of file is written, and where to give one."""
    return _ask(request, _kind(code), Form.blank())


@router.post("/settings/files/{code}")
def look(request: Request, code: str, raw: Sent) -> Response:
    """Look at a file and show what would come of it; nothing is kept."""
    kind = _kind(code)
    content = _sent_content(raw)
    if content is None:
        fault = Faults.of("file", "Choose a file, or paste its lines below.")
        return _ask(request, kind, Form.sent(raw, fault))
    return _look(request, kind, content, Form.blank(), raw)


@router.post("/settings/files/{code}/take")
def take(request: Request, code: str, raw: Sent) -> Response:
    """Take the looked-at file in, as a whole."""
    kind = _kind(code)
    content = _carried_content(raw)
    if content is None:
        fault = Faults.of("file", "The file did not come along whole. Choose it again.")
        return _ask(request, kind, Form.sent(raw, fault))

    def act(session: Session) -> Done:
        count = take_file(session, kind, content)
        what = kind.one if count == 1 else kind.many
        return Done(kind.seen_at, f"{count} {what} {'was' if count == 1 else 'were'} taken in.")

    return submit_once(request, raw, act, show_again=lambda form: _look(request, kind, content, form, raw))


def _kind(code: str) -> FileKind:
    if code not in KINDS:
        raise Missing("kind of file", code)
    return KINDS[code]


def _sent_content(raw: RawForm) -> bytes | None:
    """The chosen file, or the pasted lines; None without either."""
    chosen = raw.files.get("file")
    if chosen is not None:
        return chosen.content
    pasted = raw.get("pasted")
    return pasted.encode() if pasted.strip() else None


def _carried_content(raw: RawForm) -> bytes | None:
    carried = raw.get(CONTENT_FIELD)
    if not carried or len(carried) > LARGEST_BYTES * 4 // 3 + 8:
        return None
    try:
        return base64.b64decode(carried, validate=True)
    except (binascii.Error, ValueError):
        return None


def _ask(request: Request, kind: FileKind, form: Form) -> Response:
    # The second and later fees have the columns of the first, so they are kept out of sight.
    more = tuple(column for column in kind.columns if FURTHER_FEE.match(column.name))
    return render(
        request,
        "shop/file_kind.html",
        kind,
        form=form,
        limits=ON_A_PAGE,
        at_the_command=AT_THE_COMMAND,
        first_columns=tuple(column for column in kind.columns if column not in more),
        more_columns=more,
    )


def _look(request: Request, kind: FileKind, content: bytes, form: Form, raw: RawForm) -> Response:
    """Show what taking the file in would do; a file that cannot be read asks for another one."""
    found = look_at_file(reading(request), kind, content)
    if isinstance(found, Faults):
        return _ask(request, kind, Form.sent(raw, found))
    status = form.status if form.status != 200 else 422 if found.bad else 200
    return render(
        request,
        "shop/file_preview.html",
        found,
        form=form,
        status=status,
        content="" if found.bad else base64.b64encode(content).decode("ascii"),
        shown=_shown(found),
        most_shown=SHOWN_LINES,
        place=kind.seen_at,
    )


def _shown(found: Look) -> tuple[tuple[int, tuple[tuple[str, str], ...]], ...]:
    """The first good lines as column and cell, without the empty cells."""
    good = [line for line in found.lines if not line.faults]
    return tuple(
        (line.line, tuple((name, cell) for name, cell in line.cells.items() if cell.strip()))
        for line in good[:SHOWN_LINES]
    )
