"""Words of the stock ledger: movements, acts, reasons, and how sure a count is."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from models.trade.vocabulary.terms import Term, Vocabulary, closed, opened

MovementKind = Literal[
    "receipt", "issue", "return", "scrap", "count", "sale", "transfer", "reversal", "revalue", "correction", "carried"
]
ActKind = Literal[
    "receive", "count", "scrap", "sell", "move", "take_out", "finish", "abandon", "make_rings", "process", "unpick",
    "give", "revalue", "correct_cost", "undo",
]  # fmt: skip
Rough = Literal["", "about", "plenty"]
HolderKind = Literal["build"]
Valuation = Literal["fifo", "average"]
ShelfState = Literal["there", "low", "out", "rough", "dead"]
MassSource = Literal["sample", "lot", "learned", "measured", "computed"]
CostOf = Literal["total", "each", "pack"]
Leaves = Literal["scrap", "give", "sell"]


@dataclass(frozen=True, slots=True, kw_only=True)
class KindOfMovement(Term):
    """A kind of movement: `sign` is 1 where stock comes in by it, -1 where it is used, 0 where neither.

    One with `value_only` changes what a lot is worth and nothing else.
    """

    sign: Literal[-1, 0, 1] = 0
    value_only: bool = False


MOVEMENT_KINDS: Vocabulary[MovementKind, KindOfMovement] = closed(
    "kind of movement",
    {
        "receipt": KindOfMovement(says="came in", sign=1),
        "issue": KindOfMovement(says="taken out", sign=-1),
        "return": KindOfMovement(says="put back", sign=1),
        "scrap": KindOfMovement(says="left", sign=-1),
        "count": KindOfMovement(says="counted"),
        "sale": KindOfMovement(says="sold", sign=-1),
        "transfer": KindOfMovement(says="moved"),
        "reversal": KindOfMovement(says="taken back"),
        "revalue": KindOfMovement(says="revalued", value_only=True),
        "correction": KindOfMovement(says="cost corrected", value_only=True),
        "carried": KindOfMovement(says="of it, left already", value_only=True),
    },
)
COMING = frozenset(MOVEMENT_KINDS.those(lambda kind: kind.sign > 0))
"""The movements by which stock comes in."""
LEAVING = frozenset(MOVEMENT_KINDS.those(lambda kind: kind.sign < 0))
"""The movements by which stock is used."""
VALUE_ONLY = frozenset(MOVEMENT_KINDS.those(lambda kind: kind.value_only))
"""The movements that change what a lot is worth and nothing else."""
BUILD_MOVEMENTS: tuple[MovementKind, ...] = ("issue", "return", "scrap")
"""The movements of what a build takes, puts back and spoils."""
MATERIAL_MOVEMENTS: tuple[MovementKind, ...] = ("issue", "return", "receipt")
"""The movements of what a build or a job uses and makes."""
BESIDE_MATERIAL: tuple[MovementKind, ...] = ("revalue", "carried", "scrap")
"""What else a build or a job may move."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KindOfAct(Term):
    """A kind of act: `moves` are its movements beside shifted value; None for builds and jobs, which move material."""

    moves: tuple[MovementKind, ...] | None = None


ACT_KINDS: Vocabulary[ActKind, KindOfAct] = closed(
    "kind of act",
    {
        "receive": KindOfAct(says="received", moves=("receipt",)),
        "count": KindOfAct(says="counted", moves=("count",)),
        # What is spoiled of precious metal is received as scrap by weight.
        "scrap": KindOfAct(says="scrapped", moves=("scrap", "receipt")),
        "sell": KindOfAct(says="sold", moves=("sale",)),
        "move": KindOfAct(says="moved", moves=("transfer",)),
        "take_out": KindOfAct(says="taken out for a build"),
        "finish": KindOfAct(says="finished a build"),
        "abandon": KindOfAct(says="gave up a build"),
        "make_rings": KindOfAct(says="made rings"),
        "process": KindOfAct(says="worked on a lot"),
        "unpick": KindOfAct(says="unpicked pieces"),
        "give": KindOfAct(says="given away", moves=("scrap",)),
        "revalue": KindOfAct(says="revalued", moves=()),
        "correct_cost": KindOfAct(says="corrected a cost", moves=("correction", "carried")),
        # What comes back at a cost that was corrected since is brought to the corrected one.
        "undo": KindOfAct(says="taken back", moves=("reversal", "carried")),
    },
)
BUILD_ACTS: tuple[ActKind, ...] = ("take_out", "finish", "abandon")
"""The acts of a build."""
MAKING_ACTS: tuple[ActKind, ...] = ("make_rings", "process", "unpick")
"""The acts that take material and make something of it at once."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Reason(Term):
    """Why stock left without a build, and by which act; what it `spoils` of precious metal is kept as scrap."""

    act: Leaves = "scrap"
    spoils: bool = False


LEAVING_REASONS = opened(
    "reason",
    {
        "spoiled": Reason(says="spoiled", spoils=True),
        "lost": Reason(says="lost"),
        "gift": Reason(says="given away", act="give"),
        "sample": Reason(says="given as a sample", act="give"),
        "sold": Reason(says="sold", offered="Sold as it is", act="sell"),
    },
)
"""Why stock leaves without a build."""
SOLD = "sold"
"""The usual reason of a sale; its movement keeps none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CountMark(Term):
    """How sure a count is: `before` stands before its figure, `counted` where the figure is a guess of ours."""

    before: str
    counted: str


ROUGH: Vocabulary[Literal["about", "plenty"], CountMark] = closed(
    "mark of a rough count",
    {
        "about": CountMark(says="about", before="about ", counted="about "),
        "plenty": CountMark(says="plenty", before="plenty, ", counted="plenty, taken as "),
    },
)
"""From surer to less sure; a sure count is ''."""
SURENESS: tuple[Rough, ...] = ("", *ROUGH)
"""Every mark of a count, the surest first."""

HOLDER_KINDS: Vocabulary[HolderKind, Term] = closed("kind of holder", {"build": Term(says="a build")})
"""Whom something may be reserved for."""

VALUATIONS: Vocabulary[Valuation, Term] = closed(
    "way of valuing",
    {
        "fifo": Term(
            says="first in, first out",
            offered="First in, first out: what leaves costs what its own lot cost, and the oldest lots go first",
        ),
        "average": Term(
            says="weighted average",
            offered="Weighted average: what leaves costs the average of all that is there",
        ),
    },
)

SHELF_STATES: Vocabulary[ShelfState, Term] = closed(
    "what is on the shelf",
    {
        "there": Term(says="in stock"),
        "low": Term(says="low: at or under the reorder point"),
        "out": Term(says="none left"),
        "rough": Term(says="roughly counted"),
        "dead": Term(says="lying dead"),
    },
)
"""What a list may be narrowed to: anything there, at or under the reorder point, none left, roughly counted, or not
used for long; nothing said is ''."""

MASS_SOURCES: Vocabulary[MassSource, Term] = closed(
    "where a mass comes from",
    {
        "sample": Term(says="the counted sample"),
        "lot": Term(says="samples of this lot"),
        "learned": Term(says="learned from weighings"),
        "measured": Term(says="the item's weighed mass"),
        "computed": Term(says="computed from its size"),
    },
)
"""Where the mass of one ring comes from, the surest first; '' takes the surest that is there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KindOfCost(Term):
    """What a typed cost of a receipt is of, and the field of a call or a file that it is."""

    field: str


COSTS: Vocabulary[CostOf, KindOfCost] = closed(
    "what a cost is of",
    {
        "total": KindOfCost(says="for all of it", field="total_cost"),
        "each": KindOfCost(says="each", field="unit_cost"),
        "pack": KindOfCost(says="a pack", field="pack_price"),
    },
)
