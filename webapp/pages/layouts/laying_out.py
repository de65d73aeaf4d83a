"""The laying-out room: a piece laid out as rows or as a length of chain, changed, painted, and saved with its design.

The whole state travels with the page; what a button does to it is settled in `models/queries/designs/editor_state`.
Sheets, kits and downloads have rooms of their own.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from fastapi import APIRouter, Request
from markupsafe import Markup
from sqlmodel import Session
from starlette.responses import Response

from models.errors import fit, fit_both
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft, read_design
from models.intake.faults import Fault, Faults
from models.intake.layouts.act import split_act
from models.intake.layouts.layout import LayoutDraft
from models.intake.raw import Reader
from models.layouts.engine.chain_weaves import CHAINS
from models.layouts.weaves.sheets import SHEETS
from models.operations.designs.design import change_design
from models.operations.designs.layout import add_laid_out_design
from models.queries.designs.design import design_view
from models.queries.designs.editor_page import EditorPage, editor_page
from models.queries.designs.editor_state import EditorState, editor_state_of, press_button
from models.trade.vocabulary.pieces import HANGINGS, SHAPES
from models.trade.weaves import WEAVES
from webapp.web.acting import Done, Sent, renamed, submits
from webapp.web.filters import typed_money
from webapp.web.forms import Form, RawForm
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import is_htmx, render

router = APIRouter()

NOT_FIELDS = frozenset(
    {"state", "past", "ahead", "strokes", "act", "row", "brush", "version", "token", "quiet", "price"}
)
"""What the page carries besides its fields."""

FIRST_VALUES: Mapping[str, str] = {
    "weave": "european-4-in-1", "shape": "lozenge", "lozenge_middle": "6", "lozenge_tips": "1", "lozenge_step": "1",
    "rectangle_rows": "10", "rectangle_rings": "8", "strip_long": "60", "strip_wide": "5", "strip_along": "rows",
    "triangle_widest": "8", "triangle_point": "last", "triangle_step": "1", "trapezium_first": "4",
    "trapezium_last": "9", "trapezium_step": "1", "fan_rows": "8", "fan_widest": "9", "fan_straight": "row starts",
    "fan_step": "1", "disc_rows": "11", "edges_rows": "8", "edges_rings": "8", "edges_starts": "flush",
    "edges_ends": "flush", "edges_first": "flush", "edges_last": "flush", "grow_edge": "bottom", "grow_by": "1",
    "stripes_from_row": "1", "checks_rows": "1", "checks_rings": "1", "border_width": "1", "repeat_times": "2",
    "mirror_about": "row", "hang_kind": "hang", "hang_where": "bottom", "hang_each": "1", "hang_every": "1",
    "hang_skip": "0", "swap_keep": "shape", "chain_share": "40", "turn_up": "bottom",
}  # fmt: skip

WORDS: Mapping[str, object] = {
    "sheets": [(code, WEAVES[code].name) for code in SHEETS],
    "chains": [(code, WEAVES[code].name if code in WEAVES else code) for code in CHAINS],
    "shapes": SHAPES.choices,
    "kinds": HANGINGS.choices,
}
"""The words of the room's choices."""

GROUP_OF: Mapping[str, str] = {
    "lay": "shape", "fit-units": "shape", "row": "rows", "repeat": "rows", "page": "rows", "border": "colours",
    "stripes": "colours", "along": "colours", "checks": "colours", "recolour": "colours", "hang": "hang",
    "attach": "hang", "attach-look": "hang", "detach": "hang", "grow": "edges", "shrink": "edges", "turn": "edges",
    "mirror": "edges", "add": "rings", "add-item": "rings", "add-typed": "rings", "swap": "rings", "resize": "rings",
    "take-out": "rings", "fit": "size", "fit-rings": "size", "fit-rows": "size", "new": "rings", "chain": "shape",
    "weave": "shape", "connector": "shape", "price": "rings",
}  # fmt: skip
"""In which group of tools an act, or the first word of a field, is at home."""


@router.get("/designs/new/rows")
def new_page(request: Request) -> Response:
    """Begin a piece: weave, shape, ring."""
    return _room(request, None, None)


@router.post("/designs/new/rows")
@submits(lambda request, raw, form: _room(request, None, raw, form=form))
def create(session: Session, request: Request, raw: RawForm) -> Done:
    """Save a new design that is laid out."""
    desk = _desk(request, session, raw, "live")
    fields = {"name": raw.get("name"), "piece": raw.get("piece")}
    read = read_design(fields, length_unit=prefs_of(request).length_unit)
    draft, layout = fit_both(read, _ready(desk))
    design_id = add_laid_out_design(session, replace(draft, layout=layout))
    return Done(f"/designs/{design_id}", f"{draft.name} is saved.", f"/designs/{design_id}/discard")


@router.post("/designs/rows/preview")
def preview(request: Request, raw: Sent) -> Response:
    """The piece after a button: in parts for htmx, the whole page for browsers without scripts."""
    design_id = raw.number_of("design")
    return _room(request, design_id, raw, act=raw.get("act"))


@router.get("/designs/{design_id}/rows")
def rows_page(request: Request, design_id: int) -> Response:
    """Lay a design out, or change how it is laid out."""
    return _room(request, design_id, None)


@router.post("/designs/{design_id}/rows")
@submits(lambda request, design_id, raw, form: _room(request, design_id, raw, form=form))
def save(session: Session, request: Request, design_id: int, raw: RawForm) -> Done:
    """Save how a design is laid out: a new revision where anything differs."""
    desk = _desk(request, session, raw, "live")
    laid = fit(_ready(desk))
    stored = design_view(session, design_id).draft
    note = Reader(raw.raw()).text("change_note")
    changed = replace(stored, layout=laid, change_note=note, parts=_plain(stored, laid, raw))
    with renamed(_as_rows):
        done = change_design(session, design_id, raw.version, changed)
    here = f"/designs/{design_id}"
    if not done.changed:
        return Done(here, "Nothing was changed.")
    return Done(here, f"Saved as revision {done.revision}." if done.revision else "Saved.")


def _as_rows(faults: Faults) -> Faults:
    return Faults(tuple(Fault(one.field.removeprefix("rows."), one.message) for one in faults))


def _plain(stored: DesignDraft, laid: LayoutDraft, raw: RawForm) -> tuple[PartDraft, ...]:
    """The plain parts, without those whose place the rows take where that is wished."""
    if raw.get("take_place") != "yes":
        return stored.parts
    things = {_what(entry.thing) for entry in laid.palette}
    return tuple(part for part in stored.parts if part.layout_key or _what(part) not in things)


def _what(part: PartDraft) -> tuple[object, ...]:
    """What tells one thing from another: its item, or all that was typed of it."""
    if part.item_id is not None:
        return (part.item_id,)
    typed = (part.typed_kind, part.typed_name, part.typed_metal, part.typed_colour)
    return (*typed, part.typed_wire_nm, part.typed_inner_nm)


def _ready(desk: EditorState) -> LayoutDraft | Faults:
    """The layout, or what has to be put right before the piece can be saved."""
    if desk.faults:
        return Faults(tuple(desk.faults))
    return Faults.of("shape", "Lay the piece out first.") if desk.draft is None else desk.draft


def _desk(request: Request, session: Session, raw: RawForm, act: str) -> EditorState:
    return press_button(session, raw.raw(), act, length_unit=prefs_of(request).length_unit)


def _room(
    request: Request, design_id: int | None, raw: RawForm | None, *, act: str = "", form: Form | None = None
) -> Response:
    """The room as it is saved, or with what was sent; `form` carries why saving was refused."""
    quiet = raw is not None and act == "strokes" and raw.get("quiet") == "yes" and is_htmx(request)
    session = reading(request)
    if raw is None:
        draft = design_view(session, design_id).draft.layout if design_id is not None else None
        desk = editor_state_of(session, draft, length_unit=prefs_of(request).length_unit)
    else:
        desk = _desk(request, session, raw, "live" if form else act)
    view = editor_page(
        session,
        desk,
        design_id,
        first_row=_first_row(raw, act),
        around=_around(raw, act),
        wanted_mm=_wanted(request, raw),
        quiet=quiet,
    )
    shown = _form(view, raw, form)
    drawing = Markup(view.svg) if view.svg else None  # noqa: S704  (made by models/layouts, which escapes words)
    group = _group(shown, act)
    parts = raw is not None and form is None and view.work is not None and is_htmx(request)
    return render(
        request,
        "layouts/rows_parts.html" if parts else "layouts/rows.html",
        view,
        form=shown,
        oob=parts,
        words=WORDS,
        drawing=drawing,
        quiet=quiet,
        act_group=group,
    )


def _group(form: Form, act: str) -> str:
    """The group of tools that the page opens at: where something is wrong, else where the last act was."""
    for name in form.faults:
        first = name.partition("_")[0].partition(".")[0]
        if first in GROUP_OF or first in SHAPES:
            return GROUP_OF.get(first, "shape")
    verb, number = split_act(act)
    return GROUP_OF.get(verb) or ("rows" if verb.startswith("row-") or (act == "live" and number is None) else "")


def _first_row(raw: RawForm | None, act: str) -> int:
    """The row that the fields begin with."""
    verb, number = split_act(act)
    if verb == "page" and number:
        return number
    text = raw.get("first_row") if raw else ""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 6 and int(text) else 1


def _around(raw: RawForm | None, act: str) -> str:
    """The ring that the drawing is closed in on."""
    if raw is None or act == "zoom-out":
        return ""
    return raw.get("paint_rings").split(",")[0].strip() if act == "zoom" else raw.get("around")


def _wanted(request: Request, raw: RawForm | None) -> tuple[float | None, float | None]:
    """The wanted width and height in millimetres, as far as they can be read."""
    if raw is None:
        return None, None
    reader = Reader(
        {name: raw.get(name) for name in ("fit_width", "fit_height")}, length_unit=prefs_of(request).length_unit
    )
    wide, high = reader.length("fit_width", required=False), reader.length("fit_height", required=False)
    return (wide.nm / 1e6 if wide and wide.nm > 0 else None), (high.nm / 1e6 if high and high.nm > 0 else None)


def _form(view: EditorPage, raw: RawForm | None, form: Form | None) -> Form:
    """The fields as shown, with what is wrong beside them."""
    design, desk = view.shop.design, view.desk
    typed = {name: value for name, value in (raw.raw() if raw else {}).items() if name not in NOT_FIELDS}
    rows = [{"number": str(row.number), "start": row.start, "text": row.text, "was": row.was} for row in view.rows]
    by_field = Faults(desk.faults).by_field() if desk.faults else {}
    if raw is not None and any(name.startswith("row.") for name in by_field):
        rows = _kept(raw, "row", rows)
    prices = [{"key": one.key, "guess": typed_money(one.guess)} for one in view.palette if one.thing.item_id is None]
    if raw is not None and any(name.startswith("price.") for name in by_field):
        prices = _kept(raw, "price", prices)
    saved = {"weave": view.weave_code} if view.plan and raw is None else {}
    asked = {} if raw is not None and "take_asked" in raw else {"take_place": "yes"}
    values = {
        **FIRST_VALUES,
        **asked,
        **saved,
        **typed,
        **desk.fields,
        "row": rows,
        "price": prices,
        "brush": desk.brush,
    }
    shown = Form.blank(values, version=design.version if design else None)
    if form is not None:
        return replace(form, values=shown.values)
    faults = {name: words for name, words in by_field.items() if name}
    general = tuple(words for name, words in by_field.items() if not name)
    version = raw.version if raw is not None else shown.version
    return replace(shown, faults=faults, general=general, version=version, status=200)


def _kept(raw: RawForm, group: str, rows: list[dict[str, str]]) -> list[dict[str, str]]:
    """The rows of a group with what was typed in them, where one of them cannot be read."""
    found = raw.raw().get(group)
    typed = [row for row in found if isinstance(row, dict)] if isinstance(found, list) else []
    return [{**row, **{name: str(value) for name, value in one.items()}} for row, one in zip(rows, typed, strict=False)]
