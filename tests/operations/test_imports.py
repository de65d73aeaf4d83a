"""Files taken in as a whole or not at all, and what is handed out is taken in again as the same."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from sqlmodel import select

from models.database import Store
from models.errors import Unfit
from models.intake.csv_file import AT_THE_COMMAND, ON_A_PAGE, FileLimits, read_csv, write_csv
from models.intake.faults import Faults
from models.operations.figures import stale_figures
from models.operations.imports import KINDS, Look, file_of, look_at_file, parts_of, take_file
from models.operations.shop.shop import found_shop
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.valuation import choose_valuation
from models.operations.undo import undo_act
from models.queries.stock.balance import balances
from models.queries.stock.ledger_export import MOVEMENT_COLUMNS, export_movements
from models.tables import (
    Design,
    Item,
    Lot,
    Movement,
    Offer,
    Outlet,
    OutletFee,
    Part,
    Revision,
    StockTransaction,
    Supplier,
)

ITEMS = """\
kind,name,metal,colour,wire,inner,arrives,supplier,pack,pack_unit,price,unit,hole
ring,,bronze-c220,,1.0 mm,3.6 mm,open,Copper Lane Wire,100,piece,4.20,,
ring,,bronze-c220,,16 SWG,1/4 in,open,Copper Lane Wire,50,g,3.10,,
ring,,aluminium-5356,green,1.2 mm,4.0 mm,closed,,100,piece,3,,
finding,Ear wire,sterling-925,,0.8 mm,,,Bright Findings,50,piece,12,piece,
scale,Leaf scale,copper,,,,,,25,piece,5,piece,3 mm
chain,Fine chain,copper,,0.5 mm,,,,1,m,2.40,m,
packaging,"Gift box, small",,,,,,,20,piece,9,piece,
"""
DESIGNS = """\
name,piece,weave,skill,width,once_pieces,note,polish,polish_minutes,weave_count
Copper leaf pendant,pendant,byzantine,2,18 mm,10,"=not, a formula",yes,4.5,
Ear drops,earrings,,1,,5,,no,,12
"""
PARTS = """\
design,item,kind,name,metal,wire,inner,quantity,purpose,guess,joined
Copper leaf pendant,Ear wire,,,,,,2,to hang it,,
Ear drops,,ring,,bronze-c220,1.2 mm,4.0 mm,48,the drops,0.05,no
copper leaf pendant,"Gift box, small",,,,,,1,,,
"""
OUTLETS = """\
name,kind,tax_percent,fee_1_label,fee_1_percent,fee_1_base,fee_1_fixed,fee_2_label,fee_2_percent
Own web shop,online,20,Payment,2.9,price+shipping+tax,0.30,Commission,5
Fair,market,,,,,,,
"""
RECEIPTS = """\
receipt,item,item_id,quantity,packs,pack_price,unit_cost,total_cost,currency,exchange_rate,freight,supplier,received_on,batch,place,note
March,Commercial bronze C220 ring 1.0 × 3.6 mm,,about 400,,,0.034,,,,1.00,Copper Lane Wire,2026-03-02,,drawer B4,Order 118
March,Ear wire,,,2,11.50,,,,,,Copper Lane Wire,2026-03-02,,drawer B5,
,Fine chain,,2500 mm,,,,3,USD,0.92,,,2026-03-03,,"shelf, left",
,"Gift box, small",,50,,,,,,,,,2026-03-04,,,
,Green aluminium 5356 ring 1.2 × 4.0 mm,,plenty,,,,9,,,,,2026-03-04,dye lot 7,drawer B4,
"""
COUNTS = """\
lot_id,item,place,found,counted_on,note
1,,drawer B4,412,2026-03-09,One bag had split.
5,,,"plenty, 800",2026-03-09,
,"Gift box, small",,about 48,2026-03-10,
"""
LEAVINGS = """\
reason,item,lot_id,place,quantity,total_price,left_on,note
lost,,1,drawer B4,12,,2026-03-11,Rolled under the bench.
sold,Ear wire,,,3,4.50,2026-03-11,
sample,,3,,0.25 m,,2026-03-12,
spoiled,Ear wire,,,1,,2026-03-12,
"""
OFFERS = """\
item,supplier,pack,pack_unit,price,currency,exchange_rate,breaks,lead_days,current
Ear wire,Copper Lane Wire,100,piece,20,,,5 at 18; 10 at 16.50,9,
Ear wire,Harbour Metals,20 piece,,6.40,USD,0.9,,,no
"""
FILES = {
    "items": ITEMS,
    "offers": OFFERS,
    "designs": DESIGNS,
    "parts": PARTS,
    "outlets": OUTLETS,
    "receipts": RECEIPTS,
    "counts": COUNTS,
    "leavings": LEAVINGS,
}


def take(store: Store, kind: str, text: str) -> int:
    with store.writing() as session:
        return take_file(session, KINDS[kind], text.encode())


def look(store: Store, kind: str, text: str) -> Look:
    with store.writing() as session:
        found = look_at_file(session, KINDS[kind], text.encode())
    assert isinstance(found, Look), found
    return found


def hand_out(store: Store, kind: str, delimiter: str = ",") -> str:
    with store.reading() as session:
        return file_of(session, KINDS[kind], delimiter=delimiter)


def rows(store: Store) -> dict[str, int]:
    with store.reading() as session:
        tables = (Item, Offer, Supplier, Design, Revision, Part, Outlet, OutletFee, Lot, StockTransaction, Movement)
        return {table.__name__: len(session.exec(select(table)).all()) for table in tables}


@pytest.fixture
def full(store: Store) -> Store:
    """A shop that took in one file of each kind."""
    assert {kind: take(store, kind, text) for kind, text in FILES.items()} == {
        "items": 7,
        "offers": 2,
        "designs": 2,
        "parts": 2,
        "outlets": 2,
        "receipts": 4,
        "counts": 3,
        "leavings": 4,
    }
    return store


@pytest.fixture
def other(tmp_path: Path) -> Iterator[Store]:
    """Another shop, empty."""
    second = Store(tmp_path / "other")
    second.prepare()
    with second.writing() as session:
        found_shop(session, name="Second bench", currency="EUR")
    yield second
    second.close()


def test_files_of_every_kind_are_taken_in(full: Store) -> None:
    found = rows(full)
    assert (found["Item"], found["Offer"], found["Supplier"]) == (7, 9, 3)
    assert (found["Design"], found["Part"], found["Outlet"], found["OutletFee"]) == (2, 3, 2, 2)
    with full.reading() as session:
        assert stale_figures(session) == ()
        assert session.exec(select(Design).where(Design.name == "Copper leaf pendant")).one().note == "=not, a formula"


@pytest.mark.parametrize("delimiter", [",", ";"])
def test_what_is_handed_out_is_taken_in_again_as_the_same(full: Store, other: Store, delimiter: str) -> None:
    for kind in KINDS:
        text = hand_out(full, kind, delimiter)
        take(other, kind, text)
        assert hand_out(other, kind, delimiter) == text
        assert hand_out(other, kind) == hand_out(full, kind)
    with other.reading() as session:
        assert stale_figures(session) == ()


def test_what_is_handed_out_runs_no_formula(full: Store) -> None:
    assert "'=not, a formula" in hand_out(full, "designs")


def test_looking_at_a_file_leaves_nothing(store: Store) -> None:
    before = rows(store)
    for kind, text in FILES.items():
        assert look(store, kind, text).kind.code == kind
    assert rows(store) == before


def test_stock_that_is_taken_in_is_booked_in_the_ledger(full: Store) -> None:
    with full.reading() as session:
        assert check_ledger(session) == ()
        found = balances(session)
        names = {item.id: item.name for item in session.exec(select(Item))}
    on_hand = {names[item_id]: balance.on_hand_milli for item_id, balance in found.items()}
    assert on_hand == {
        "Commercial bronze C220 ring 1.0 × 3.6 mm": 400_000,
        "Ear wire": 96_000,
        "Fine chain": 2_250,
        "Gift box, small": 48_000,
        "Green aluminium 5356 ring 1.2 × 4.0 mm": 800_000,
    }


def test_lines_of_one_receipt_share_its_freight_and_stand_or_fall_together(full: Store) -> None:
    with full.reading() as session:
        # 13.60 and 23.00 share 1.00 of freight.
        assert [lot.freight_micros for lot in session.exec(select(Lot)).all()[:2]] == [371_585, 628_415]
    before = rows(full)
    found = look(
        full,
        "receipts",
        "receipt,item,quantity,total_cost,supplier\n"
        "A,Ear wire,5,1,One\nA,No such thing,5,1,One\n"
        "B,Ear wire,5,1,One\nB,Ear wire,5,1,Two\n"
        "C,Ear wire,many,1,One\n,Ear wire,5,1,One\n",
    )
    assert {line.line: [fault.field for fault in line.faults] for line in found.bad} == {
        3: ["item"],
        5: ["receipt"],
        6: ["quantity"],
    }
    assert found.count == 1
    assert rows(full) == before


@pytest.mark.parametrize(
    ("kind", "text", "field", "words"),
    [
        ("counts", "lot_id,found\n99,5\n", "", "There is no lot 99"),
        ("counts", "lot_id,found\n1,some\n", "found", "not a quantity"),
        ("leavings", "reason,item,quantity\nlost,Ear wire,500\n", "", "Only 96 pieces of “Ear wire” are free in stock"),
        ("leavings", "reason,item,quantity\nlost,Nobody,5\n", "item", "no stock item called"),
    ],
)
def test_what_the_ledger_refuses_is_said_beside_its_line(
    full: Store, kind: str, text: str, field: str, words: str
) -> None:
    (bad,) = look(full, kind, text).bad
    assert [fault.field for fault in bad.faults] == [field]
    assert words in bad.faults[0].message


def test_what_was_taken_back_is_handed_out_with_the_movements_only(full: Store) -> None:
    with full.writing() as session:
        lost = session.exec(select(StockTransaction.id).where(StockTransaction.words.like("%under the bench.%"))).one()  # type: ignore[attr-defined]
        undo_act(session, lost or 0)
    assert "lost" not in hand_out(full, "leavings")
    with full.reading() as session:
        text = write_csv([column.name for column in MOVEMENT_COLUMNS], export_movements(session))
    assert text.count(",reversal,lost,") == 1
    assert text.splitlines()[1].startswith("1,1,receive,2026-03-02,")


def test_a_wrong_line_is_named_and_the_others_are_good(store: Store) -> None:
    text = ITEMS + "ring,,unobtainium,,thick,0,,,,,,,\nfinding,,,,,,,,,,,,\n"
    found = look(store, "items", text)
    assert (found.good, found.count) == (7, 7)
    assert [line.line for line in found.bad] == [9, 10]
    assert {fault.field for fault in found.bad[0].faults} >= {"wire", "inner"}
    assert {fault.field for fault in found.bad[1].faults} == {"name"}


def test_one_wrong_line_keeps_the_whole_file_out(store: Store) -> None:
    before = rows(store)
    with pytest.raises(Unfit) as refused:
        take(store, "items", ITEMS + "ring,,unobtainium,,1 mm,4 mm,,,,,,,\n")
    assert list(refused.value.faults.by_field()) == ["line 9, metal"]
    assert rows(store) == before


def test_a_line_that_is_out_of_step_is_named(store: Store) -> None:
    found = look(store, "outlets", OUTLETS + "Gallery,consignment\n")
    assert [line.line for line in found.bad] == [4]
    assert "2 cells" in found.bad[0].faults[0].message


def test_two_lines_of_one_name_are_not_both_taken(store: Store) -> None:
    found = look(store, "outlets", OUTLETS + "FAIR,market,,,,,,,\n")
    assert [line.line for line in found.bad] == [4]
    assert "already" in found.bad[0].faults[0].message


def test_what_is_in_the_shop_already_is_refused(full: Store) -> None:
    for kind in ("items", "designs", "outlets"):
        found = look(full, kind, FILES[kind])
        assert found.count == 0, kind


def test_parts_taken_in_again_make_no_new_revision_and_changed_ones_do(full: Store) -> None:
    before = rows(full)["Revision"]
    take(full, "parts", PARTS)
    assert rows(full)["Revision"] == before
    take(full, "parts", PARTS.replace(",48,", ",50,"))
    assert rows(full)["Revision"] == before + 1


def test_a_wrong_part_is_named_by_its_own_line(full: Store) -> None:
    text = (
        PARTS
        + "Ear drops,,ring,,bronze-c220,1.2 mm,4.0 mm,many,,,\nNo such design,Ear wire,,,,,,1,,,\n,Ear wire,,,,,,1,,,\n"
    )
    found = look(full, "parts", text)
    assert {line.line: [fault.field for fault in line.faults] for line in found.bad} == {
        5: ["quantity"],
        6: ["design"],
        7: ["design"],
    }
    # The pendant's two lines are good; the ear drops are left as they were, with all of their lines.
    assert found.count == 1


@pytest.mark.parametrize("kind", KINDS)
def test_a_wrong_header_says_what_is_missing_and_what_is_unknown(store: Store, kind: str) -> None:
    with store.writing() as session:
        found = look_at_file(session, KINDS[kind], b"nme,note\nx,y\n")
    assert isinstance(found, Faults)
    words = " ".join(fault.message for fault in found)
    assert "lacks" in words
    assert "nme" in words
    assert all(column.name in words for column in KINDS[kind].columns)


@pytest.mark.parametrize("kind", KINDS)
def test_every_column_says_what_it_is_for(kind: str) -> None:
    columns = KINDS[kind].columns
    assert all(column.says.strip().endswith(".") for column in columns)
    assert any(column.required for column in columns)
    assert len({column.name for column in columns}) == len(columns)


@pytest.mark.long
def test_a_file_of_five_hundred_items_is_taken_in_good_time(store: Store) -> None:
    import time

    lines = ["kind,name,pack,pack_unit,price"] + [f"packaging,Box {n},10,piece,{n}" for n in range(500)]
    began = time.perf_counter()
    assert take(store, "items", "\n".join(lines)) == 500
    assert time.perf_counter() - began < 30


@pytest.mark.parametrize("delimiter", [",", ";"])
def test_what_is_handed_out_in_parts_is_taken_in_again_part_by_part(full: Store, other: Store, delimiter: str) -> None:
    take(full, "parts", PARTS + "Ear drops,Ear wire,,,,,,2,,,\n")
    limits = FileLimits(bytes=700, lines=3)
    numbers = {}
    for code, kind in KINDS.items():
        with full.reading() as session:
            parts = parts_of(session, kind, delimiter=delimiter, limits=limits)
        numbers[code] = len(parts)
        for part in parts:
            assert len(part.splitlines()) <= limits.lines + 1
            with other.writing() as session:
                take_file(session, kind, part.encode("utf-8-sig"), limits)
        assert hand_out(other, code) == hand_out(full, code)
    assert numbers["items"] > 2
    # The lines of one design are never parted.
    assert numbers["parts"] == 2


def test_everything_that_a_shop_writes_is_within_the_limits_of_what_it_reads(full: Store) -> None:
    for kind in KINDS.values():
        with full.reading() as session:
            whole = file_of(session, kind)
            parts = parts_of(session, kind)
        assert parts == [whole]
        assert not isinstance(read_csv(whole.encode(), kind.columns, limits=AT_THE_COMMAND), Faults)
        assert len(kind.columns) <= ON_A_PAGE.columns
    assert AT_THE_COMMAND.lines >= 100_000
    assert (AT_THE_COMMAND.columns, AT_THE_COMMAND.cell) == (ON_A_PAGE.columns, ON_A_PAGE.cell)


# ---- how often lots may be valued anew ----


def revalued(store: Store, code: str, text: str, most: int) -> Look | Faults:
    with store.reading() as session:
        return look_at_file(session, KINDS[code], text.encode(), FileLimits(bytes=10_000, lines=100, revaluations=most))


RECEIPTS_OF_ONE = "item,item_id,quantity,total_cost\n" + "".join(f"x,1,{10 + n},{n + 1}\n" for n in range(8))


def test_a_file_that_would_value_too_many_lots_anew_is_refused_with_both_numbers(full: Store) -> None:
    with full.writing() as session:
        choose_valuation(session, "average")
        held = len(session.exec(select(Lot).where(Lot.item_id == 1, Lot.quantity_milli > 0)).all())
    often = 8 * (held + 4)
    assert isinstance(revalued(full, "receipts", RECEIPTS_OF_ONE, often), Look)
    found = revalued(full, "receipts", RECEIPTS_OF_ONE, often - 1)
    assert isinstance(found, Faults)
    (fault,) = found.items
    assert fault.field == "file"
    assert f"about {often:,} times, and up to {often - 1:,} are taken in at once" in fault.message
    with full.writing() as session, pytest.raises(Unfit):
        take_file(
            session,
            KINDS["receipts"],
            RECEIPTS_OF_ONE.encode(),
            FileLimits(bytes=10_000, lines=100, revaluations=often - 1),
        )


def test_lots_that_are_valued_apart_are_taken_in_however_many_lines_an_item_has(full: Store) -> None:
    assert isinstance(revalued(full, "receipts", RECEIPTS_OF_ONE, 0), Look)
