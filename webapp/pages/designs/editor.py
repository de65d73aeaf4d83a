"""The editor of a design: one page from parts to price.

What rows mean is settled in `models/queries/designs/part_rows`.

The same state is shown three ways: as the page, as parts of it that htmx swaps while things are typed, and as the
page again when saving was refused. The list and the pages of a design are in `designs`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Annotated

from fastapi import APIRouter, Depends, Request
from sqlmodel import Session
from starlette.responses import Response

from models.costing.labour import work_from_parts
from models.disk import disk_words
from models.errors import Unfit
from models.intake.designs.design import COUNT_WORK, ONCE_WORK, PIECE_WORK, USUAL_WORK, DesignDraft, read_rough_design
from models.intake.faults import Fault, Faults
from models.intake.layouts.parts import own_parts
from models.operations.designs.design import add_design, change_design
from models.operations.shop.photo import hold_photo, keep_photo
from models.queries.costing.costing import CostView, cost_of_draft
from models.queries.costing.part_facts import PartFacts
from models.queries.designs.export import design_cells
from models.queries.designs.form import DesignForm, design_form
from models.queries.designs.layout import laid_out
from models.queries.designs.part_rows import ResolvedRows, SettledRow, resolve_rows, rows_of
from models.trade.vocabulary.bench import HAND_WORK, SKILLS, WORK_KINDS
from models.trade.weaves import WEAVES
from webapp.web.acting import renamed
from webapp.web.forms import Form, RawForm, read_form
from webapp.web.prefs import prefs_of
from webapp.web.reading import reading
from webapp.web.render import is_htmx, render
from webapp.web.submit_once import Done, submit_once

router = APIRouter()
Sent = Annotated[RawForm, Depends(read_form)]

HAND_ROW = {"pick": "typed", "kind": "ring", "quantity": "", "unit": "piece", "joined": "yes"}
NEW_VALUES = {"skill": "1", **dict.fromkeys(USUAL_WORK, True)}
NOT_FIELDS = ("parts", "quick", "act", "stock_item", "stock_quantity", "design", "version")


def _offered(kinds: Iterable[str]) -> tuple[tuple[str, str], ...]:
    return tuple((kind, WORK_KINDS.term(kind).label) for kind in kinds)


WORDS = {
    "counts": _offered(COUNT_WORK),
    "times": _offered(PIECE_WORK),
    "once": _offered(ONCE_WORK),
    "skills": SKILLS.choices,
    "weaves": [(weave.code, weave.name) for weave in WEAVES.values()],
}
"""The words of the editor's fields."""


@dataclass(frozen=True, slots=True)
class Editor:
    """What the editor page shows besides its form.

    `rows` are the parts as settled; `uncounted` says in words which of them are not in the cost yet, and why.
    `photo` is the name of the photo that would be saved. `action` is where the form is sent. `laid` are the parts that
    the design's rows make: shown, and changed only where the rows are.
    """

    shop: DesignForm
    rows: tuple[SettledRow, ...]
    uncounted: tuple[str, ...]
    photo: str
    action: str
    scale_nm: int
    counts: Mapping[str, Decimal]
    laid: tuple[PartFacts, ...] = ()
    act: str = ""

    @property
    def first_asking(self) -> int | None:
        """The place of the first row that asks, which a page moves to."""
        return next((place for place, row in enumerate(self.rows) if row.state == "ask"), None)

    @property
    def asking(self) -> bool:
        """Whether any row asks."""
        return self.first_asking is not None

    @property
    def is_new(self) -> bool:
        """Whether the design was never saved."""
        return self.shop.design is None


@dataclass(frozen=True, slots=True)
class _State:
    """One moment of editing: the page's fields, the settled rows, the draft that they make, and its faults."""

    fields: Mapping[str, object]
    settled: ResolvedRows
    draft: DesignDraft
    faults: tuple[Fault, ...]

    def on_the_page(self, faults: Faults) -> Faults:
        """The faults of an operation beside the fields as the page has them."""
        return Faults(self.settled.on_the_page(faults))


@router.get("/designs/new")
def new_page(request: Request) -> Response:
    """A new design: type its parts, see cost and prices, save."""
    return _editor(request, None, None)


@router.post("/designs")
def create(request: Request, raw: Sent) -> Response:
    """Save a new design."""
    photo = _sent_photo(request, raw)

    def act(session: Session) -> Done:
        state = _state(request, session, raw, "save")
        _refuse_unready(state, photo)
        with renamed(state.on_the_page):
            design_id = add_design(session, state.draft, photo=photo if isinstance(photo, str) else None)
        return Done(f"/designs/{design_id}", f"{state.draft.name} is saved.")

    return submit_once(request, raw, act, show_again=lambda form: _editor(request, None, raw, form=form, photo=photo))


@router.post("/designs/preview")
def preview(request: Request, raw: Sent) -> Response:
    """The editor with what is typed, costed but not saved: in parts for htmx, whole for browsers without scripts."""
    design_id = raw.number_of("design")
    return _editor(request, design_id, raw, act=raw.get("act"), photo=_sent_photo(request, raw))


@router.get("/designs/{design_id}/edit")
def edit_page(request: Request, design_id: int) -> Response:
    """Change a design."""
    return _editor(request, design_id, None)


@router.post("/designs/{design_id}/edit")
def save(request: Request, design_id: int, raw: Sent) -> Response:
    """Save a changed design: a new revision where parts, work or sizes changed."""
    photo = _sent_photo(request, raw)

    def act(session: Session) -> Done:
        state = _state(request, session, raw, "save")
        _refuse_unready(state, photo)
        with renamed(state.on_the_page):
            done = change_design(
                session,
                design_id,
                raw.version,
                state.draft,
                photo=photo if isinstance(photo, str) else None,
                keep_layout=not raw.get("rows"),
            )
        here = f"/designs/{design_id}"
        if not done.changed:
            return Done(here, "Nothing was changed.")
        return Done(here, f"Saved as revision {done.revision}." if done.revision else "Saved.")

    return submit_once(
        request, raw, act, show_again=lambda form: _editor(request, design_id, raw, form=form, photo=photo)
    )


def _editor(
    request: Request,
    design_id: int | None,
    raw: RawForm | None,
    *,
    act: str = "",
    form: Form | None = None,
    photo: str | Faults | OSError | None = None,
) -> Response:
    """The editor: as it is saved, or with what was sent; `form` carries why saving was refused."""
    session = reading(request)
    shop = design_form(session, design_id)
    state = _saved_state(session, shop) if raw is None else _state(request, session, raw, act)
    costing = cost_of_draft(session, _with_rows(session, state.draft, shop), design_id=design_id)
    editor = Editor(
        shop=shop,
        rows=state.settled.rows,
        uncounted=_uncounted(state),
        photo=_shown_photo(shop, state.fields, photo),
        action=f"/designs/{design_id}/edit" if design_id else "/designs",
        scale_nm=max((row.size.outer_nm for row in state.settled.rows if row.size), default=0),
        counts=_counts(costing),
        laid=tuple(part for part in costing.inputs.parts if part.from_rows),
        act=act,
    )
    shown = _form(state, editor, form, raw, photo)
    if raw is not None and form is None and is_htmx(request):
        return render(request, "designs/preview.html", editor, form=shown, costing=costing, oob=True)
    return render(request, "designs/editor.html", editor, form=shown, costing=costing, oob=False, words=WORDS)


def _form(state: _State, editor: Editor, form: Form | None, raw: RawForm | None, photo: object) -> Form:
    """The fields as shown, with what is wrong beside them; a preview never complains of what is still empty."""
    design = editor.shop.design
    # Only a photo that is not saved yet travels with the form, so that an old page never brings an old photo back.
    new_photo = editor.photo if editor.photo != (design.photo if design else None) else ""
    values = {**state.fields, "quick": "", "photo_name": new_photo, "parts": [row.fields for row in editor.rows]}
    version = design.version if design else None
    shown = Form.blank(values, version=version)
    if form is not None:
        return replace(form, values=shown.values)
    if raw is None:
        return shown
    faults = [fault for fault in state.faults if shown.value(fault.field).strip()]
    if isinstance(photo, Faults):
        faults += photo.items
    elif isinstance(photo, OSError):
        faults.append(Fault("photo", disk_words(photo)))
    by_field = Faults(tuple(faults)).by_field() if faults else {}
    return replace(shown, faults=by_field, version=raw.version, status=200)


def _saved_state(session: Session, shop: DesignForm) -> _State:
    design = shop.design
    if design is None:
        fields: dict[str, object] = {**NEW_VALUES, "once_pieces": str(shop.once_pieces)}
        return _State(fields, ResolvedRows(()), read_rough_design(fields)[0], ())
    cells = {name: value for name, value in design_cells(design.draft).items() if name != "retired"}
    own = own_parts(design.draft.parts)
    return _State(cells, resolve_rows(session, rows_of(own), ""), replace(design.draft, parts=own), ())


def _with_rows(session: Session, draft: DesignDraft, shop: DesignForm) -> DesignDraft:
    """The draft with the parts of its rows, those that it has already unless it brings others."""
    saved = shop.design.draft.layout if shop.design else None
    return laid_out(session, replace(draft, layout=draft.layout or saved))


def _state(request: Request, session: Session, raw: RawForm, act: str) -> _State:
    unit = prefs_of(request).length_unit
    sent = raw.raw()
    settled = resolve_rows(session, _edited(sent, act), raw.get("quick"), length_unit=unit, shape=raw.shape)
    fields = {name: value for name, value in sent.items() if name not in NOT_FIELDS}
    draft, faults = read_rough_design({**fields, "parts": settled.parts()}, length_unit=unit)
    return _State(fields, settled, draft, settled.on_the_page(faults))


def _edited(raw: Mapping[str, object], act: str) -> list[Mapping[str, object]]:
    """The rows that were sent, after the button that was pressed: one taken out, moved up, asked again, or added."""
    found = raw.get("parts")
    rows: list[Mapping[str, object]] = list(found) if isinstance(found, list) else []
    verb, _, number = act.partition("-")
    place = int(number) if number.isascii() and number.isdigit() and len(number) < 6 else len(rows)
    if verb == "row":
        rows.append(HAND_ROW)
    elif verb == "stock" and raw.get("stock_item"):
        quantity = raw.get("stock_quantity") or "1"
        rows.append({"pick": f"item:{raw['stock_item']}", "quantity": quantity, "joined": "yes"})
    elif place < len(rows):
        if verb == "remove":
            del rows[place]
        elif verb == "again":
            rows[place] = {**rows[place], "again": "yes"}
        elif verb == "up" and place:
            rows[place - 1], rows[place] = rows[place], rows[place - 1]
    return rows


def _refuse_unready(state: _State, photo: object) -> None:
    """Raises: Unfit for everything to be put right before saving; OSError where the photo could not be written."""
    if isinstance(photo, OSError):
        raise photo
    found: Sequence[Fault] = (*state.faults, *state.settled.questions())
    if isinstance(photo, Faults):
        found = (*found, *photo.items)
    if found:
        raise Unfit(Faults(tuple(found)))


def _uncounted(state: _State) -> tuple[str, ...]:
    """What is not in the cost yet: rows that ask, and parts that cannot be read."""
    asking = [f"“{row.fields.get('text', '')}”" for row in state.settled.rows if row.state == "ask"]
    faulty = dict.fromkeys(fault.field.split(".")[1] for fault in state.faults if fault.field.startswith("parts."))
    return (*asking, *(f"part {int(place) + 1}" for place in faulty if place.isdigit()))


def _counts(costing: CostView) -> Mapping[str, Decimal]:
    counts = work_from_parts([part.to_input() for part in costing.parts])
    return {kind: getattr(counts, kind) for kind in HAND_WORK}


def _sent_photo(request: Request, raw: RawForm) -> str | Faults | OSError | None:
    """The photo to save: a new one by its name, '' for none, None to leave it as it is, or what is wrong with it.

    A disk that does not take it is no reason to lose what was typed: saving says so.
    """
    file = raw.files.get("photo")
    if file is not None:
        try:
            return keep_photo(request.app.state.store.photos, file.content)
        except OSError as unwritten:
            if not disk_words(unwritten):
                raise
            return unwritten
    if raw.get("photo_off"):
        return ""
    kept = raw.get("photo_name")
    return kept if hold_photo(request.app.state.store.photos, kept) else None


def _shown_photo(shop: DesignForm, fields: Mapping[str, object], photo: str | Faults | OSError | None) -> str:
    """The photo that would be saved; a refused file leaves the one that was there before it."""
    if isinstance(photo, str):
        return photo
    saved = (shop.design.photo or "") if shop.design else ""
    refused = isinstance(photo, (Faults, OSError))
    return str(fields.get("photo_name") or "") or saved if refused else saved
