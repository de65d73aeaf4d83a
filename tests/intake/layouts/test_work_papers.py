"""What is handed in about a way through a piece, a kit and a swatch: read, or refused in words, and never lost."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.intake.designs.kit import KitDraft, KitRequest, read_kit, read_kit_request, read_people
from models.intake.faults import Faults
from models.intake.layouts.layout import LayoutDraft
from models.intake.layouts.ring_list import read_rings, ring_words
from models.intake.layouts.route import read_way
from models.intake.layouts.swatch import SwatchDraft, read_swatch
from models.layouts.engine.items import Item
from models.layouts.engine.net import FINDING
from models.layouts.steps.closing import closed_faults
from tests.intake.test_any_body import body_of, words
from tests.laid import chain_raw, lozenge_raw, raw_layouts, read

ITEMS = {"i1": Item("i1", "bronze"), "t1": Item("t1", "blue"), "i2": Item("i2", "wire", finding=True)}
WAY_FIELDS = ("start_row", "sides", "method", "turn", "when", "way", "whose", "closed", "flip")


@given(raw=raw_layouts(), data=st.data())
def test_any_set_of_rings_reads_back_from_its_words(raw: dict[str, Any], data: st.DataObject) -> None:
    net = read(raw).net()
    rings = [index for index, role in enumerate(net.roles) if role != FINDING]
    chosen = data.draw(st.sets(st.sampled_from(rings))) if rings else set()
    found = read_rings(ring_words(net, chosen), net)
    assert found == tuple(net.names[index] for index in sorted(chosen))


def test_rows_and_neighbours_are_said_in_short() -> None:
    net = read(lozenge_raw()).net()
    named = {name: index for index, name in enumerate(net.names)}
    assert ring_words(net, [named[name] for name in ("3.1", "3.2", "3.3", "1.1", "4.2", "a1.1")]) == "1, 3, 4.2, a1.1"
    assert read_rings("2-4", net) == tuple(name for name in net.names if name[0] in "234")
    assert read_rings(" 3.1-2 ; 5 ", net) == ("3.1", "3.2", "5.1")
    chain = read({**chain_raw(units=5), "weave": "chain-2-in-2"}).net()
    assert ring_words(chain, [0, 1, 4, 5, 8]) == "1-2, 5-6, 9"


@pytest.mark.parametrize("text", ["9", "3.9", "row three", "3-", "-", "1.1-1.2", "a1.f", "2.f"])
def test_what_names_no_ring_is_told_with_how_to_write_one(text: str) -> None:
    found = read_rings(text, read(lozenge_raw()).net())
    assert isinstance(found, Faults)
    assert "Write a row as 3, a ring as 3.7" in found.by_field()["closed"]


@given(raw=raw_layouts(), way=body_of(*WAY_FIELDS))
def test_any_way_is_read_with_its_faults_and_shown(raw: dict[str, Any], way: dict[str, object]) -> None:
    kept = read(raw)
    net = kept.net()
    found, faults = read_way(way, kept, ITEMS, net)
    assert isinstance(found.layout, LayoutDraft)
    assert found.layout.plan == kept.plan
    if faults is None:
        assert closed_faults(net, ITEMS, found.chosen) == ()
        again, none = read_way(found.raw(), kept, ITEMS, net)
        assert (again.layout, none) == (found.layout, None)
    else:
        assert all(fault.field and fault.message for fault in faults)


READERS: dict[str, tuple[st.SearchStrategy[dict[str, object]], Callable[[dict[str, object]], object]]] = {
    "a swatch": (
        st.builds(
            lambda body, weave: {**body, "weave": weave},
            body_of(*SwatchDraft.__slots__, "wire", "inner", "along", "across", "length"),
            st.one_of(words, st.sampled_from(["european-4-in-1", "byzantine"])),
        ),
        read_swatch,
    ),
    "a kit": (body_of("name", "spare_percent", "prepared", "pack_minutes"), read_kit),
}


@pytest.mark.parametrize("what", READERS)
@given(data=st.data())
def test_any_body_is_read_or_refused(what: str, data: st.DataObject) -> None:
    bodies, reads = READERS[what]
    found = reads(data.draw(bodies))
    assert isinstance(found, (Faults, SwatchDraft, KitDraft))
    if isinstance(found, Faults):
        assert all(fault.field and fault.message for fault in found)


@given(body_of("spare_percent", "prepared", "people"))
def test_a_question_about_a_kit_always_has_an_answer(raw: dict[str, object]) -> None:
    question, _ = read_kit_request(raw)
    people, _ = read_people(raw)
    assert isinstance(question, KitRequest)
    assert 0 <= question.spare_share <= 1
    assert 1 <= people <= 200


def test_a_kit_says_its_spares_in_per_cent() -> None:
    question, faults = read_kit_request({"spare_percent": "7.5 %", "prepared": "yes"})
    assert (question, faults) == (KitRequest(Decimal("7.5"), prepared=True), None)
    kit = read_kit({"pack_minutes": "4.5", "name": " Leaf kit "})
    assert kit == KitDraft(KitRequest(), "Leaf kit", 4_500)
