"""Which rings an attachment means: those of an edge or of an earlier attachment, by item, by row, every k-th.

Not here: what is then hung on them (links).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from models.layouts.engine.attach import Selection

if TYPE_CHECKING:
    from models.layouts.engine.net import Net


def chosen(net: Net, selection: Selection) -> list[int]:
    """Return the indices of the chosen rings, in the order of their edge."""
    if selection.where == "attachment":
        found = list(net.groups.get(selection.of, ()))
    else:
        found = list(net.edges.get(selection.where, ()))
    if selection.rings:
        wanted = set(selection.rings)
        # A hub is chosen by the name of its place as well as by the name of its first ring.
        found = [index for index in found if net.names[index] in wanted or net.names[index].rstrip("ab") in wanted]
    if selection.item:
        found = [index for index in found if net.items[index] == selection.item]
    if selection.rows:
        first, last = selection.rows
        found = [index for index in found if first <= net.rows[index] + 1 <= last]
    return found[selection.skip :: max(1, selection.every)]
