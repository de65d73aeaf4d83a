"""Invented shops with a pace of their own, whose builds are timed as at a real bench: the material of the timing tests."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from models.costing.timings import FinishedBuild, learn

FAMILIES = ("log-normal", "heavy-tailed", "drifting")

# Seconds per unit, as a new shop starts with.
SECONDS = {"setup": 600, "open": 4, "close": 7, "weave": 9, "attach": 40, "tumble": 180, "pack": 240}


@dataclass(frozen=True)
class Truth:
    """How one shop really works: factors per kind and design on the starting rates, and the noise of one build.

    All in logarithms. The shop as a whole lies 40 % (one standard deviation) off the starting rates, its kinds another
    25 %, its designs 12 %, and one build scatters by 8 to 45 %.
    """

    kinds: dict[str, float]
    designs: list[dict[str, float]]
    offsets: list[float]
    noise: float
    family: str
    walk: float
    trend: float


def shop(rng: np.random.Generator, family: str) -> Truth:
    whole = 0.4 * rng.standard_normal()
    designs = []
    for _ in range(int(rng.integers(1, 5))):
        rings = int(rng.integers(40, 600))
        counts = {
            "open": 0.6 * rings,
            "close": rings,
            "weave": 0.6 * rings,
            "attach": int(rng.integers(0, 7)),
            "pack": 1,
        }
        if rng.random() < 0.5:
            counts["tumble"] = 1
        designs.append(counts)
    return Truth(
        kinds={kind: whole + 0.25 * rng.standard_normal() for kind in SECONDS},
        designs=designs,
        offsets=[0.12 * rng.standard_normal() for _ in designs],
        noise=float(np.clip(math.exp(math.log(0.18) + 0.45 * rng.standard_normal()), 0.08, 0.45)),
        family=family,
        walk=0.05 if family == "drifting" else 0.0,
        trend=float(-0.02 + 0.02 * rng.standard_normal()) if family == "drifting" else 0.0,
    )


def start_minutes(counts: dict[str, float], pieces: int) -> dict[str, float]:
    """The minutes of a build at the starting rates."""
    work = {kind: count * pieces * SECONDS[kind] / 60 for kind, count in counts.items() if count}
    return {"setup": SECONDS["setup"] / 60, **work}


def builds(rng: np.random.Generator, truth: Truth, count: int) -> list[FinishedBuild]:
    """Builds one after another, with the noise of the shop's family; one shop in three notes minutes per kind at times."""
    pace, made = 0.0, []
    by_kind = rng.random() < 1 / 3
    for number in range(count):
        pace += truth.trend + truth.walk * rng.standard_normal()
        which = int(rng.integers(len(truth.designs)))
        work = start_minutes(truth.designs[which], int(rng.integers(1, 5)))
        if truth.family == "heavy-tailed":
            noise = 0.75 * truth.noise * rng.standard_t(3)
        else:
            noise = truth.noise * rng.standard_normal()
        factor = math.exp(pace + truth.offsets[which] + noise)
        minutes = {kind: start * math.exp(truth.kinds[kind]) * factor for kind, start in work.items()}
        noted = {}
        if by_kind and rng.random() < 0.5:
            noted = {kind: value * math.exp(0.15 * rng.standard_normal()) for kind, value in minutes.items()}
        total = sum(noted.values()) if noted else sum(minutes.values())
        made.append(FinishedBuild(number, which, work, total_minutes=total, kind_minutes=noted))
    return made


@dataclass(frozen=True)
class Trial:
    """One shop after some builds: whether the range held the next one, and the errors with and without learning."""

    held: bool
    error: float
    start_error: float
    width: float
    noise: float


def trial(rng: np.random.Generator, family: str, history: int = 10) -> Trial:
    truth = shop(rng, family)
    made = builds(rng, truth, history + 1)
    seen, unseen = made[:history], made[history]
    if family == "heavy-tailed" and rng.random() < 0.5:
        # Left running overnight.
        late = int(rng.integers(history))
        seen[late] = FinishedBuild(late, seen[late].design, seen[late].start_minutes, float(rng.uniform(700, 1000)))
    estimate = learn(seen).estimate(unseen.start_minutes, unseen.design)
    took, started = float(unseen.total_minutes or 0), math.fsum(float(each) for each in unseen.start_minutes.values())
    return Trial(
        held=estimate.low <= took <= estimate.high,
        error=abs(math.log(float(estimate.likely) / took)),
        start_error=abs(math.log(started / took)),
        width=math.log(estimate.high / estimate.low),
        noise=truth.noise,
    )
