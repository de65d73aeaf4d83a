"""The work sheet and the kit: materials with spares, prepared rings by bag, stages with the state after each.

Not here: the steps themselves (work, chain_work), prices, how the sheet is printed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import ROUND_CEILING, Decimal
from typing import Literal

from models.layouts.engine.items import Items
from models.layouts.engine.net import Net
from models.layouts.steps.work import OrderOfWork, Step
from models.trade.measures import format_mm

MOST_STAGES = 8

# Common practice, no source.
TOOLS = (
    "Two pairs of flat or chain-nosed pliers with smooth jaws",
    "A safety pin or a piece of wire to hold the first row",
    "A tray or cloth that keeps rings from rolling",
)
CAUTIONS = (
    "Wear eye protection when you cut rings or trim wire.",
    "Close each ring so that its ends meet: open ends scratch and catch.",
    "Small rings can be swallowed: keep them away from small children.",
)


@dataclass(frozen=True, slots=True)
class Material:
    """One item of the piece: how many it takes, how many spare, the size in words; `finding` for what is no ring."""

    key: str
    label: str
    size: str
    needed: int
    spare: int
    finding: bool

    @property
    def total(self) -> int:
        """Return how many to lay ready."""
        return self.needed + self.spare


@dataclass(frozen=True, slots=True)
class Bag:
    """Prepared rings of one item: closed beforehand, or opened; spares lie with the opened ones."""

    key: str
    label: str
    state: Literal["closed", "open", "finding"]
    needed: int
    spare: int

    @property
    def total(self) -> int:
        """Return how many are in the bag."""
        return self.needed + self.spare


@dataclass(frozen=True, slots=True)
class Stage:
    """Some steps of the work and the state after them: the rings in the piece by then, and those that are new."""

    title: str
    lines: tuple[str, ...]
    present: tuple[int, ...]
    fresh: tuple[int, ...]


@dataclass(frozen=True, slots=True)
class WorkSheet:
    """All that a sheet shows beside its pictures."""

    materials: tuple[Material, ...]
    bags: tuple[Bag, ...]
    stages: tuple[Stage, ...]
    tools: tuple[str, ...]
    cautions: tuple[str, ...]


def work_sheet(
    net: Net,
    items: Items,
    work: OrderOfWork,
    *,
    spare_share: Decimal = Decimal("0.05"),
    most_stages: int = MOST_STAGES,
    cautions: Sequence[str] = CAUTIONS,
) -> WorkSheet:
    """Return the work sheet of a piece. Spares are a share of each item's rings, rounded up; findings have none.

    Raises: ValueError for a share below zero or above one, or for no stages.
    """
    if not 0 <= spare_share <= 1 or most_stages < 1:
        raise ValueError("spares are a share from 0 to 1, in at least one stage")
    materials: list[Material] = []
    bags: list[Bag] = []
    for key, count in net.counts.items():
        item = items.get(key)
        label = item.label if item else key
        finding = item is not None and item.finding
        spare = 0 if finding else _spare(count, spare_share)
        size = ""
        if item is not None and item.size is not None and not finding:
            size = f"{format_mm(item.size.wire_nm)} wire · {format_mm(item.size.inner_nm)} inside"
        materials.append(Material(key, label, size, count, spare, finding))
        if finding:
            bags.append(Bag(key, label, "finding", count, 0))
            continue
        shut, opened = work.prepared.closed.get(key, 0), work.prepared.opened.get(key, 0)
        if shut:
            bags.append(Bag(key, label, "closed", shut, 0 if opened else spare))
        if opened:
            bags.append(Bag(key, label, "open", opened, spare))
    return WorkSheet(tuple(materials), tuple(bags), stages_of(work.steps, most_stages), TOOLS, tuple(cautions))


def _spare(count: int, share: Decimal) -> int:
    """Return how many spare rings go with so many, rounded up."""
    return int((share * count).to_integral_value(rounding=ROUND_CEILING))


def stages_of(steps: Sequence[Step], most: int = MOST_STAGES) -> tuple[Stage, ...]:
    """Return the steps in at most so many stages of about as many rings each; a step is never divided."""
    total = sum(len(step.added) for step in steps)
    stages: list[Stage] = []
    present: list[int] = []
    open_steps: list[Step] = []
    done = 0
    for place, step in enumerate(steps):
        open_steps.append(step)
        done += len(step.added)
        last = place == len(steps) - 1
        # As few steps a stage as there are stages for; then by rings, so that early rows are not crowded together.
        few = len(steps) <= most
        if not (last or few or (done * most >= total * (len(stages) + 1) and len(stages) < most - 1)):
            continue
        fresh = tuple(index for each in open_steps for index in each.added)
        present += fresh
        title = open_steps[0].title if len(open_steps) == 1 else f"{open_steps[0].title} to {open_steps[-1].title}"
        lines = tuple(line for each in open_steps for line in _lines(each, titled=len(open_steps) > 1))
        stages.append(Stage(title, lines, tuple(sorted(present)), tuple(sorted(fresh))))
        open_steps = []
    return tuple(stages)


def _lines(step: Step, *, titled: bool) -> list[str]:
    """Return the lines of a step, its title before the first where several steps share a stage."""
    lines = [*step.lines, *step.extras]
    if titled and lines:
        lines[0] = f"{step.title}: {lines[0]}"
    return lines


@dataclass(frozen=True, slots=True)
class ClassLine:
    """One bag of a kit for a class: how many each person gets, and how many for all."""

    label: str
    state: str
    each: int
    people: int

    @property
    def total(self) -> int:
        """Return how many for all people."""
        return self.each * self.people


def class_lines(bags: Sequence[Bag], people: int) -> tuple[ClassLine, ...]:
    """Return the bags of a kit for so many people, spares with each. Raises: ValueError for fewer than one person."""
    if people < 1:
        raise ValueError("a class has at least one person")
    return tuple(ClassLine(bag.label, bag.state, bag.total, people) for bag in bags)
