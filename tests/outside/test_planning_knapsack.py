"""The best mix against published multidimensional knapsack problems and an example of a small studio.

Source of the problems: C. C. Petersen, Computational experience with variants of the Balas algorithm applied to the
selection of R&D projects, Management Science 13(9), 1967, 736-750; the first three of the set mknap1 of the OR-Library.
They were typed from memory: that their published optima come out to the last digit is the check of both.
Here a project is a design that is made once or not at all, and what is limited are items.
"""

from __future__ import annotations

from decimal import Decimal

import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from models.planning.mix import MixPlan, plan_mix
from models.planning.mix_request import MixDesign, MixRequest
from models.planning.recipes import Recipe, RecipeLine, Stock

EURO = 1_000_000

FIRST = """
100 600 1200 2400 500 2000
8 12 13 64 22 41
8 12 13 75 22 41
3 6 4 18 6 4
5 10 8 32 6 12
5 13 8 42 6 20
5 13 8 48 6 20
0 0 0 0 8 0
3 0 4 0 8 0
3 2 4 0 8 4
3 2 4 8 8 4
80 96 20 36 44 48 10 18 22 24
"""
SECOND = """
600.1 310.5 1800 3850 18.6 198.7 882 4200 402.5 327
20 5 100 200 2 4 60 150 80 40
20 7 130 280 2 8 110 210 100 40
60 3 50 100 4 2 20 40 6 12
60 8 70 200 4 6 40 70 16 20
60 13 70 250 4 10 60 90 20 24
60 13 70 280 4 10 70 105 22 28
5 2 20 100 2 5 10 60 0 0
45 14 80 180 6 10 40 100 20 0
55 14 80 200 6 10 50 140 30 40
65 14 80 220 6 10 50 180 30 50
450 540 200 360 440 480 200 360 440 480
"""
THIRD = """
100 220 90 400 300 400 205 120 160 580 400 140 100 1300 650
8 24 13 80 70 80 45 15 28 90 130 32 20 120 40
8 44 13 100 100 90 75 25 28 120 130 32 40 160 40
3 6 4 20 20 30 8 3 12 14 40 6 3 20 5
5 9 6 40 30 40 16 5 18 24 60 16 11 30 25
5 11 7 50 40 40 19 7 18 29 70 21 17 30 25
5 11 7 55 40 40 21 9 18 29 70 21 17 35 25
0 0 1 10 4 10 0 6 0 6 32 3 0 70 10
3 4 5 20 14 20 6 12 10 18 42 9 12 100 20
3 6 9 30 29 20 12 12 10 30 42 18 18 110 20
3 8 9 35 29 20 16 15 10 30 42 20 18 120 20
550 700 130 240 280 310 110 205 260 275
"""


def as_question(problem: str, at_most: int | None) -> MixRequest:
    profits, *rows, capacities = [line.split() for line in problem.strip().splitlines()]
    designs = []
    for number, profit in enumerate(profits):
        lines = tuple(RecipeLine(item, int(row[number]) * 1000) for item, row in enumerate(rows) if int(row[number]))
        recipe = Recipe(str(number), f"Project {number + 1}", lines)
        designs.append(MixDesign(recipe, 0, int(Decimal(profit) * EURO), at_most=at_most))
    return MixRequest(designs, {item: Stock(item, int(each) * 1000) for item, each in enumerate(capacities)})


def best(question: MixRequest) -> MixPlan:
    plan = plan_mix(question)
    assert isinstance(plan, MixPlan)
    assert plan.gap == 0
    return plan


@pytest.mark.parametrize(("problem", "optimum"), [(FIRST, "3800"), (SECOND, "8706.1"), (THIRD, "4015")])
def test_published_problems_reach_their_known_optimum(problem: str, optimum: str) -> None:
    assert best(as_question(problem, at_most=1)).value == Decimal(optimum) * EURO


def test_with_copies_allowed_another_program_finds_the_same() -> None:
    # The same numbers with any whole number of copies; 5600 is from scipy's milp, run here beside it.
    profits, *rows, capacities = [[float(n) for n in line.split()] for line in FIRST.strip().splitlines()]
    whole = milp(
        [-profit for profit in profits], integrality=[1] * len(profits), bounds=Bounds(0),
        constraints=LinearConstraint(rows, ub=capacities),
    )  # fmt: skip
    assert best(as_question(FIRST, at_most=None)).value == 5600 * EURO == round(-whole.fun) * EURO


def test_a_small_studio_with_three_rings_and_clasps() -> None:
    # Made for this project and checked by trying everything: 1200, 500 and 300 rings and 24 clasps. The best is 276 with
    # 2, 4 and 4 pieces, the only such mix; by price alone one would earn 228; one design alone gives 3, 5 or 8 pieces.
    def design(key: str, worth: int, at_most: int, *uses: tuple[int, int]) -> MixDesign:
        lines = tuple(RecipeLine(item, count * 1000) for item, count in (*uses, (4, 1)))
        return MixDesign(Recipe(key, key, lines), 0, worth * EURO, at_most=at_most)

    designs = (
        design("x", 42, 6, (1, 310), (3, 48)),
        design("y", 30, 10, (1, 140), (2, 96)),
        design("z", 18, 12, (2, 24), (3, 36)),
    )
    stock = {item: Stock(item, count * 1000) for item, count in ((1, 1200), (2, 500), (3, 300), (4, 24))}
    plan = best(MixRequest(designs, stock))
    assert (plan.value, plan.pieces) == (276 * EURO, {"x": 2, "y": 4, "z": 4})
    for each, most in zip(designs, (3, 5, 8), strict=True):
        assert best(MixRequest([each], stock, goal="pieces")).value == most
