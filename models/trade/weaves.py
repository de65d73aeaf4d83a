"""The weave catalogue: how many rings pass through one, which aspect ratios it takes, and whether a ring fits.

Not here: how a piece of a weave is laid out. Windows are working experience, never a law: a shop's own record wins, a
band can be replaced, and what was computed for ideal rings only informs.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

from models.trade.measures import format_mm
from models.trade.rings import RingSize, near
from models.trade.vocabulary.things import FitVerdict

Family = Literal["chain", "sheet", "hub"]
Verdict = FitVerdict

COMMON_PRACTICE = "common practice, no source"
NEAR_NM = 30_000
"""How far two rings may differ (0.03 mm) and still share a record of what fitted."""

# Smallest inner diameter / wire for k equal wires through one opening (equal circles in a circle).
# Source: Graham 1968 (5 to 7), Pirl 1969 (8 to 10), Melissen 1994 (11), Fodor 2000 and 2003 (12, 13).
_PACKING = {
    1: Decimal(1), 2: Decimal(2), 3: Decimal("2.154701"), 4: Decimal("2.414214"), 5: Decimal("2.701302"),
    6: Decimal(3), 7: Decimal(3), 8: Decimal("3.304765"), 9: Decimal("3.613126"), 10: Decimal("3.813026"),
    11: Decimal("3.923804"), 12: Decimal("4.029602"), 13: Decimal("4.236068"),
}  # fmt: skip


def packing_bound(k: int) -> Decimal:
    """Return the aspect ratio that k straight wires through one ring need at least, to six decimals.

    Necessary, not sufficient: wires that lean need more. Raises: ValueError outside 1 to 13, where no proof is known.
    """
    try:
        return _PACKING[k]
    except KeyError:
        raise ValueError(f"no bound is known for {k} wires, only for 1 to 13") from None


def hung_on(wire_nm: int, hub_inner_nm: int, hub_wire_nm: int, hung_inner_nm: int | None = None) -> int:
    """Return how many rings of a wire hang side by side round the inside of a larger ring, in one layer.

    n = floor(pi / asin(w / (D - w))), plane geometry without play; 0 when a hung ring's own opening does not exceed the
    larger ring's wire. Raises: ValueError unless every size is above zero.
    """
    if min(wire_nm, hub_inner_nm, hub_wire_nm) <= 0 or (hung_inner_nm is not None and hung_inner_nm <= 0):
        raise ValueError("sizes are above zero")
    if wire_nm > hub_inner_nm or (hung_inner_nm is not None and hung_inner_nm <= hub_wire_nm):
        return 0
    if 2 * wire_nm > hub_inner_nm:
        return 1
    # The small allowance lets rings that just touch count as fitting where floats fall a hair short (D = 3w holds 6).
    return math.floor(math.pi / math.asin(wire_nm / (hub_inner_nm - wire_nm)) + 1e-9)


@dataclass(frozen=True, slots=True)
class Band:
    """A shop's own window for a weave: aspect ratios, from too small to too open. Raises: ValueError out of order."""

    smallest: Decimal
    low: Decimal
    high: Decimal
    largest: Decimal

    def __post_init__(self) -> None:
        if not 0 < self.smallest <= self.low <= self.high <= self.largest:
            raise ValueError("the four aspect ratios rise: smallest, comfortable from, comfortable to, largest")


@dataclass(frozen=True, slots=True)
class FitNote:
    """A shop's own record of how a ring size worked in a weave (named by its code)."""

    weave: str
    size: RingSize
    verdict: Verdict
    note: str = ""


@dataclass(frozen=True, slots=True)
class Weave:
    """One weave. `links` counts the other rings through one inner ring; aspect ratios are plain numbers.

    Hub weaves take the hub's inner diameter over the connecting ring's wire. `computed_min` was found numerically for
    ideal rings in this project: a feasible state, not a proof. `source` covers the window, links and difficulty.
    """

    code: str
    name: str
    family: Family
    links: int
    links_note: str
    difficulty: int
    smallest_ar: Decimal
    band_low: Decimal
    band_high: Decimal
    largest_ar: Decimal
    computed_min: Decimal | None
    packing_bound: Decimal
    source: str
    note: str

    @property
    def band(self) -> Band:
        """Return the catalogue's window."""
        return Band(self.smallest_ar, self.band_low, self.band_high, self.largest_ar)


@dataclass(frozen=True, slots=True)
class Fit:
    """How a ring suits a weave: the verdict, the number that decided it, and why in plain words."""

    weave: Weave
    verdict: Verdict
    aspect_ratio: Decimal
    deciding: Decimal
    reason: str
    own_record: bool


def _weave(
    code: str, name: str, family: Family, links: int, window: str, *, difficulty: int, low: str | None = None,
    computed: str | None = None, links_note: str = "", note: str = "",
) -> Weave:  # fmt: skip
    """Return a weave from its window 'smallest comfortable largest'.

    The comfortable point becomes a band from 0.5 under it to 0.6 over it, held inside the window; the smallest working
    size moves by 0.2 to 0.3 with the cut and the temper, so comfort starts no lower than 0.2 above it.
    """
    smallest, comfortable, largest = (Decimal(each) for each in window.split())
    start = Decimal(low) if low else max(comfortable - Decimal("0.5"), smallest + Decimal("0.2"))
    return Weave(
        code=code,
        name=name,
        family=family,
        links=links,
        links_note=links_note,
        difficulty=difficulty,
        smallest_ar=smallest,
        band_low=start,
        band_high=min(comfortable + Decimal("0.6"), largest),
        largest_ar=largest,
        computed_min=Decimal(computed) if computed else None,
        packing_bound=packing_bound(links),
        source=COMMON_PRACTICE,
        note=note,
    )


_UNSURE = "This count is not certain."
_TWO_OPTIMA = "Two estimates were found for the computed smallest size, "
_HUB = "Aspect ratio: the hub's inner diameter over the connecting ring's wire."
_FLOWER = "The window follows the packing bound: 0.6 over it to work, 1.2 over it for comfort."

_ROWS = (
    _weave("chain-1-in-1", "simple chain 1-in-1", "chain", 2, "2.3 3.5 10", difficulty=1, computed="2.000"),
    _weave("chain-2-in-2", "double chain 2-in-2", "chain", 4, "2.8 4.0 7", difficulty=1, computed="2.621"),
    _weave("european-4-in-1", "European 4-in-1", "sheet", 4, "3.0 4.0 5.5", difficulty=2, low="3.4", computed="2.981"),
    _weave("european-6-in-1", "European 6-in-1", "sheet", 6, "3.9 4.6 6", difficulty=3, computed="4.33",
           note=_TWO_OPTIMA + "4.33 and 4.37."),
    _weave("european-8-in-1", "European 8-in-1", "sheet", 8, "4.6 5.2 6.5", difficulty=4),
    _weave("byzantine", "Byzantine", "chain", 4, "3.0 3.5 4.2", difficulty=2, computed="3.340"),
    _weave("box-chain", "box chain", "chain", 4, "3.0 3.4 4.2", difficulty=3),
    _weave("spiral-4-in-1", "spiral 4-in-1", "chain", 4, "3.2 4.0 5.0", difficulty=2, computed="3.44",
           note=_TWO_OPTIMA + "3.44 and 3.48."),
    _weave("three-ring-rope", "three-ring rope spiral", "chain", 4, "2.6 2.8 3.1", difficulty=4, computed="2.734",
           links_note=_UNSURE),
    _weave("half-persian-3-in-1", "half Persian 3-in-1", "chain", 4, "3.6 4.1 5.2", difficulty=4, computed="3.89",
           links_note=_UNSURE, note=_TWO_OPTIMA + "3.89 and 3.94."),
    _weave("half-persian-4-in-1", "half Persian 4-in-1", "chain", 6, "4.3 5.0 6.0", difficulty=4, links_note=_UNSURE),
    _weave("full-persian-6-in-1", "full Persian 6-in-1", "chain", 6, "4.4 5.0 6.2", difficulty=5, links_note=_UNSURE),
    _weave("round-4-in-1", "round maille 4-in-1 tube", "chain", 4, "3.3 3.8 4.8", difficulty=4),
    _weave("japanese-4-in-1", "Japanese 4-in-1", "hub", 4, "2.6 4.0 8", difficulty=2, note=_HUB),
    _weave("japanese-6-in-1", "Japanese 6-in-1", "hub", 6, "3.2 4.5 8", difficulty=2, note=_HUB),
    _weave("japanese-12-in-2", "Japanese 12-in-2 (double connectors)", "hub", 12, "4.3 5.5 9", difficulty=3,
           computed="4.56", note=_HUB + " The computed smallest size is a weak estimate."),
    _weave("barrel-chain", "barrel chain", "chain", 4, "3.2 3.6 4.4", difficulty=3, links_note=_UNSURE),
    _weave("helm-large", "helm chain, large rings", "chain", 6, "4.2 4.5 6.0", difficulty=3, links_note=_UNSURE,
           note="Two ring sizes: large rings of about 4.5 with small rings of about 3.0."),
    _weave("helm-small", "helm chain, small rings", "chain", 4, "2.7 3.0 4.0", difficulty=3, links_note=_UNSURE,
           note="Two ring sizes: large rings of about 4.5 with small rings of about 3.0."),
    _weave("flower-3", "flower or mobius of 3 rings", "hub", 2, "2.6 3.2 10", difficulty=2, note=_FLOWER),
    _weave("flower-4", "flower or mobius of 4 rings", "hub", 3, "2.75 3.35 10", difficulty=2, note=_FLOWER),
    _weave("flower-5", "flower or mobius of 5 rings", "hub", 4, "3.01 3.61 10", difficulty=2, note=_FLOWER),
    _weave("flower-8", "flower or mobius of 8 rings", "hub", 7, "3.6 4.2 10", difficulty=2, note=_FLOWER),
    _weave("shaggy-loops", "shaggy loops", "chain", 4, "3.5 4.5 8", difficulty=1,
           links_note="Two of the chain and, here, two that hang; more hangers need a larger opening."),
)  # fmt: skip

WEAVES: dict[str, Weave] = {each.code: each for each in _ROWS}


def weave(code: str) -> Weave:
    """Return a weave by its code. Raises: KeyError for an unknown one."""
    return WEAVES[code]


def fit(
    weave: Weave,
    size: RingSize,
    *,
    band: Band | None = None,
    records: Sequence[FitNote] = (),
    near_nm: int = NEAR_NM,
) -> Fit:
    """Return how a ring suits a weave: by the shop's own nearest record, else by the shop's band or the catalogue's.

    Computed sizes of ideal rings are told in the reason and never change the verdict.
    """
    ratio = size.aspect_ratio
    own = _own_record(weave, size, records, near_nm)
    if own:
        record = f"{format_mm(own.size.wire_nm)} x {format_mm(own.size.inner_nm)}"
        reason = f"Your own record of {record} in this weave says {own.verdict}." + (f" {own.note}" if own.note else "")
        return Fit(weave, own.verdict, ratio, own.size.aspect_ratio, reason, own_record=True)
    window = band or weave.band
    whose = "your own band" if band else weave.source
    verdict: Verdict
    if ratio < window.smallest:
        verdict, deciding, says = "too small", window.smallest, "is under {}, the smallest that works"
    elif ratio < window.low:
        verdict, deciding, says = "tight", window.low, "works, but is under the comfortable {}"
    elif ratio <= window.high:
        verdict, deciding, says = "comfortable", window.low, f"is between {{}} and {_plain(window.high)}"
    elif ratio <= window.largest:
        verdict, deciding, says = "loose", window.high, "is over the comfortable {}"
    else:
        verdict, deciding, says = "loose", window.largest, "is over {}: the weave may not hold its shape"
    reason = f"Aspect ratio {_beside(ratio, deciding)} {says.format(_plain(deciding))} ({whose})."
    if weave.computed_min is not None and ratio < weave.computed_min:
        reason += (
            f" For ideal rings {_plain(weave.computed_min)} was computed; real rings differ, so this only informs."
        )
    return Fit(weave, verdict, ratio, deciding, reason, own_record=False)


def fits(
    size: RingSize, *, bands: dict[str, Band] | None = None, records: Sequence[FitNote] = (), near_nm: int = NEAR_NM
) -> list[Fit]:
    """Return the fit of a ring with every weave of the catalogue, in its order; bands are by weave code."""
    own = bands or {}
    return [fit(each, size, band=own.get(each.code), records=records, near_nm=near_nm) for each in WEAVES.values()]


def _own_record(weave: Weave, size: RingSize, records: Sequence[FitNote], near_nm: int) -> FitNote | None:
    """Return the record of the nearest size within the tolerance; of equally near ones the latest."""
    found = [each for each in records if each.weave == weave.code and near(each.size, size, near_nm)]
    if not found:
        return None
    return min(
        reversed(found),
        key=lambda each: abs(each.size.wire_nm - size.wire_nm) + abs(each.size.inner_nm - size.inner_nm),
    )


def _beside(ratio: Decimal, limit: Decimal) -> str:
    """Return a ratio to two decimals, or to as many as it takes to differ from the limit that it is shown beside."""
    for places in range(2, 12):
        text = ratio.quantize(Decimal(1).scaleb(-places))
        if text != limit or ratio == limit:
            return str(text)
    return str(ratio)


def _plain(value: Decimal) -> str:
    """Return a limit without zeros at its end."""
    return format(value.normalize(), "f")
