"""Learning the labour times: builds move the estimate, odd ones do not, and everything says what it rests on."""

import math
from dataclasses import replace
from decimal import Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.costing import pace
from models.costing.rates import STARTING_RATES
from models.costing.timings import FinishedBuild, Timings, UnknownWork, learn, start_minutes
from tests.budget import budget

PENDANT = {"setup": 10.0, "close": 30.0, "weave": 40.0, "pack": 4.0}
COLLAR = {"setup": 10.0, "close": 20.0, "weave": 160.0, "pack": 4.0}


def made(number: int, minutes: float, work: dict[str, float] | None = None, design: str = "pendant") -> FinishedBuild:
    return FinishedBuild(number, design, work or PENDANT, minutes)


def ten(minutes: float = 60.0, scatter: float = 0.06) -> list[FinishedBuild]:
    """Ten builds of the pendant about a time, as real ones scatter."""
    return [made(each, minutes * math.exp(scatter * math.sin(2.4 * each))) for each in range(10)]


def likely(timings: Timings, work: dict[str, float] | None = None, design: str | None = "pendant") -> float:
    return float(timings.estimate(work or PENDANT, design).likely)


# --- from the starting rates to the shop's own ---


def test_without_builds_the_starting_rates_hold_with_their_own_range() -> None:
    estimate = learn([]).estimate(PENDANT, "pendant", rates=STARTING_RATES)
    assert estimate.likely == 84
    assert estimate.low == Decimal("10") * Decimal("0.6") + 30 * Decimal("0.7") + 40 * Decimal("0.65") + 4 * Decimal(
        "0.7"
    )
    assert estimate.high == Decimal("16") + 45 + 64 + 6
    assert (estimate.likely, estimate.low) == (estimate.before.likely, estimate.before.low)
    assert (estimate.builds, estimate.source) == (0, "the starting rates")
    assert learn([]).rates(STARTING_RATES) == dict(STARTING_RATES)


def test_one_build_pulls_the_estimate_most_of_the_way_and_says_so() -> None:
    estimate = learn([made(1, 50.0)]).estimate(PENDANT, "pendant", rates=STARTING_RATES)
    assert 50 < estimate.likely < 60
    assert estimate.before.likely == 84
    assert (estimate.builds, estimate.design_builds, estimate.source) == (1, 1, "your own build")


def test_ten_builds_settle_it() -> None:
    estimate = learn(ten()).estimate(PENDANT, "pendant")
    assert math.isclose(estimate.likely, 60, rel_tol=0.03)
    assert 48 < estimate.low < estimate.likely < estimate.high < 74
    assert (estimate.builds, estimate.source) == (10, "your own 10 builds")


def test_builds_that_scatter_widen_the_range() -> None:
    calm, wild = learn(ten(scatter=0.05)).estimate(PENDANT), learn(ten(scatter=0.4)).estimate(PENDANT)
    assert wild.high / wild.low > Decimal("1.5") * calm.high / calm.low


def test_the_range_narrows_as_builds_add_up() -> None:
    widths = []
    for count in (1, 3, 10):
        estimate = learn(ten()[:count]).estimate(PENDANT, "pendant")
        widths.append(estimate.high / estimate.low)
    assert widths == sorted(widths, reverse=True)


def test_the_estimate_follows_a_shop_that_gets_quicker() -> None:
    builds = [made(each, 80 * 0.97**each) for each in range(25)]
    assert likely(learn(builds)) < 80 * 0.97**20
    assert likely(learn(builds)) > 80 * 0.97**26


# --- kinds and designs ---


def test_noted_kinds_are_learned_apart() -> None:
    builds = [
        FinishedBuild(each, "pendant", PENDANT, None, {"setup": 10, "close": 30, "weave": 80, "pack": 4})
        for each in range(12)
    ]
    own = learn(builds).rates(STARTING_RATES)
    slower = {kind: own[kind].seconds / STARTING_RATES[kind].seconds for kind in PENDANT}
    assert slower["weave"] > Decimal("1.6")
    for kind in ("setup", "close", "pack"):
        assert slower[kind] < Decimal("1.25")


def test_totals_alone_show_which_work_is_slow_when_designs_differ() -> None:
    """The collar is mostly weaving, the pendant is not; both are timed by one total."""

    def total(work: dict[str, float]) -> float:
        return math.fsum(minutes * (2.0 if kind == "weave" else 1.0) for kind, minutes in work.items())

    builds = [
        FinishedBuild(each, f"design {each}", work, total(work))
        for each, work in enumerate([PENDANT, COLLAR, {"close": 90.0, "pack": 4.0}] * 6)
    ]
    own = learn(builds).rates(STARTING_RATES)
    weave, close = (own[kind].seconds / STARTING_RATES[kind].seconds for kind in ("weave", "close"))
    assert weave > close * Decimal("1.3")


def test_part_of_the_work_noted_with_a_total_teaches_that_part() -> None:
    builds = [FinishedBuild(each, "pendant", PENDANT, 84.0, {"weave": 60.0}) for each in range(10)]
    own = learn(builds).rates(STARTING_RATES)
    assert own["weave"].seconds > STARTING_RATES["weave"].seconds * Decimal("1.2")
    assert own["close"].seconds < STARTING_RATES["close"].seconds * Decimal("0.95")


def test_minutes_noted_for_some_kinds_only_are_a_build_of_these() -> None:
    only = learn([FinishedBuild(each, "pendant", PENDANT, None, {"weave": 60.0}) for each in range(6)])
    assert only.builds == 6
    assert only.rates(STARTING_RATES)["weave"].seconds > STARTING_RATES["weave"].seconds * Decimal("1.3")


def test_a_design_that_takes_longer_keeps_its_own_time_and_new_ones_do_not() -> None:
    builds = [
        made(
            each,
            84 * (1.25 if each % 2 else 1.0) * math.exp(0.04 * math.sin(each)),
            design="hard" if each % 2 else "easy",
        )
        for each in range(16)
    ]
    timings = learn(builds)
    easy, hard, new = (likely(timings, design=design) for design in ("easy", "hard", "new"))
    assert hard > 1.1 * easy
    assert easy < new < hard
    assert timings.estimate(PENDANT, "hard").design_builds == 8


def test_a_kind_that_no_build_held_moves_with_the_shop_and_says_so() -> None:
    own = learn(ten(42.0)).rates(STARTING_RATES)
    assert own["weave"].source == "your own 10 builds"
    assert own["polish"].source == f"{STARTING_RATES['polish'].source}; moved with your own 10 builds"
    assert own["polish"].seconds < STARTING_RATES["polish"].seconds * Decimal("0.75")
    assert own["polish"].high_factor > own["weave"].high_factor


def test_own_rates_and_estimate_agree() -> None:
    timings = learn(ten())
    own = timings.rates(STARTING_RATES)
    by_rates = math.fsum(float(own[k].seconds / STARTING_RATES[k].seconds) * m for k, m in PENDANT.items())
    assert math.isclose(by_rates, likely(timings, design=None), rel_tol=0.005)
    for kind, rate in own.items():
        assert rate.kind == kind
        assert rate.per == STARTING_RATES[kind].per
        assert rate.low_factor < 1 < rate.high_factor


# --- odd timings ---


def test_a_build_left_running_overnight_is_put_aside_and_told() -> None:
    builds = ten()
    with_night = [*builds[:7], made(99, 870.0), *builds[7:]]
    timings = learn(with_night)
    assert timings.odd == (99,)
    assert timings.builds == 10
    assert math.isclose(likely(timings), likely(learn(builds)), rel_tol=0.005)
    assert timings.estimate(PENDANT).odd == (99,)


def test_the_very_first_build_can_be_odd_too() -> None:
    timings = learn([made(99, 900.0), *ten()])
    assert timings.odd == (99,)
    assert math.isclose(likely(timings), likely(learn(ten())), rel_tol=0.01)


def test_the_persons_word_on_an_odd_timing_holds() -> None:
    builds = ten()
    night = made(99, 400.0)
    used, without = learn([*builds, replace(night, verdict="right")]), learn(builds)
    assert used.odd == ()
    assert used.builds == 11
    # Used, but as the one unusual build that it is.
    assert 1.005 * likely(without) < likely(used) < 1.2 * likely(without)
    assert used.estimate(PENDANT).high > without.estimate(PENDANT).high * Decimal("1.03")
    left_out = learn([*builds, replace(night, verdict="odd")])
    assert left_out.odd == ()
    assert likely(left_out) == likely(learn(builds))


def test_two_odd_builds_that_agree_are_a_new_pace() -> None:
    builds = [*ten(), made(20, 200.0), made(21, 215.0), made(22, 205.0)]
    timings = learn(builds)
    assert timings.odd == ()
    assert timings.builds == 13
    assert likely(timings) > 150


def test_two_odd_builds_that_do_not_agree_stay_odd() -> None:
    timings = learn([*ten(), made(20, 300.0), made(21, 10.0)])
    assert timings.odd == (20, 21)


# --- what is handed in and handed out ---


def test_start_minutes_are_counts_times_rates() -> None:
    minutes = start_minutes({"close": Decimal(300), "weave": Decimal(200), "attach": Decimal(0)}, STARTING_RATES)
    assert minutes == {"close": Decimal(35), "weave": Decimal(30)}
    with pytest.raises(UnknownWork) as told:
        start_minutes({"enamel": Decimal(1)}, STARTING_RATES)
    assert told.value.kind == "enamel"


@pytest.mark.parametrize("wrong", [0, -3, math.nan, math.inf])
def test_minutes_that_cannot_be_are_refused(wrong: float) -> None:
    with pytest.raises(ValueError, match="above zero"):
        made(1, wrong)
    with pytest.raises(ValueError, match="above zero"):
        FinishedBuild(1, "pendant", PENDANT, None, {"weave": wrong})
    if wrong:
        with pytest.raises(ValueError, match="zero or more"):
            FinishedBuild(1, "pendant", {"weave": wrong}, 5)


def test_minutes_of_work_that_the_build_has_not_are_refused() -> None:
    with pytest.raises(ValueError, match="no work of the kind polish"):
        FinishedBuild(1, "pendant", PENDANT, None, {"polish": 5})
    with pytest.raises(ValueError, match="some work"):
        learn([]).estimate({"weave": 0})


def test_builds_that_were_not_timed_teach_nothing() -> None:
    untimed = FinishedBuild(1, "pendant", PENDANT)
    unknown = FinishedBuild(2, "pendant", {}, 40.0)
    assert learn([untimed, unknown]).builds == 0


def test_asking_changes_nothing() -> None:
    timings = learn(ten())
    first = timings.estimate(PENDANT, "pendant")
    timings.estimate({"enamel": 30.0}, "never made")
    timings.rates(STARTING_RATES)
    assert timings.estimate(PENDANT, "pendant") == first


@given(
    minutes=st.lists(st.floats(5, 500), min_size=1, max_size=12),
    factor=st.floats(0.3, 3),
)
@settings(max_examples=budget(40), deadline=None)
def test_every_estimate_is_a_range_and_learning_never_fails(minutes: list[float], factor: float) -> None:
    timings = learn([made(each, value) for each, value in enumerate(minutes)])
    estimate = timings.estimate(
        {kind: value * factor for kind, value in COLLAR.items()}, "collar", rates=STARTING_RATES
    )
    assert 0 < estimate.low < estimate.likely < estimate.high
    assert estimate.builds + len(estimate.odd) == len(minutes)


def test_with_plain_noise_of_known_size_it_is_the_textbook_mean(monkeypatch: pytest.MonkeyPatch) -> None:
    """One kind, one design, no drift, normal noise: the posterior mean and variance of a normal mean.

    Source: Gelman and others, Bayesian Data Analysis, 'Normal data with known variance' (from memory).
    """
    for name, value in (("DRIFT", 0.0), ("TAIL", 1e9), ("NOISE_GRID", (0.2,)), ("NOISE", 0.2), ("WIDEN", 1.0)):
        monkeypatch.setattr(pace, name, value)
    monkeypatch.setattr(pace, "_TAIL90", 1.2815515655446004)
    minutes = [40.0, 52.0, 44.0, 61.0, 47.0, 55.0]
    timings = learn([made(each, value, {"weave": 30.0}) for each, value in enumerate(minutes)])
    prior = pace.WHOLE_SD**2 + pace.KIND_SD**2 + pace.DESIGN_SD**2
    precision = 1 / prior + len(minutes) / 0.2**2
    mean = math.fsum(math.log(value / 30) for value in minutes) / 0.2**2 / precision
    estimate = timings.estimate({"weave": 30.0}, "pendant")
    assert math.isclose(estimate.likely, 30 * math.exp(mean), rel_tol=1e-4)
    reach = 1.2815515655446004 * math.sqrt(1 / precision + 0.2**2)
    assert math.isclose(math.log(estimate.high / estimate.likely), reach, rel_tol=1e-3)
