"""Kits on a real shop: what is in the bags, what a kept kit costs, is built and sold as, and how it follows its design."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

import pytest
from sqlmodel import Session, col, select

from models.database import Store
from models.errors import Conflict, Missing, Stale, Unfit
from models.intake.builds.build import BuildRequest
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft
from models.intake.designs.kit import KitDraft, KitRequest
from models.operations.designs.design import add_design, change_design
from models.operations.designs.kit import bring_kit_up_to_date, discard_kit, make_kit, take_kit_back
from models.queries.builds.parts import build_parts
from models.queries.builds.sheet import build_sheet
from models.queries.costing.costing import CostView, cost_of_design
from models.queries.designs.design import design_view, draft_of
from models.queries.designs.kit import class_view, kit_origin, kit_view
from models.tables import Design
from tests.builds import Bench, finished, is_sound, making, started
from tests.ledgers import a_lot
from tests.shops import a_finding, a_ring, an_outlet

USUAL = KitRequest()


@pytest.fixture
def leaf(store: Store) -> tuple[int, int, int]:
    """A pendant of 41 bronze rings, 20 of them closed beforehand, and an ear wire; answers design, ring, wire."""
    with store.writing() as session:
        ring, wire = a_ring(session), a_finding(session)
        an_outlet(session)
        design = add_design(
            session,
            DesignDraft(
                "Leaf",
                piece="pendant",
                weave="european-4-in-1",
                parts=(
                    PartDraft(21_000, ring, purpose="weave"),
                    PartDraft(20_000, ring, purpose="rows", joined=False),
                    PartDraft(1_000, wire),
                    PartDraft(2_000, typed_kind="consumable", typed_name="Sealing wax", guess=Decimal("0.10")),
                ),
            ),
        )
    return design, ring, wire


def bags_of(session: Session, design: int, question: KitRequest = USUAL) -> list[tuple[str, str, int, int, int]]:
    view = kit_view(session, design, question)
    return [(one.thing.name, one.state, int(one.needed), int(one.spare), int(one.close_first)) for one in view.bags]


def minutes(view: CostView) -> dict[str, Decimal]:
    return {one.kind: one.likely for one in view.cost.minutes.kinds if one.likely}


def test_one_bag_for_each_thing_with_spares_rounded_up(store: Store, leaf: tuple[int, int, int]) -> None:
    with store.reading() as session:
        assert bags_of(session, leaf[0]) == [("Bronze ring 1.0 × 3.6 mm", "", 41, 3, 20), ("Ear wire", "", 1, 0, 0)]
        view = kit_view(session, leaf[0], USUAL)
        assert (view.left_out, view.rings, view.spares) == (("Sealing wax",), 44, 3)
        assert bags_of(session, leaf[0], KitRequest(Decimal(0)))[0][3] == 0


def test_a_prepared_kit_has_a_bag_of_closed_and_one_of_opened_rings(store: Store, leaf: tuple[int, int, int]) -> None:
    with store.reading() as session:
        bags = bags_of(session, leaf[0], KitRequest(prepared=True))
    assert bags == [
        ("Bronze ring 1.0 × 3.6 mm", "closed", 20, 0, 0),
        ("Bronze ring 1.0 × 3.6 mm", "open", 21, 3, 0),
        ("Ear wire", "", 1, 0, 0),
    ]


def test_a_kit_is_counted_and_packed_but_never_woven(store: Store, leaf: tuple[int, int, int]) -> None:
    with store.writing() as session:
        kit = make_kit(session, leaf[0], KitDraft(USUAL, pack_minutes_milli=6_000))
        session.flush()
        cost = cost_of_design(session, kit)
        assert minutes(cost) == {"pack": Decimal(6)}
        # 44 rings at 0.04 and a wire at 0.24; the spares stand in the bags, so nothing is added for spoiling.
        assert cost.cost.materials.amount == Decimal("2.00")
        assert [one.name for one in cost.outlets] == ["Web shop"]
        assert cost.outlets[0].suggested is not None


def test_preparing_the_rings_is_work_of_the_kit(store: Store, leaf: tuple[int, int, int]) -> None:
    with store.writing() as session:
        kit = make_kit(session, leaf[0], KitDraft(KitRequest(prepared=True), pack_minutes_milli=6_000))
        work = cost_of_design(session, kit).cost.counts
    # 21 opened with their 3 spares; 20 closed; nothing woven or attached.
    assert (work.open, work.close, work.weave, work.attach) == (24, 20, 0, 0)


def test_the_kit_on_the_page_costs_what_the_kept_kit_costs(store: Store, leaf: tuple[int, int, int]) -> None:
    with store.writing() as session:
        seen = kit_view(session, leaf[0], KitRequest(Decimal("7.5"), prepared=True)).costing
        kit = make_kit(session, leaf[0], KitDraft(KitRequest(Decimal("7.5"), prepared=True)))
        kept = cost_of_design(session, kit)
    assert kept.cost.per_piece == seen.cost.per_piece
    assert [one.suggested for one in kept.outlets] == [one.suggested for one in seen.outlets]


def test_a_kit_is_built_and_lies_in_stock_like_any_piece(store: Store, leaf: tuple[int, int, int]) -> None:
    design, ring, wire = leaf
    with store.writing() as session:
        a_lot(session, ring, 500, "20.00")
        a_lot(session, wire, 10, "2.00")
        kit = make_kit(session, design, KitDraft(USUAL))
        needs = {one.item_id: one.need_milli for one in build_parts(session, BuildRequest(kit, 3)).needs}
        assert needs == {ring: 132_000, wire: 3_000}
        bench = Bench(ring, ring, 0, 0, 0, kit)
        finished(session, making(session, bench, 3))
        assert is_sound(session)
        seen = class_view(session, design, 8, USUAL)
    assert (seen.packed, seen.to_pack) == (3, 5)
    rings = seen.needs[0]
    assert (rings.total, rings.free, rings.lacks) == (220, 368, 0)
    assert (seen.needs[1].total, seen.needs[1].free, seen.needs[1].lacks) == (5, 7, 0)


@pytest.mark.parametrize(("prepared", "opened", "closed"), [(False, 0, 0), (True, 48, 40)])
def test_the_work_sheet_of_a_kit_prepares_only_what_is_delivered_prepared(
    store: Store, leaf: tuple[int, int, int], prepared: bool, opened: int, closed: int
) -> None:
    design, ring, wire = leaf
    with store.writing() as session:
        a_lot(session, ring, 500, "20.00")
        a_lot(session, wire, 10, "2.00")
        kit = make_kit(session, design, KitDraft(KitRequest(prepared=prepared)))
        sheet = build_sheet(session, started(session, Bench(ring, ring, 0, 0, 0, kit), 2))
        assert (sheet.open_first, sheet.close_first) == (opened, closed)
        assert [step.kind for step in sheet.steps if step.count] == (["open", "close"] if prepared else [])
        # The design itself prepares its rings: 21 opened and 20 closed for each piece.
        whole = build_sheet(session, started(session, Bench(ring, ring, 0, 0, 0, design), 2))
        assert (whole.open_first, whole.close_first) == (42, 40)


def test_a_class_names_what_the_free_stock_lacks(store: Store, leaf: tuple[int, int, int]) -> None:
    design, ring, _wire = leaf
    with store.writing() as session:
        a_lot(session, ring, 300, "12.00")
        seen = class_view(session, design, 8, KitRequest(prepared=True))
    assert [(line.bag.state, line.total) for line in seen.lines] == [("closed", 160), ("open", 192), ("", 8)]
    # Closed and opened rings are one item, so they are taken from one stock.
    assert [(one.total, one.free, one.lacks) for one in seen.needs] == [(352, 300, 52), (8, 0, 8)]
    assert [one.name for one in seen.lacking] == ["Bronze ring 1.0 × 3.6 mm", "Ear wire"]


def _more_rings(session: Session, design: int, rings: int) -> None:
    view = design_view(session, design)
    parts = (replace(view.draft.parts[0], quantity_milli=rings * 1000), *view.draft.parts[1:])
    change_design(session, design, view.version, replace(view.draft, parts=parts))


def kit_of(session: Session, kit: int) -> tuple[int, bool]:
    origin = kit_origin(session, kit)
    assert origin is not None
    return origin[2].revision, origin[2].behind


def numbers(parts: Sequence[PartDraft]) -> list[int]:
    return [part.quantity_milli // 1000 for part in parts]


def test_a_kit_says_that_its_design_moved_on_and_follows_by_a_press(store: Store, leaf: tuple[int, int, int]) -> None:
    design = leaf[0]
    with store.writing() as session:
        kit = make_kit(session, design, KitDraft(KitRequest(Decimal(10)), pack_minutes_milli=4_000))
        # The maker puts a tin into the kit; it is the kit's own and stays.
        view = design_view(session, kit)
        tin = PartDraft(1_000, typed_kind="packaging", typed_name="Tin", guess=Decimal(1))
        change_design(session, kit, view.version, replace(view.draft, parts=(*view.draft.parts, tin)))
        assert kit_of(session, kit) == (1, False)
        _more_rings(session, design, 31)
        assert kit_of(session, kit) == (1, True)
        done = bring_kit_up_to_date(session, kit, design_view(session, kit).version)
        now = draft_of(session, kit)
        assert numbers(now.parts) == [57, 1, 1]
        assert [part.typed_name for part in now.parts][-1] == "Tin"
        assert [(row.kind, row.minutes_milli) for row in now.work if row.kind == "pack"] == [("pack", 4_000)]
        assert kit_of(session, kit) == (2, False)
        take_kit_back(session, kit, done.version, number=done.revision_before, of_revision=done.of_before)
        assert numbers(draft_of(session, kit).parts) == [46, 1, 1]
        assert kit_of(session, kit) == (1, True)


def test_a_stale_press_is_refused(store: Store, leaf: tuple[int, int, int]) -> None:
    with store.writing() as session:
        kit = make_kit(session, leaf[0], KitDraft(USUAL))
        _more_rings(session, leaf[0], 30)
        seen = design_view(session, kit).version
        bring_kit_up_to_date(session, kit, seen)
        _more_rings(session, leaf[0], 31)
        with pytest.raises(Stale):
            bring_kit_up_to_date(session, kit, seen)


def test_a_kit_made_by_mistake_is_gone_without_a_trace(store: Store, leaf: tuple[int, int, int]) -> None:
    with store.writing() as session:
        kit = make_kit(session, leaf[0], KitDraft(USUAL))
        assert discard_kit(session, kit) == "Leaf kit"
        assert session.exec(select(Design.name).order_by(col(Design.id))).all() == ["Leaf"]
        assert kit_view(session, leaf[0], USUAL).kits == ()


def test_what_cannot_be_a_kit_is_refused(store: Store, leaf: tuple[int, int, int]) -> None:
    with store.writing() as session:
        kit = make_kit(session, leaf[0], KitDraft(USUAL))
        bare = add_design(session, DesignDraft("Bare"))
        with pytest.raises(Conflict, match="is a kit itself"):
            make_kit(session, kit, KitDraft(USUAL))
        with pytest.raises(Conflict, match="no kit of another one"):
            bring_kit_up_to_date(session, leaf[0], 1)
        with pytest.raises(Unfit, match="nothing to pack"):
            make_kit(session, bare, KitDraft(USUAL))
        with pytest.raises(Unfit, match="already a design called"):
            make_kit(session, leaf[0], KitDraft(USUAL, name="leaf KIT"))
        with pytest.raises(Missing):
            make_kit(session, 999, KitDraft(USUAL))


def test_choices_stay_choices_in_a_kit(store: Store) -> None:
    with store.writing() as session:
        red, blue = a_ring(session, name="Red ring"), a_ring(session, name="Blue ring")
        parts = tuple(
            PartDraft(rings * 1000, item, choice_group="colour", choice_name=name)
            for item, name, rings in ((red, "red", 30), (blue, "blue", 30))
        )
        design = add_design(session, DesignDraft("Band", parts=parts))
        view = kit_view(session, design, USUAL)
        assert ([one.choice for one in view.bags], view.rings) == (["colour: red", "colour: blue"], 32)
        kit = make_kit(session, design, KitDraft(USUAL))
        chosen = build_parts(session, BuildRequest(kit, 1, choices=("colour=blue",)))
    assert [(one.item_id, one.need_milli) for one in chosen.needs] == [(blue, 32_000)]
