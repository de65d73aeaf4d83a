"""A design becomes a cost: materials, labour and overhead of one piece, as lines that add up exactly.

Prices are not here (`prices`). Each line's amount is rounded once to a millionth, half even;
every total is the sum of its lines.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from models.costing.exact import MINUTES_PER_HOUR, ONE, ZERO, exactly
from models.costing.inputs import PartInput, ShopRates, WorkInput
from models.costing.labour import Minutes, WorkCounts, cost_labour, counts_of
from models.costing.lines import Line, total_line
from models.costing.rates import YOUR_FIGURE
from models.costing.work_cost import overhead_of
from models.trade.money import millionth
from models.trade.vocabulary.things import ITEM_KINDS

# Parts that are lost a few at a time; a clasp, a box or a run of chain is not, and a single ring is not either.
SPOILED_KINDS = frozenset(ITEM_KINDS.those(lambda kind: kind.spoiled))
# Parts that stay with the piece when it is worn; the rest is not weighed.
WORN_KINDS = frozenset(ITEM_KINDS.those(lambda kind: kind.worn))


@dataclass(frozen=True, slots=True)
class DesignCost:
    """The cost of one piece when `pieces` are made together.

    `materials`, `labour`, `overhead` are of one piece and add up to `per_piece`; `total` is for all the pieces.
    `mass_g` is the finished weight as computed, without the parts in `unweighed`.
    The cost is `provisional` when a part has no price (`unpriced`) or a guessed one (`guessed`),
    or work has no time (`untimed`).
    """

    pieces: int
    materials: Line
    labour: Line
    overhead: Line
    per_piece: Decimal
    total: Decimal
    minutes: Minutes
    counts: WorkCounts
    mass_g: Decimal
    overhead_per_hour: Decimal
    unpriced: tuple[str, ...] = ()
    guessed: tuple[str, ...] = ()
    untimed: tuple[str, ...] = ()
    unweighed: tuple[str, ...] = ()

    @property
    def provisional(self) -> bool:
        """Whether anything in the cost is guessed or missing."""
        return bool(self.unpriced or self.guessed or self.untimed)

    @property
    def line(self) -> Line:
        """The cost of one piece as one tree."""
        return total_line(
            "Cost of one piece",
            (self.materials, self.labour, self.overhead),
            reason="Materials, labour and overhead.",
            source="this costing",
        )

    @property
    def batch(self) -> Line:
        """The cost of all the pieces made together as one tree."""
        return replace(self.line.times(self.pieces), label="Cost of all the pieces")


def chosen(
    parts: Sequence[PartInput], picks: Mapping[str, str] | None = None, *, left_out: frozenset[str] = frozenset()
) -> tuple[PartInput, ...]:
    """The parts of one piece: of each group only the picked choice, and no optional part that is left out by name.

    Of a group without a pick, the first choice is taken.

    Raises: ValueError for a choice that its group does not have.
    """
    picks = picks or {}
    first: dict[str, str] = {}
    known: set[tuple[str, str]] = set()
    for part in parts:
        if part.group:
            first.setdefault(part.group, part.choice)
            known.add((part.group, part.choice))
    for group, choice in picks.items():
        if (group, choice) not in known:
            raise ValueError(f"{group} has no choice {choice}")
    return tuple(
        part
        for part in parts
        if not (part.optional and part.name in left_out)
        and (not part.group or part.choice == picks.get(part.group, first[part.group]))
    )


def allowance_of(part: PartInput, allowance: Decimal) -> Decimal:
    """The fraction added for what is spoiled or dropped: the part's own, else the design's.

    Off by default for findings, chain, packaging and consumables, and for a single ring.
    """
    return usual_allowance(part.kind, part.quantity, part.allowance, allowance)


def usual_allowance(kind: str, quantity: Decimal, own: Decimal | None, allowance: Decimal) -> Decimal:
    """The same for a part of which only its kind, its quantity and its own allowance are known."""
    if own is not None:
        return own
    if kind not in SPOILED_KINDS or quantity <= ONE:
        return ZERO
    return allowance


@exactly
def cost_design(
    parts: Sequence[PartInput],
    work: WorkInput,
    rates: ShopRates,
    *,
    weave_difficulty: int | None = None,
    pieces: int = 1,
    allowance: Decimal | None = None,
) -> DesignCost:
    """The cost of one piece of a design when `pieces` are made together.

    `allowance` is the design's own fraction; None takes the shop's. The allowance is not rounded to whole rings here.
    Raises: ValueError for pieces outside 1 to 10,000 or a difficulty outside 1 to 5.
    """
    spoiled = rates.allowance if allowance is None else allowance
    materials = total_line(
        "Materials",
        [_part_line(part, allowance_of(part, spoiled)) for part in parts],
        reason="Every part at what one unit costs." if parts else "There are no parts yet.",
        source="the parts of the design",
    )
    labour = cost_labour(parts, work, rates, weave_difficulty=weave_difficulty, pieces=pieces)
    overhead = _overhead_line(materials.amount, labour.line.amount, labour.minutes.likely, rates)
    per_piece = materials.amount + labour.line.amount + overhead.amount
    return DesignCost(
        pieces=pieces,
        materials=materials,
        labour=labour.line,
        overhead=overhead,
        per_piece=per_piece,
        total=per_piece * pieces,
        minutes=labour.minutes,
        counts=counts_of(parts, work, rates.small_rings),
        mass_g=sum(
            (part.quantity * part.mass_g for part in parts if part.kind in WORN_KINDS and part.mass_g is not None), ZERO
        ),
        overhead_per_hour=rates.overhead_per_hour if rates.overhead_mode == "hour" else ZERO,
        unpriced=tuple(part.name for part in parts if part.unit_cost is None),
        guessed=tuple(part.name for part in parts if part.unit_cost is not None and part.unit_cost.provisional),
        untimed=labour.untimed,
        unweighed=tuple(part.name for part in parts if part.kind in WORN_KINDS and part.mass_g is None),
    )


def _part_line(part: PartInput, allowance: Decimal) -> Line:
    """What one part costs; with an allowance, what is in the piece and what is lost are lines of their own."""
    cost = part.unit_cost
    if cost is None:
        return Line(
            part.name,
            ZERO,
            part.quantity,
            part.unit,
            reason="No price is known for this part yet, so it counts as nothing.",
            source="not priced",
            provisional=True,
        )
    in_piece = Line(
        part.name if not allowance else "In the piece",
        millionth(part.quantity * cost.amount),
        part.quantity,
        part.unit,
        cost.amount,
        reason=part.purpose or "Quantity times what one costs.",
        source="the design",
        because=cost.lines,
        provisional=cost.provisional,
    )
    if not allowance:
        return in_piece
    lost = part.quantity * allowance
    spoiled = Line(
        "Spoiled or dropped",
        millionth(lost * cost.amount),
        lost,
        part.unit,
        cost.amount,
        reason="An allowance on the quantity, not rounded to whole units.",
        source="the allowance of the part" if part.allowance is not None else "the allowance of the design",
        because=(
            Line(
                "Allowance", allowance, amount_unit="share", reason="Of the quantity in the piece.", source=YOUR_FIGURE
            ),
        ),
        provisional=cost.provisional,
    )
    return Line(
        part.name,
        in_piece.amount + spoiled.amount,
        part.quantity + lost,
        part.unit,
        cost.amount,
        reason=part.purpose or "Quantity and allowance, times what one costs.",
        source="the design",
        lines=(in_piece, spoiled),
        provisional=cost.provisional,
    )


def _overhead_line(materials: Decimal, labour: Decimal, minutes: Decimal, rates: ShopRates) -> Line:
    """Rent, tools, insurance and the like, by the hour or as a share of materials and labour."""
    base = materials + labour
    if rates.overhead_mode == "hour":
        rate = Line(
            "Overhead",
            rates.overhead_per_hour,
            amount_unit="an hour",
            reason="Rent, tools, insurance and the like for an hour of work.",
            source="your settings",
        )
        return Line(
            "Overhead",
            overhead_of(minutes, base, rates),
            minutes,
            "min",
            rates.overhead_per_hour / MINUTES_PER_HOUR,
            reason="The minutes of one piece at your overhead an hour.",
            source="your settings",
            because=(rate,),
        )
    percent = Line(
        "Overhead",
        rates.overhead_percent,
        amount_unit="%",
        reason="Rent, tools, insurance and the like.",
        source="your settings",
    )
    basis = Line("Materials and labour", base, reason="What the per cent is taken of.", source="this costing")
    return Line(
        "Overhead",
        overhead_of(minutes, base, rates),
        reason="A share of materials and labour.",
        source="your settings",
        because=(percent, basis),
    )
