"""Two variants of a design stand side by side, with what differs."""

from dataclasses import replace
from decimal import Decimal

from models.costing.compare import Row, Variant, compare
from models.costing.design_cost import cost_design
from models.costing.inputs import Fee, PartInput
from models.costing.prices import price_outlet
from models.trade.rings import RingSize
from tests.costing.example import cost_of, outlet, pendant, plain_outlet, shop_rates, work


def variant(name: str, parts: tuple[PartInput, ...], *, fit: str = "", greedy: bool = False) -> Variant:
    cost = cost_design(parts, work(), shop_rates(), weave_difficulty=2)
    stall = plain_outlet(code="stall", name="Stall", fees=(Fee("all", Decimal(1)),) if greedy else ())
    places = (outlet(), stall)
    return Variant(name, parts, cost, {place.code: price_outlet(cost, place, currency="EUR") for place in places}, fit)


def row(rows: tuple[Row, ...], label: str) -> Row:
    return next(each for each in rows if each.label == label)


def test_another_metal_changes_what_it_touches_and_nothing_else() -> None:
    bronze = pendant()
    silver = (replace(bronze[0], name="silver ring", unit_cost=cost_of("0.61"), mass_g=Decimal("0.19")), *bronze[1:])
    found = compare(variant("bronze", bronze), variant("silver", silver))
    assert (found.left, found.right) == ("bronze", "silver")
    first = found.group("parts")[0]
    assert (first.left_words, first.right_words) == ("bronze ring", "silver ring")
    assert first.differs
    assert not any(each.differs for each in found.group("parts")[1:])
    assert not row(found.rows, "Labour").differs
    materials = row(found.rows, "Materials")
    assert materials.difference == first.difference
    assert materials.difference is not None
    assert materials.difference > 0
    assert row(found.rows, "Web shop: suggested price").differs
    assert row(found.rows, "Finished weight").unit == "g"


def test_another_size_tells_the_fit_and_the_aspect_ratio() -> None:
    large = (replace(pendant()[0], size=RingSize(1_200_000, 4_800_000)), *pendant()[1:])
    found = compare(variant("4.0", pendant(), fit="tight"), variant("4.8", large, fit="comfortable"))
    ratio = row(found.rows, "Aspect ratio of the most used ring")
    assert (ratio.right, ratio.unit) == (Decimal(4), "AR")
    fit = row(found.rows, "Fit of the weave")
    assert (fit.left_words, fit.right_words, fit.differs) == ("tight", "comfortable", True)


def test_a_part_on_one_side_only_stands_alone() -> None:
    found = compare(variant("with", pendant()), variant("without box", pendant()[:-1]))
    box = found.group("parts")[-1]
    assert (box.left_words, box.right_words, box.right, box.difference) == ("box", "", None, None)
    assert box.note == "Only on one side."


def test_an_unpriced_part_has_no_difference_and_says_so() -> None:
    found = compare(variant("a", pendant()), variant("b", (replace(pendant()[0], unit_cost=None), *pendant()[1:])))
    first = found.group("parts")[0]
    assert (first.right, first.difference, first.note) == (None, None, "Not priced on both sides.")
    assert row(found.rows, "Materials").note == "One side has guessed or missing prices."


def test_an_impossible_price_has_its_reason_instead_of_a_number() -> None:
    found = compare(variant("a", pendant()), variant("b", pendant(), greedy=True))
    even = row(found.rows, "Stall: break-even")
    assert (even.right, even.difference) == (None, None)
    assert even.note.startswith("Fees take 100 %")


def test_the_same_design_twice_differs_in_nothing() -> None:
    found = compare(variant("a", pendant()), variant("b", pendant()))
    assert not any(each.differs for each in found.rows)
    assert all(each.difference in (0, None) for each in found.rows)
