"""Reading designs: the list with its figures, files that read back the same, and what changed between revisions."""

import shutil
from dataclasses import replace
from decimal import Decimal
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.database import Store
from models.errors import Missing
from models.intake.costing.part import PART_COLUMNS, PartDraft
from models.intake.csv_file import Sheet, read_csv, write_csv
from models.intake.designs.design import DESIGN_COLUMNS, ONCE_WORK, PIECE_WORK, DesignDraft, WorkDraft, read_design_row
from models.operations.designs.design import add_design, change_design, retire_design, set_parts
from models.operations.figures import refresh_figures
from models.queries.costing.figures import compute_figures
from models.queries.designs.design import draft_of, drafts_of, in_order
from models.queries.designs.export import export_designs, export_parts
from models.queries.designs.history import design_difference, design_history
from models.queries.designs.list import DesignFilter, design_list
from tests.budget import budget
from tests.counting import queries_of
from tests.shops import a_design, a_finding, a_listed_price, a_part, a_ring, an_outlet


def ring(metal: str = "copper", count: int = 12, **more: object) -> PartDraft:
    return PartDraft(
        count * 1000, typed_kind="ring", typed_metal=metal, typed_wire_nm=1_000_000, typed_inner_nm=4_000_000, **more
    )


def names(store: Store, **wanted: object) -> list[str]:
    with store.reading() as session:
        return [row.name for row in design_list(session, DesignFilter(**wanted)).rows]  # type: ignore[arg-type]


@pytest.fixture
def studio(store: Store) -> Store:
    with store.writing() as session:
        blue = a_ring(session, name="Blue niobium", metal="niobium", colour="blue", wire_nm=800_000, inner_nm=2_800_000)
        add_design(
            session,
            DesignDraft("Leaf pendant", piece="pendant", weave="byzantine", parts=(ring(guess=Decimal("0.04")),)),
        )
        add_design(
            session,
            DesignDraft(
                "Chain bracelet", piece="bracelet", weave="box-chain", parts=(PartDraft(90_000, item_id=blue),)
            ),
        )
        add_design(session, DesignDraft("Bare idea"))
        gone = add_design(session, DesignDraft("Old brooch", piece="brooch", weave="byzantine"))
        retire_design(session, gone)
    return store


def test_the_list_hides_retired_designs_until_asked_for(studio: Store) -> None:
    assert names(studio) == ["Bare idea", "Chain bracelet", "Leaf pendant"]
    assert names(studio, retired=True) == ["Old brooch"]
    with studio.reading() as session:
        page = design_list(session, DesignFilter())
    assert (page.in_use, page.retired) == (3, 1)
    assert page.pieces == (("bracelet", "bracelet (1)"), ("pendant", "pendant (1)"))


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ({"piece": "Pendant"}, ["Leaf pendant"]),
        ({"weave": "box-chain"}, ["Chain bracelet"]),
        ({"metal": "niobium"}, ["Chain bracelet"]),
        ({"text": "leaf"}, ["Leaf pendant"]),
        ({"text": "BLUE niob"}, ["Chain bracelet"]),
        ({"text": "byzantine"}, ["Leaf pendant"]),
        ({"text": "leaf bracelet"}, []),
        ({"order": "newest"}, ["Bare idea", "Chain bracelet", "Leaf pendant"]),
        ({"order": "cost"}, ["Bare idea", "Leaf pendant", "Chain bracelet"]),
    ],
)
def test_the_list_is_narrowed_and_sorted(studio: Store, wanted: dict[str, object], found: list[str]) -> None:
    assert names(studio, **wanted) == found


def test_the_list_shows_the_kept_figures_and_the_outlet_that_earns_most(store: Store) -> None:
    with store.writing() as session:
        dear = an_outlet(session, name="Stall", kind="market", fees=())
        an_outlet(session, name="Web shop", position=1)
        gone = an_outlet(session, name="Closed", position=2, retired=True)
        design_id = a_design(session, [a_part(a_ring(session), 40), a_part(a_finding(session), 1)])
        a_listed_price(session, design_id, dear, "90.00")
        a_listed_price(session, design_id, gone, "900.00")
        refresh_figures(session)
    with store.reading() as session:
        (row,) = design_list(session, DesignFilter()).rows
        due = compute_figures(session)
    assert row.total_micros == due.costs[0].total_micros
    assert row.minutes == Decimal(due.costs[0].minutes_milli) / 1000
    assert row.best is not None
    assert (row.best.outlet, row.best.price_micros) == ("Stall", 90_000_000)
    assert not row.provisional
    assert [(one.wire_nm, one.inner_nm) for one in row.rings] == [(1_000_000, 3_600_000)]


@pytest.mark.long
def test_the_list_takes_the_same_few_queries_for_any_number_of_designs(store: Store) -> None:
    def seen() -> int:
        with queries_of(store) as statements, store.reading() as session:
            design_list(session, DesignFilter())
        return len(statements)

    with store.writing() as session:
        add_design(session, DesignDraft("First", parts=(ring(),)))
    few = seen()
    with store.writing() as session:
        for number in range(25):
            add_design(session, DesignDraft(f"Design {number}", parts=(ring(), ring("niobium"), ring("titanium"))))
    assert seen() == few <= 5


# --- files ---

texts = st.text(st.characters(categories=["L", "N", "P", "S", "Zs"]), max_size=12).map(str.strip)
micros = st.integers(0, 50_000_000).map(lambda micros: Decimal(micros).scaleb(-6))
percents = st.none() | st.integers(0, 1000).map(lambda tenths: Decimal(tenths).scaleb(-1))
lengths = st.none() | st.integers(1, 900_000_000)


@st.composite
def parts(draw: st.DrawFn, items: int) -> PartDraft:
    common = {
        "quantity_milli": draw(st.integers(1, 300)) * 1000,
        "purpose": draw(texts),
        "optional": draw(st.booleans()),
        "allowance_percent": draw(percents),
        "joined": draw(st.booleans()),
        "guess": draw(st.none() | micros),
        "choice_group": draw(st.sampled_from(["", "colour"])),
    }
    if common["choice_group"]:
        common["choice_name"] = draw(st.sampled_from(["A", "B"]))
    kind = draw(st.sampled_from(["item", "ring", "chain", "finding"]))
    if kind == "item":
        return PartDraft(item_id=draw(st.integers(1, items)), **common)
    if kind == "ring":
        wire_nm = draw(st.integers(300_000, 2_000_000))
        return PartDraft(
            typed_kind="ring", typed_metal=draw(st.sampled_from(["copper", "niobium", None])), typed_colour=draw(texts),
            typed_wire_nm=wire_nm, typed_inner_nm=wire_nm * 3 + draw(st.integers(0, 999_999)), **common,
        )  # fmt: skip
    unit = draw(st.sampled_from(["m", "g"])) if kind == "chain" else "piece"
    return PartDraft(typed_kind=kind, typed_name=draw(texts.filter(bool)), typed_unit=unit, **common)


@st.composite
def drafts(draw: st.DrawFn, number: int, items: int) -> DesignDraft:
    work = [WorkDraft("setup")] if draw(st.booleans()) else []
    work += [WorkDraft(kind, count=draw(st.integers(0, 500))) for kind in ("open", "weave") if draw(st.booleans())]
    work += [
        WorkDraft(kind, minutes_milli=draw(st.none() | st.integers(0, 90_000)))
        for kind in (*PIECE_WORK, *ONCE_WORK)
        if draw(st.booleans())
    ]
    return DesignDraft(
        name=f"{draw(texts)}-{number}", piece=draw(texts), note=draw(texts), weave=draw(st.sampled_from([None, "byzantine"])),
        skill=draw(st.integers(1, 5)), width_nm=draw(lengths), height_nm=draw(lengths), length_nm=draw(lengths),
        measured_mass_ug=draw(st.none() | st.integers(1, 10**9)), allowance_percent=draw(percents),
        once_pieces=draw(st.integers(1, 500)), retired=draw(st.booleans()), work=in_order(work),
        parts=tuple(draw(st.lists(parts(items), max_size=4))),
    )  # fmt: skip


def with_items(folder: Path, empty: Path) -> Store:
    shutil.copytree(empty, folder)
    opened = Store(folder)
    with opened.writing() as session:
        a_ring(session)
        a_ring(session, name="Twin", wire_nm=1_200_000)
        a_ring(session, name="Twin", wire_nm=1_400_000)
        a_finding(session)
    return opened


@settings(max_examples=budget(12, 4), suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.data(), st.sampled_from([",", ";"]))
def test_files_of_designs_and_parts_read_back_as_the_same_designs(
    empty_shop: Path, tmp_path_factory: pytest.TempPathFactory, data: st.DataObject, delimiter: str
) -> None:
    folder = tmp_path_factory.mktemp("round-trip")
    first, second = with_items(folder / "first", empty_shop), with_items(folder / "second", empty_shop)
    wanted = [data.draw(drafts(number, 4)) for number in range(2)]
    with first.writing() as session:
        for draft in wanted:
            add_design(session, draft)
    with first.reading() as session:
        designs = write_csv([column.name for column in DESIGN_COLUMNS], export_designs(session), delimiter=delimiter)
        lines = write_csv([column.name for column in PART_COLUMNS], export_parts(session), delimiter=delimiter)
    sheet, rows = read_csv(designs.encode(), DESIGN_COLUMNS), read_csv(lines.encode(), PART_COLUMNS)
    assert isinstance(sheet, Sheet)
    with second.writing() as session:
        for row in sheet.rows:
            read = read_design_row(row.cells)
            assert isinstance(read, DesignDraft), read
            add_design(session, read)
        for draft in wanted:
            if draft.parts:
                assert isinstance(rows, Sheet)
                set_parts(session, draft.name, [row.cells for row in rows.rows if row.cells["design"] == draft.name])
    with second.reading() as session:
        kept = {draft.name: draft for draft in (draft_of(session, number) for number in (1, 2))}
    assert kept == {draft.name: draft for draft in wanted}
    first.close()
    second.close()


def test_an_export_names_the_item_and_what_tells_it_apart(store: Store) -> None:
    with store.writing() as session:
        item_id = a_ring(session, name="Twin", colour="blue", metal="niobium")
        add_design(session, DesignDraft("Leaf", parts=(PartDraft(3000, item_id=item_id), ring(purpose="petals"))))
    with store.reading() as session:
        first, second = export_parts(session)
    assert (first["item"], first["metal"], first["colour"], first["wire"], first["name"]) == (
        "Twin",
        "niobium",
        "blue",
        "1.0 mm",
        None,
    )
    assert (second["item"], second["kind"], second["purpose"]) == (None, "ring", "petals")


# --- revisions ---


def test_earlier_revisions_are_costed_at_todays_prices(store: Store) -> None:
    with store.writing() as session:
        item_id = a_ring(session)
        draft = DesignDraft("Leaf", parts=(PartDraft(100_000, item_id=item_id),))
        design_id = add_design(session, draft)
        change_design(
            session,
            design_id,
            1,
            replace(draft, parts=(PartDraft(50_000, item_id=item_id),), change_note="fewer rings"),
        )
    with store.reading() as session:
        found = design_history(session, design_id)
    assert [(row.number, row.rings, row.change_note) for row in found.rows] == [(2, 50, "fewer rings"), (1, 100, "")]
    # 100 rings of a bag of 100 at 4.00, and 3 per cent spoiled.
    assert [row.materials for row in found.rows] == [Decimal("2.06"), Decimal("4.12")]


def test_a_difference_names_every_change_and_what_it_does(store: Store) -> None:
    with store.writing() as session:
        bronze, wire = a_ring(session, name="Bronze"), a_finding(session, name="Ear wire")
        before = DesignDraft(
            "Leaf", weave="byzantine",
            parts=(PartDraft(48_000, item_id=bronze, purpose="spine"), PartDraft(1000, item_id=wire), ring()),
            work=(WorkDraft("tumble"), WorkDraft("pack")),
        )  # fmt: skip
        design_id = add_design(session, before)
        after = replace(
            before, weave="box-chain", skill=2, parts=(ring(), PartDraft(60_000, item_id=bronze, purpose="spine"), ring("niobium")),
            work=(WorkDraft("tumble", minutes_milli=4000),),
        )  # fmt: skip
        change_design(session, design_id, 1, after)
    with store.reading() as session:
        found = design_difference(session, design_id, None, None)
    assert (found.before.number, found.after.number) == (1, 2)
    assert ("Weave", "Byzantine", "box chain") in found.fields
    assert ("Skill", "1", "2") in found.fields
    assert ("Tumbling", "at your rate", "4 min") in found.work
    assert ("Packing", "at your rate", "") in found.work
    said = [(part.kind, part.name, part.before, part.after) for part in found.parts]
    assert said == [
        ("changed", "Bronze", "48 rings, spine", "60 rings, spine"),
        ("added", "Niobium ring 1.0 × 4.0 mm", "", "12 rings"),
        ("taken out", "Ear wire", "1 piece", ""),
    ]
    assert found.after.rings - found.before.rings == 24


def test_a_part_that_only_moved_is_no_difference(store: Store) -> None:
    with store.writing() as session:
        first, second = ring(), ring("niobium")
        draft = DesignDraft("Leaf", parts=(first, second))
        design_id = add_design(session, draft)
        change_design(session, design_id, 1, replace(draft, parts=(second, first)))
    with store.reading() as session:
        assert design_difference(session, design_id, 1, 2).same
        with pytest.raises(Missing):
            design_difference(session, design_id, 1, 3)
        with pytest.raises(Missing):
            design_history(session, 99)


def test_drafts_are_read_in_the_same_few_queries_for_any_number_of_revisions(store: Store) -> None:
    with store.writing() as session:
        for number in range(6):
            add_design(session, DesignDraft(f"Design {number}", parts=(ring(),)))
    with queries_of(store) as seen, store.reading() as session:
        assert len(drafts_of(session, range(1, 7))) == 6
    assert len(seen) == 4
