"""Counting a bag by weight: what the scale says, what is booked, and what the shop learns from it."""

from __future__ import annotations

from collections.abc import Iterator
from decimal import Decimal

import pytest
from sqlmodel import Session, col, select

from models.database import Store
from models.errors import Missing, Unfit
from models.intake.how_much import HowMuch
from models.intake.stock.count import CountDraft
from models.intake.stock.weigh import WeighDraft, read_weigh
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.count import Counted
from models.operations.stock.weigh import count_weighed_bag, forget_weighing
from models.queries.stock.item import item_view
from models.queries.stock.lot import lot_view
from models.queries.stock.metal import all_metals
from models.queries.stock.weighing import (
    WeighedBag,
    known_masses,
    learned_mass,
    scale_step_ug,
    weigh_bag,
    weighing_rows,
)
from models.tables import Item, Shop, Weighing
from tests.ledgers import DRAWER, a_lot, in_bag
from tests.shops import NOON, a_ring

# One bronze ring of 1.0 x 3.6 mm weighs 0.09988 g.
ONE_G = Decimal("0.0999")


@pytest.fixture
def session(store: Store) -> Iterator[Session]:
    with store.writing() as session:
        yield session


def draft(session: Session, **raw: object) -> WeighDraft:
    found = read_weigh(raw, metals=all_metals(session))
    assert isinstance(found, WeighDraft), found
    return found


def weigh(session: Session, **raw: object) -> WeighedBag:
    return weigh_bag(session, draft(session, **raw))


def book(session: Session, lot_id: int, *, expected: int | None = None, **raw: object) -> Counted:
    expected_milli = None if expected is None else expected * 1000
    count = CountDraft(HowMuch(), lot_id=lot_id, place=DRAWER, expected_milli=expected_milli)
    return count_weighed_bag(session, draft(session, lot_id=lot_id, place=DRAWER, **raw), count)


def sample(rings: int, mass_g: str) -> dict[str, object]:
    return {"rings": rings, "mass_g": Decimal(mass_g)}


def test_a_good_sample_makes_a_small_bag_certain(session: Session) -> None:
    item = a_ring(session)
    found = weigh(session, item_id=item, gross_g=Decimal("9.50"), tare_g=Decimal("1.51"), sample=sample(40, "3.996"),
                  scale_step_g=Decimal("0.001"))  # fmt: skip
    assert (found.count.count, found.count.low, found.count.high, found.count.certain) == (80, 80, 80, True)
    assert found.mass_from == "sample"
    assert [way.code for way in found.others] == ["computed"]
    assert found.words == "rings"
    assert found.odd is None


def test_a_large_bag_says_its_range_and_what_would_settle_it(session: Session) -> None:
    item = a_ring(session)
    found = weigh(
        session, item_id=item, gross_g=Decimal("41.1"), sample=sample(20, "2.00"), scale_step_g=Decimal("0.01")
    )
    assert not found.count.certain
    assert found.count.low < 411 < found.count.high
    assert found.count.sample_needed is None
    assert found.portion is not None
    assert 5 <= found.portion < 411
    small = weigh(
        session, item_id=item, gross_g=Decimal("9.99"), sample=sample(5, "0.50"), scale_step_g=Decimal("0.01")
    )
    assert small.count.sample_needed is not None
    assert 5 < small.count.sample_needed < 100
    assert small.portion is None


def test_without_a_sample_the_mass_is_computed_and_needs_the_size(session: Session) -> None:
    found = weigh(session, wire="1.0 mm", inner="3.6 mm", metal="bronze-c220", gross_g=10)
    assert found.mass_from == "computed"
    assert found.item is None
    assert found.count.low <= 100 <= found.count.high
    rubber = a_ring(session, metal="rubber-epdm")
    with pytest.raises(Unfit, match="What one weighs is not known") as unknown:
        weigh(session, item_id=rubber, gross_g=10)
    assert [fault.field for fault in unknown.value.faults] == ["sample.0.rings"]


@pytest.mark.parametrize(
    ("raw", "field"),
    [
        ({"gross_g": 1, "tare_g": 3}, "gross_g"),
        ({"gross_g": 5, "mass_from": "learned"}, "mass_from"),
        ({"gross_g": 5, "mass_from": "lot"}, "mass_from"),
        ({"gross_g": 5, "mass_from": "measured"}, "mass_from"),
        ({"gross_g": 5, "sample": [sample(10, "1"), sample(10, "3")], "scatter_percent": "0.01", "scale_step_g": "0.5"}, "sample.0.mass_g"),
    ],
)  # fmt: skip
def test_a_weighing_that_says_nothing_is_refused_beside_its_field(
    session: Session, raw: dict[str, object], field: str
) -> None:
    item = a_ring(session)
    with pytest.raises(Unfit) as unfit:
        weigh(session, item_id=item, **raw)
    assert [fault.field for fault in unfit.value.faults] == [field]


def test_what_is_weighed_must_be_there(session: Session) -> None:
    item = a_ring(session)
    lot = a_lot(session, item, 5)
    other = a_ring(session, name="Other", metal="copper")
    with pytest.raises(Missing):
        weigh(session, item_id=99, gross_g=5)
    with pytest.raises(Missing):
        weigh(session, lot_id=99, gross_g=5)
    with pytest.raises(Unfit, match="another item"):
        weigh(session, lot_id=lot, item_id=other, gross_g=5)


def test_a_count_by_weight_is_booked_and_remembers_bag_scale_and_sample(session: Session) -> None:
    item = a_ring(session)
    lot = a_lot(session, item, 100, "4.00")
    counted = book(
        session, lot, expected=100, gross_g=Decimal("11.46"), tare_g=Decimal("1.47"), sample=sample(50, "4.995"),
        scale_step_g=Decimal("0.001"), sample_in_bag=True,
    )  # fmt: skip
    assert (counted.found_milli, counted.rough) == (100_000, "")
    assert counted.words.endswith("as expected. By weight, for certain: 9.99 g.")
    assert lot_view(session, lot).bags[0].tare_ug == 1_470_000
    assert scale_step_ug(session) == 1_000
    rows = session.exec(select(Weighing).order_by(col(Weighing.id))).all()
    assert [(row.rings, row.gross_ug, row.tare_ug, row.item_id) for row in rows] == [
        (50, 4_995_000, 0, item),
        (None, 11_460_000, 1_470_000, item),
    ]
    assert check_ledger(session) == ()


def test_a_count_that_is_not_certain_is_marked_about(session: Session) -> None:
    lot = a_lot(session, a_ring(session), 420, "4.20")
    counted = book(session, lot, gross_g=Decimal("41.1"), sample=sample(20, "2.00"))
    assert counted.rough == "about"
    assert in_bag(session, lot) == 411
    assert counted.value_micros == -90_000
    assert "By weight, between" in counted.words


def test_wire_is_counted_by_its_weight_alone(session: Session) -> None:
    wire = Item(kind="wire", name="Wire", metal="copper", wire_nm=1_200_000, unit="g", created_at=NOON)
    session.add(wire)
    session.flush()
    lot = a_lot(session, wire.id or 0, 500)
    counted = book(session, lot, gross_g=Decimal("310.5"), tare_g=Decimal("60"))
    assert counted.found_milli == 250_500
    assert counted.rough == ""
    with pytest.raises(Unfit, match="less than its tare"):
        book(session, lot, gross_g=Decimal("10"), tare_g=Decimal("60"))
    with pytest.raises(Unfit, match="by weight or length already"):
        weigh(session, lot_id=lot, gross_g=10)


def test_the_next_bag_of_a_lot_needs_no_sample_and_another_lot_takes_what_was_learned(session: Session) -> None:
    item = a_ring(session)
    lot, other = a_lot(session, item, 100), a_lot(session, item, 100)
    book(session, lot, gross_g=Decimal("9.99"), sample=sample(50, "4.995"), scale_step_g=Decimal("0.001"))
    again = weigh(session, lot_id=lot, gross_g=Decimal("9.99"))
    assert again.mass_from == "lot"
    assert again.count.count == 100
    elsewhere = weigh(session, lot_id=other, gross_g=Decimal("9.99"))
    assert elsewhere.mass_from == "learned"
    assert elsewhere.count.high - elsewhere.count.low > again.count.high - again.count.low
    measured = weigh(session, lot_id=other, gross_g=Decimal("9.99"), mass_from="computed")
    assert measured.mass_from == "computed"


def test_samples_of_one_lot_that_contradict_each_other_are_not_taken_for_it(session: Session) -> None:
    item = a_ring(session)
    lot = a_lot(session, item, 100)
    for grams in ("0.999", "1.400", "0.999"):
        book(session, lot, gross_g=Decimal("9.99"), sample=sample(10, grams), scale_step_g=Decimal("0.5"))
    codes = [way.code for way in known_masses(session, item_view(session, item), lot_id=lot)]
    assert codes[0] in {"lot", "learned"}
    assert "computed" in codes


def test_a_typed_mass_counts_before_a_computed_one(session: Session) -> None:
    item = a_ring(session)
    session.get_one(Item, item).mass_ug = 110_000
    session.flush()
    found = weigh(session, item_id=item, gross_g=11)
    assert found.mass_from == "measured"
    assert found.count.count == 100


def test_a_bag_of_another_ring_is_noticed_and_named(session: Session) -> None:
    item = a_ring(session)
    a_ring(session, name="Thin bronze ring", wire_nm=800_000)
    thick = a_ring(session, name="Thick bronze ring", wire_nm=1_200_000)
    thick_g = item_view(session, thick).mass_g
    assert thick_g is not None
    found = weigh(session, item_id=item, gross_g=30, sample=sample(50, str(round(thick_g * 50, 2))))
    assert found.odd is not None
    assert (found.odd.likely_id, found.odd.likely) == (thick, "Thick bronze ring")
    assert found.odd.seen_g > found.odd.expected_g
    stranger = weigh(session, item_id=item, gross_g=30, sample=sample(10, "20"))
    assert stranger.odd is not None
    assert stranger.odd.likely_id is None
    rubber = a_ring(session, name="Rubber", metal="rubber-epdm")
    assert weigh(session, item_id=rubber, gross_g=30, sample=sample(10, "2")).odd is None


def test_the_shop_learns_the_real_mass_and_shows_a_weighing_that_does_not_fit(session: Session) -> None:
    item = a_ring(session)
    lot = a_lot(session, item, 100)
    for grams in ("5.10", "5.12", "5.09", "5.11", "5.10", "9.90"):
        book(session, lot, gross_g=Decimal("10.2"), sample=sample(50, grams), scale_step_g=Decimal("0.01"))
    rows = weighing_rows(session, item)
    assert [row.odd for row in rows] == [True, False, False, False, False, False]
    assert rows[0].one_g == Decimal("0.198")
    before = learned_mass(session, item)
    assert before is not None
    assert forget_weighing(session, rows[0].id) == item
    after = learned_mass(session, item)
    assert after is not None
    assert abs(after.mass_g - 0.1021) < 0.0001
    assert after.weighings == before.weighings - 1
    with pytest.raises(Missing):
        forget_weighing(session, 999)


def test_a_measured_mass_expects_what_it_says(session: Session) -> None:
    item = a_ring(session)
    session.get_one(Item, item).mass_ug = 200_000
    session.flush()
    odd = weigh(session, item_id=item, gross_g=30, sample=sample(50, "4.995")).odd
    assert odd is not None
    assert odd.expected_g == 0.2


def test_before_the_shop_has_a_scale_the_usual_step_counts(session: Session) -> None:
    session.get_one(Shop, 1).scale_step_ug = 0
    session.flush()
    assert scale_step_ug(session) == 10_000
