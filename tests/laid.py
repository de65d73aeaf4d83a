"""Laid-out designs for tests: drafts of rows and chains over a small shop's items. No test lives here."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from hypothesis import strategies as st
from sqlmodel import Session

from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft
from models.intake.faults import Faults
from models.intake.layouts.layout import LayoutDraft, read_layout
from models.layouts.steps.route import METHODS, SIDES
from models.layouts.weaves.sheets import SHEETS
from tests.shops import a_finding, a_ring

BLUE = {"key": "t1", "kind": "ring", "metal": "niobium", "colour": "blue", "wire": "1.0 mm", "inner": "4.0 mm"}


def lozenge_rows(item: str = "i1", edge: str = "t1") -> list[dict[str, Any]]:
    """A European 4-in-1 lozenge of 1, 2, 3, 2, 1 rings, its edge rings of another item: 9 rings, 8 of them `edge`."""
    return [
        {"start": 2, "items": [edge]},
        {"start": 1, "items": [edge, edge]},
        {"start": 0, "items": [edge, item, edge]},
        {"start": 1, "items": [edge, edge]},
        {"start": 2, "items": [edge]},
    ]


def lozenge_raw(item: str = "i1", **more: Any) -> dict[str, Any]:
    """The lozenge with a bail ring hung on its first row and an ear wire on that, as a JSON body hands it in."""
    return {
        "weave": "european-4-in-1",
        "rows": lozenge_rows(item),
        "attachments": [
            {"name": "bail ring", "kind": "hang", "ring": item, "on": {"where": "first row"}},
            {"name": "wire", "kind": "bail", "finding": "i2", "on": {"where": "attachment", "of": "bail ring"}},
        ],
        "palette": [{"key": item}, dict(BLUE, guess=Decimal("0.12")), {"key": "i2"}],
        "route": {"start_row": 3},
        **more,
    }


def chain_raw(item: str = "i1", units: int = 6, **more: Any) -> dict[str, Any]:
    """A Byzantine chain of so many units."""
    return {"weave": "byzantine", "stretches": [{"units": units, "repeat": [item]}], **more}


def read(raw: dict[str, Any]) -> LayoutDraft:
    """The layout; a fault fails the test."""
    found = read_layout(raw)
    assert not isinstance(found, Faults), found
    return found


def stock_two(session: Session) -> tuple[int, int]:
    """A bronze ring (item 1) and an ear wire (item 2)."""
    ring = a_ring(session, name="Bronze ring 1.0 × 4.0 mm", inner_nm=4_000_000)
    return ring, a_finding(session)


def a_laid_design(name: str = "Lozenge", **more: Any) -> DesignDraft:
    """The lozenge as a design with one plain part beside its rows."""
    plain = PartDraft(1000, typed_kind="packaging", typed_name="gift box", guess=Decimal("0.40"))
    return DesignDraft(name, piece="pendant", parts=(plain,), layout=read(lozenge_raw()), **more)


@st.composite
def raw_layouts(draw: st.DrawFn, keys: tuple[str, ...] = ("i1", "t1")) -> dict[str, Any]:
    """Random small layouts: rows that may not nest, with gaps, or a chain; a route or a choice of closed rings."""
    palette = [{"key": key} for key in keys if key[0] == "i"] + ([dict(BLUE)] if "t1" in keys else [])
    item = st.sampled_from(keys)
    if draw(st.booleans()):
        stretches = draw(
            st.lists(
                st.fixed_dictionaries({"units": st.integers(1, 5), "repeat": st.lists(item, min_size=1, max_size=4)}),
                min_size=1,
                max_size=3,
            )
        )
        weave = draw(st.sampled_from(["byzantine", "chain-1-in-1", "chain-2-in-2", "half-persian-4-in-1"]))
        return {"weave": weave, "stretches": stretches, "palette": palette}
    rows = draw(
        st.lists(
            st.builds(
                lambda start, first, more: {"start": start, "items": [first, *more]},
                st.integers(-3, 3),
                item,
                st.lists(st.sampled_from([*keys, ""]), max_size=5),
            ),
            min_size=1,
            max_size=6,
        )
    )
    weave = draw(st.sampled_from(list(SHEETS)))
    raw: dict[str, Any] = {"weave": weave, "rows": rows, "palette": palette, "connector": keys[0]}
    if draw(st.booleans()):
        raw["attachments"] = [
            {"name": "hung", "kind": "hang", "ring": draw(item), "each": draw(st.integers(1, 3)),
             "on": {"where": draw(st.sampled_from(["first row", "row ends", "outline"])), "every": draw(st.integers(1, 3))}}
        ]  # fmt: skip
    if draw(st.booleans()):
        raw["closed_beforehand"] = []
    else:
        raw["route"] = {
            "start_row": draw(st.integers(1, len(rows))),
            "method": draw(st.sampled_from(METHODS)),
            "sides": draw(st.sampled_from(SIDES)),
        }
    return raw
