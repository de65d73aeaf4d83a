"""The weave catalogue's geometry against published packings, an optimiser, and plane geometry."""

import math
from decimal import Decimal

import numpy as np
import pytest
from scipy.optimize import brentq, minimize, minimize_scalar

from models.trade.weaves import WEAVES, hung_on, packing_bound

# Source: equal circles in a circle, Graham 1968 (5 to 7), Pirl 1969 (8 to 10), Melissen 1994 (11), Fodor 2000 and 2003
# (12, 13), to five decimals.
PUBLISHED = {
    1: "1.00000", 2: "2.00000", 3: "2.15470", 4: "2.41421", 5: "2.70130", 6: "3.00000", 7: "3.00000", 8: "3.30476",
    9: "3.61313", 10: "3.81303", 11: "3.92380", 12: "4.02960", 13: "4.23607",
}  # fmt: skip


@pytest.mark.parametrize(("k", "ratio"), PUBLISHED.items())
def test_the_bound_is_the_published_packing(k: int, ratio: str) -> None:
    assert abs(packing_bound(k) - Decimal(ratio)) <= Decimal("0.000006")


@pytest.mark.parametrize(
    ("k", "closed_form"),
    [
        # Source: the closed forms that go with the same papers.
        (3, 1 + 2 / math.sqrt(3)),
        (4, 1 + math.sqrt(2)),
        (5, 1 + math.sqrt(2 * (1 + 1 / math.sqrt(5)))),
        (6, 3.0),
        (7, 3.0),
        (8, 1 + 1 / math.sin(math.pi / 7)),
        (9, 1 + math.sqrt(2 * (2 + math.sqrt(2)))),
        (11, 1 + 1 / math.sin(math.pi / 9)),
        (13, 2 + math.sqrt(5)),
    ],
)
def test_the_bound_is_its_closed_form(k: int, closed_form: float) -> None:
    assert float(packing_bound(k)) == pytest.approx(closed_form, abs=1e-6)


@pytest.mark.parametrize("k", range(2, 8))
def test_an_optimiser_packs_no_better_and_as_well(k: int) -> None:
    # Source: scipy's SLSQP: the smallest circle that holds k unit circles, from several seeded starts.
    pairs = np.triu_indices(k, 1)
    random = np.random.default_rng(20 + k)

    def slack(x: np.ndarray) -> np.ndarray:
        points = x[:-1].reshape(k, 2)
        between = ((points[pairs[0]] - points[pairs[1]]) ** 2).sum(axis=1) - 4
        inside = (x[-1] - 1) ** 2 - (points**2).sum(axis=1)
        return np.concatenate([between, inside])

    best = math.inf
    for _ in range(8):
        start = np.append(random.normal(scale=2.0, size=2 * k), 6.0)
        found = minimize(
            lambda x: x[-1], start, constraints={"type": "ineq", "fun": slack}, method="SLSQP", options={"maxiter": 200}
        )
        if slack(found.x).min() > -1e-6:
            best = min(best, float(found.x[-1]))
    assert best == pytest.approx(float(packing_bound(k)), abs=2e-5)


@pytest.mark.parametrize(
    ("wire_nm", "hub_inner_nm", "count"),
    [
        # Source: n = floor(pi / asin(w / (D - w))), plane geometry, worked out by hand; D = 5w and 8w by brute force.
        (1_290_000, 9_525_000, 19),
        (1_023_600, 7_937_500, 21),
        (1_200_000, 12_700_000, 30),
        (800_000, 6_350_000, 21),
        (1_000_000, 5_000_000, 12),
        (1_000_000, 8_000_000, 21),
    ],
)
def test_rings_side_by_side_on_a_hub(wire_nm: int, hub_inner_nm: int, count: int) -> None:
    assert hung_on(wire_nm, hub_inner_nm, 1_000_000) == count
    # That many discs of the wire stand clear on the circle of their centres, and one more does not.
    centres_nm = (hub_inner_nm - wire_nm) / 2
    assert 2 * centres_nm * math.sin(math.pi / count) >= wire_nm
    assert 2 * centres_nm * math.sin(math.pi / (count + 1)) < wire_nm


@pytest.mark.parametrize(
    ("k", "ratio"),
    [
        # Source: hub opening over wire for k rings in one circle, 1 + 1 / sin(pi / k), worked out with another program.
        (3, "2.15470"), (4, "2.41421"), (5, "2.70130"), (6, "3.00000"), (7, "3.30476"), (8, "3.61313"), (9, "3.92380"),
        (10, "4.23607"), (11, "4.54947"), (12, "4.86370"), (13, "5.17858"),
    ],
)  # fmt: skip
def test_the_hub_that_just_holds_so_many_rings(k: int, ratio: str) -> None:
    wire_nm = 1_000_000
    assert hung_on(wire_nm, int(Decimal(ratio) * wire_nm) + 10, 1) == k
    assert hung_on(wire_nm, int(Decimal(ratio) * wire_nm) - 10, 1) == k - 1


def test_the_computed_smallest_double_chain_solves_its_equation() -> None:
    # Source: derived for ideal rings in units of the mean radius: the pitch of a pair,
    # h = min over q of 2 sqrt(1 - q^2) - sqrt(d^2 - 2 (q - d/2)^2), must leave room for the next pair, h = 1 + d/2.
    def room(ratio: float) -> float:
        d = 2 / (ratio + 1)
        reach = d / math.sqrt(2) * (1 - 1e-12)
        pitch = minimize_scalar(
            lambda q: 2 * math.sqrt(max(0.0, 1 - q * q)) - math.sqrt(max(0.0, d * d - 2 * (q - d / 2) ** 2)),
            bounds=(d / 2 - reach, d / 2 + reach),
            method="bounded",
            options={"xatol": 1e-12},
        )
        return float(pitch.fun) - (1 + d / 2)

    smallest = brentq(room, 2.0, 4.0)
    assert smallest == pytest.approx(2.62128, abs=2e-5)
    assert float(WEAVES["chain-2-in-2"].computed_min or 0) == pytest.approx(smallest, abs=5e-4)


@pytest.mark.parametrize(
    ("code", "smallest", "comfortable", "largest"),
    [
        # Source: common practice, no source.
        ("chain-1-in-1", "2.3", "3.5", "10"),
        ("chain-2-in-2", "2.8", "4.0", "7"),
        ("european-4-in-1", "3.0", "4.0", "5.5"),
        ("european-6-in-1", "3.9", "4.6", "6"),
        ("european-8-in-1", "4.6", "5.2", "6.5"),
        ("byzantine", "3.0", "3.5", "4.2"),
        ("box-chain", "3.0", "3.4", "4.2"),
        ("spiral-4-in-1", "3.2", "4.0", "5.0"),
        ("three-ring-rope", "2.6", "2.8", "3.1"),
        ("half-persian-3-in-1", "3.6", "4.1", "5.2"),
        ("half-persian-4-in-1", "4.3", "5.0", "6.0"),
        ("full-persian-6-in-1", "4.4", "5.0", "6.2"),
        ("round-4-in-1", "3.3", "3.8", "4.8"),
        ("japanese-4-in-1", "2.6", "4.0", "8"),
        ("japanese-6-in-1", "3.2", "4.5", "8"),
        ("japanese-12-in-2", "4.3", "5.5", "9"),
        ("barrel-chain", "3.2", "3.6", "4.4"),
        ("shaggy-loops", "3.5", "4.5", "8"),
    ],
)
def test_windows_are_those_of_common_practice(code: str, smallest: str, comfortable: str, largest: str) -> None:
    found = WEAVES[code]
    assert found.smallest_ar == Decimal(smallest)
    assert found.largest_ar == Decimal(largest)
    assert found.band_low <= Decimal(comfortable) <= found.band_high
    assert found.source == "common practice, no source"
