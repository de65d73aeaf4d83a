"""Correcting what a receipt cost: what is left is re-valued, what left is named, and nothing vanishes."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlmodel import Session, select

from models.database import Store
from models.errors import Conflict, Missing, Unfit
from models.intake.stock.cost_correction import CostCorrectionDraft, RealCost
from models.intake.stock.receipt import ReceiptDraft, read_receipt
from models.operations.stock.check_ledger import check_ledger
from models.operations.stock.cost_correction import CostCorrected, CostLook, correct_cost, look_at_cost
from models.operations.stock.receipt import receive_lots
from models.operations.stock.valuation import choose_valuation
from models.operations.undo import undo_act, undoable
from models.queries.stock.conservation import conservation
from models.queries.stock.cost_correction import correction_changes, receipt_view
from models.queries.stock.lot import lot_view
from models.tables import CostCorrection, Lot
from tests.ledgers import a_lot, by_average, holds, movements, on_hand, undone
from tests.operations.stock.test_cost_undo import act_of, give
from tests.shops import a_ring


def real(total: str, lot_id: int | None = None) -> CostCorrectionDraft:
    """A receipt of one line that really cost this in all."""
    return CostCorrectionDraft((RealCost(lot_id, total_cost=Decimal(total)),))


def correct(session: Session, lot_id: int, total: str) -> CostCorrected:
    """Correct what the receipt of a lot cost."""
    return correct_cost(session, act_of(session, lot_id), real(total, lot_id))


def look(session: Session, lot_id: int, total: str) -> CostLook:
    """What correcting it would change."""
    return look_at_cost(session, act_of(session, lot_id), real(total, lot_id))


def sound(session: Session) -> None:
    """The ledger proves, to the last millionth."""
    session.flush()
    assert check_ledger(session) == ()
    assert conservation(session).holds


def test_under_first_in_first_out_what_is_left_of_the_lot_is_re_valued(store: Store) -> None:
    with undone(store) as session:
        lot = a_lot(session, a_ring(session), 100, "100.00")
        gift = give(session, lot, 15)
        seen = look(session, lot, "10.00")
        assert (seen.more_micros, seen.here_micros, seen.carried_micros) == (-90_000_000, -76_500_000, -13_500_000)
        assert holds(session, lot) == (85, 85_000_000), "looking changes nothing"
        done = correct(session, lot, "10.00")
        assert holds(session, lot) == (85, 8_500_000)
        assert movements(session, done.act_id) == [("correction", 0, -90_000_000), ("carried", 0, 13_500_000)]
        (wrong,) = done.look.changes[0].left_wrong
        assert (wrong.kind, wrong.number, wrong.micros) == ("act", gift, -13_500_000)
        assert wrong.words.startswith("15 rings of “Bronze ring 1.0 × 3.6 mm” given away.")
        sums = conservation(session)
        assert (sums.received, sums.corrected, sums.on_hand) == (100_000_000, -90_000_000, 8_500_000)
        assert (sums.scrapped, sums.carried) == (15_000_000, -13_500_000)
        sound(session)


def test_under_average_the_part_of_the_pool_is_re_valued(store: Store) -> None:
    """100 for 10.00 and 100 mistyped at 100.00, 15 given away: 185 rings are then worth what 0.10 each makes."""
    with undone(store) as session:
        by_average(session)
        ring = a_ring(session)
        first, second = a_lot(session, ring, 100, "10.00"), a_lot(session, ring, 100, "100.00")
        give(session, first, 15)
        assert on_hand(session, ring) == (185, 101_750_000)
        done = correct(session, second, "10.00")
        assert on_hand(session, ring) == (185, 18_500_000)
        assert done.look.here_micros == -83_250_000
        assert done.look.carried_micros == -6_750_000
        assert [wrong.micros for wrong in done.look.changes[0].left_wrong] == [-6_750_000]
        assert holds(session, first) == (85, 8_500_000)
        assert holds(session, second) == (100, 10_000_000)
        sound(session)


def test_what_nobody_said_the_cost_of_gets_it_later(store: Store) -> None:
    with undone(store) as session:
        ring = a_ring(session)
        draft = read_receipt({"item_id": ring, "quantity": "100", "place": "drawer B4"})
        assert isinstance(draft, ReceiptDraft)
        received = receive_lots(session, draft)
        lot = received.lots[0].lot_id
        assert received.lots[0].provisional
        give(session, lot, 25)
        assert holds(session, lot) == (75, 3_000_000), "the offer's price stands in"
        done = correct_cost(session, received.act_id, real("8.00"))
        assert holds(session, lot) == (75, 6_000_000)
        assert [wrong.micros for wrong in done.look.changes[0].left_wrong] == [1_000_000]
        view = lot_view(session, lot)
        assert (view.provisional, view.paid_micros, view.received_micros) == (False, 8_000_000, 8_000_000)
        sound(session)
        undo_act(session, done.act_id)
        view = lot_view(session, lot)
        assert (view.provisional, view.paid_micros, view.received_micros) == (True, None, 4_000_000)
        assert view.value_micros == 3_000_000
        # What was a guess may turn out to be just what it cost.
        same = correct_cost(session, received.act_id, real("4.00"))
        assert (same.look.more_micros, lot_view(session, lot).provisional) == (0, False)
        sound(session)


def test_the_postage_is_shared_anew_by_what_the_lines_really_cost(store: Store) -> None:
    with undone(store) as session:
        one, other = a_ring(session), a_ring(session, name="Copper", metal="copper")
        draft = read_receipt(
            {
                "freight": "4.00",
                "lines": [
                    {"item_id": one, "quantity": "100", "total_cost": "90.00"},
                    {"item_id": other, "quantity": "100", "total_cost": "10.00"},
                ],
            }
        )
        assert isinstance(draft, ReceiptDraft)
        received = receive_lots(session, draft)
        first, second = (lot.lot_id for lot in received.lots)
        give_place = lot_view(session, second).bags[0].place
        assert give_place == ""
        done = correct_cost(session, received.act_id, real("30.00", first))
        # 30 and 10 bear 3.00 and 1.00 of the postage, as if they had been typed like that.
        assert [holds(session, lot) for lot in (first, second)] == [(100, 33_000_000), (100, 11_000_000)]
        assert [lot_view(session, lot).freight_micros for lot in (first, second)] == [3_000_000, 1_000_000]
        sound(session)
        again = correct_cost(session, received.act_id, CostCorrectionDraft((), freight=Decimal("8.00")))
        assert [holds(session, lot) for lot in (first, second)] == [(100, 36_000_000), (100, 12_000_000)]
        assert not undoable(session, done.act_id).possible
        undo_act(session, again.act_id)
        undo_act(session, done.act_id)
        assert [holds(session, lot) for lot in (first, second)] == [(100, 93_600_000), (100, 10_400_000)]
        sound(session)


def test_a_foreign_receipt_is_corrected_in_its_own_currency(store: Store) -> None:
    with undone(store) as session:
        raw = {"item_id": a_ring(session), "quantity": "100", "unit_cost": "0.1000001", "currency": "USD"}
        draft = read_receipt({**raw, "unit_cost": "0.1", "exchange_rate": "0.9173"})
        assert isinstance(draft, ReceiptDraft)
        received = receive_lots(session, draft)
        lot = received.lots[0].lot_id
        done = correct_cost(session, received.act_id, CostCorrectionDraft((RealCost(None, unit_cost=Decimal("0.2")),)))
        assert (holds(session, lot), lot_view(session, lot).paid_micros) == ((100, 18_346_000), 20_000_000)
        assert done.look.receipt.currency == "USD"
        sound(session)


def abroad(session: Session, rate: str) -> tuple[int, int]:
    """100 rings for 10.00 dollars at a rate; answers the act and the lot."""
    raw = {"item_id": a_ring(session), "quantity": "100", "total_cost": "10.00", "currency": "USD"}
    draft = read_receipt({**raw, "exchange_rate": rate})
    assert isinstance(draft, ReceiptDraft)
    received = receive_lots(session, draft)
    return received.act_id, received.lots[0].lot_id


def test_what_was_paid_abroad_is_held_against_what_is_said_in_the_same_currency(store: Store) -> None:
    """20 dollars at 0.5 are 10 of the shop's own, which is no reason to take them for the 10 dollars of before."""
    with undone(store) as session:
        act_id, lot = abroad(session, "0.5")
        assert look_at_cost(session, act_id, real("10.00")).changes_nothing
        correct_cost(session, act_id, real("20.00"))
        assert (holds(session, lot), lot_view(session, lot).paid_micros) == ((100, 10_000_000), 20_000_000)
        sound(session)


def test_no_cost_from_abroad_is_more_than_the_shop_can_keep_in_its_own_currency(store: Store) -> None:
    with undone(store) as session:
        act_id, lot = abroad(session, "2")
        most, more = Decimal(5_000_000), Decimal("5000000.01")
        said = {
            "freight": lambda cost: CostCorrectionDraft((), freight=cost),
            "total_cost": lambda cost: CostCorrectionDraft((RealCost(lot, total_cost=cost),)),
        }
        for field, draft in said.items():
            assert look_at_cost(session, act_id, draft(most)).changes
            with pytest.raises(Unfit) as told:
                look_at_cost(session, act_id, draft(more))
            assert "at most" in told.value.faults.by_field()[field]


@pytest.mark.parametrize("average", [False, True])
def test_doing_undoing_and_doing_again_equals_doing(store: Store, average: bool) -> None:
    with undone(store) as session:
        if average:
            by_average(session)
        ring = a_ring(session)
        lots = [a_lot(session, ring, 7, "1.00"), a_lot(session, ring, 31, "90.01"), a_lot(session, ring, 13, "2.00")]
        give(session, lots[0], 3)
        give(session, lots[1], 10)
        before = [holds(session, lot) for lot in lots]
        first = correct(session, lots[1], "9.00")
        after = [holds(session, lot) for lot in lots]
        undo_act(session, first.act_id)
        assert [holds(session, lot) for lot in lots] == before
        assert lot_view(session, lots[1]).received_micros == 90_010_000
        second = correct(session, lots[1], "9.00")
        assert [holds(session, lot) for lot in lots] == after
        assert second.look.changes[0].left_wrong == first.look.changes[0].left_wrong
        sound(session)


def test_the_same_cost_again_changes_nothing_and_is_refused(store: Store) -> None:
    with undone(store) as session:
        lot = a_lot(session, a_ring(session), 100, "100.00")
        give(session, lot, 15)
        correct(session, lot, "10.00")
        with pytest.raises(Conflict, match="costs already"):
            correct(session, lot, "10.00")


def test_a_second_correction_counts_from_the_first(store: Store) -> None:
    with undone(store) as session:
        lot = a_lot(session, a_ring(session), 100, "100.00")
        first_gift = give(session, lot, 20)
        correct(session, lot, "10.00")
        second_gift = give(session, lot, 40)
        done = correct(session, lot, "50.00")
        assert holds(session, lot) == (40, 20_000_000)
        # The first went at 1.00 each, the second at 0.10, and 0.50 is right.
        named = {wrong.number: wrong.micros for wrong in done.look.changes[0].left_wrong}
        assert named == {first_gift: -10_000_000, second_gift: 16_000_000}
        assert conservation(session).carried == 6_000_000
        sound(session)


@pytest.mark.parametrize("average", [False, True])
def test_a_gift_that_comes_back_after_the_correction_comes_back_at_the_right_cost(store: Store, average: bool) -> None:
    with undone(store) as session:
        if average:
            by_average(session)
        ring = a_ring(session)
        lot = a_lot(session, ring, 100, "100.00")
        gift = give(session, lot, 15)
        correct(session, lot, "10.00")
        undo_act(session, gift)
        assert on_hand(session, ring) == (100, 10_000_000)
        assert conservation(session).carried == 0
        sound(session)


@pytest.mark.parametrize("average", [False, True])
def test_a_correction_stays_once_something_left_at_the_corrected_cost(store: Store, average: bool) -> None:
    with undone(store) as session:
        if average:
            by_average(session)
        lot = a_lot(session, a_ring(session), 100, "100.00")
        done = correct(session, lot, "10.00")
        gift = give(session, lot, 15)
        says = undoable(session, done.act_id)
        assert not says.possible
        assert "Correct what the receipt cost once more" in says.reason
        with pytest.raises(Conflict, match="once more"):
            undo_act(session, done.act_id)
        undo_act(session, gift)
        undo_act(session, done.act_id)
        assert holds(session, lot) == (100, 100_000_000)
        sound(session)


def test_a_corrected_receipt_waits_for_its_correction(store: Store) -> None:
    with undone(store) as session:
        lot = a_lot(session, a_ring(session), 100, "100.00")
        done = correct(session, lot, "10.00")
        says = undoable(session, act_of(session, lot))
        assert not says.possible
        assert "was corrected since" in says.reason
        undo_act(session, done.act_id)
        undo_act(session, act_of(session, lot))
        assert holds(session, lot) == (0, 0)
        sound(session)


@pytest.mark.parametrize("average", [False, True])
def test_a_lot_of_which_nothing_is_left_names_it_all(store: Store, average: bool) -> None:
    with undone(store) as session:
        if average:
            by_average(session)
        ring = a_ring(session)
        lot = a_lot(session, ring, 3, "10.00")
        give(session, lot, 1)
        give(session, lot, 2)
        done = correct(session, lot, "1.00")
        assert (done.look.here_micros, done.look.carried_micros) == (0, -9_000_000)
        assert sorted(wrong.micros for wrong in done.look.changes[0].left_wrong) == [-6_000_000, -3_000_000]
        assert on_hand(session, ring) == (0, 0)
        sound(session)


def test_after_another_way_of_valuing_the_difference_is_where_it_was_mixed(store: Store) -> None:
    with undone(store) as session:
        ring = a_ring(session)
        first, second = a_lot(session, ring, 100, "10.00"), a_lot(session, ring, 100, "100.00")
        choose_valuation(session, "average")
        choose_valuation(session, "fifo")
        # Half of the false cost lies in the first lot now; first in, first out leaves that there, and says so.
        seen = look(session, second, "10.00")
        assert (seen.here_micros, seen.carried_micros) == (-45_000_000, -45_000_000)
        (wrong,) = seen.changes[0].left_wrong
        assert (wrong.kind, wrong.number, wrong.micros) == ("lot", first, -45_000_000)
        choose_valuation(session, "average")
        correct(session, second, "10.00")
        assert on_hand(session, ring) == (200, 20_000_000)
        sound(session)


def test_what_a_correction_changed_can_be_read_again_later(store: Store) -> None:
    with undone(store) as session:
        lot = a_lot(session, a_ring(session), 100, "100.00")
        give(session, lot, 15)
        done = correct(session, lot, "10.00")
        give(session, lot, 20)
        (then,) = correction_changes(session, done.act_id)
        (now,) = done.look.changes
        assert (then.here_micros, then.carried_micros, then.left_wrong) == (
            now.here_micros, now.carried_micros, now.left_wrong,
        )  # fmt: skip
        assert (then.there_milli, then.worth_micros) == (85_000, 85_000_000)


def test_faults_stand_beside_their_fields(store: Store) -> None:
    with undone(store) as session:
        lot = a_lot(session, a_ring(session), 100, "100.00")
        act_id = act_of(session, lot)

        def faults(draft: CostCorrectionDraft) -> dict[str, str]:
            with pytest.raises(Unfit) as told:
                look_at_cost(session, act_id, draft)
            return told.value.faults.by_field()

        twice = (RealCost(lot, Decimal(1), at="lines.0."), RealCost(lot, Decimal(2), at="lines.1."))
        assert faults(CostCorrectionDraft(twice)) == {"lines.1.lot_id": "This lot is there twice."}
        assert "no lot 99" in faults(CostCorrectionDraft((RealCost(99, Decimal(1)),)))["lot_id"]
        dear = RealCost(lot, unit_cost=Decimal(10_000_000))
        assert "at most" in faults(CostCorrectionDraft((dear,)))["unit_cost"]
        with pytest.raises(Missing):
            look_at_cost(session, 999, real("1.00"))
        gift = give(session, lot, 1)
        with pytest.raises(Missing):
            receipt_view(session, gift)
        undo_act(session, gift)
        undo_act(session, act_id)
        with pytest.raises(Conflict, match="taken back"):
            look_at_cost(session, act_id, real("1.00"))


def test_check_names_a_correction_that_the_ledger_does_not_hold(store: Store) -> None:
    with undone(store) as session:
        lot = a_lot(session, a_ring(session), 100, "100.00")
        correct(session, lot, "10.00")
        session.exec(select(CostCorrection)).one().received_after += 1
        session.flush()
        rules = {breach.rule for breach in check_ledger(session)}
        assert rules == {
            "a correction books what a receipt cost more",
            "a lot cost what its receipt and its corrections say",
        }
        session.exec(select(CostCorrection)).one().received_after -= 1
        session.get_one(Lot, lot).received_micros += 1
        session.flush()
        (breach,) = check_ledger(session)
        assert breach.rule == "a lot cost what its receipt and its corrections say"


def test_a_used_up_lot_names_the_same_leavings_before_and_after_an_undone_correction(store: Store) -> None:
    with undone(store) as session:
        item = a_ring(session)
        a_lot(session, item, 50, "5.00")
        lot = a_lot(session, item, 40, "0")
        give(session, lot, 38)
        choose_valuation(session, "average")
        give(session, lot, 2)
        choose_valuation(session, "fifo")
        first = correct(session, lot, "0.000011")
        (change,) = first.look.changes
        assert [(one.kind, one.micros) for one in change.left_wrong] == [("act", 10), ("lot", 1)]
        undo_act(session, first.act_id)
        assert correct(session, lot, "0.000011").look == first.look
