"""The order of work of a chain: how a unit is made, then unit by unit, what repeats told once.

Not here: sheets (work).
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from models.layouts.engine.chain_weaves import CHAINS
from models.layouts.engine.chains import Chain, links_known
from models.layouts.engine.items import Items
from models.layouts.engine.net import Net
from models.layouts.steps.closing import Closed, closed_faults, largest_closed, may_close, prepared
from models.layouts.steps.route import Progress
from models.layouts.steps.words import groups_of, number, rings
from models.layouts.steps.work import OrderOfWork, Step, hung_steps, times
from models.trade.breaks import go_on
from models.trade.faults import Fault

_LONGEST_CYCLE = 3
_NOT_SURE = "Which rings link which is not certain, so only the first ring is sure to be closed."


@dataclass(frozen=True, slots=True)
class _Unit:
    """What is done at one unit, and the rings it adds."""

    number: int
    lines: tuple[str, ...]
    added: tuple[int, ...]


def chain_work(
    net: Net, chain: Chain, items: Items, closed: Collection[int] | None = None
) -> OrderOfWork | tuple[Fault, ...]:
    """Return the order of work of a chain.

    `closed` is the maker's own set of rings closed beforehand, any set with no two linked; else the largest set, or the
    first ring alone where links are not sure.
    """
    best = best_closed(net, items, chain)
    shut = frozenset(closed) if closed is not None else best.rings
    faults = closed_faults(net, items, shut)
    if faults:
        return faults
    progress = Progress.start(net, shut)
    steps = [Step("How a unit is made", CHAINS[chain.weave].words, ())]
    steps += _told(_units(progress, chain, items))
    if chain.closed:
        steps.append(
            Step(
                "The loop", ("The last rings pass through the first ones as well: bring the ends together first.",), ()
            )
        )
    steps += hung_steps(progress, items, chain.attachments, chain=True)
    return OrderOfWork(prepared(net, shut), shut, tuple(steps), len(best.rings), best.words)


def best_closed(net: Net, items: Items, chain: Chain) -> Closed:
    """Return the most that can be closed beforehand; the first ring alone where the links are not sure."""
    if links_known(chain):
        return largest_closed(net, items)
    return Closed(frozenset(may_close(net, items)[0][:1]), 1, _NOT_SURE)


def _units(progress: Progress, chain: Chain, items: Items) -> list[_Unit]:
    """Weave the chain unit by unit and return what was done at each."""
    net, kind = progress.net, CHAINS[chain.weave]
    units: list[_Unit] = []
    for unit in range(-(-net.woven // kind.unit_rings)):
        go_on()
        members = range(unit * kind.unit_rings, min((unit + 1) * kind.unit_rings, net.woven))
        lines: list[str] = []
        laid: list[int] = []
        if unit == 0:
            laid = [index for index in kind.start if index in progress.closed]
            progress.lay(laid)
            if laid:
                lines.append(f"Begin with {rings(len(laid))}, closed.")
        acts = progress.weave([i for i in members if not progress.present[i] and i not in progress.closed])
        if links_known(chain):
            lines += [f"{times(items, each)}{each.words}." for each in groups_of(net, items, acts, unit=unit)]
        elif acts:
            lines.append(f"{rings(len(acts)).capitalize()}, woven in as shown.")
        added = [*laid, *(index for act in acts for index in (act.ring, *act.picks))]
        units.append(_Unit(unit, tuple(lines), tuple(dict.fromkeys(added))))
    return units


def _told(units: list[_Unit]) -> list[Step]:
    """Return the steps of the units, a run that repeats every one, two or three units told once."""
    steps: list[Step] = []
    place = 0
    while place < len(units):
        cycle, times_over = _repeat(units, place)
        told = units[place : place + cycle]
        steps += [
            Step(f"Unit {each.number + 1}", each.lines, each.added, (each.number + 1,)) for each in told if each.lines
        ]
        place += cycle
        if times_over > 1:
            again = units[place : place + cycle * (times_over - 1)]
            steps.append(_again(again, cycle, times_over))
            place += len(again)
    return steps


def _again(again: list[_Unit], cycle: int, times_over: int) -> Step:
    """Return the step that repeats the last units."""
    first, last = again[0].number + 1, again[-1].number + 1
    title = f"Unit {first}" if first == last else f"Units {first} to {last}"
    of = "unit" if cycle == 1 else f"{number(cycle)} units"
    often = "" if times_over == 2 else ", again and again"
    added = tuple(index for unit in again for index in unit.added)
    return Step(title, (f"Do the same as for the last {of}{often}.",), added, tuple(range(first, last + 1)))


def _repeat(units: list[_Unit], place: int) -> tuple[int, int]:
    """Return how many units from a place on repeat together, and how often: (1, 1) when nothing repeats."""
    best = (1, 1)
    for cycle in range(1, _LONGEST_CYCLE + 1):
        pattern = [unit.lines for unit in units[place : place + cycle]]
        if len(pattern) < cycle:
            break
        count = 1
        while [unit.lines for unit in units[place + count * cycle : place + (count + 1) * cycle]] == pattern:
            count += 1
        if count > 1 and cycle * count > best[0] * best[1] + cycle - 1:
            best = (cycle, count)
    return best
