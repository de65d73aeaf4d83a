"""The rows of the editor: settled once they stay settled, nothing that was typed is dropped, and faults find their row."""

from time import process_time

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.database import Store
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft, read_rough_design
from models.intake.faults import Fault, Faults
from models.queries.designs.part_rows import GONE, MOST_SETTLED, TOO_MANY, ResolvedRows, resolve_rows, rows_of
from tests.budget import budget
from tests.shops import a_finding, a_ring


@pytest.fixture
def drawer(store: Store) -> Store:
    with store.writing() as session:
        a_ring(session, name="Bronze 1.2 × 4.0", wire_nm=1_200_000, inner_nm=4_000_000)
        a_ring(session, name="Blue niobium", metal="niobium", colour="blue", wire_nm=800_000, inner_nm=2_800_000)
        a_ring(session, name="Green niobium", metal="niobium", colour="green", wire_nm=800_000, inner_nm=2_800_000)
        a_finding(session)
    return store


def settled(store: Store, quick: str = "", *rows: dict[str, str]) -> ResolvedRows:
    with store.reading() as session:
        return resolve_rows(session, rows, quick)


LINES = [
    "48 bronze 1.2 x 4.0", "24 niobium 0.8 x 2.8: petals", "1 pair ear wires (optional)", "3 dragon scales", "asdf", "12 bronze 16ga x 1/4 in",
    "48 bronze 1.22 x 4.0", "A: 24 blue niobium 0.8 x 2.8 | B: 24 green niobium 0.8 x 2.8 for the petals", "30 cm chain", "2.5 ear wire",
]  # fmt: skip


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=budget(25, 5))
@given(st.lists(st.sampled_from(LINES), max_size=6))
def test_rows_that_were_settled_stay_as_they_are(drawer: Store, lines: list[str]) -> None:
    once = settled(drawer, "\n".join(lines))
    again = settled(drawer, "", *(row.fields for row in once.rows))
    assert [row.state for row in again.rows] == [row.state for row in once.rows]
    assert [row.fields for row in again.rows] == [row.fields for row in once.rows]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=budget(25, 5))
@given(st.lists(st.text(st.characters(exclude_categories=["Cs", "Cc"]), max_size=40), max_size=4))
def test_no_line_is_ever_dropped(drawer: Store, lines: list[str]) -> None:
    found = settled(drawer, "\n".join(lines))
    typed = [
        piece for line in "\n".join(lines).splitlines() if line.strip() for piece in line.split("|") if piece.strip()
    ]
    assert len(found.rows) == len(typed)
    for row in found.rows:
        if row.state == "ask":
            assert row.fields["text"]
            assert row.says


def test_saved_parts_come_back_as_the_same_parts(drawer: Store) -> None:
    parts = (
        PartDraft(48_000, item_id=1, purpose="spine", joined=False),
        PartDraft(1_500, typed_kind="chain", typed_name="fine chain", typed_unit="m", optional=True),
        PartDraft(12_000, typed_kind="ring", typed_metal="copper", typed_wire_nm=1_000_000, typed_inner_nm=3_968_750, choice_group="c", choice_name="A"),
    )  # fmt: skip
    found = settled(drawer, "", *rows_of(parts))
    draft, faults = read_rough_design({"name": "Leaf", "parts": found.parts()})
    assert faults is None
    assert draft.parts == parts


def test_the_faults_of_settled_rows_are_told_at_their_place_on_the_page(drawer: Store) -> None:
    found = settled(drawer, "asdf\n48 bronze 1.2 x 4.0\n24 niobium 0.8 x 2.8\n3 dragon scales")
    assert [row.state for row in found.rows] == ["ask", "item", "ask", "typed"]
    told = found.on_the_page(
        Faults((Fault("parts.0.item_id", "gone"), Fault("parts.1.guess", "cheap"), Fault("name", "none")))
    )
    assert [fault.field for fault in told] == ["parts.1.pick", "parts.3.guess", "name"]
    assert [fault.field for fault in found.questions()] == ["parts.0.text", "parts.2.pick"]
    assert len(found.parts()) == 2


def test_an_item_that_is_gone_is_asked_about(drawer: Store) -> None:
    (row,) = settled(drawer, "", {"pick": "item:99", "quantity": "4"}).rows
    assert (row.state, row.says) == ("ask", GONE)


def test_a_guessed_price_and_a_choice_survive_choosing_another(drawer: Store) -> None:
    beside = {"guess": "0.07", "choice_group": "colour", "choice_name": "A", "allowance_percent": "5", "joined": ""}
    typed = {
        "pick": "typed",
        "kind": "ring",
        "wire": "0.8",
        "inner": "2.8",
        "metal": "niobium",
        "quantity": "24",
        "purpose": "petals",
        "unit": "piece",
    }
    (asked,) = settled(drawer, "", {**typed, **beside, "again": "yes"}).rows
    assert asked.state == "ask"
    (row,) = settled(drawer, "", {**asked.fields, "pick": "item:2"}).rows
    assert {name: row.fields[name] for name in beside} == beside
    assert (row.fields["quantity"], row.fields["purpose"]) == ("24", "petals")


def test_an_empty_page_reads_nothing_but_settles(drawer: Store) -> None:
    assert settled(drawer).rows == ()
    assert isinstance(read_rough_design({"name": "x", "parts": settled(drawer).parts()})[0], DesignDraft)


def test_more_rows_than_are_read_at_once_keep_what_was_typed(drawer: Store) -> None:
    rows = [{"pick": "", "text": f"{number + 1} bronze 1.2 x 4.0"} for number in range(MOST_SETTLED + 3)]
    found = settled(drawer, "", *rows)
    assert [row.fields["text"] for row in found.rows[MOST_SETTLED:]] == [row["text"] for row in rows[MOST_SETTLED:]]
    assert {row.says for row in found.rows[MOST_SETTLED:]} == {TOO_MANY}
    assert {row.state for row in found.rows[:MOST_SETTLED]} == {"item"}


@pytest.mark.parametrize(
    "line", ["1 " * 60, "1 silver bronze copper " * 14, "1 " + " ".join(f"w{n}" for n in range(58))]
)
def test_the_parts_box_is_settled_at_once_however_full(drawer: Store, line: str) -> None:
    began = process_time()
    found = settled(drawer, "\n".join([line] * 200))
    assert process_time() - began < 2
    assert len(found.rows) == 200
