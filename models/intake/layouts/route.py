"""The maker's way through a piece as it is asked for: where it begins, how it goes on, and what is closed beforehand.

What nobody says stays as it was kept. A question is read as far as it can be, so that a page can show what is wrong.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TypeVar

from models.intake.faults import Faults
from models.intake.layouts.layout import LayoutDraft
from models.intake.layouts.parts import closed_rings
from models.intake.layouts.ring_list import read_rings, ring_words
from models.intake.raw import Raw, Reader
from models.layouts.engine.items import Item
from models.layouts.engine.net import Net
from models.layouts.engine.rows import Layout
from models.layouts.steps.closing import closed_faults
from models.layouts.steps.route import METHODS, SIDES, TURNS, WAYS, WHENS, Route
from models.trade.vocabulary.pieces import WHOSE

"""Whose rings are closed beforehand: those that the way gives, or a choice of the maker's own."""
MOST_FAULTS = 6

T = TypeVar("T", bound=str)


@dataclass(frozen=True, slots=True)
class Way:
    """A way through a piece. `layout` is the piece with it; `chosen` are the rings closed beforehand, by index.

    `words` say the chosen rings so that they can be typed. `at_fault` are rings that cannot be closed together.
    """

    layout: LayoutDraft
    chosen: frozenset[int]
    words: str
    at_fault: Mapping[int, str]

    @property
    def own(self) -> bool:
        """Whether the maker chose the rings."""
        return self.layout.closed is not None

    def raw(self) -> dict[str, object]:
        """The way as a form's fields."""
        route = self.layout.route
        return {
            "start_row": route.start_row,
            "sides": route.sides,
            "method": route.method,
            "turn": route.turn,
            "when": route.when,
            "way": route.way,
            "whose": "own" if self.own else "way",
            "closed": self.words,
        }


def read_way(
    raw: Raw, kept: LayoutDraft, items: Mapping[str, Item], net: Net | None = None
) -> tuple[Way, Faults | None]:
    """Read a way through a piece that is kept; `flip` names one ring that is closed instead of open, or open again.

    A choice that is just what the way gives follows the way from then on.
    """
    net = net or kept.net()
    reader = Reader(raw)
    layout = replace(kept, route=_route(reader, kept), closed=None)
    given = closed_rings(layout, net, items)
    own = reader.choice("whose", WHOSE.codes, default="own" if kept.closed is not None else "way") == "own"
    chosen = _chosen(reader, kept, net, given) if own else given
    flip = reader.text("flip", most=20)
    if flip:
        chosen = _flipped(reader, net, chosen, flip)
    if chosen != given:
        layout = replace(layout, closed=tuple(net.names[index] for index in sorted(chosen)))
    wrong = closed_faults(net, items, chosen)
    if wrong:
        told = [fault.message for fault in wrong[:MOST_FAULTS]]
        rest = len(wrong) - len(told)
        reader.fault("closed", " ".join([*told, f"And {rest} more."] if rest else told))
    at_fault = _at_fault(net, items, chosen) if wrong else {}
    return Way(layout, chosen, ring_words(net, chosen), at_fault), reader.faults()


def _route(reader: Reader, kept: LayoutDraft) -> Route:
    if not isinstance(kept.plan, Layout):
        return kept.route
    old = kept.route
    start = reader.integer("start_row", least=1, most=len(kept.plan.rows), default=old.start_row)
    return Route(
        start_row=start or old.start_row,
        sides=_one_of(reader, "sides", SIDES, old.sides),
        method=_one_of(reader, "method", METHODS, old.method),
        turn=_one_of(reader, "turn", TURNS, old.turn),
        when=_one_of(reader, "when", WHENS, old.when),
        way=_one_of(reader, "way", WAYS, old.way),
    )


def _one_of(reader: Reader, field: str, allowed: tuple[T, ...], usual: T) -> T:
    said = reader.choice(field, allowed, default=usual)
    return next(one for one in allowed if one == said)


def _chosen(reader: Reader, kept: LayoutDraft, net: Net, given: frozenset[int]) -> frozenset[int]:
    """The rings that the maker names; where the field was not sent, those that are kept."""
    if "closed" not in reader.raw:
        return given if kept.closed is None else frozenset(net.index(name) for name in kept.closed)
    text = reader.raw["closed"]
    if isinstance(text, (list, tuple)):
        text = ", ".join(str(one) for one in text)
    read = read_rings(text if isinstance(text, str) else "", net)
    if isinstance(read, Faults):
        for fault in read:
            reader.fault(fault.field, fault.message)
        return given
    return frozenset(net.index(name) for name in read)


def _flipped(reader: Reader, net: Net, chosen: frozenset[int], name: str) -> frozenset[int]:
    """The chosen rings with one more, or one less; of a hub both its rings, as one area answers for both."""
    known = {net.names[index]: index for index in range(len(net))}
    rings = [known[each] for each in (name, f"{name}a", f"{name}b") if each in known]
    if not rings:
        reader.fault("closed", f"There is no ring {name} in this piece.")
        return chosen
    return chosen - set(rings) if chosen.issuperset(rings) else chosen | set(rings)


def _at_fault(net: Net, items: Mapping[str, Item], chosen: frozenset[int]) -> dict[int, str]:
    """The chosen rings that cannot be closed together with another one, each with the reason."""
    found: dict[int, str] = {}
    for index in sorted(chosen):
        beside = [other for other in net.neighbours[index] if other in chosen]
        if beside:
            found[index] = f"Linked with ring {net.names[beside[0]]}, which is closed beforehand as well"
        elif closed_faults(net, items, (index,)):
            found[index] = "This ring must stay open"
    return found
