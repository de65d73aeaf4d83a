"""The maker's own way through a piece: which row first, which side, which turns, single rings or closed ones added.

From it follow the rows in their order, the rings closed beforehand, and for every open ring what it picks up and passes
through. Not here: the words of a work sheet (words), chains' recipes (chain_weaves).
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass

from models.layouts.engine.items import Items
from models.layouts.engine.net import CONNECTOR, FINDING, Net
from models.layouts.steps.closing import may_close
from models.trade.vocabulary import pieces

Method = pieces.Method
Sides = pieces.Sides
Turn = pieces.Turn
When = pieces.When
Way = pieces.Way

METHODS = pieces.METHODS.codes
SIDES = pieces.ROW_ORDERS.codes
TURNS = pieces.TURNS.codes
WHENS = pieces.WHENS.codes
WAYS = pieces.WAYS.codes


@dataclass(frozen=True, slots=True)
class Route:
    """How a maker goes through a piece. `start_row` counts from 1.

    `turn` is how the piece is turned on the bench, before each row or whenever the side changes: sideways (over, left
    to right), end over end (over, top to bottom), round (half a turn, staying face up).
    """

    start_row: int = 1
    sides: Sides = "rows after first"
    method: Method = "single rings"
    turn: Turn = "none"
    when: When = "each row"
    way: Way = "left to right"


@dataclass(frozen=True, slots=True)
class View:
    """How the piece lies before the maker: swapped left to right, top to bottom, front to back by its turns so far."""

    across: bool = False
    down: bool = False
    through: bool = False

    def turned(self, turn: Turn) -> View:
        """Return the view after one more turn of the piece."""
        if turn == "sideways":
            return View(not self.across, self.down, not self.through)
        if turn == "end over end":
            return View(self.across, not self.down, not self.through)
        if turn == "round":
            return View(not self.across, not self.down, self.through)
        return self


@dataclass(frozen=True, slots=True)
class Leg:
    """One row of the route: its row from 0, the side it is added on (0 for the first row), and how it is worked.

    `forward` tells whether the row is worked in the order of its places; `turned` whether the piece is turned first.
    """

    row: int
    side: int
    view: View
    forward: bool
    turned: bool


def legs_of(rows: int, route: Route) -> list[Leg]:
    """Return the rows of a piece in the order of the route. A start row past the end means the last row."""
    start = min(max(route.start_row, 1), rows) - 1
    after = [(row, 1) for row in range(start + 1, rows)]
    before = [(row, -1) for row in range(start - 1, -1, -1)]
    if route.sides == "rows after first":
        order = after + before
    elif route.sides == "rows before first":
        order = before + after
    else:
        both = max(len(after), len(before))
        order = [each for place in range(both) for side in (after, before) for each in side[place : place + 1]]
    view, last_side = View(), 0
    legs = [Leg(start, 0, view, _forward(route, view, 0), False)]
    for number, (row, side) in enumerate(order, 1):
        new_side = bool(last_side) and side != last_side
        turns = route.turn != "none" and (new_side if route.when == "each side" else number > 1)
        if turns:
            view = view.turned(route.turn)
        legs.append(Leg(row, side, view, _forward(route, view, number), turns))
        last_side = side
    return legs


def _forward(route: Route, view: View, number: int) -> bool:
    """Tell whether a row is worked in the order of its places, from the way it is worked as the maker sees it."""
    rightward = route.way == "left to right" or (route.way == "back and forth" and number % 2 == 0)
    return rightward != view.across


def closed_on_route(net: Net, items: Items, route: Route, rows: int) -> frozenset[int]:
    """Return the rings that a route closes beforehand: its first row, or every second row counted from it.

    No two of them are linked, since links of a sheet only join neighbouring rows (of hub weaves: hubs and connectors).
    What hangs on the piece stays open.
    """
    free, soldered = may_close(net, items)
    start = min(max(route.start_row, 1), rows) - 1
    chosen = set(soldered)
    beside = {other for index in soldered for other in net.neighbours[index]}
    for index in free:
        if index >= net.woven or net.roles[index] == CONNECTOR or index in beside:
            continue
        apart = abs(net.rows[index] - start)
        hub = net.roles[index] != "ring"
        if apart == 0 or (route.method == "adding closed rings" and (hub or apart % 2 == 0)):
            chosen.add(index)
    return frozenset(chosen)


@dataclass(frozen=True, slots=True)
class RouteAct:
    """What one open ring does: through how many rings of which rows it passes, what it picks up and passes as well.

    `through` are (row from 0, how many) of rings that were in the piece before this row; `picks` the closed rings and
    findings that it picks up; `also` how many of the rings that this row added before it passes through.
    """

    ring: int
    through: tuple[tuple[int, int], ...]
    picks: tuple[int, ...]
    also: int


@dataclass(slots=True)
class Progress:
    """Which rings are in the piece so far, and which of them since before the row that is being woven."""

    net: Net
    closed: Collection[int]
    present: bytearray
    old: bytearray

    @classmethod
    def start(cls, net: Net, closed: Collection[int]) -> Progress:
        """Return the empty bench."""
        return cls(net, closed, bytearray(len(net)), bytearray(len(net)))

    def lay(self, rings: Iterable[int]) -> None:
        """Put rings on the bench that pass through nothing yet."""
        for index in rings:
            self.present[index] = self.old[index] = 1

    def weave(self, rings: Iterable[int]) -> list[RouteAct]:
        """Weave open rings in order and return what each did."""
        net = self.net
        acts: list[RouteAct] = []
        touched: list[int] = []
        for ring in rings:
            rows: dict[int, int] = {}
            picks: list[int] = []
            also = 0
            for other in net.neighbours[ring]:
                if net.roles[other] == FINDING:
                    picks.append(other)
                elif self.old[other]:
                    rows[net.rows[other]] = rows.get(net.rows[other], 0) + 1
                elif self.present[other]:
                    also += 1
                elif other in self.closed:
                    picks.append(other)
            acts.append(RouteAct(ring, tuple(sorted(rows.items())), tuple(picks), also))
            for index in (ring, *picks):
                self.present[index] = 1
                touched.append(index)
        for index in touched:
            self.old[index] = 1
        return acts
