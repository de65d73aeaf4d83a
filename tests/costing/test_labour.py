"""Work follows from the parts, minutes follow from the work, and a range says that it is an estimate."""

from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.costing.design_cost import cost_design
from models.costing.inputs import PartInput, Rate
from models.costing.labour import WorkCounts, cost_labour, work_from_parts
from models.costing.lines import adds_up, leaves
from models.costing.rates import GUESS, STARTING_DIFFICULTY, STARTING_RATES, STARTING_SMALL_RINGS, kind_words
from tests.budget import budget
from tests.costing.example import SIZE, SMALL, nothing_to_do, pendant, rings, shop_rates, work


def counts(**changes: object) -> tuple[int, int, int]:
    found = work_from_parts([rings(10, **changes)])
    return int(found.open), int(found.close), int(found.weave)


def test_rings_that_arrive_open_and_are_woven_need_closing_only() -> None:
    assert counts(arrives="open", joined=True) == (0, 10, 10)


def test_rings_that_arrive_closed_and_are_joined_open_must_be_opened_first() -> None:
    assert counts(arrives="closed", joined=True) == (10, 10, 10)


def test_rings_of_which_nobody_said_how_they_arrive_are_opened_when_they_are_joined_open() -> None:
    assert counts(arrives="", joined=True) == (10, 10, 10)
    assert counts(arrives="", joined=False) == (0, 10, 0)


def test_rings_closed_beforehand_are_closed_once_unless_they_arrive_so() -> None:
    assert counts(arrives="open", joined=False) == (0, 10, 0)
    assert counts(arrives="closed", joined=False) == (0, 0, 0)


def test_of_a_part_with_both_kinds_each_ring_counts_as_what_it_is() -> None:
    ways = {"": (6, 10, 6), "open": (0, 10, 6), "closed": (6, 6, 6)}
    for arrives, wanted in ways.items():
        assert counts(arrives=arrives, closed=Decimal(4)) == wanted
        parts = [rings(6, arrives=arrives), rings(4, arrives=arrives, joined=False)]
        assert work_from_parts(parts) == work_from_parts([rings(10, arrives=arrives, closed=Decimal(4))])
    assert counts(arrives="", closed=Decimal(0)) == counts(arrives="", joined=True)
    assert counts(arrives="", closed=Decimal(10)) == counts(arrives="", joined=False)
    assert counts(arrives="", closed=Decimal(10), can_open=False) == (0, 0, 0)


def test_small_rings_are_counted_among_those_that_are_opened_and_woven() -> None:
    found = work_from_parts([rings(10, arrives="", size=SMALL, closed=Decimal(4))], STARTING_SMALL_RINGS)
    assert (found.small_open, found.small_close, found.small_weave) == (6, 10, 6)


@pytest.mark.parametrize("closed", ["-1", "11"])
def test_no_more_rings_are_closed_beforehand_than_there_are(closed: str) -> None:
    with pytest.raises(ValueError, match="between none and all"):
        rings(10, closed=Decimal(closed))


@pytest.mark.parametrize("arrives", ["open", "closed", ""])
@pytest.mark.parametrize("joined", [True, False])
def test_a_ring_that_cannot_be_opened_is_neither_opened_nor_closed(arrives: str, joined: bool) -> None:
    assert counts(arrives=arrives, joined=joined, can_open=False) == (0, 0, 0)


def test_findings_and_beads_are_attached_scales_woven_and_boxes_left_alone() -> None:
    found = work_from_parts(
        [
            PartInput("clasp", "finding", Decimal(1)),
            PartInput("bead", "bead", Decimal(5)),
            PartInput("chain", "chain", Decimal("0.5"), "m"),
            PartInput("no chain", "chain", Decimal(0), "m"),
            PartInput("scale", "scale", Decimal(20)),
            PartInput("box", "packaging", Decimal(1)),
            PartInput("wax", "consumable", Decimal("0.1"), "g"),
            PartInput("wire", "wire", Decimal("0.2"), "m"),
        ]
    )
    assert found == WorkCounts(weave=Decimal(20), attach=Decimal(7))


def test_small_rings_are_counted_apart() -> None:
    found = work_from_parts([rings(10), rings(4, size=SMALL), rings(2, size=None)], STARTING_SMALL_RINGS)
    assert (found.close, found.small_close, found.small_weave, found.small_open) == (16, 4, 4, 0)


def test_either_size_makes_a_ring_small() -> None:
    rule = STARTING_SMALL_RINGS
    assert not rule.is_small(SIZE)
    assert rule.is_small(type(SIZE)(1_000_000, 2_900_000))
    assert rule.is_small(type(SIZE)(700_000, 4_000_000))
    assert not rule.is_small(type(SIZE)(800_000, 3_000_000))


def minutes_of(kind: str, parts: list[PartInput], **options: object) -> Decimal:
    given = {"weave_difficulty": None, "pieces": 1, "work": work(), "rates": shop_rates()} | options
    labour = cost_labour(parts, given.pop("work"), given.pop("rates"), **given)  # type: ignore[arg-type]
    return next((each.likely for each in labour.minutes.kinds if each.kind == kind), Decimal(0))


def test_closing_forty_eight_rings_at_seven_seconds() -> None:
    assert minutes_of("close", [rings(48)]) == Decimal("5.6")


def test_small_rings_take_longer() -> None:
    assert minutes_of("close", [rings(48, size=SMALL)]) == Decimal("5.6") * Decimal("1.3")
    assert minutes_of("close", [rings(48, size=SMALL)], rates=shop_rates(small_rings=None)) == Decimal("5.6")


def test_a_hard_weave_takes_longer_to_weave_and_only_to_weave() -> None:
    assert minutes_of("weave", [rings(20)], weave_difficulty=2) == Decimal(3)
    assert minutes_of("weave", [rings(20)], weave_difficulty=5) == Decimal(6)
    assert minutes_of("close", [rings(60)], weave_difficulty=5) == Decimal(7)
    with pytest.raises(ValueError, match="1 to 5"):
        minutes_of("weave", [rings(20)], weave_difficulty=6)


def test_counts_in_the_design_win_over_the_parts() -> None:
    assert minutes_of("open", [rings(48)], work=work(open=Decimal(15))) == Decimal(1)
    assert minutes_of("weave", [rings(48)], work=work(weave=Decimal(0))) == 0
    # Of a typed count the small rings come first: 4 of them at 1.3 times, 16 at once.
    typed = minutes_of("weave", [rings(10), rings(4, size=SMALL)], work=work(weave=Decimal(20)))
    assert typed == (Decimal(16) * 9 + Decimal(4) * 9 * Decimal("1.3")) / 60


def test_setting_up_is_shared_by_the_pieces_made_together() -> None:
    assert minutes_of("setup", [rings(1)]) == Decimal(10)
    assert minutes_of("setup", [rings(1)], pieces=4) == Decimal("2.5")
    assert minutes_of("setup", [rings(1)], pieces=4, work=work(setup=False)) == 0


def test_photographs_and_listing_are_spread_over_the_stated_pieces() -> None:
    assert minutes_of("photograph", [rings(1)], pieces=4) == Decimal("2.5")
    assert minutes_of("listing", [rings(1)]) == Decimal(2)


def test_typed_minutes_win_over_the_rate_and_say_whose_they_are() -> None:
    labour = cost_labour(
        [], work(finish={"tumble": Decimal(7), "etching": Decimal(3)}), shop_rates(), weave_difficulty=None, pieces=1
    )
    tumble, etching = (next(k for k in labour.minutes.kinds if k.kind == kind) for kind in ("tumble", "etching"))
    assert (tumble.likely, tumble.low, tumble.high) == (7, Decimal("4.2"), Decimal("11.9"))
    assert (etching.likely, etching.low, etching.high) == (3, Decimal("2.4"), Decimal("3.75"))
    assert tumble.source == "your own figure"
    assert etching.label == "Etching"


def test_work_without_minutes_or_a_rate_is_named_and_makes_the_cost_provisional() -> None:
    cost = cost_design([rings(5)], work(finish={"etching": None}), shop_rates())
    assert cost.untimed == ("Etching",)
    assert cost.provisional
    bare = cost_design([rings(5)], nothing_to_do(), shop_rates(rates={}))
    assert not bare.untimed
    unknown = cost_design([rings(5)], work(finish={}, once={}), shop_rates(rates={}))
    assert set(unknown.untimed) == {kind_words(kind) for kind in ("setup", "close", "weave", "pack")}


def test_learning_is_off_by_default_and_touches_only_the_work_of_the_hands() -> None:
    parts = [rings(60)]
    assert minutes_of("close", parts, pieces=8) == Decimal(7)
    learning = shop_rates(learning=Decimal("0.8"))
    # Unit model, first piece 100 at 80 per cent: eight pieces take 534.5914 together (derived: sum of 100 n^-0.3219281).
    assert abs(minutes_of("close", parts, pieces=8, rates=learning) - Decimal(7) * Decimal("5.345914") / 8) < Decimal(
        "1e-5"
    )
    assert minutes_of("tumble", parts, pieces=8, rates=learning) == Decimal(3)
    assert minutes_of("pack", parts, pieces=8, rates=learning) == Decimal(4)


def test_the_range_adds_up_the_lows_and_the_highs_of_the_kinds() -> None:
    minutes = cost_labour(pendant(), work(), shop_rates(), weave_difficulty=3, pieces=2).minutes
    assert minutes.low == sum(kind.low for kind in minutes.kinds)
    assert minutes.high == sum(kind.high for kind in minutes.kinds)
    assert minutes.likely == sum(kind.likely for kind in minutes.kinds)
    assert minutes.low < minutes.likely < minutes.high


def test_labour_is_minutes_at_the_wage_and_unfolds_to_the_source_of_each_rate() -> None:
    labour = cost_labour(pendant(), work(), shop_rates(), weave_difficulty=3, pieces=2)
    assert adds_up(labour.line)
    assert abs(labour.line.amount - labour.minutes.likely * Decimal("0.3")) < Decimal("0.00001")
    ends = list(leaves(labour.line))
    assert all(line.reason and line.source for line in ends)
    assert any(line.source == GUESS for line in ends)
    labels = {line.label for line in labour.line.lines}
    assert labels == {"Setting up", "Opening rings", "Closing rings", "Weaving", "Attaching findings", "Tumbling", "Packing",
                      "Photographs", "Writing the listing"}  # fmt: skip


def test_every_starting_figure_is_marked_as_a_guess() -> None:
    assert {rate.source for rate in STARTING_RATES.values()} == {GUESS}
    assert STARTING_SMALL_RINGS.source == STARTING_DIFFICULTY.source == GUESS
    assert GUESS == "a guess of common practice; your own timings replace it"
    assert all(rate.low_factor < 1 < rate.high_factor for rate in STARTING_RATES.values())


def test_a_rate_outside_its_own_range_is_refused() -> None:
    with pytest.raises(ValueError, match="must hold its likely time"):
        Rate("close", Decimal(7), "ring", Decimal("1.1"), Decimal("1.5"))
    with pytest.raises(ValueError, match="zero or more"):
        Rate("close", Decimal(-7), "ring")


@pytest.mark.parametrize("pieces", [0, -1, 10_001])
def test_an_absurd_number_of_pieces_is_refused(pieces: int) -> None:
    with pytest.raises(ValueError, match="1 to 10000"):
        cost_design(pendant(), work(), shop_rates(), pieces=pieces)


@settings(max_examples=budget(40))
@given(
    pieces=st.integers(1, 60),
    more=st.integers(1, 60),
    learning=st.sampled_from(["1", "0.95", "0.8"]),
    difficulty=st.integers(1, 5),
)
def test_a_piece_of_a_larger_batch_never_takes_longer(pieces: int, more: int, learning: str, difficulty: int) -> None:
    rates = shop_rates(learning=Decimal(learning))
    few = cost_labour(pendant(), work(), rates, weave_difficulty=difficulty, pieces=pieces).minutes
    many = cost_labour(pendant(), work(), rates, weave_difficulty=difficulty, pieces=pieces + more).minutes
    assert many.likely <= few.likely
    assert many.low <= many.likely <= many.high
