"""Every ring and finding of a piece with every link: what a piece of rows or of chain is once it is worked out.

Not here: which rings a weave has and links (weaves, chains), what hangs on them (links).
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, field

RING, HUB, CONNECTOR, HUNG, GATHERING, TIE, FINDING = "ring", "hub", "connector", "hung", "gathering", "tie", "finding"


@dataclass(slots=True)
class Net:
    """Every ring and finding of a piece, in order, and every link; the index of a ring is its place in these lists.

    `rows` and `places` count from 0, -1 for what hangs on the piece; `steps` is where a ring stands along its row.
    `edges` names the rings along each edge, `groups` the rings of each attachment, `hosts` what those hang on.
    """

    names: list[str] = field(default_factory=list)
    items: list[str] = field(default_factory=list)
    roles: list[str] = field(default_factory=list)
    rows: list[int] = field(default_factory=list)
    places: list[int] = field(default_factory=list)
    steps: list[int] = field(default_factory=list)
    links: list[tuple[int, int]] = field(default_factory=list)
    neighbours: list[list[int]] = field(default_factory=list)
    edges: dict[str, list[int]] = field(default_factory=dict)
    groups: dict[str, list[int]] = field(default_factory=dict)
    hosts: dict[str, list[int]] = field(default_factory=dict)
    woven: int = 0
    _index: dict[str, int] = field(default_factory=dict)

    def add(self, name: str, item: str, role: str, *, row: int = -1, place: int = -1, step: int = 0) -> int:
        """Add one ring or finding and return its index."""
        self.names.append(name)
        self.items.append(item)
        self.roles.append(role)
        self.rows.append(row)
        self.places.append(place)
        self.steps.append(step)
        self.neighbours.append([])
        return len(self.names) - 1

    def link(self, a: int, b: int) -> None:
        """Add one link."""
        self.links.append((a, b))
        self.neighbours[a].append(b)
        self.neighbours[b].append(a)

    def __len__(self) -> int:
        return len(self.names)

    @property
    def degrees(self) -> list[int]:
        """Return how many links each ring has."""
        return [len(each) for each in self.neighbours]

    @property
    def counts(self) -> dict[str, int]:
        """Return how many of each item the piece takes."""
        return dict(Counter(self.items))

    @property
    def links_of_rings(self) -> dict[int, int]:
        """Return how many rings have how many links, findings left out."""
        found = Counter(len(each) for each, role in zip(self.neighbours, self.roles, strict=True) if role != FINDING)
        return dict(sorted(found.items()))

    def index(self, name: str) -> int:
        """Return the index of a ring by its name. Raises: KeyError for an unknown one."""
        if len(self._index) != len(self.names):
            self._index = {each: place for place, each in enumerate(self.names)}
        return self._index[name]
