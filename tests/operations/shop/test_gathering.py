"""A file is looked at and taken in with its tables read once: the same words and the same rows as one by one, at once."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import datetime
from itertools import chain
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from sqlalchemy import event
from sqlmodel import Session, SQLModel, select

from models.database import Store
from models.operations.check import check_shop
from models.operations.figures import refresh_gathered
from models.operations.imports import KINDS, Context, Look, look_at_file, take_file
from models.operations.shop.import_rows import Wrong
from models.operations.stock.valuation import choose_valuation
from models.queries.shop.gathering import gathered
from models.queries.shop.shop import currency_of
from models.queries.stock.metal import all_metals
from models.tables import Lot
from tests.operations.test_imports import FILES, ITEMS

pytestmark = pytest.mark.long

Rows = list[dict[str, str]]

NAMES = ["Ear wire", "ear wire", "Fine chain", "Gift box, small", "Leaf scale", "Commercial bronze C220 ring 1.0 × 3.6 mm",
         "Silver link", "Silver link", "Nobody's thing", ""]  # fmt: skip
PLACES = ["", "drawer B4", "drawer B5", "shelf, left", "Drawer b4", "a new drawer"]
MUCH = ["1", "5", "48", "about 30", "plenty", "plenty, 40", "0", "2.5", "0.25 m", "3 g", "many", "", "-4", "100000"]
DAYS = ["", "2026-03-09", "2026-01-02", "2199-01-01", "soon"]
SUPPLIERS = ["", "Copper Lane Wire", "copper lane wire", "Bright Findings", "A new supplier", "Another new one"]
MONEY = ["", "4.50", "0", "12", "-1", "a lot"]


def a_row(code: str) -> st.SearchStrategy[dict[str, str]]:
    """A row whose cells are each one of what its column may say."""
    return st.fixed_dictionaries({name: st.sampled_from(list(words)) for name, words in CELLS[code].items()})


CELLS: dict[str, dict[str, Sequence[str]]] = {
    "items": {
        "kind": ["ring", "ring", "wire", "finding", "packaging", "gadget"],
        "name": ["", "", "Ear wire", "Toggle", "toggle", "Hook"],
        "metal": ["copper", "copper", "bronze-c220", "niobium", "unobtainium", ""],
        "colour": ["", "", "green", "Green"],
        "finish": ["", "", "tumbled"],
        "wire": ["1.0 mm", "1.0 mm", "1.02 mm", "1.05 mm", "16 SWG", "thick", ""],
        "inner": ["3.6 mm", "3.6 mm", "3.62 mm", "4.0 mm", ""],
        "supplier": SUPPLIERS,
        "pack": ["", "100", "100", "x"],
        "pack_unit": ["piece", "g"],
        "price": ["", "4.20", "3"],
        "currency": ["", "", "", "USD", "XXY"],
        "exchange_rate": ["", "", "0.92"],
        "near_ok": ["", "", "yes"],
        "retired": ["", "", "", "yes"],
    },
    "offers": {
        "item": NAMES,
        "item_id": ["", "", "", "2", "3", "99"],
        "supplier": SUPPLIERS,
        "pack": ["100", "100", "20", "1 m", "0", ""],
        "pack_unit": ["piece", "piece", "g", "m"],
        "price": ["20", "20", "6.40", "0", "x"],
        "currency": ["", "", "USD", "EUR"],
        "exchange_rate": ["", "0.9", "0.95"],
        "breaks": ["", "", "5 at 18; 10 at 16.50", "5 at"],
        "lead_days": ["", "9"],
        "current": ["", "", "no", "yes"],
        "offer_note": ["", "", "asked by letter"],
    },
    "designs": {
        "name": ["Copper leaf pendant", "One", "ONE", "Two", "Zwei Größen", "ZWEI GRÖSSEN", ""],
        "piece": ["pendant", ""],
        "weave": ["", "byzantine", "no such weave"],
        "skill": ["2", "", "9"],
        "width": ["", "18 mm", "wide"],
        "note": ["", "=1"],
        "polish": ["", "yes"],
        "polish_minutes": ["", "4.5"],
        "weave_count": ["", "12"],
    },
    "parts": {
        "design": ["Copper leaf pendant", "Copper leaf pendant", "Ear drops", "EAR DROPS", "No such design", ""],
        "item": ["", "", *NAMES],
        "kind": ["ring", "ring", "finding", ""],
        "name": ["", "Charm"],
        "metal": ["copper", "bronze-c220", "unobtainium", ""],
        "wire": ["1.2 mm", "1.2 mm", "1.0 mm", ""],
        "inner": ["4.0 mm", "4.0 mm", "3.6 mm", ""],
        "quantity": ["48", "48", "2", "1.5", "many"],
        "purpose": ["", "the drops"],
        "guess": ["", "0.05", "0.06"],
        "joined": ["", "no"],
    },
    "outlets": {
        "name": ["Fair", "FAIR", "Gallery", "gallery", "Größe", "GRÖßE", ""],
        "kind": ["market", "market", "online", "spaceship"],
        "tax_percent": ["", "20", "x"],
        "fee_1_label": ["", "Payment"],
        "fee_1_percent": ["", "2.9"],
        "fee_1_fixed": ["", "0.30"],
        "wanted_wage": ["", "30"],
    },
    "receipts": {
        "receipt": ["", "", "", "A", "a", "B"],
        "item": NAMES,
        "item_id": ["", "", "", "", "2", "3", "99"],
        "quantity": ["", *MUCH],
        "packs": ["", "", "", "2"],
        "unit_cost": ["", "", "0.034"],
        "total_cost": ["", "9", "12.5"],
        "currency": ["", "", "", "USD", "EUR"],
        "exchange_rate": ["", "", "0.92"],
        "freight": ["", "", "1.00"],
        "supplier": SUPPLIERS,
        "received_on": DAYS,
        "batch": ["", "dye lot 7"],
        "place": PLACES,
        "note": ["", "Order 118"],
    },
    "counts": {
        "lot_id": ["", "", "1", "2", "3", "4", "5", "6", "7", "99", "x"],
        "item": NAMES,
        "place": PLACES,
        "found": MUCH,
        "counted_on": DAYS,
        "note": ["", "One bag had split."],
    },
    "leavings": {
        "reason": ["lost", "spoiled", "spoiled", "sold", "gift", "sample", "eaten"],
        "item": [*NAMES, "Scrap of sterling 925", "Silver link"],
        "item_id": ["", "", "", "2", "8", "9", "99"],
        "lot_id": ["", "", "", "1", "2", "3", "6", "7", "99"],
        "place": PLACES,
        "quantity": MUCH,
        "total_price": ["", "", *MONEY],
        "left_on": DAYS,
        "note": ["", "Rolled under the bench."],
    },
}  # fmt: skip


@pytest.fixture(scope="module", params=["fifo", "average"])
def shelf(
    request: pytest.FixtureRequest, empty_shop: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Store]:
    """A shop with some of everything, two items of one name, and a bag that a count has emptied."""
    folder = tmp_path_factory.mktemp("gathering") / "shop"
    shutil.copytree(empty_shop, folder)
    store = Store(folder)
    twins = (
        "ring,Silver link,sterling-925,,0.8 mm,3.0 mm,closed,,50,piece,9,,\n"
        "ring,Silver link,sterling-925,,1.6 mm,8.0 mm,closed,,50,piece,19,,\n"
    )
    received = (
        "item_id,item,quantity,total_cost,place,received_on\n"
        "8,x,200,40,drawer B4,2026-01-02\n9,x,60,90,,2026-01-03\n8,x,50,12,drawer B5,2026-01-04\n1,x,12,,,2026-01-04\n"
    )
    with store.writing() as session:
        for kind, text in {**FILES, "items": ITEMS + twins}.items():
            take_file(session, KINDS[kind], text.encode())
        take_file(session, KINDS["receipts"], received.encode())
        emptied = session.exec(select(Lot.id).where(Lot.received_milli == 12_000)).one()
        take_file(session, KINDS["counts"], f"lot_id,found\n{emptied},0\n".encode())
        if request.param == "average":
            choose_valuation(session, "average")
    yield store
    store.close()


def told(session: Session, code: str, rows: Rows) -> tuple[int, Wrong]:
    context = Context(metals=all_metals(session), currency=currency_of(session))
    return KINDS[code].take(session, rows, context)


def everything(session: Session) -> dict[str, list[tuple[object, ...]]]:
    """All rows of all tables but for the moments when they were written."""
    return {
        table.name: sorted(
            (
                tuple(repr(value) for value in row if not isinstance(value, datetime))
                for row in session.execute(table.select())
            ),
        )
        for table in SQLModel.metadata.sorted_tables
    }


def one_by_one(store: Store, code: str, rows: Rows) -> tuple[tuple[int, Wrong], dict[str, Any]]:
    """The rows as the acts of one row do them, each in a savepoint of the database; taken back."""
    with store.trying() as session:
        found = told(session, code, rows)
        session.flush()
        return found, everything(session)


def all_at_once(store: Store, code: str, rows: Rows) -> tuple[tuple[int, Wrong], dict[str, Any]]:
    """The rows gathered and written by one statement for each table; taken back."""
    with store.trying() as session:
        with gathered(session) as gathering:
            found = told(gathering, code, rows)
            gathering.write()
        refresh_gathered(session, gathering)
        return found, everything(session)


@pytest.mark.parametrize("code", KINDS)
@settings(
    suppress_health_check=list(HealthCheck),
    max_examples=25,
    # A row is small as it is, and making it smaller still would take many copies of a shop.
    phases=(Phase.explicit, Phase.reuse, Phase.generate),
)
@given(data=st.data())
def test_a_file_says_and_writes_what_its_rows_would_one_by_one(shelf: Store, code: str, data: st.DataObject) -> None:
    rows = data.draw(st.lists(a_row(code), min_size=1, max_size=7))
    words, kept = one_by_one(shelf, code, rows)
    words_at_once, kept_at_once = all_at_once(shelf, code, rows)
    assert words_at_once == words
    assert kept_at_once == kept


@pytest.mark.parametrize("code", KINDS)
def test_the_cells_drawn_are_of_columns_that_the_kind_has(code: str) -> None:
    known = {column.name: column.required for column in KINDS[code].columns}
    assert set(CELLS[code]) <= set(known)
    assert {name for name, required in known.items() if required} <= set(CELLS[code])


# ---- how much it takes ----


def grown(code: str, number: int) -> str:
    """A good file of so many lines, for a shop that has taken in the files of the kinds before it."""
    metals = ("bronze-c220", "copper", "sterling-925", "aluminium-5356", "niobium")
    item = [number // 2 or 1]
    lines: Mapping[str, tuple[str, Callable[[int], str]]] = {
        "items": (
            "kind,metal,wire,inner,pack,pack_unit,price,supplier",
            lambda n: (
                f"ring,{metals[n % 5]},{0.5 + n // 200 / 10:.1f} mm,{2 + n // 5 % 40 / 10:.1f} mm,100,piece,{1 + n % 7},S{n % 20}"
            ),
        ),
        "offers": (
            "item,item_id,supplier,pack,pack_unit,price,breaks",
            lambda n: f"x,{n % item[0] + 1},T{n % 30},{10 + n % 3},piece,{1 + n % 9},5 at 1",
        ),
        "designs": ("name,piece,skill,width,note", lambda n: f"Design {n},pendant,2,18 mm,n"),
        "parts": (
            "design,item,kind,metal,wire,inner,quantity",
            lambda n: f"Design {n // 8},,ring,copper,1.{n % 8} mm,4.0 mm,{1 + n}",
        ),
        "outlets": ("name,kind,tax_percent,fee_1_label,fee_1_percent", lambda n: f"Outlet {n},online,20,Pay,2.9"),
        "receipts": (
            "item,item_id,quantity,total_cost,supplier,place",
            lambda n: f"x,{n % item[0] + 1},{100 + n},{1 + n % 9}.50,S{n % 20},drawer {n % 40}",
        ),
        "counts": ("lot_id,found", lambda n: f"{n + 1},{90 + n}"),
        "leavings": (
            "reason,item,item_id,quantity,total_price",
            lambda n: f"{'sold' if n % 2 else 'spoiled'},x,{n % item[0] + 1},{1 + n % 3},{'2' if n % 2 else ''}",
        ),
    }
    header, line = lines[code]
    return "\n".join(chain([header], (line(n) for n in range(number))))


def statements(store: Store, act: Callable[[], object]) -> int:
    seen: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        seen.append(statement)

    event.listen(store.engine, "before_cursor_execute", note)
    try:
        act()
    finally:
        event.remove(store.engine, "before_cursor_execute", note)
    return len(seen)


def look(store: Store, code: str, text: str) -> None:
    with store.reading() as session:
        found = look_at_file(session, KINDS[code], text.encode())
    assert isinstance(found, Look), found
    assert found.bad == ()


def take(store: Store, code: str, text: str) -> None:
    with store.writing() as session:
        take_file(session, KINDS[code], text.encode())


def asked_for(folder: Path, number: int) -> dict[str, tuple[int, int]]:
    """How many statements a look and a taking of so many lines are, by kind, one kind after the other."""
    store = Store(folder)
    found = {}
    for code in KINDS:
        text = grown(code, number)
        found[code] = (
            statements(store, lambda code=code, text=text: look(store, code, text)),  # type: ignore[misc]
            statements(store, lambda code=code, text=text: take(store, code, text)),  # type: ignore[misc]
        )
    with store.reading() as session:
        assert check_shop(session, store.photos).sound
    store.close()
    return found


def test_how_many_statements_a_file_takes_does_not_grow_with_its_lines(empty_shop: Path, tmp_path: Path) -> None:
    few, many = (Path(shutil.copytree(empty_shop, tmp_path / name)) for name in ("few", "many"))
    assert asked_for(few, 16) == asked_for(many, 96)


def test_looking_at_a_file_writes_nothing_at_all(shelf: Store) -> None:
    seen: list[str] = []

    def note(_connection: object, _cursor: object, statement: str, *_rest: object) -> None:
        seen.append(statement.split(maxsplit=1)[0])

    event.listen(shelf.engine, "before_cursor_execute", note)
    for code, text in FILES.items():
        with shelf.reading() as session:
            look_at_file(session, KINDS[code], text.encode())
    event.remove(shelf.engine, "before_cursor_execute", note)
    assert set(seen) <= {"SELECT", "WITH", "BEGIN", "SAVEPOINT", "ROLLBACK"}
    assert "SELECT" in seen
