"""The chain weaves as units repeated along a line: the rings of a unit, which link which, how a unit is made.

Links are given only where they are sure; a shop may give its own for the others. Not here: lengths (chain_sizes),
places in space (chain_place).
"""

from __future__ import annotations

from dataclasses import dataclass

ONE, TWO, BOX, BYZANTINE = "chain-1-in-1", "chain-2-in-2", "box-chain", "byzantine"
ROPE, SPIRAL = "three-ring-rope", "spiral-4-in-1"
HALF_3, HALF_4, FULL_6 = "half-persian-3-in-1", "half-persian-4-in-1", "full-persian-6-in-1"

Rule = tuple[int, int, int]
"""A ring of a unit, how many units on, and the ring there that it links."""


@dataclass(frozen=True, slots=True)
class ChainWeave:
    """One chain weave.

    `roles` names the rings of a unit; `rules` is None where the links are not sure. `finish` are the rings of one more
    unit that end an open chain, `start` those that it begins with. `abreast` is how many rings lie side by side at an
    end: with it (rings - abreast) x pitch per ring + outer diameter is the pulled length. `least_loop` is the fewest
    units of a closed loop. `pulled` holds pulled pitch per ring / inner diameter by aspect ratio, past the solved
    states.
    """

    code: str
    roles: tuple[str, ...]
    rules: tuple[Rule, ...] | None
    start: tuple[int, ...]
    finish: tuple[int, ...] = ()
    abreast: int = 1
    least_loop: int = 3
    pulled: tuple[tuple[float, float], ...] = ()
    words: tuple[str, ...] = ()
    note: str = ""

    @property
    def unit_rings(self) -> int:
        """Return how many rings a unit has."""
        return len(self.roles)


def _pairs(a: int, units: int, b: int) -> tuple[Rule, ...]:
    """Return the four links of the pair that begins at ring a with the pair that begins at ring b."""
    return tuple((x, units, y) for x in (a, a + 1) for y in (b, b + 1))


_UNSURE = "Which rings link which is not certain here, so links are counted only where you give them yourself."
_SWATCH = "The length comes from your measured swatch."

_ROWS = (
    ChainWeave(
        ONE, ("ring",), ((0, 1, 0),), start=(0,), words=("Pass each ring through the one before, and close it.",)
    ),
    ChainWeave(
        TWO,
        ("ring", "ring"),
        _pairs(0, 1, 0),
        start=(0, 1),
        abreast=2,
        words=("Pass a ring through both rings of the pair before, and close it.", "Lay a second ring beside it."),
    ),
    ChainWeave(
        BOX,
        ("first pair", "first pair", "folded pair", "folded pair"),
        (*_pairs(0, 0, 2), *_pairs(2, 1, 0)),
        start=(0, 1),
        finish=(0, 1),
        abreast=2,
        words=(
            "Pass a pair of rings through the pair before, and a second pair through the first.",
            "Fold the second pair back, one ring to each side, and hold it there.",
            "Part the first pair: the next pair passes between them, through the folded rings.",
        ),
        note=_SWATCH,
    ),
    ChainWeave(
        BYZANTINE,
        ("connecting pair", "connecting pair", "knot pair", "knot pair", "folded pair", "folded pair"),
        (*_pairs(0, 0, 2), *_pairs(2, 0, 4), *_pairs(4, 1, 0)),
        start=(0, 1),
        finish=(0, 1),
        abreast=2,
        words=(
            "Pass a pair of rings through the connecting pair, and a second pair through that one.",
            "Fold the second pair back, one ring to each side, and hold it there.",
            "Part the first pair: the next connecting pair passes between them, through the folded rings.",
        ),
    ),
    ChainWeave(
        ROPE,
        ("ring",),
        ((0, 1, 0), (0, 2, 0)),
        start=(0,),
        least_loop=5,
        # Source: ideal rings, solved numerically in this project; half the inner diameter from AR 4 up.
        pulled=((3.6, 0.4944), (4.0, 0.5), (20.0, 0.5)),
        words=("Pass each ring through the two before, always the same way round, and close it.",),
    ),
    ChainWeave(
        SPIRAL,
        ("ring",),
        ((0, 1, 0), (0, 2, 0)),
        start=(0,),
        least_loop=5,
        # Source: ideal rings, solved numerically in this project.
        pulled=((3.5, 0.3242), (3.53, 0.3277)),
        words=("Pass each ring through the two before so that it lies round the spiral, and close it.",),
    ),
    ChainWeave(
        HALF_3, ("ring",), None, start=(0,), words=("Weave each ring through the ones before, and close it.",),
        note=f"{_UNSURE} {_SWATCH}",
    ),
    ChainWeave(
        HALF_4, ("ring",), None, start=(0,), words=("Weave each ring through the ones before, and close it.",),
        note=f"{_UNSURE} {_SWATCH}",
    ),
    ChainWeave(
        FULL_6, ("ring", "ring"), None, start=(0, 1), abreast=2,
        words=("Weave one ring from each side through the ones before, and close it.",),
        note=f"{_UNSURE} {_SWATCH}",
    ),
)  # fmt: skip

CHAINS: dict[str, ChainWeave] = {each.code: each for each in _ROWS}
