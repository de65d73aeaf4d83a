"""The generator of the solved chain states: run it to print the tables that `models/layouts/places/chain_states.py` holds.

    python -m tests.outside.chain_solver

Method: sequential linear programming with a shrinking trust region (scipy's HiGHS). Unknowns are the few numbers of a
symmetric chain; every distance from sampled points of one ring to another ring (exact for each point) is kept at a wire
or more, to first order. First the pulled length is maximised; then the chain is slackened by 0.4 % and the clearance is
maximised, so that a drawing's rings never touch by rounding. Lengths are in units of the mean radius of a ring.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import combinations

import numpy as np
from scipy.optimize import linprog

Ring = tuple[np.ndarray, np.ndarray]
Model = Callable[[np.ndarray, float], dict[str, Ring]]
SLACK = 0.996
POINTS = 120


def screw_chain(state: np.ndarray, _wire: float) -> dict[str, Ring]:
    """Seven rings of a chain of single rings; each is the one before, turned and moved along the line.

    State: pitch, distance of the centres from the line, twist, tilt of the normal against the line.
    """
    pitch, off, twist, tilt = state
    rings = {}
    for number in range(7):
        c, s = np.cos(number * twist), np.sin(number * twist)
        centre = np.array([number * pitch, off * c, off * s])
        rings[str(number)] = (centre, np.array([np.cos(tilt), np.sin(tilt) * s, -np.sin(tilt) * c]))
    return rings


def byzantine(state: np.ndarray, wire: float) -> dict[str, Ring]:
    """Three connecting pairs (A, D, Z), with the knots between and beside them, of a chain that turns by 90 degrees a unit.

    State: unit length, half the way between the pairs of a knot (below 0: folded past each other), distance of a knot's
    rings from the line, their tilt.
    """
    unit, half, off, tilt = state
    s, c = np.sin(tilt), np.cos(tilt)
    rings = {}
    for number, start in ((0, -1.5), (1, -0.5), (2, 0.5)):
        # y and z take turns: the pairs of one knot lie where the next knot's other pairs do.
        turn = (lambda v: (v[0], v[1], v[2])) if number % 2 else (lambda v: (v[0], v[2], v[1]))
        for side in (1, -1):
            x = start * unit
            near, far = x + unit / 2 - half, x + unit / 2 + half
            rings[f"A{number}{side}"] = (np.array(turn((x, side * wire / 2, 0))), np.array(turn((0.0, 1.0, 0.0))))
            rings[f"B{number}{side}"] = (np.array(turn((near, 0, side * off))), np.array(turn((side * s, 0.0, c))))
            rings[f"C{number}{side}"] = (np.array(turn((far, side * off, 0))), np.array(turn((-side * s, c, 0.0))))
    return rings


def points(ring: Ring, count: int = POINTS) -> np.ndarray:
    centre, normal = ring
    helper = np.array([0.0, 0.0, 1.0]) if abs(normal[2]) < 0.9 else np.array([1.0, 0.0, 0.0])
    first = np.cross(normal, helper)
    first /= np.linalg.norm(first)
    second = np.cross(normal, first)
    angle = np.arange(count) * 2 * np.pi / count
    return centre + np.cos(angle)[:, None] * first + np.sin(angle)[:, None] * second


def to_circle(where: np.ndarray, ring: Ring) -> np.ndarray:
    away = where - ring[0]
    high = away @ ring[1]
    flat = np.sqrt(np.maximum((away * away).sum(axis=1) - high * high, 0))
    return np.sqrt((flat - 1) ** 2 + high * high)


def distances(rings: dict[str, Ring], pairs: list[tuple[str, str]]) -> np.ndarray:
    found = [to_circle(points(rings[a]), rings[b]) for a, b in pairs]
    found += [to_circle(points(rings[b]), rings[a]) for a, b in pairs]
    return np.concatenate(found)


def pairs_of(model: Model, state: np.ndarray, wire: float) -> list[tuple[str, str]]:
    """The pairs of rings that are close enough to touch, those of a touching pair left out."""
    rings = model(state, wire)
    together = [(a, b) for a, b in combinations(rings, 2) if np.linalg.norm(rings[a][0] - rings[b][0]) < 2.9]
    return [(a, b) for a, b in together if not (a[0] == b[0] == "A" and a[1] == b[1])]


def pulled(model: Model, state: np.ndarray, wire: float) -> np.ndarray:
    """The state with the greatest first number (the length) in which no wires overlap, from a state nearby."""
    state = np.array(state, float)
    pairs = pairs_of(model, state, wire)
    reach = 0.04
    for _ in range(90):
        here = distances(model(state, wire), pairs)
        step, _ = _step(model, state, wire, pairs, here, reach, free=range(len(state)), length=True)
        if step is None:
            break
        moved = distances(model(state + step, wire), pairs).min()
        gain = (state + step)[0] - 30 * max(0, wire - moved) - (state[0] - 30 * max(0, wire - here.min()))
        if gain > -1e-12:
            state = state + step
            if np.abs(step).max() < 1e-9:
                break
        else:
            reach /= 2
            if reach < 1e-8:
                break
    return state


def clearest(model: Model, state: np.ndarray, wire: float) -> tuple[np.ndarray, float]:
    """The state of the same length with the greatest clearance, and that clearance in wires."""
    state = np.array(state, float)
    pairs = pairs_of(model, state, wire)
    reach = 0.03
    room = distances(model(state, wire), pairs).min()
    for _ in range(90):
        here = distances(model(state, wire), pairs)
        step, _ = _step(model, state, wire, pairs, here, reach, free=range(1, len(state)), length=False)
        if step is None:
            break
        moved = distances(model(state + step, wire), pairs).min()
        if moved > room + 1e-12:
            done = moved - room < 1e-9
            state, room = state + step, moved
            if done:
                break
        else:
            reach /= 2
            if reach < 1e-7:
                break
    return state, room / wire


def _step(  # noqa: PLR0917
    model: Model, state: np.ndarray, wire: float, pairs: list[tuple[str, str]], here: np.ndarray, reach: float,
    *, free: range, length: bool,
) -> tuple[np.ndarray | None, float]:  # fmt: skip
    active = np.where(here < (1.25 * wire if length else 1.4 * here.min()))[0]
    slopes = np.zeros((len(active), len(free)))
    for column, axis in enumerate(free):
        moved = state.copy()
        moved[axis] += 1e-6
        slopes[:, column] = (distances(model(moved, wire), pairs)[active] - here[active]) / 1e-6
    last = np.ones((len(active), 1))
    if length:
        cost = np.concatenate([-np.eye(len(free))[0], [50.0]])
        found = linprog(
            cost, np.hstack([-slopes, -last]), here[active] - wire, bounds=[(-reach, reach)] * len(free) + [(0, None)]
        )
    else:
        cost = np.concatenate([np.zeros(len(free)), [-1.0]])
        found = linprog(
            cost, np.hstack([-slopes, last]), here[active], bounds=[(-reach, reach)] * len(free) + [(None, None)]
        )
    if found.status != 0:
        return None, 0.0
    step = np.zeros(len(state))
    step[list(free)] = found.x[:-1]
    return step, float(found.x[-1])


SEEDS: dict[str, tuple[Model, float, tuple[float, ...], list[float]]] = {
    "three-ring-rope": (
        screw_chain, 3.0, (0.7229, 0.0874, 2.0989, 1.797), [2.8, 2.85, 2.9, 2.95, 3.0, 3.1, 3.2, 3.3, 3.4, 3.5, 3.6],
    ),
    "spiral-4-in-1": (
        screw_chain, 4.0, (0.5647, 0.5702, 2.6409, 2.1329),
        [3.53, 3.56, 3.6, 3.65, 3.7, 3.8, 3.9, 4.0, 4.1, 4.2, 4.3, 4.4, 4.5, 4.6, 4.7, 4.8, 4.9, 5.0],
    ),
    "byzantine": (
        byzantine, 4.0, (2.7646, -0.0591, 0.6076, -0.4194),
        [3.4, 3.45, 3.5, 3.6, 3.7, 3.8, 3.9, 4.0, 4.1, 4.2, 4.3, 4.4, 4.5, 4.6, 4.7, 4.8, 4.9, 5.0],
    ),
}  # fmt: skip


def solved(code: str, ratio: float, near: np.ndarray) -> tuple[np.ndarray, np.ndarray, float]:
    """The pulled state at an aspect ratio, the clear state of a drawing, and its clearance in wires."""
    wire = 2 / (ratio + 1)
    tight = pulled(SEEDS[code][0], near, wire)
    slack = tight.copy()
    slack[0] *= SLACK
    clear, room = clearest(SEEDS[code][0], slack, wire)
    return tight, clear, room


def table(code: str) -> dict[float, tuple[np.ndarray, np.ndarray, float]]:
    """The states of a weave at its aspect ratios, followed outward from its seed."""
    _, start, seed, ratios = SEEDS[code]
    found = {}
    for way in ([each for each in ratios if each >= start], [each for each in ratios[::-1] if each < start]):
        state = np.array(seed)
        for ratio in way:
            found[ratio] = solved(code, ratio, state)
            state = found[ratio][0]
    return dict(sorted(found.items()))


if __name__ == "__main__":
    for weave in SEEDS:
        print(weave)  # noqa: T201 - a generator prints its table
        for ratio, (tight, clear, room) in table(weave).items():
            share = tight[0] / (2 - 2 / (ratio + 1)) / (6 if weave == "byzantine" else 1)
            numbers = ", ".join(f"{each:.5f}" for each in clear)
            print(f"    ({ratio:g}, {numbers}),  # pulled {share:.4f}, clear {room:.4f}")  # noqa: T201
