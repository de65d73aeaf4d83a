"""Which rings can be closed before the weaving begins: any set with no two linked, and the largest such set.

A ring that is linked to a solid finding must stay open, and a soldered ring is closed already. Not here: the order of
work (route), the search itself (matching).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Iterable
from dataclasses import dataclass

from models.layouts.engine.items import Items
from models.layouts.engine.net import FINDING, Net
from models.layouts.steps.matching import largest_set
from models.trade.faults import Fault

BY_MATCHING = "The most possible, found exactly by matching."
BY_SEARCH = "The most possible: it reaches the number that no set can exceed."
NEAR = "A good set; no set can have more than {bound:,}."


@dataclass(frozen=True, slots=True)
class Closed:
    """Rings that are closed beforehand, by index; `bound` is what no such set can exceed, `words` how it was found."""

    rings: frozenset[int]
    bound: int
    words: str

    @property
    def exact(self) -> bool:
        """Tell whether no larger set is possible."""
        return len(self.rings) == self.bound


def _solid(net: Net, items: Items) -> set[int]:
    """Return the rings and findings that never open."""
    shut = {key for key, item in items.items() if not item.opens}
    return {index for index, key in enumerate(net.items) if key in shut} if shut else set()


def may_close(net: Net, items: Items) -> tuple[list[int], set[int]]:
    """Return the rings that may be closed beforehand, and those of them that are closed already (soldered)."""
    solid = _solid(net, items)
    beside = {other for index in solid for other in net.neighbours[index]}
    return (
        [index for index, role in enumerate(net.roles) if role != FINDING and (index in solid or index not in beside)],
        {index for index in solid if net.roles[index] != FINDING},
    )


def largest_closed(net: Net, items: Items) -> Closed:
    """Return a largest set of rings that can be closed beforehand, exact where no odd round of links forbids it.

    Where odd rounds remain, the words say how good the set is. Soldered rings are always in it.
    """
    free, soldered = may_close(net, items)
    open_to_choose = [index for index in free if index not in soldered]
    found = largest_set(net.neighbours, open_to_choose)
    bound = found.bound + len(soldered)
    rings = found.nodes | soldered
    if not found.exact:
        return Closed(rings, bound, NEAR.format(bound=bound))
    return Closed(rings, bound, BY_MATCHING if found.two_sided else BY_SEARCH)


def closed_faults(net: Net, items: Items, rings: Collection[int]) -> tuple[Fault, ...]:
    """Return why a set cannot be closed beforehand: two of it linked, linked to something solid, or not a ring."""
    faults: list[Fault] = []
    chosen = set(rings)
    solid = _solid(net, items)
    for index in sorted(chosen):
        if not 0 <= index < len(net) or net.roles[index] == FINDING:
            faults.append(Fault("closed", "Only rings of this piece can be closed beforehand."))
            continue
        name = net.names[index]
        for other in net.neighbours[index]:
            if other in chosen and other > index:
                faults.append(
                    Fault("closed", f"Rings {name} and {net.names[other]} are linked: one of them must stay open.")
                )
            elif other in solid and other not in chosen:
                faults.append(
                    Fault(
                        "closed", f"Ring {name} hangs on {_label(items, net, other)}, which never opens: leave it open."
                    )
                )
    return tuple(faults)


def _label(items: Items, net: Net, index: int) -> str:
    item = items.get(net.items[index])
    return item.label if item else net.items[index]


@dataclass(frozen=True, slots=True)
class Prepared:
    """How many of each item are closed beforehand, and how many are opened, woven in and closed at the work."""

    closed: dict[str, int]
    opened: dict[str, int]

    @property
    def close(self) -> int:
        """Return how many rings are closed beforehand."""
        return sum(self.closed.values())

    @property
    def open(self) -> int:
        """Return how many rings are opened beforehand."""
        return sum(self.opened.values())

    @property
    def weave(self) -> int:
        """Return how many rings are woven in: every one that was opened."""
        return sum(self.opened.values())


def prepared(net: Net, closed: Iterable[int]) -> Prepared:
    """Return the prepared numbers of a piece for a set that is closed beforehand."""
    shut = set(closed)
    closed_items = Counter(net.items[index] for index in sorted(shut))
    opened_items = Counter(
        key
        for index, (key, role) in enumerate(zip(net.items, net.roles, strict=True))
        if role != FINDING and index not in shut
    )
    return Prepared(dict(closed_items), dict(opened_items))
