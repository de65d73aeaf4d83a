"""Designs: what a change keeps, what it makes a revision of, and what is refused."""

from dataclasses import replace
from decimal import Decimal

import pytest
from sqlmodel import Session, func, select

from models.database import Store
from models.errors import Conflict, Missing, Stale, Unfit
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft, WorkDraft
from models.operations.designs.design import (
    add_design,
    bring_back_design,
    change_design,
    copy_design,
    discard_copy,
    retire_design,
    set_parts,
)
from models.operations.figures import stale_figures
from models.queries.designs.design import design_view, draft_of
from models.tables import Design, DesignFigure, OwnMetal, Part, PriceFigure, Revision, Work
from tests.shops import NOON, a_finding, a_listed_price, a_ring, an_outlet

TYPED_RING = PartDraft(
    quantity_milli=12_000,
    typed_kind="ring",
    typed_metal="niobium",
    typed_colour="blue",
    typed_wire_nm=800_000,
    typed_inner_nm=2_800_000,
    guess=Decimal("0.05"),
    purpose="petals",
    choice_group="colour",
    choice_name="A",
    allowance_percent=Decimal("7.5"),
)


def leaf(session: Session, name: str = "Copper leaf pendant") -> DesignDraft:
    return DesignDraft(
        name=name,
        piece="pendant",
        note="Hang it low.",
        weave="byzantine",
        skill=2,
        width_nm=18_000_000,
        measured_mass_ug=6_400_000,
        allowance_percent=Decimal(4),
        once_pieces=20,
        parts=(
            PartDraft(quantity_milli=48_000, item_id=a_ring(session, name=f"Ring of {name}")),
            TYPED_RING,
            PartDraft(quantity_milli=1_000, item_id=a_finding(session, name=f"Wire of {name}"), optional=True),
        ),
        work=(
            WorkDraft("setup"),
            WorkDraft("open", count=40),
            WorkDraft("tumble", minutes_milli=3_500),
            WorkDraft("pack"),
        ),
    )


def write(store: Store, name: str = "Copper leaf pendant") -> tuple[int, DesignDraft]:
    with store.writing() as session:
        draft = leaf(session, name)
        return add_design(session, draft), draft


def count(store: Store, table: type) -> int:
    with store.reading() as session:
        return session.exec(select(func.count()).select_from(table)).one()


def stored(store: Store, design_id: int, number: int | None = None) -> DesignDraft:
    with store.reading() as session:
        return draft_of(session, design_id, number)


def test_a_new_design_is_kept_as_it_was_handed_in_with_its_figures(store: Store) -> None:
    with store.writing() as session:
        an_outlet(session)
    design_id, draft = write(store)
    assert stored(store, design_id) == draft
    with store.reading() as session:
        view = design_view(session, design_id)
        assert (view.number, view.version, view.retired, view.weave_name) == (1, 1, False, "Byzantine")
        assert session.get(DesignFigure, design_id) is not None
        assert session.exec(select(func.count()).select_from(PriceFigure)).one() == 1
        assert stale_figures(session) == ()


@pytest.mark.parametrize(
    "changed",
    [
        {"weave": None}, {"weave": "box-chain"}, {"skill": 3}, {"width_nm": None}, {"height_nm": 9_000_000},
        {"length_nm": 9_000_000}, {"measured_mass_ug": None}, {"allowance_percent": None}, {"once_pieces": 5}, {"parts": ()},
        {"work": (WorkDraft("setup"),)}, {"work": ()},
    ],
)  # fmt: skip
def test_a_change_of_what_a_revision_freezes_makes_the_next_revision(store: Store, changed: dict[str, object]) -> None:
    design_id, draft = write(store)
    with store.writing() as session:
        saved = change_design(session, design_id, 1, replace(draft, change_note="tried", **changed))
    assert saved.revision == 2
    assert stored(store, design_id, 1) == draft
    assert stored(store, design_id) == replace(draft, **changed)
    with store.reading() as session:
        assert design_view(session, design_id).change_note == "tried"
        assert stale_figures(session) == ()


@pytest.mark.parametrize("part", [{"quantity_milli": 50_000}, {"purpose": "spine"}, {"optional": True}, {"joined": False}, {"allowance_percent": Decimal(9)}, {"choice_group": "x", "choice_name": "A"}])  # fmt: skip
def test_any_change_of_a_part_makes_a_revision(store: Store, part: dict[str, object]) -> None:
    design_id, draft = write(store)
    parts = (replace(draft.parts[0], **part), *draft.parts[1:])
    with store.writing() as session:
        assert change_design(session, design_id, 1, replace(draft, parts=parts)).revision == 2
    assert stored(store, design_id).parts == parts


@pytest.mark.parametrize("changed", [{"name": "Leaf"}, {"piece": "brooch"}, {"note": ""}])
def test_name_kind_of_piece_and_notes_change_without_a_revision(store: Store, changed: dict[str, object]) -> None:
    design_id, draft = write(store)
    with store.writing() as session:
        saved = change_design(session, design_id, 1, replace(draft, **changed))
    assert (saved.revision, saved.changed) == (None, True)
    assert stored(store, design_id) == replace(draft, **changed)
    assert count(store, Revision) == 1


def test_a_photo_is_put_on_kept_and_taken_away_without_a_revision(store: Store) -> None:
    design_id, draft = write(store)

    def photo_after(version: int, photo: str | None) -> str | None:
        with store.writing() as session:
            change_design(session, design_id, version, replace(draft, note=f"{version}"), photo=photo)
            return design_view(session, design_id).photo

    assert photo_after(1, "a.jpg") == "a.jpg"
    assert photo_after(2, None) == "a.jpg"
    assert photo_after(3, "") is None
    assert count(store, Revision) == 1


def test_a_guessed_price_is_a_price_and_makes_no_revision(store: Store) -> None:
    design_id, draft = write(store)
    parts = (draft.parts[0], replace(TYPED_RING, guess=Decimal("0.08")), draft.parts[2])
    with store.writing() as session:
        saved = change_design(session, design_id, 1, replace(draft, parts=parts))
    assert (saved.revision, saved.changed) == (None, True)
    assert stored(store, design_id).parts == parts
    with store.reading() as session:
        assert stale_figures(session) == ()


def test_saving_what_is_there_already_changes_nothing(store: Store) -> None:
    design_id, draft = write(store)
    with store.writing() as session:
        saved = change_design(session, design_id, 1, replace(draft, work=tuple(reversed(draft.work))))
        assert (saved.revision, saved.changed, design_view(session, design_id).version) == (None, False, 1)


def test_a_stale_edit_is_refused_with_both_values_and_changes_nothing(store: Store) -> None:
    design_id, draft = write(store)
    with store.writing() as session:
        change_design(session, design_id, 1, replace(draft, name="Leaf", skill=3))
    mine = replace(
        draft, note="Hang it high.", parts=(replace(draft.parts[0], quantity_milli=60_000), *draft.parts[1:])
    )
    with pytest.raises(Stale) as refused, store.writing() as session:
        change_design(session, design_id, 1, mine)
    assert ("Name", "Leaf", "Copper leaf pendant") in refused.value.changes
    assert ("Skill", "3", "2") in refused.value.changes
    assert ("Notes", "Hang it low.", "Hang it high.") in refused.value.changes
    assert ("Part: Ring of Copper leaf pendant", "48 rings", "60 rings") in refused.value.changes
    assert stored(store, design_id).name == "Leaf"
    assert count(store, Revision) == 2


def test_the_same_edit_twice_is_no_conflict(store: Store) -> None:
    design_id, draft = write(store)
    for _ in range(2):
        with store.writing() as session:
            change_design(session, design_id, 1, replace(draft, skill=3))
    assert count(store, Revision) == 2


def refused_fields(store: Store, draft: DesignDraft) -> dict[str, str]:
    with pytest.raises(Unfit) as refused, store.writing() as session:
        add_design(session, draft)
    assert count(store, Part) == 0
    return refused.value.faults.by_field()


def test_what_the_shop_does_not_know_is_refused_beside_its_field(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
    parts = (
        PartDraft(quantity_milli=1000, item_id=999),
        PartDraft(quantity_milli=1500, item_id=ring),
        PartDraft(quantity_milli=1000, typed_kind="finding", typed_name="hook", typed_metal="mithril"),
    )
    found = refused_fields(store, DesignDraft(name="Leaf", parts=parts))
    assert set(found) == {"parts.0.item_id", "parts.1.quantity", "parts.2.metal"}
    assert "mithril" in found["parts.2.metal"]


def test_a_metal_of_the_shops_own_may_be_given_by_its_name(store: Store) -> None:
    with store.writing() as session:
        session.add(
            OwnMetal(
                code="own-moon", name="Moon alloy", density=Decimal(9), source="scale", tint="#888888", created_at=NOON
            )
        )
        design_id = add_design(
            session,
            DesignDraft(
                name="Leaf", parts=(PartDraft(1000, typed_kind="finding", typed_name="hook", typed_metal="moon ALLOY"),)
            ),
        )
        assert draft_of(session, design_id).parts[0].typed_metal == "own-moon"


def test_two_designs_never_share_a_name(store: Store) -> None:
    design_id, draft = write(store)
    with pytest.raises(Unfit) as refused, store.writing() as session:
        add_design(session, replace(draft, name="COPPER leaf pendant"))
    assert "name" in refused.value.faults.by_field()
    other_id, other = write(store, "Ärmel")
    with pytest.raises(Unfit), store.writing() as session:
        add_design(session, replace(other, name="ärmel"))
    with pytest.raises(Unfit), store.writing() as session:
        change_design(session, other_id, 1, replace(other, name=draft.name))
    with store.writing() as session:
        assert change_design(session, design_id, 1, replace(draft, name="Copper Leaf Pendant")).changed


def test_a_copy_is_a_design_of_its_own_with_a_free_name(store: Store) -> None:
    design_id, draft = write(store)
    with store.writing() as session:
        change_design(session, design_id, 1, replace(draft, skill=4), photo="a.jpg")
        first, second = copy_design(session, design_id), copy_design(session, design_id)
        view = design_view(session, first)
    assert view.copied_from is not None
    assert (view.copied_from.id, view.name, view.photo, view.number) == (
        design_id,
        "Copy of Copper leaf pendant",
        "a.jpg",
        1,
    )
    assert stored(store, first) == replace(draft, name="Copy of Copper leaf pendant", skill=4)
    assert stored(store, second).name == "Copy of Copper leaf pendant 2"


def test_a_fresh_copy_can_be_taken_back_without_a_trace(store: Store) -> None:
    with store.writing() as session:
        an_outlet(session)
    design_id, _draft = write(store)
    tables = (Design, Revision, Part, Work, DesignFigure, PriceFigure)
    before = [count(store, table) for table in tables]
    with store.writing() as session:
        copy_id = copy_design(session, design_id)
    with store.writing() as session:
        assert discard_copy(session, copy_id) == "Copy of Copper leaf pendant"
    assert [count(store, table) for table in tables] == before


@pytest.mark.parametrize("done", ["changed", "listed", "copied", "original"])
def test_what_was_worked_on_is_never_discarded(store: Store, done: str) -> None:
    design_id, _draft = write(store)
    with store.writing() as session:
        copy_id = copy_design(session, design_id)
        if done == "changed":
            change_design(session, copy_id, 1, replace(draft_of(session, copy_id), skill=5))
        elif done == "listed":
            a_listed_price(session, copy_id, an_outlet(session), "38.00")
        elif done == "copied":
            copy_design(session, copy_id)
        else:
            copy_id = design_id
    with pytest.raises(Conflict), store.writing() as session:
        discard_copy(session, copy_id)
    assert stored(store, copy_id)


def test_a_design_is_retired_and_brought_back(store: Store) -> None:
    design_id, draft = write(store)
    with store.writing() as session:
        assert retire_design(session, design_id) == draft.name
    assert stored(store, design_id).retired
    with store.writing() as session:
        change_design(session, design_id, 2, replace(draft, skill=5))
    assert stored(store, design_id).retired
    with store.writing() as session:
        bring_back_design(session, design_id)
        assert not design_view(session, design_id).retired


@pytest.mark.parametrize("act", [retire_design, bring_back_design, copy_design, discard_copy])
def test_a_design_that_is_not_there_is_missing(store: Store, act: object) -> None:
    with pytest.raises(Missing), store.writing() as session:
        act(session, 99)  # type: ignore[operator]
    with pytest.raises(Missing), store.writing() as session:
        change_design(session, 99, 1, DesignDraft(name="x"))
    with pytest.raises(Missing), store.reading() as session:
        draft_of(session, 99)


def test_rows_of_a_file_become_the_parts_of_their_design(store: Store) -> None:
    design_id, draft = write(store)
    rows = [
        {"design": draft.name, "item": "ring of COPPER leaf pendant", "quantity": "60", "purpose": "spine"},
        {"design": draft.name, "item": "", "kind": "finding", "name": "hook", "quantity": "1"},
    ]
    with store.writing() as session:
        set_parts(session, draft.name, rows)
    kept = stored(store, design_id)
    assert [part.quantity_milli for part in kept.parts] == [60_000, 1_000]
    assert kept.parts[0].item_id == draft.parts[0].item_id
    assert kept.work == draft.work
    assert count(store, Revision) == 2


def test_rows_that_name_no_item_or_several_say_so(store: Store) -> None:
    _design_id, draft = write(store)
    with store.writing() as session:
        for wire_nm in (1_000_000, 1_200_000):
            a_ring(session, name="Twin", wire_nm=wire_nm, inner_nm=5_000_000)
    rows = [
        {"design": draft.name, "item": "Nothing", "quantity": "1"},
        {"design": draft.name, "item": "Twin", "quantity": "1"},
        {"design": draft.name, "item": "Twin", "quantity": "none", "wire": "1.2"},
        {"design": draft.name, "item": "Twin", "quantity": "1", "wire": "1.5"},
        {"design": draft.name, "item": "Twin", "quantity": "1", "wire": "1.2"},
    ]
    with pytest.raises(Unfit) as refused, store.writing() as session:
        set_parts(session, draft.name, rows)
    assert set(refused.value.faults.by_field()) == {"parts.0.item", "parts.1.item", "parts.2.quantity", "parts.3.item"}
    with pytest.raises(Unfit) as refused, store.writing() as session:
        set_parts(session, "No such design", rows)
    assert set(refused.value.faults.by_field()) == {"design"}
