"""A length of chain: units repeated along a line in one or more stretches, its links, counts and what hangs on it.

Not here: the weaves themselves (chain_weaves), lengths (chain_sizes), places in space (chain_place).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from models.layouts.engine.attach import Attachment
from models.layouts.engine.chain_weaves import CHAINS, ChainWeave
from models.layouts.engine.links import attach_all
from models.layouts.engine.net import RING, Net
from models.layouts.engine.rows import MAX_RINGS
from models.trade.faults import Fault

MAX_OFFSET = 12


@dataclass(frozen=True, slots=True)
class Stretch:
    """So many units in a repeat of items that runs ring by ring along the stretch."""

    units: int
    repeat: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Chain:
    """A chain of one weave. A closed one joins its last unit to its first.

    `own_links`, for a weave whose links are not sure, is the shop's own rule: each ring links the rings so many
    further on.
    """

    weave: str
    stretches: tuple[Stretch, ...]
    closed: bool = False
    attachments: tuple[Attachment, ...] = ()
    own_links: tuple[int, ...] = ()

    @property
    def units(self) -> int:
        """Return the whole units of the chain."""
        return sum(each.units for each in self.stretches)

    @property
    def rings(self) -> int:
        """Return the rings of the chain, those that end it included."""
        kind = CHAINS[self.weave]
        ending = 0 if self.closed else len(kind.finish)
        return self.units * kind.unit_rings + ending

    @property
    def items(self) -> list[str]:
        """Return the item of each ring in order."""
        kind = CHAINS[self.weave]
        found: list[str] = []
        for each in self.stretches:
            rings = each.units * kind.unit_rings
            times, rest = divmod(rings, len(each.repeat))
            found += each.repeat * times + each.repeat[:rest]
        if not self.closed and kind.finish:
            last = self.stretches[-1]
            done = last.units * kind.unit_rings
            found += [last.repeat[(done + place) % len(last.repeat)] for place in range(len(kind.finish))]
        return found


def chain_faults(chain: Chain) -> tuple[Fault, ...]:
    """Return what makes a chain impossible to work out."""
    return tuple(_faults(chain))


def _faults(chain: Chain) -> Iterator[Fault]:
    kind = CHAINS.get(chain.weave)
    if kind is None:
        yield Fault("weave", f"“{chain.weave[:40]}” is not a weave that is laid as a chain.")
        return
    if not chain.stretches or any(each.units < 1 for each in chain.stretches):
        yield Fault("stretches", "Each stretch of chain has at least one unit.")
    if any(not each.repeat or not all(each.repeat) for each in chain.stretches):
        yield Fault("stretches", "Name the ring of each stretch.")
        return
    if chain.rings > MAX_RINGS:
        yield Fault("stretches", f"A chain has up to {MAX_RINGS:,} rings here; this one has {chain.rings:,}.")
    if chain.closed and chain.units < kind.least_loop:
        yield Fault("closed", f"A closed loop of this weave needs at least {kind.least_loop} units.")
    if chain.own_links and kind.rules is not None:
        yield Fault("own_links", "The links of this weave are known: leave your own rule out.")
    elif any(not 1 <= each <= MAX_OFFSET for each in chain.own_links):
        yield Fault("own_links", f"Each ring links rings from 1 to {MAX_OFFSET} further on.")
    elif chain.closed and chain.own_links and chain.rings <= 2 * max(chain.own_links):
        yield Fault("closed", "A closed loop with these links needs more rings.")


def links_known(chain: Chain) -> bool:
    """Tell whether the links of a chain are sure: by its weave, or by the shop's own rule."""
    return CHAINS[chain.weave].rules is not None or bool(chain.own_links)


def chain_net(chain: Chain) -> Net:
    """Return every ring and link of a chain and what hangs on it; without links where they are not sure.

    A ring's name is its number along the chain, from 1; its row is its unit, its place the ring of the unit.
    """
    kind = CHAINS[chain.weave]
    net = Net()
    unit = kind.unit_rings
    for number, item in enumerate(chain.items):
        net.add(str(number + 1), item, RING, row=number // unit, place=number % unit, step=number)
    total = len(net)
    net.woven = total
    for a, b in _links(chain, kind, total):
        net.link(a, b)
    first = [index for index in kind.start if index < total]
    # A chain is symmetric: it ends as it begins, with one ring or with rings side by side.
    last = list(range(total - len(first), total))
    net.edges = {
        "first row": first,
        "last row": last,
        "row starts": first,
        "row ends": last,
        "every ring": list(range(total)),
        "outline": [*first, *(index for index in last if index not in first)],
    }
    attach_all(net, chain.attachments)
    return net


def _links(chain: Chain, kind: ChainWeave, total: int) -> Iterator[tuple[int, int]]:
    """Yield every link of a chain once, the earlier ring first."""
    if kind.rules is None:
        for offset in sorted(set(chain.own_links)):
            yield from ((a, a + offset) for a in range(total - offset))
            if chain.closed:
                yield from (((a + offset) % total, a) for a in range(total - offset, total))
        return
    unit = kind.unit_rings
    for number in range(-(-total // unit)):
        for a, units, b in kind.rules:
            first, second = number * unit + a, (number + units) * unit + b
            if first >= total:
                continue
            if second < total:
                yield first, second
            elif chain.closed:
                yield second % total, first


def unit_formula(chain: Chain) -> tuple[int, int] | None:
    """Return rings and links of a chain from its units alone, or None where its links are not sure.

    Open: every unit has all its links but those that would reach past the end. Closed: every unit has all its links.
    """
    kind = CHAINS[chain.weave]
    units = chain.units
    if kind.rules is None:
        rings = chain.rings
        if not chain.own_links:
            return None
        offsets = set(chain.own_links)
        return rings, sum(rings if chain.closed else max(0, rings - each) for each in offsets)
    if chain.closed:
        return chain.rings, units * len(kind.rules)
    within = len(kind.finish)
    links = 0
    for a, step, b in kind.rules:
        whole = max(0, units - step)
        # The finishing rings are the first of one more unit: links into them, and among them.
        into = 1 if step and units >= step and b < within else 0
        among = 1 if not step and a < within and b < within else 0
        links += whole + into + among
    return chain.rings, links


def graduated(chain: Chain, small: tuple[str, ...], large: tuple[str, ...], units: tuple[int, int]) -> Chain:
    """Return a chain graduated from two ring sizes: small at both ends, large in the middle.

    `units` are the units of one small end and of the large middle. Where two sizes meet, the weave runs on.
    """
    end, middle = units
    return replace(chain, stretches=(Stretch(end, small), Stretch(middle, large), Stretch(end, small)), closed=False)
