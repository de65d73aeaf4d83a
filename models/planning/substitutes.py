"""Which rings may stand in for others: those the person declared, and near sizes of the same metal and look.

They are proposed with what would differ and how many pieces more they would give; nothing here uses them silently.
A stand-in replaces its ring in whole pieces: one piece is never made of both.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from graphlib import CycleError, TopologicalSorter

from models.planning.makeable import Answer, makeable
from models.planning.recipes import Recipe, Stock, as_mapping, stock_of, taken_milli
from models.planning.troubles import Trouble, listed
from models.trade.measures import format_mm
from models.trade.rings import RingSize, near
from models.trade.vocabulary.plans import SubstituteWhy
from models.trade.weaves import Fit

Why = SubstituteWhy
_Look = tuple[str, str, str]
HUNDREDTH = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Ring:
    """What of a ring item decides whether it may stand in for another; metal, finish and colour are plain words."""

    item: int
    name: str
    size: RingSize
    metal: str = ""
    finish: str = ""
    colour: str = ""


@dataclass(frozen=True, slots=True)
class Declared:
    """What the person declared: `stand_in` may be used where `item` runs out; both ways when they are exchangeable."""

    item: int
    stand_in: int
    both_ways: bool = False


@dataclass(frozen=True, slots=True)
class StandIn:
    """A ring that may stand in for another: why, what free stock there is of it, and every difference in plain words.

    `more_pieces` can be made with it alone in the place of the ring, after the pieces that the ring itself allows;
    None when nothing counted limits them. `fits` is False where the weave does not take it.
    """

    item: int
    stand_in: int
    why: Why
    free_milli: int | None
    more_pieces: int | None
    aspect_ratio: Decimal
    same_look: bool
    fits: bool
    differences: tuple[str, ...]


class StandIns:
    """The rings of a shop by what may stand in for them; made once for many questions.

    Raises: ValueError when what was declared goes round in a circle (ask `declared_troubles` first).
    """

    def __init__(self, rings: Iterable[Ring], declared: Sequence[Declared], tolerance_nm: int) -> None:
        self.rings = {ring.item: ring for ring in rings}
        self._tolerance_nm = tolerance_nm
        if declared_troubles(declared, {}):
            raise ValueError("the declared stand-ins go round in a circle")
        groups, arrows = _groups(declared)
        members: dict[int, list[int]] = {}
        for item, group in groups.items():
            members.setdefault(group, []).append(item)
        self._declared: dict[int, list[int]] = {}
        for item, group in groups.items():
            stand_ins = [other for other in members[group] if other != item]
            stand_ins += [other for target in arrows.get(group, ()) for other in members[target]]
            self._declared[item] = stand_ins
        # Only rings of one look and of nearly one wire are ever compared, and each ring is asked about once.
        self._alike: dict[tuple[int, _Look], list[Ring]] = {}
        self._found: dict[int, list[tuple[Ring, Why]]] = {}
        for ring in self.rings.values():
            self._alike.setdefault((self._bucket(ring), _look(ring)), []).append(ring)

    def of(self, item: int) -> list[tuple[Ring, Why]]:
        """Return the declared stand-ins of a ring, then its near sizes of the same metal and look, nearest first."""
        if item not in self._found:
            ring = self.rings.get(item)
            self._found[item] = [] if ring is None else self._search(ring)
        return self._found[item]

    def _search(self, ring: Ring) -> list[tuple[Ring, Why]]:
        declared = [other for other in self._declared.get(ring.item, ()) if other in self.rings]
        found: list[tuple[Ring, Why]] = [(self.rings[other], "declared") for other in declared]
        bucket, look = self._bucket(ring), _look(ring)
        nearby = [
            other
            for step in (bucket - 1, bucket, bucket + 1)
            for other in self._alike.get((step, look), ())
            if other.item != ring.item and other.item not in declared
            if near(ring.size, other.size, self._tolerance_nm)
        ]
        nearby.sort(key=lambda other: (_distance_nm(ring.size, other.size), other.item))
        return found + [(other, "near size") for other in nearby]

    def _bucket(self, ring: Ring) -> int:
        return ring.size.wire_nm // max(self._tolerance_nm, 1)


def propose(
    recipe: Recipe,
    answer: Answer,
    stock: Iterable[Stock] | Mapping[int, Stock],
    stand_ins: StandIns,
    *,
    fit_of: Callable[[RingSize], Fit] | None = None,
) -> tuple[StandIn, ...]:
    """Return what may stand in for each ring that limits a design, the declared ones first; none of them is used.

    `fit_of` tells how a size suits the design's weave. A near size that the weave does not take is left out, a declared
    one is told with the reason. A stand-in that has none free is left out.
    """
    if answer.pieces is None or answer.unknown:
        return ()
    have = as_mapping(stock)
    taken = taken_milli(recipe, answer.pieces, have, with_allowance=answer.with_allowance)
    left = {**have, **{item: _left(stock_of(have, item), milli) for item, milli in taken.items()}}
    proposals = []
    for item in answer.limiting:
        for other, why in stand_ins.of(item):
            ring = stand_ins.rings[item]
            differences = _differences(ring, other)
            fits = True
            if fit_of is not None:
                fit = fit_of(other.size)
                fits = fit.verdict != "too small"
                if fit.verdict != fit_of(ring.size).verdict:
                    differences.append(fit.reason)
            there = stock_of(left, other.item)
            none_free = there.free_milli is not None and there.free_milli < there.step_milli
            if none_free or (not fits and why == "near size"):
                continue
            (more,) = makeable([_swapped(recipe, item, other.item)], left, with_allowance=answer.with_allowance)
            proposals.append(
                StandIn(
                    item=item,
                    stand_in=other.item,
                    why=why,
                    free_milli=there.free_milli,
                    more_pieces=more.pieces,
                    aspect_ratio=other.size.aspect_ratio,
                    same_look=_same_look(ring, other),
                    fits=fits,
                    differences=tuple(differences),
                )
            )
    return tuple(proposals)


def declared_troubles(declared: Sequence[Declared], names: Mapping[int, str]) -> tuple[Trouble, ...]:
    """Return what is wrong with the declared stand-ins: a ring for itself, or a circle; fields count from 0."""
    troubles = []
    for number, each in enumerate(declared):
        if each.item == each.stand_in:
            name = names.get(each.item, f"item {each.item}")
            troubles.append(Trouble(f"stand_ins.{number}", f"{name} can't stand in for itself. Pick another ring."))
    if troubles:
        return tuple(troubles)
    groups, arrows = _groups(declared)
    circle = _circle(arrows)
    if not circle:
        return ()
    inside = set(circle)
    items = sorted({item for item, group in groups.items() if group in inside})
    called = listed([names.get(item, f"item {item}") for item in items], most=8)
    for number, each in enumerate(declared):
        if not each.both_ways and groups[each.item] in inside and groups[each.stand_in] in inside:
            message = (
                f"{called} would stand in for one another in a circle. Declare them exchangeable both ways, "
                "or leave one of these out."
            )
            troubles.append(Trouble(f"stand_ins.{number}", message))
    return tuple(troubles)


def _swapped(recipe: Recipe, item: int, stand_in: int) -> Recipe:
    """The recipe with one ring in the place of another."""
    lines = (replace(line, item=stand_in) if line.item == item else line for line in recipe.lines)
    return replace(recipe, lines=tuple(lines))


def _differences(ring: Ring, other: Ring) -> list[str]:
    """What differs between a ring and its stand-in, in plain words."""
    told = []
    for what, was, now in (("wire", ring.size.wire_nm, other.size.wire_nm),
                           ("opening", ring.size.inner_nm, other.size.inner_nm)):  # fmt: skip
        if was != now:
            told.append(f"The {what} is {format_mm(now)} instead of {format_mm(was)}.")
    before, after = (each.size.aspect_ratio.quantize(HUNDREDTH) for each in (ring, other))
    if before != after:
        told.append(f"The aspect ratio is {after} instead of {before}.")
    for what, old, new in (("metal", ring.metal, other.metal), ("finish", ring.finish, other.finish),
                           ("colour", ring.colour, other.colour)):  # fmt: skip
        if old.casefold() != new.casefold():
            told.append(f"The {what} is {new or 'not named'} instead of {old or 'one not named'}.")
    return told


def _look(ring: Ring) -> _Look:
    return ring.metal.casefold(), ring.finish.casefold(), ring.colour.casefold()


def _same_look(ring: Ring, other: Ring) -> bool:
    return _look(ring) == _look(other)


def _distance_nm(a: RingSize, b: RingSize) -> int:
    return abs(a.wire_nm - b.wire_nm) + abs(a.inner_nm - b.inner_nm)


def _left(have: Stock, taken_milli: int) -> Stock:
    return replace(have, free_milli=None if have.free_milli is None else have.free_milli - taken_milli)


def _groups(declared: Sequence[Declared]) -> tuple[dict[int, int], dict[int, list[int]]]:
    """Each ring's group of exchangeable rings, and from each group the groups that may stand in for it, one way."""
    parent: dict[int, int] = {}

    def root(item: int) -> int:
        parent.setdefault(item, item)
        while parent[item] != item:
            parent[item] = parent[parent[item]]
            item = parent[item]
        return item

    for each in declared:
        first, second = root(each.item), root(each.stand_in)
        if each.both_ways:
            parent[second] = first
    groups = {item: root(item) for item in list(parent)}
    arrows: dict[int, list[int]] = {}
    for each in declared:
        if not each.both_ways and groups[each.stand_in] not in arrows.setdefault(groups[each.item], []):
            arrows[groups[each.item]].append(groups[each.stand_in])
    return groups, arrows


def _circle(arrows: Mapping[int, Sequence[int]]) -> list[int]:
    """Return the groups of one circle of arrows; none when there is no circle."""
    try:
        TopologicalSorter(arrows).prepare()
    except CycleError as circle:
        return list(circle.args[1])
    return []
