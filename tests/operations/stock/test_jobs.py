"""Jobs at the bench: rings from wire and lots in another finish, at their real cost, and taken back exactly."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import pytest
from sqlmodel import Session

from models.database import Store
from models.errors import Missing, NotEnoughStock, Unfit
from models.intake.faults import Faults
from models.intake.stock.job import CoilRequest, read_coil_job, read_coil_request, read_process_job
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.coil_job import make_rings
from models.operations.stock.job import JobDone, measure_coil
from models.operations.stock.process_job import process_lot
from models.operations.undo import undo_act
from models.queries.stock.coil_plan import CoilPlan, coil_plan, own_coils
from models.queries.stock.conservation import conservation
from models.queries.stock.item import item_view
from models.queries.stock.job import job_view, jobs, process_page
from models.tables import Item, Lot, Shop
from tests.ledgers import DRAWER, a_lot, by_average, holds, movements, on_hand
from tests.shops import NOON, a_ring

METRES_5 = 5


@pytest.fixture
def session(store: Store) -> Iterator[Session]:
    with store.writing() as session:
        shop = session.get_one(Shop, 1)
        shop.wage_per_hour, shop.overhead_per_hour = Decimal(18), Decimal(6)
        yield session


def a_wire(session: Session, *, metal: str = "copper", wire_nm: int = 1_200_000, unit: str = "m") -> int:
    item = Item(kind="wire", name=f"{metal} wire", metal=metal, wire_nm=wire_nm, unit=unit, created_at=NOON)
    session.add(item)
    session.flush()
    return item.id or 0


def make(session: Session, **raw: object) -> JobDone:
    draft = read_coil_job({"place": DRAWER, **raw})
    assert not isinstance(draft, Faults), draft
    return make_rings(session, draft)


def plan(session: Session, **raw: object) -> CoilPlan:
    question = read_coil_request(raw)
    assert isinstance(question, CoilRequest), question
    return coil_plan(session, question)


def process(session: Session, **raw: object) -> JobDone:
    draft = read_process_job(raw)
    assert not isinstance(draft, Faults), draft
    return process_lot(session, draft)


def test_rings_from_wire_cost_the_wire_the_time_and_the_overhead(session: Session) -> None:
    wire = a_wire(session)
    a_lot(session, wire, METRES_5, "10.00")
    ring = a_ring(session, name="Copper ring", metal="copper", wire_nm=1_200_000, inner_nm=5_000_000)
    done = make(session, wire_id=wire, used="2.5 m", made=120, ring_id=ring, minutes="30", batch="first coils")
    # 2.5 of 5 m at 10.00 are 5.00; half an hour at 18 and 6 an hour are 9.00 and 3.00.
    assert done.cost.value_micros == 17_000_000
    assert done.cost.work_micros == 12_000_000
    assert on_hand(session, ring) == (120, 17_000_000)
    assert on_hand(session, wire) == (2, 5_000_000)
    assert [(kind, micros) for kind, _, micros in movements(session, done.act_id)] == [
        ("issue", -5_000_000),
        ("receipt", 17_000_000),
    ]
    assert done.each == Decimal(17) / 120
    assert "Made 120 rings of “Copper ring” from 2.5 m of “copper wire”." in done.words
    assert check_ledger(session) == ()
    assert conservation(session).holds
    shown = job_view(session, done.job_id)
    assert (shown.made_milli, shown.used_milli, shown.minutes, shown.undone_by) == (120_000, 2500, 30, None)


@pytest.mark.parametrize("average", [False, True])
def test_a_job_is_taken_back_exactly(session: Session, average: bool) -> None:
    if average:
        by_average(session)
    wire = a_wire(session)
    a_lot(session, wire, METRES_5, "9.99")
    ring = a_ring(session, metal="copper", wire_nm=1_200_000, inner_nm=5_000_000)
    a_lot(session, ring, 31, "1.00")
    before = on_hand(session, wire), on_hand(session, ring)
    done = make(session, wire_id=wire, used="1.234", made=50, ring_id=ring, minutes="7")
    undo_act(session, done.act_id)
    assert (on_hand(session, wire), on_hand(session, ring)) == before
    assert job_view(session, done.job_id).undone_by is not None
    assert check_ledger(session) == ()


def test_a_new_ring_is_made_an_item_of_its_wire(session: Session) -> None:
    wire = a_wire(session, metal="sterling-925", wire_nm=1_000_000)
    a_lot(session, wire, METRES_5, "60.00")
    done = make(session, wire_id=wire, used="1 m", made=60, new_inner="4.1 mm")
    item = item_view(session, done.item_id)
    assert (item.kind, item.metal, item.wire_nm, item.inner_nm) == ("ring", "sterling-925", 1_000_000, 4_100_000)
    with pytest.raises(Unfit, match="nearly this ring") as near:
        make(session, wire_id=wire, used="1 m", made=60, new_inner="4.11 mm")
    assert [fault.field for fault in near.value.faults] == ["ring_id"]


def test_offcuts_of_precious_wire_are_kept_by_weight(session: Session) -> None:
    silver = a_wire(session, metal="sterling-925", wire_nm=1_000_000)
    a_lot(session, silver, METRES_5, "60.00")
    done = make(session, wire_id=silver, used="1 m", made=60, new_inner="4.1 mm", offcuts="1.23 g")
    assert done.scrap_milli == 1230
    assert check_ledger(session) == ()
    undo_act(session, done.act_id)
    copper = a_wire(session)
    a_lot(session, copper, METRES_5)
    with pytest.raises(Unfit, match="precious"):
        make(session, wire_id=copper, used="1 m", made=60, new_inner="4.1 mm", offcuts="1 g")


def test_wire_that_is_not_there_is_refused_and_nothing_is_booked(session: Session) -> None:
    wire = a_wire(session)
    lot = a_lot(session, wire, 1, "2.00")
    ring = a_ring(session, metal="copper", wire_nm=1_200_000, inner_nm=5_000_000)
    with pytest.raises(NotEnoughStock):
        make(session, wire_id=wire, used="1.5 m", made=10, ring_id=ring)
    with pytest.raises(NotEnoughStock):
        make(session, wire_id=wire, used="1.5 m", made=10, ring_id=ring, lot_id=lot)
    with pytest.raises(Missing):
        make(session, wire_id=99, used="1 m", made=10, ring_id=ring)
    with pytest.raises(Unfit, match="is no wire"):
        make(session, wire_id=ring, used="1", made=10, ring_id=ring)
    bronze = a_ring(session)
    with pytest.raises(Unfit, match="the wire is of copper"):
        make(session, wire_id=wire, used="1 m", made=10, ring_id=bronze)
    assert holds(session, lot) == (1, 2_000_000)


def test_a_lot_made_of_a_guessed_value_is_not_sure_either(session: Session) -> None:
    wire = a_wire(session)
    lot = a_lot(session, wire, METRES_5, "5.00")
    session.get_one(Lot, lot).provisional = True
    ring = a_ring(session, metal="copper", wire_nm=1_200_000, inner_nm=5_000_000)
    done = make(session, wire_id=wire, used="1 m", made=40, ring_id=ring)
    assert session.get_one(Lot, done.lot_id).provisional


def test_a_plan_says_how_much_wire_a_batch_takes(session: Session) -> None:
    wire = a_wire(session)
    a_lot(session, wire, METRES_5, "10.00")
    found = plan(
        session, wire_id=wire, mandrel="5.0 mm", rings=100, kerf="0.25 mm", temper="copper-soft", expected_minutes="30"
    )
    # The worked example of soft copper: 1.2 mm wire on a 5.0 mm mandrel opens to 5.0333 mm.
    assert found.opening is not None
    assert abs(found.opening.inner_nm - 5_033_279) < 2
    turn = ((Decimal("6.233279") * Decimal("3.14159265")) ** 2 + Decimal("1.44")).sqrt()
    assert abs(found.plan.wire_mm - 101 * turn) < Decimal("0.01")
    assert found.needed_milli == 1982
    assert found.enough
    assert found.possible > 100
    assert found.cost is not None
    # 1.982 m at 2.00 a metre, half an hour at 18 and 6.
    assert found.cost.line.amount == Decimal("15.964")
    assert any("eye protection" in line for line in found.cautions)


def test_wire_that_goes_by_weight_is_planned_by_weight(session: Session) -> None:
    wire = a_wire(session, unit="g")
    a_lot(session, wire, 10)
    found = plan(session, wire_id=wire, mandrel="5.0 mm", rings=100, kerf="0.25 mm", temper="copper-soft")
    # Copper wire of 1.2 mm weighs 10.134 g a metre.
    assert found.needed_milli == 20_080
    assert not found.enough
    assert 0 < found.possible < 50
    done = make(session, wire_id=wire, used="9.5 g", made=40, new_inner="5.0")
    assert done.used_milli == 9500


def test_a_measured_coil_corrects_the_next_plan_until_it_is_taken_back(session: Session) -> None:
    wire = a_wire(session)
    a_lot(session, wire, METRES_5)
    ring = a_ring(session, metal="copper", wire_nm=1_200_000, inner_nm=5_000_000)
    guess = plan(session, wire_id=wire, mandrel="5.0 mm", rings=10)
    assert guess.opening is not None
    assert guess.opening.coils == 0
    done = make(session, wire_id=wire, used="0.3 m", made=10, ring_id=ring, wound_on="5.0 mm", measured_inner="5.30 mm")
    known = plan(session, wire_id=wire, mandrel="5.0 mm", rings=10)
    assert known.opening is not None
    assert (known.opening.inner_nm, known.opening.coils) == (5_300_000, 1)
    assert own_coils(session, item_view(session, wire))[0].mandrel_nm == 5_000_000
    measure_coil(session, done.job_id, 5_200_000)
    again = plan(session, wire_id=wire, inner="5.2 mm", rings=10)
    assert abs(again.mandrel_nm - 5_000_000) < 10
    undo_act(session, done.act_id)
    assert own_coils(session, item_view(session, wire)) == ()


def test_a_measure_far_from_the_mandrel_is_asked_about(session: Session) -> None:
    wire = a_wire(session)
    a_lot(session, wire, METRES_5)
    done = make(session, wire_id=wire, used="0.3 m", made=10, new_inner="5.0", wound_on="5.0 mm")
    with pytest.raises(Unfit, match="far from the mandrel"):
        measure_coil(session, done.job_id, 50_000_000)
    bare = make(session, wire_id=wire, used="0.3 m", made=10, ring_id=done.item_id)
    with pytest.raises(Unfit, match="No mandrel"):
        measure_coil(session, bare.job_id, 5_000_000)
    with pytest.raises(Missing):
        measure_coil(session, 77, 5_000_000)


def test_a_metal_without_figures_is_planned_without_springback_and_says_so(session: Session) -> None:
    wire = a_wire(session, metal="fine-gold")
    found = plan(session, wire_id=wire, mandrel="5.0 mm", rings=10)
    assert found.opening is None
    assert found.plan.coil_inner_nm == 5_000_000
    assert any("Nothing is known" in note for note in found.notes)
    assert found.cost is None
    assert found.possible == 0


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"mandrel": "5", "rings": 10, "temper": "made-of-cheese"}, "temper"),
        ({"mandrel": "5", "rings": 10, "kerf": "5 mm", "mandrel_length": "1 mm"}, "mandrel_length"),
        ({"mandrel": "1", "rings": 10, "kerf": "5 mm", "wire_nm": 300_000}, "kerf"),
        ({"mandrel": "499", "rings": 10, "temper": "copper-hard"}, "mandrel"),
    ],
)
def test_a_batch_that_cannot_be_is_refused_beside_its_field(
    session: Session, raw: dict[str, object], field: str
) -> None:
    wire = a_wire(session, wire_nm=int(str(raw.pop("wire_nm", 1_200_000))))
    with pytest.raises(Unfit) as unfit:
        plan(session, wire_id=wire, **raw)
    assert [fault.field for fault in unfit.value.faults] == [field]


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"wire_id": 1, "rings": 10}, "mandrel"),
        ({"wire_id": 1, "rings": 10, "mandrel": "5", "inner": "5"}, "inner"),
        ({"wire_id": 1, "rings": 0, "mandrel": "5"}, "rings"),
        ({"wire_id": 1, "rings": 10, "mandrel": "5", "kerf": "6 mm"}, "kerf"),
        ({"wire_id": 1, "rings": 10, "mandrel": "5", "end_waste": "11 m"}, "end_waste"),
        ({"wire_id": 1, "rings": 10, "mandrel": "5", "cutting": "teeth"}, "cutting"),
    ],
)
def test_a_question_that_makes_no_sense_is_said_beside_its_field(raw: dict[str, object], field: str) -> None:
    found = read_coil_request(raw)
    assert isinstance(found, Faults)
    assert list(found.by_field()) == [field]


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"used": ""}, "used"),
        ({"ring_id": ""}, "ring_id"),
        ({"ring_id": "", "new_inner": "wide"}, "new_inner"),
        ({"made": "0"}, "made"),
        ({"minutes": "long"}, "minutes"),
        ({"measured_inner": "5"}, "wound_on"),
        ({"measured_inner": "50", "wound_on": "5"}, "measured_inner"),
        ({"used": "plenty"}, "used"),
    ],
)
def test_a_job_that_makes_no_sense_is_said_beside_its_field(raw: dict[str, object], field: str) -> None:
    found = read_coil_job({"wire_id": 1, "used": "1 m", "made": 10, "ring_id": 2, **raw})
    assert isinstance(found, Faults)
    assert field in found.by_field()


def test_dyeing_turns_a_bag_into_another_colour_at_its_real_cost(session: Session) -> None:
    plain = a_ring(session, name="Ring", metal="aluminium-5356")
    lot = a_lot(session, plain, 400, "8.00", batch="bare")
    done = process(
        session, lot_id=lot, place=DRAWER, quantity="300", lost="6", process="anodise", colour="green",
        finish="anodised", cost="1.50", minutes="20", to_place="drawer C1", batch="bath 4",
    )  # fmt: skip
    # 300 of 400 at 8.00 are 6.00; 20 minutes at 18 and 6 an hour are 6.00 and 2.00.
    assert done.cost.value_micros == 15_500_000
    assert on_hand(session, done.item_id) == (294, 15_500_000)
    assert on_hand(session, plain) == (100, 2_000_000)
    made = session.get_one(Lot, done.lot_id)
    assert (made.batch, made.received_milli) == ("bath 4", 294_000)
    item = item_view(session, done.item_id)
    assert (item.colour, item.finish, item.size) == ("green", "anodised", item_view(session, plain).size)
    assert done.words == "300 rings of “Ring” anodised into “Ring, green anodised”. 6 rings were lost."
    assert check_ledger(session) == ()
    assert conservation(session).holds
    undo_act(session, done.act_id)
    assert on_hand(session, plain) == (400, 8_000_000)


def test_the_whole_bag_goes_when_nothing_is_said_and_stays_as_rough_as_it_was(session: Session) -> None:
    plain = a_ring(session, metal="niobium")
    lot = a_lot(session, plain, 50, "5.00")
    teal = a_ring(session, name="Teal", metal="niobium", colour="teal")
    done = process(session, lot_id=lot, place=DRAWER, process="anodise", to_item_id=teal)
    assert on_hand(session, plain) == (0, 0)
    assert on_hand(session, teal) == (50, 5_000_000)
    assert done.place == DRAWER
    page = process_page(session, done.lot_id, DRAWER)
    assert {item.id for item in page.into} == {plain, teal}
    assert any("Electric shock" in line for line in page.cautions["anodise"])
    assert len(jobs(session, item_id=teal).jobs) == 1


def test_silver_that_is_spoiled_on_the_way_is_kept_as_scrap(session: Session) -> None:
    silver = a_ring(session, metal="sterling-925")
    lot = a_lot(session, silver, 100, "50.00")
    done = process(session, lot_id=lot, place=DRAWER, quantity="100", lost="10", process="patina", finish="dark")
    mass = item_view(session, silver).mass_g
    assert mass is not None
    assert done.scrap_milli == round(mass * 10_000)
    assert check_ledger(session) == ()


@pytest.mark.parametrize(
    ("raw", "words"),
    [
        ({"quantity": "20", "lost": "20", "colour": "red"}, "Nothing would be left"),
        ({"quantity": "0.5", "colour": "red"}, "whole number"),
        ({"to_item_id": 1, "quantity": "2 m"}, "not by length"),
        ({"to_item_id": 2}, "another kind, metal or size"),
    ],
)
def test_what_cannot_become_something_else_is_refused(session: Session, raw: dict[str, object], words: str) -> None:
    plain = a_ring(session)
    a_ring(session, name="Other", metal="copper")
    lot = a_lot(session, plain, 40)
    with pytest.raises(Unfit, match=words):
        process(session, lot_id=lot, place=DRAWER, process="dye", **raw)
    with pytest.raises(NotEnoughStock):
        process(session, lot_id=lot, place=DRAWER, process="dye", quantity="41", to_item_id=plain)
    with pytest.raises(Missing):
        process(session, lot_id=lot, place="elsewhere", process="dye", to_item_id=plain)
    with pytest.raises(Missing):
        process_page(session, lot, "elsewhere")


def test_what_became_of_it_must_be_said() -> None:
    found = read_process_job({"lot_id": 1, "process": "dye"})
    assert isinstance(found, Faults)
    assert list(found.by_field()) == ["to_item_id"]
