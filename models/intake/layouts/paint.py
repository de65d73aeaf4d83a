"""Painting ring by ring: the strokes of the painter, each one ring's key and the rings that it went over.

Not here: patterns over a whole piece (layout_act).
"""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Final

from models.intake.faults import Fault, Faults
from models.intake.layouts.known import Acted, Known
from models.intake.layouts.layout import Plan
from models.intake.raw import Reader
from models.layouts.document.model import MAX_REPEAT
from models.layouts.engine import patterns
from models.layouts.engine.chains import Chain, Stretch
from models.layouts.engine.rows import Layout

Stroke = tuple[str, tuple[str, ...]]
MOST_STROKES: Final = 2_000
MOST_SENT: Final = 2_000_000


def read_strokes(reader: Reader, known: Known) -> tuple[Stroke, ...]:
    """Read strokes as the painter sends them: [["i12", ["3.7", "3.8"]], …]; none when it sent none."""
    typed = reader.text("strokes", most=MOST_SENT)
    if not typed:
        return ()
    try:
        told = json.loads(typed)
    except (ValueError, RecursionError):
        told = None
    if not isinstance(told, list) or len(told) > MOST_STROKES:
        reader.fault("paint_rings", "These strokes cannot be read. Paint them again.")
        return ()
    found: list[Stroke] = []
    for one in told:
        if not (isinstance(one, list) and len(one) == 2 and isinstance(one[0], str) and isinstance(one[1], list)):
            reader.fault("paint_rings", "These strokes cannot be read. Paint them again.")
            return ()
        if one[0] not in known.rings:
            reader.fault("brush", "Choose one of the rings of this piece.")
            return ()
        found.append((one[0], tuple(str(name)[:16] for name in one[1])))
    return tuple(found)


def painted(plan: Plan, strokes: tuple[Stroke, ...]) -> Acted | Faults:
    """Paint stroke after stroke; a later one wins. Of what hangs on a piece all rings of one kind go together."""
    # All strokes are put together first, so that many of them cost no more than one.
    last = {name: item for item, names in strokes for name in names}
    hung: dict[str, list[str]] = {}
    woven: dict[str, list[str]] = {}
    for name, item in last.items():
        (hung if name.startswith("a") else woven).setdefault(item, []).append(name)
    done = _hung_painted(plan, strokes) if hung else plan
    found = _chain_painted(done, woven) if isinstance(done, Chain) else _rows_painted(done, woven)
    if isinstance(found, Faults):
        return found
    done = found
    many = len(last)
    return Acted(done, f"Painted {many:,} {'ring' if many == 1 else 'rings'}.")


def _hung_painted(plan: Plan, strokes: tuple[Stroke, ...]) -> Plan:
    """Paint what hangs on a piece by the names of its rings ('a1.3'); findings keep what they are."""
    new: dict[str, str] = {}
    for item, names in strokes:
        hung = (name for name in names if name.startswith("a"))
        new |= {name[1:].partition(".")[0]: item for name in hung if not name.partition(".")[2].startswith("f")}
    kept = (
        replace(each, ring=new[str(number)]) if each.ring and str(number) in new else each
        for number, each in enumerate(plan.attachments, 1)
    )
    return replace(plan, attachments=tuple(kept))


def _rows_painted(plan: Layout, woven: dict[str, list[str]]) -> Layout | Faults:
    if not woven:
        return plan
    found = patterns.paint_all(plan, {name: item for item, names in woven.items() for name in names})
    return Faults.of("paint_rings", found.message) if isinstance(found, Fault) else found


def _chain_painted(plan: Chain, woven: dict[str, list[str]]) -> Chain | Faults:
    """Paint rings of a chain: its repeat then names every ring."""
    if not woven:
        return plan
    items = plan.items
    if len(items) > MAX_REPEAT:
        return Faults.of("paint_rings", f"Chains of up to {MAX_REPEAT:,} rings are painted ring by ring; use a repeat.")
    for item, names in woven.items():
        for name in names:
            if not (name.isascii() and name.isdigit() and 1 <= int(name) <= len(items)):
                return Faults.of("paint_rings", f"There is no ring {name} in this chain.")
            items[int(name) - 1] = item
    return replace(plan, stretches=(Stretch(plan.units, tuple(items)),))
