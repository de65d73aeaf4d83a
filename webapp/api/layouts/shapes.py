"""Layouts as the API sends and describes them: rows or a chain, its palette, the maker's way. Nothing is read here."""

from __future__ import annotations

from collections.abc import Iterable, Set
from typing import Annotated, Literal

from pydantic import AliasChoices, BeforeValidator, Field, ValidationInfo

from models.intake.layouts.layout import LayoutDraft
from models.layouts.document.model import document_of
from models.layouts.engine.attach import KINDS, WHERES
from models.layouts.engine.chain_weaves import CHAINS
from models.layouts.engine.rows import EDGES, Layout
from models.layouts.steps.route import METHODS, SIDES, TURNS, WAYS, WHENS
from models.layouts.weaves.sheets import SHEETS
from webapp.api.amounts import MONEY_SCHEMA
from webapp.api.answers import Amount, AnswerModel, Millimetres, Units, beneath, filled, path
from webapp.api.shapes import ANY_NUMBER

WEAVES = [*SHEETS, *CHAINS]
KEYS = "A key names a ring or finding of the palette: 'i12' is stock item 12, 't1' a typed one."

_TEXT: dict[str, object] = {"type": "string"}
_WHOLE: dict[str, object] = {"type": "integer"}
_KEYS: dict[str, object] = {"type": "array", "items": _TEXT}
_RUN: dict[str, object] = {"type": "array", "items": {"anyOf": [_TEXT, _WHOLE]}}
_ON: dict[str, object] = {
    "type": "object",
    "properties": {
        "where": {"type": "string", "enum": list(WHERES)},
        "item": _TEXT,
        "every": _WHOLE,
        "skip": _WHOLE,
        "rows": {"type": ["array", "null"], "items": _WHOLE},
        "of": {"type": "string", "description": "The name of an earlier attachment, where it hangs on that."},
        "rings": _KEYS,
    },
}
PALETTE_FIELDS: dict[str, object] = {
    "key": _TEXT,
    "item_id": {"type": ["integer", "null"]},
    "kind": _TEXT,
    "name": _TEXT,
    "metal": _TEXT,
    "colour": _TEXT,
    "wire": ANY_NUMBER,
    "inner": ANY_NUMBER,
    "unit": _TEXT,
    "each": {**ANY_NUMBER, "description": "How much of it one counts as, of chain and wire by the metre."},
    "guess": MONEY_SCHEMA,
    "purpose": _TEXT,
    "allowance_percent": ANY_NUMBER,
}
LAYOUT_FIELDS: dict[str, object] = {
    "weave": {"type": "string", "enum": WEAVES},
    "rows": {
        "type": "array",
        "description": f"Of a sheet: each row's start in steps, and its rings as runs, one by one, or so many. {KEYS}",
        "items": {
            "type": "object",
            "properties": {
                "start": _WHOLE,
                "runs": {"type": "array", "items": _RUN},
                "items": _KEYS,
                "rings": _WHOLE,
                "item": _TEXT,
                "repeat": _KEYS,
            },
        },
    },
    "up": {"type": "string", "enum": list(EDGES), "description": "The edge that hangs up."},
    "connector": {"type": "string", "description": "Of a hub weave: the key of the ring that joins the hubs."},
    "stretches": {
        "type": "array",
        "description": "Of a chain: so many units each, and the keys that repeat along them.",
        "items": {"type": "object", "properties": {"units": _WHOLE, "repeat": _KEYS}},
    },
    "closed": {"type": "boolean", "description": "Of a chain: whether it is a closed loop."},
    "own_links": {"type": "array", "items": _WHOLE},
    "attachments": {
        "type": "array",
        "items": {
            "type": "object",
            "properties": {
                "name": _TEXT,
                "kind": {"type": "string", "enum": list(KINDS)},
                "ring": _TEXT,
                "finding": _TEXT,
                "each": _WHOLE,
                "on": _ON,
            },
        },
    },
    "palette": {"type": "array", "items": {"type": "object", "properties": PALETTE_FIELDS}},
    "route": {
        "type": "object",
        "properties": {
            "start_row": _WHOLE,
            "sides": {"type": "string", "enum": list(SIDES)},
            "method": {"type": "string", "enum": list(METHODS)},
            "turn": {"type": "string", "enum": list(TURNS)},
            "when": {"type": "string", "enum": list(WHENS)},
            "way": {"type": "string", "enum": list(WAYS)},
        },
    },
    "closed_beforehand": {
        "type": ["array", "null"],
        "items": _TEXT,
        "description": "Names of the rings closed beforehand ('3.7': row 3, ring 7); null leaves them to the route.",
    },
}


class RowOut(AnswerModel):
    """One row: the step at which it starts, and its rings as runs of (key, how many); the key '' is a gap."""

    start: int
    runs: list[tuple[str, int]]


class StretchOut(AnswerModel):
    """So many units of a chain, and the keys that repeat along them."""

    units: int
    repeat: list[str]


class OnOut(AnswerModel):
    """Which rings something hangs on."""

    where: str
    item: str
    every: int
    skip: int
    rows: tuple[int, int] | None
    of: str
    rings: list[str]


class AttachmentOut(AnswerModel):
    """Something that hangs on a piece."""

    name: str
    kind: str
    ring: str
    finding: str
    each: int
    on: OnOut


class EntryOut(AnswerModel, alias_generator=beneath("thing")):
    """What one key is: a stock item, or a typed thing with its sizes in mm."""

    key: str
    item_id: int | None
    kind: str = path("thing", "typed_kind")
    name: str = path("thing", "typed_name")
    metal: str | None = path("thing", "typed_metal")
    colour: str = path("thing", "typed_colour")
    wire_mm: Millimetres | None = path("thing", "typed_wire_nm")
    inner_mm: Millimetres | None = path("thing", "typed_inner_nm")
    unit: str = path("thing", "typed_unit")
    each: Units = path("thing", "quantity_milli")
    guess: Amount | None
    purpose: str
    allowance_percent: float | None


class RouteOut(AnswerModel):
    """The maker's way through a sheet."""

    start_row: int
    sides: str
    method: str
    turn: str
    when: str
    way: str


class _LaidOut(AnswerModel, alias_generator=beneath("plan")):
    weave: str
    attachments: list[AttachmentOut]
    palette: list[EntryOut]
    route: RouteOut
    closed_beforehand: list[str] | None = path("closed")


def _names(rings: Iterable[int], info: ValidationInfo) -> list[str]:
    return [(info.context or {})["names"][ring] for ring in (sorted(rings) if isinstance(rings, Set) else rings)]


RingNames = Annotated[list[str], BeforeValidator(_names)]
"""The names of rings, which are told by index."""


class SheetOut(_LaidOut):
    """A piece of rows."""

    kind: Literal["sheet"]
    up: str
    connector: str
    rows: list[RowOut]


class ChainOut(_LaidOut):
    """A length of chain."""

    kind: Literal["chain"]
    stretches: list[StretchOut]
    closed: bool = path("plan", "closed")
    own_links: list[int]


class SizeOut(AnswerModel):
    """A finished size in mm, null where it has to be measured; where it comes from, and what to know of it."""

    width_mm: float | None = None
    height_mm: float | None = None
    length_mm: float | None = Field(None, validation_alias=AliasChoices("length_mm", "mm"))
    source: str = Field(examples=["computed for ideal rings opened flat"])
    notes: list[str]


def layout_out(draft: LayoutDraft, currency: str) -> SheetOut | ChainOut:
    """A layout as the API sends it; it can be sent back as it is."""
    plan = document_of(draft.plan).written()
    if isinstance(draft.plan, Layout):
        return filled(SheetOut, draft, plan=plan, currency=currency)
    return filled(ChainOut, draft, plan=plan, currency=currency)
