"""A design costs its materials, its labour and its overhead; every total is the exact sum of its lines."""

from dataclasses import replace
from decimal import Decimal, localcontext
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.costing.design_cost import DesignCost, allowance_of, chosen, cost_design
from models.costing.inputs import PartInput, ShopRates, WorkInput
from models.costing.lines import Line, add_up, adds_up, leaves
from models.trade.rings import RingSize
from tests.budget import budget
from tests.costing.example import cost_of, nothing_to_do, pendant, rings, shop_rates, work

prices = st.decimals(0, 500, places=6)
quantities = st.integers(1, 400).map(Decimal)
sizes = st.builds(RingSize, st.integers(300_000, 3_000_000), st.integers(1_000_000, 12_000_000))


@st.composite
def parts(draw: st.DrawFn) -> tuple[PartInput, ...]:
    """A few parts of any kind, priced or not, with and without an allowance of their own."""
    return tuple(
        PartInput(
            name=f"part {number}",
            kind=draw(st.sampled_from(["ring", "ring", "finding", "chain", "scale", "packaging"])),
            quantity=draw(quantities),
            unit_cost=draw(st.none() | prices.map(lambda price: cost_of(str(price)))),
            allowance=draw(st.none() | st.decimals(0, "0.5", places=3)),
            size=draw(st.none() | sizes),
            mass_g=draw(st.none() | st.decimals(0, 5, places=4)),
            can_open=draw(st.booleans()),
            arrives=draw(st.sampled_from(["open", "closed", ""])),
            joined=draw(st.booleans()),
        )
        for number in range(draw(st.integers(1, 6)))
    )


@st.composite
def works(draw: st.DrawFn) -> WorkInput:
    counts = st.none() | st.integers(0, 300).map(Decimal)
    return WorkInput(
        open=draw(counts), close=draw(counts), weave=draw(counts), attach=draw(counts),
        finish=draw(st.dictionaries(st.sampled_from(["tumble", "polish", "seal"]), st.none() | st.decimals(0, 90, places=1))),
        once=draw(st.dictionaries(st.sampled_from(["photograph", "listing"]), st.none() | st.decimals(0, 90, places=1))),
        once_pieces=draw(st.integers(1, 40)), pack=draw(st.booleans()), setup=draw(st.booleans()),
    )  # fmt: skip


@st.composite
def rates(draw: st.DrawFn) -> ShopRates:
    return shop_rates(
        wage_per_hour=draw(st.decimals(0, 80, places=2)),
        overhead_mode=draw(st.sampled_from(["hour", "percent"])),
        overhead_per_hour=draw(st.decimals(0, 20, places=2)),
        overhead_percent=draw(st.decimals(0, 80, places=1)),
        allowance=draw(st.decimals(0, "0.2", places=3)),
        learning=draw(st.sampled_from([Decimal(1), Decimal("0.9")])),
    )


def part_line(cost: DesignCost, name: str) -> Line:
    return next(line for line in cost.materials.lines if line.label == name)


def test_a_pendant_by_hand() -> None:
    # 48 rings at 0.02 with 3 per cent, one clasp at 0.50; 10 minutes of setting up and 12 of finishing at 18 an hour.
    two = (rings(48, unit_cost=cost_of("0.02")), PartInput("clasp", "finding", Decimal(1), unit_cost=cost_of("0.50")))
    effort = replace(nothing_to_do(), setup=True, finish={"polish": Decimal(12)})
    cost = cost_design(two, effort, shop_rates(overhead_per_hour=Decimal(3)))
    assert cost.materials.amount == Decimal("0.9888") + Decimal("0.50")
    assert cost.labour.amount == Decimal("6.6")
    assert cost.overhead.amount == Decimal("1.1")
    assert cost.per_piece == Decimal("9.1888")
    assert not cost.provisional


def test_overhead_by_per_cent_is_taken_of_materials_and_labour() -> None:
    cost = cost_design(pendant(), work(), shop_rates(overhead_mode="percent", overhead_percent=Decimal(15)))
    base = cost.materials.amount + cost.labour.amount
    assert abs(cost.overhead.amount - base * Decimal("0.15")) <= Decimal("0.0000005")
    assert cost.overhead_per_hour == 0
    hourly = cost_design(pendant(), work(), shop_rates(overhead_percent=Decimal(15)))
    assert abs(hourly.overhead.amount - hourly.minutes.likely * Decimal("3.50") / 60) <= Decimal("0.0000005")


def test_the_allowance_is_off_for_findings_and_for_single_rings() -> None:
    usual = Decimal("0.03")
    assert allowance_of(rings(2), usual) == usual
    assert allowance_of(rings(1), usual) == 0
    for kind in ("finding", "chain", "packaging", "consumable"):
        assert allowance_of(PartInput("x", kind, Decimal(9)), usual) == 0
    for kind in ("scale", "bead", "wire"):
        assert allowance_of(PartInput("x", kind, Decimal(9)), usual) == usual


def test_a_part_has_its_own_allowance_where_it_says_so() -> None:
    assert allowance_of(rings(48, allowance=Decimal(0)), Decimal("0.03")) == 0
    assert allowance_of(
        PartInput("clasp", "finding", Decimal(1), allowance=Decimal("0.1")), Decimal("0.03")
    ) == Decimal("0.1")
    line = part_line(
        cost_design([rings(48, allowance=Decimal("0.1"), unit_cost=cost_of("1"))], nothing_to_do(), shop_rates()),
        "bronze ring",
    )
    assert (line.amount, line.quantity) == (Decimal("52.8"), Decimal("52.8"))
    assert [lower.label for lower in line.lines] == ["In the piece", "Spoiled or dropped"]


def test_the_design_says_its_own_allowance_and_costing_rounds_no_ring() -> None:
    part = [rings(10, unit_cost=cost_of("1"))]
    assert cost_design(part, nothing_to_do(), shop_rates()).materials.amount == Decimal("10.3")
    assert cost_design(part, nothing_to_do(), shop_rates(), allowance=Decimal(0)).materials.amount == 10
    assert cost_design(part, nothing_to_do(), shop_rates(), allowance=Decimal("0.05")).materials.amount == Decimal(
        "10.5"
    )


def test_spoiled_rings_raise_the_cost() -> None:
    careful = cost_design(pendant(), work(), shop_rates(allowance=Decimal(0)))
    clumsy = cost_design(pendant(), work(), shop_rates(allowance=Decimal("0.1")))
    assert clumsy.per_piece > careful.per_piece
    assert clumsy.mass_g == careful.mass_g


def test_unpriced_and_guessed_parts_are_named_and_make_the_cost_provisional() -> None:
    mixed = (
        rings(48),
        rings(4, name="odd ring", unit_cost=None),
        rings(2, name="guessed ring", unit_cost=cost_of("0.1", guessed=True)),
    )
    cost = cost_design(mixed, work(), shop_rates())
    assert (cost.unpriced, cost.guessed, cost.provisional) == (("odd ring",), ("guessed ring",), True)
    assert part_line(cost, "odd ring").amount == 0
    assert part_line(cost, "odd ring").provisional
    assert part_line(cost, "guessed ring").provisional
    assert not part_line(cost, "bronze ring").provisional
    clasp = PartInput("clasp", "finding", Decimal(1), unit_cost=cost_of("0.5", guessed=True))
    assert part_line(cost_design([clasp], work(), shop_rates()), "clasp").provisional
    assert cost.materials.provisional
    assert cost.line.provisional
    assert not cost_design([rings()], work(), shop_rates()).provisional


def test_the_finished_weight_leaves_out_the_box_and_names_what_was_never_weighed() -> None:
    cost = cost_design(pendant(), work(), shop_rates())
    worn = {part.name: part for part in pendant() if part.mass_g is not None}
    expected = sum(Fraction(part.quantity) * Fraction(part.mass_g or 0) for part in worn.values())
    assert abs(Fraction(cost.mass_g) - expected) < Fraction(1, 10**40)
    assert cost.unweighed == ("bail ring",)


def test_an_empty_design_costs_only_its_work() -> None:
    cost = cost_design((), nothing_to_do(), shop_rates())
    assert cost.per_piece == cost.total == cost.minutes.likely == cost.mass_g == 0
    assert adds_up(cost.line)


def test_several_pieces_cost_what_one_costs_times_their_number() -> None:
    cost = cost_design(pendant(), work(), shop_rates(), pieces=7, weave_difficulty=3)
    assert cost.total == cost.per_piece * 7
    assert cost.batch.amount == cost.total
    assert adds_up(cost.batch)
    rings_of_all = cost.batch.lines[0].lines[0]
    assert rings_of_all.quantity == Decimal("49.44") * 7
    assert rings_of_all.lines[0].because == part_line(cost, "bronze ring").lines[0].because


def test_only_the_picked_choice_is_costed() -> None:
    colours = (
        rings(10, name="green", group="colour", choice="A"),
        rings(10, name="blue", group="colour", choice="B"),
        rings(2, name="green end", group="colour", choice="A"),
        rings(1, name="charm", optional=True),
        rings(3, name="plain"),
    )
    assert [part.name for part in chosen(colours)] == ["green", "green end", "charm", "plain"]
    assert [part.name for part in chosen(colours, {"colour": "B"})] == ["blue", "charm", "plain"]
    assert [part.name for part in chosen(colours, left_out=frozenset({"charm", "plain"}))] == [
        "green",
        "green end",
        "plain",
    ]
    with pytest.raises(ValueError, match="no choice C"):
        chosen(colours, {"colour": "C"})


def test_the_result_does_not_depend_on_the_callers_decimal_context() -> None:
    usual = cost_design(pendant(), work(), shop_rates(), pieces=3)
    with localcontext() as coarse:
        coarse.prec = 5
        assert cost_design(pendant(), work(), shop_rates(), pieces=3) == usual
        assert usual.batch.amount == usual.total


def test_impossible_quantities_are_refused() -> None:
    with pytest.raises(ValueError, match="zero or more"):
        rings(-1)
    with pytest.raises(TypeError, match="Decimal"):
        PartInput("x", "ring", 1.5)  # type: ignore[arg-type]
    with pytest.raises(ValueError, match=r"between 0\.5 and 1"):
        shop_rates(learning=Decimal("0.3"))
    with pytest.raises(ValueError, match="at least one piece"):
        work(once_pieces=0)


@settings(max_examples=budget(60))
@given(parts=parts(), work=works(), rates=rates(), pieces=st.integers(1, 12), difficulty=st.none() | st.integers(1, 5))
def test_totals_equal_their_lines_exactly_and_every_end_has_a_reason(
    parts: tuple[PartInput, ...], work: WorkInput, rates: ShopRates, pieces: int, difficulty: int | None
) -> None:
    cost = cost_design(parts, work, rates, weave_difficulty=difficulty, pieces=pieces)
    assert adds_up(cost.line)
    assert adds_up(cost.batch)
    assert cost.per_piece == add_up(line.amount for line in (cost.materials, cost.labour, cost.overhead))
    assert cost.line.amount == cost.per_piece
    assert all(line.reason and line.source for line in leaves(cost.line))
    for line in (*cost.materials.lines, *cost.labour.lines):
        assert line.amount == line.amount.quantize(Decimal("0.000001"))
        assert line.amount >= 0


@settings(max_examples=budget(60))
@given(
    parts=parts(),
    work=works(),
    rates=rates(),
    which=st.integers(0, 5),
    more=st.integers(1, 50),
    difficulty=st.integers(1, 5),
)
def test_more_rings_never_cost_less(
    *, parts: tuple[PartInput, ...], work: WorkInput, rates: ShopRates, which: int, more: int, difficulty: int
) -> None:
    index = which % len(parts)
    grown = tuple(
        replace(part, quantity=part.quantity + more) if place == index else part for place, part in enumerate(parts)
    )
    before = cost_design(parts, work, rates, weave_difficulty=difficulty)
    after = cost_design(grown, work, rates, weave_difficulty=difficulty)
    assert after.materials.amount >= before.materials.amount
    assert after.labour.amount >= before.labour.amount
    assert after.per_piece >= before.per_piece
    assert after.minutes.high >= before.minutes.high
