"""Which stock item a typed line means: sure where there is one, asked where there are several, typed where there is none."""

from decimal import Decimal

import pytest
from sqlmodel import Session

from models.database import Store
from models.intake.designs.part_text import read_line, read_lines
from models.queries.designs.part_match import LineMatch, match_lines
from models.tables import Item, OwnMetal
from tests.counting import queries_of
from tests.shops import NOON


def item(session: Session, name: str, kind: str = "ring", **more: object) -> int:
    row = Item(kind=kind, name=name, created_at=NOON, **more)
    session.add(row)
    session.flush()
    assert row.id is not None
    return row.id


@pytest.fixture
def drawer(store: Store) -> dict[str, int]:
    """A drawer with rings of several metals, colours and sizes, and findings."""
    niobium = {"metal": "niobium", "wire_nm": 800_000, "inner_nm": 2_800_000}
    with store.writing() as session:
        return {
            "bronze": item(session, "Bronze 1.2 × 4.0", metal="bronze-c220", wire_nm=1_200_000, inner_nm=4_000_000),
            "copper": item(session, "Copper 1.2 × 4.0", metal="copper", wire_nm=1_200_000, inner_nm=4_000_000),
            "swg": item(
                session,
                "Bronze 16 SWG 1/4",
                metal="bronze-c220",
                wire_nm=1_600_000,
                inner_nm=6_350_000,
                wire_label="16 SWG",
            ),
            "blue": item(session, "Blue niobium", colour="blue", **niobium),
            "green": item(session, "Green niobium", colour="green", **niobium),
            "matt": item(
                session, "Sterling matt", metal="sterling-925", finish="matt", wire_nm=800_000, inner_nm=3_000_000
            ),
            "bright": item(
                session, "Sterling bright", metal="sterling-925", finish="bright", wire_nm=800_000, inner_nm=3_000_000
            ),
            "wire": item(session, "Ear wire", "finding"),
            "wire925": item(session, "Ear wire, sterling", "finding", metal="sterling-925"),
            "clasp": item(session, "Lobster clasp 10 mm", "finding"),
            "chain": item(session, "Cable chain 2 mm", "chain", unit="m", metal="copper"),
            "box": item(session, "Gift box, small", "packaging"),
            "gone": item(session, "Toggle", "finding", retired=True),
        }


def matched(store: Store, text: str) -> LineMatch:
    with store.reading() as session:
        (found,) = match_lines(session, [read_line(text)])
    return found


@pytest.mark.parametrize(
    ("text", "key"),
    [
        ("48 bronze 1.2 x 4.0", "bronze"),
        ("48 copper 1.2 mm x 4 mm", "copper"),
        ("48 x bronze 16 SWG x 1/4 in", "swg"),
        ("48 bronze 1.6 x 6.35", "swg"),
        ("24 blue niobium 0.8 x 2.8", "blue"),
        ("24 niobium 0.8x2.8 green: petals", "green"),
        ("24 green 0.8 x 2.8", "green"),
        ("24 x blue rings 0.8 x 2.8: petals", "blue"),
        ("12 matt sterling 0.8 x 3", "matt"),
        ("2 ear wires", "wire"),
        ("1 pair sterling ear wires", "wire925"),
        ("1 lobster clasp", "clasp"),
        ("30 cm chain", "chain"),
        ("1 gift box", "box"),
    ],
)  # fmt: skip
def test_a_line_that_one_item_answers_is_matched_to_it(
    store: Store, drawer: dict[str, int], text: str, key: str
) -> None:
    found = matched(store, text)
    assert found.outcome == "matched"
    assert found.item is not None
    assert found.item.id == drawer[key]


@pytest.mark.parametrize(
    ("text", "keys"),
    [
        ("48 1.2 x 4.0", {"bronze", "copper"}),
        ("24 niobium 0.8 x 2.8", {"blue", "green"}),
        ("24 purple niobium 0.8 x 2.8", {"blue", "green"}),
        ("24 purple 0.8 x 2.8", {"blue", "green"}),
        ("24 green 0.8 x 2.83", {"green"}),
        ("12 sterling 0.8 x 3.0", {"matt", "bright"}),
        ("48 bronze 1.22 x 4.0", {"bronze"}),
        ("48 bronze 1.2 x 4.03", {"bronze"}),
        ("1 chain", {"chain"}),
    ],
)
def test_what_is_unsure_is_asked_with_its_candidates(
    store: Store, drawer: dict[str, int], text: str, keys: set[str]
) -> None:
    found = matched(store, text)
    assert found.outcome == "unsure"
    assert {candidate.item.id for candidate in found.candidates} == {drawer[key] for key in keys}


def test_a_colour_without_a_metal_is_asked_where_several_bags_have_it(store: Store, drawer: dict[str, int]) -> None:
    with store.writing() as session:
        other = item(
            session, "Green aluminium", metal="aluminium-5052", colour="leaf green", wire_nm=800_000, inner_nm=2_800_000
        )
    found = matched(store, "24 green 0.8 x 2.8")
    assert found.outcome == "unsure"
    assert {candidate.item.id for candidate in found.candidates} >= {drawer["green"], other}
    sure = matched(store, "24 leaf green 0.8 x 2.8")
    assert sure.item is not None
    assert sure.item.id == other


def test_a_near_size_says_that_it_is_near(store: Store, drawer: dict[str, int]) -> None:
    found = matched(store, "48 bronze 1.22 x 4.0")
    assert found.candidates[0].near


@pytest.mark.parametrize(
    "text",
    [
        "48 bronze 1.3 x 4.0",
        "48 niobium 1.2 x 4.0",
        "48 bronze 1.2 x 4.04",
        "1 toggle",
        "1 bead 4 mm",
        "3 dragon scales",
    ],
)
def test_what_the_shop_does_not_have_is_unknown(store: Store, drawer: dict[str, int], text: str) -> None:
    assert matched(store, text).outcome == "unknown"


def test_a_line_that_cannot_be_read_is_not_matched(store: Store, drawer: dict[str, int]) -> None:
    found = matched(store, "48 bronze 16ga x 1/4 in")
    assert found.outcome == "unreadable"
    assert found.line.gauge == "16"


def test_part_of_a_thing_that_is_counted_is_no_match_however_well_it_is_named(
    store: Store, drawer: dict[str, int]
) -> None:
    assert matched(store, "2 lobster clasp 10 mm").outcome == "matched"
    assert matched(store, "2.5 lobster clasp 10 mm").outcome == "unreadable"
    assert matched(store, "2.5 m cable chain 2 mm").outcome == "matched"


def test_a_metal_of_the_shops_own_is_known_by_its_name(store: Store, drawer: dict[str, int]) -> None:
    with store.writing() as session:
        session.add(
            OwnMetal(
                code="own-moon-alloy",
                name="moon alloy",
                density=Decimal("9.1"),
                source="our own scale",
                tint="#888888",
                created_at=NOON,
            )
        )
        mine = item(session, "Moon alloy 1.2 × 4.0", metal="own-moon-alloy", wire_nm=1_200_000, inner_nm=4_000_000)
    found = matched(store, "48 moon alloy 1.2 x 4.0")
    assert (found.outcome, found.metals) == ("matched", ("own-moon-alloy",))
    assert found.item is not None
    assert found.item.id == mine
    assert matched(store, "48 moon alloy 1.5 x 6.0").metals == ("own-moon-alloy",)


def test_the_number_of_queries_does_not_grow_with_lines_or_items(store: Store, drawer: dict[str, int]) -> None:
    def run(lines: int) -> int:
        with store.reading() as session, queries_of(store) as seen:
            match_lines(session, read_lines("48 bronze 1.2 x 4.0\n" * lines))
        return len(seen)

    few = run(1)
    with store.writing() as session:
        for number in range(40):
            item(session, f"Thing {number}", "finding")
    assert run(100) == few
