"""How large a piece may be: what it would take is counted from its shape, before anything of it is worked out.

Every way in asks here: programs, forms, files, and each button of the laying-out room. What a shop has kept is read
without asking. Not here: rows that cannot be worked out at all (rows), how long a request may work (breaks).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chains import Chain, chain_net
from models.layouts.engine.choose import chosen
from models.layouts.engine.links import net_of
from models.layouts.engine.net import Net
from models.layouts.engine.rows import MAX_RINGS, Layout
from models.layouts.weaves.sheets import SHEETS
from models.trade.faults import Fault

MOST_LOOKED = 1_000_000
"""So many rings may be looked through for what hangs on a piece: the rings of each attachment's edge, added up."""

MOST_HELD = 120_000
"""So many links may hold what hangs on a piece."""

MOST_OWN_LINKS = 120_000
"""So many links a chain may have by the shop's own rule; those of a weave that is known are few for each ring."""

MOST_AT_HAND = 30_000
"""Up to so many rings and findings a piece is laid out on a page, drawn inside one, or gone through step by step.

A larger one is counted, kept, costed and drawn as a file.
"""


@dataclass(frozen=True, slots=True)
class Asked:
    """What a piece would take: rings and findings in all, links of what hangs, and rings looked through for that."""

    rings: int
    held: int
    looked: int


def too_large(plan: Layout | Chain) -> tuple[Fault, ...]:
    """Return what is too much about a piece, with the limit and what was asked; nothing for one that may be worked out.

    The plan must be without faults of its own.
    """
    return tuple(_too_large(plan))


def _too_large(plan: Layout | Chain) -> Iterator[Fault]:
    where = "rows" if isinstance(plan, Layout) else "stretches"
    woven = woven_rings(plan)
    if woven > MAX_RINGS:
        yield Fault(where, _words("A piece has up to {:,} rings here", MAX_RINGS, woven, "would have {:,} in all"))
        return
    links = woven * len(set(plan.own_links)) if isinstance(plan, Chain) else 0
    if links > MOST_OWN_LINKS:
        words = "By a rule of its own a chain has up to {:,} links here"
        yield Fault("own_links", _words(words, MOST_OWN_LINKS, links, "would have {:,}"))
        return
    asked = asked_of(plan)
    if asked.looked > MOST_LOOKED:
        words = "For all that hangs on a piece up to {:,} of its rings are looked through"
        yield Fault("attachments", _words(words, MOST_LOOKED, asked.looked, "would take {:,}"))
    elif asked.rings > MAX_RINGS:
        words = "A piece has up to {:,} rings and findings here, with all that hangs on it"
        yield Fault("attachments", _words(words, MAX_RINGS, asked.rings, "would have {:,}"))
    elif asked.held > MOST_HELD:
        words = "What hangs on a piece is held by up to {:,} links here"
        yield Fault("attachments", _words(words, MOST_HELD, asked.held, "would have {:,}"))


def not_at_hand(plan: Layout | Chain, net: Net | None = None) -> str:
    """Return why a piece is neither laid out on a page nor gone through step by step; empty where it may be.

    `net` is the piece built, where it is built already.
    """
    if net is not None:
        rings = len(net)
    else:
        woven = woven_rings(plan)
        rings = woven if woven > MOST_AT_HAND else asked_of(plan).rings
    if rings <= MOST_AT_HAND:
        return ""
    return (
        f"This piece is too large for that: it has {rings:,} rings and findings, and up to {MOST_AT_HAND:,} are laid "
        "out on a page, drawn inside one, or gone through step by step. It can still be counted, kept and costed, and "
        "drawn as a file."
    )


def _words(limit: str, most: int, asked: int, would: str) -> str:
    return f"{limit.format(most)}; this one {would.format(asked)}."


def woven_rings(plan: Layout | Chain) -> int:
    """Return how many rings a piece has without what hangs on it; of connectors as many as without gaps."""
    if isinstance(plan, Chain):
        return plan.rings
    return SHEETS[plan.weave].ring_count(plan)


def asked_of(plan: Layout | Chain) -> Asked:
    """Return what a piece would take; of what hangs on it only numbers are worked out.

    The rings of a chosen edge are counted on the bare piece, those of an earlier attachment from its number.
    """
    if not plan.attachments:
        return Asked(woven_rings(plan), 0, 0)
    if isinstance(plan, Layout):
        bare = net_of(replace(plan, attachments=()))
    else:
        bare = chain_net(replace(plan, attachments=()))
    looked = sum(len(bare.edges.get(each.on.where, ())) + len(each.on.rings) for each in plan.attachments)
    if looked > MOST_LOOKED:
        return Asked(len(bare), 0, looked)
    rings, held = len(bare), 0
    groups: dict[str, tuple[str, int, int]] = {}
    for number, each in enumerate(plan.attachments, 1):
        if each.on.where == "attachment":
            hosts = _of_group(each.on, groups)
            looked += groups.get(each.on.of, ("", 0, 0))[1]
        else:
            hosts = len(chosen(bare, each.on))
        group, findings, links = _added(each, hosts)
        groups[each.name] = (each.ring, group, number)
        rings += group + findings
        held += links
    return Asked(rings, held, looked)


def _of_group(on: Selection, groups: Mapping[str, tuple[str, int, int]]) -> int:
    """Return how many rings of an earlier attachment a selection chooses."""
    item, rings, number = groups.get(on.of, ("", 0, 0))
    if on.rings:
        names = {name for name in on.rings if name.startswith(f"a{number}.")}
        rings = sum(1 for name in names if (place := name.rpartition(".")[2]).isdigit() and 1 <= int(place) <= rings)
    if (on.item and on.item != item) or on.rows:
        return 0
    return len(range(on.skip, rings, max(1, on.every)))


def _added(attachment: Attachment, hosts: int) -> tuple[int, int, int]:
    """Return the rings, findings and links that an attachment adds on so many hosts."""
    if not hosts:
        return 0, 0, 0
    if attachment.kind == "gather":
        return 1, 0, hosts
    rings = hosts * attachment.each
    if attachment.kind == "hang":
        findings = rings if attachment.finding else 0
        return rings, findings, rings + findings
    return (rings, 1, 2 * rings) if attachment.ring else (0, 1, hosts)
