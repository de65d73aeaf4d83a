"""What hangs on a piece, as it is asked for, and which rings it would take before it is applied.

Not here: shapes (layout_shape), edits and colours (layout_act).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from models.intake.faults import Fault, Faults
from models.intake.layouts.known import Acted, Known
from models.intake.layouts.layout import Plan, plan_net
from models.intake.raw import Raw, Reader
from models.layouts.engine.attach import KINDS, MAX_EACH, Attachment, Kind, Selection, Where
from models.layouts.engine.chains import Chain
from models.layouts.engine.choose import chosen
from models.layouts.engine.edits import SIDES, edge_at
from models.layouts.engine.limits import too_large
from models.layouts.engine.net import FINDING
from models.layouts.engine.rows import EDGES, MAX_RINGS, MAX_ROWS, Layout, place_of
from models.trade.vocabulary.pieces import HANGINGS

PLACES: Final = (*SIDES, "outline", "every ring", "start", "end", "rings", "attachment")
"""Where something may hang: an edge as the piece hangs, all round, every ring, an end of a chain, named rings, or what
hangs there already."""

MOST_ATTACHMENTS: Final = 200


@dataclass(frozen=True, slots=True)
class HangLook:
    """What an attachment would take and add: the chosen rings by name and by index, and how many rings and findings."""

    attachment: Attachment
    chosen: tuple[str, ...]
    indices: tuple[int, ...]
    rings: int
    findings: int


def read_hang(raw: Raw, plan: Plan, known: Known) -> Attachment | Faults:
    """Read what is to hang where; the edge is named as the piece hangs now."""
    reader = Reader(raw, length_unit=known.length_unit)
    kind = _kind(reader)
    ring, finding = reader.text("hang_ring"), reader.text("hang_finding")
    if kind == "bail" and not ring and finding in known.rings:
        ring, finding = finding, ""
    if ring and ring not in known.rings:
        reader.fault("hang_ring", "Choose one of the rings of this piece.")
    if finding and finding not in known.words:
        reader.fault("hang_finding", "Choose one of the findings of this piece.")
    if HANGINGS.term(kind).of == "ring" and not ring:
        reader.fault("hang_ring", "Choose the ring that hangs there.")
    if HANGINGS.term(kind).of == "finding" and not finding and not (kind == "bail" and ring):
        what = "a bail ring, or the bail" if kind == "bail" else f"the {HANGINGS[kind]}"
        reader.fault("hang_finding", f"Choose {what}. Add it to the rings and findings first.")
    on = _selection(reader, plan, known)
    each = reader.integer("hang_each", least=1, most=MAX_EACH, default=1)
    if len(plan.attachments) >= MOST_ATTACHMENTS:
        reader.fault("hang_kind", f"A piece has up to {MOST_ATTACHMENTS} things hanging on it here.")
    found = Attachment(
        name=_name(reader, plan, kind), kind=kind, on=on, ring=ring,
        finding="" if kind == "gather" else finding, each=each or 1,
    ).as_meant()  # fmt: skip
    if reader.faults() is None:
        for much in too_large(replace(plan, attachments=(*plan.attachments, found))):
            reader.fault("hang_where", much.message)
    if reader.faults() is None and not look_of(plan, found).chosen:
        reader.fault("hang_where", "No ring is there. Choose another place, or take the narrowing away.")
    return reader.faults() or found


def _kind(reader: Reader) -> Kind:
    typed = reader.choice("hang_kind", KINDS, default="hang")
    return next(each for each in KINDS if each == typed)


def _selection(reader: Reader, plan: Plan, known: Known) -> Selection:
    place = reader.choice("hang_where", PLACES, default="top")
    item = reader.text("hang_item")
    if item and item not in known.words:
        reader.fault("hang_item", "Choose one of the rings of this piece.")
    where: Where = "every ring"
    rings: tuple[str, ...] = ()
    of = ""
    if place == "rings":
        rings = _rings(reader, plan)
    elif place == "attachment":
        where, of = "attachment", reader.text("hang_of")
        if of not in {each.name for each in plan.attachments}:
            reader.fault("hang_of", "Choose what hangs there already.")
    elif isinstance(plan, Chain):
        if place not in ("start", "end", "every ring"):
            place = "start"
        where = "row starts" if place == "start" else "row ends" if place == "end" else "every ring"
    elif place in SIDES:
        where = edge_at(plan.up, place)
    elif place == "outline":
        where = "outline"
    return Selection(
        where=where,
        item=item,
        every=reader.integer("hang_every", least=1, most=MAX_RINGS, default=1) or 1,
        skip=reader.integer("hang_skip", least=0, most=MAX_RINGS, default=0) or 0,
        rows=_span(reader) if isinstance(plan, Layout) else None,
        of=of,
        rings=rings,
    )


def _span(reader: Reader) -> tuple[int, int] | None:
    first = reader.integer("hang_first", least=1, most=MAX_ROWS, required=False)
    last = reader.integer("hang_last", least=1, most=MAX_ROWS, required=False)
    if first is None and last is None:
        return None
    ends = (first or 1, last or MAX_ROWS)
    return min(ends), max(ends)


def _rings(reader: Reader, plan: Plan) -> tuple[str, ...]:
    typed = reader.text("hang_rings", most=20_000)
    found = ring_names(typed, plan, "hang_rings")
    if isinstance(found, Fault):
        reader.fault(found.field, found.message)
        return ()
    return found


def ring_names(typed: str, plan: Plan, field: str) -> tuple[str, ...] | Fault:
    """Return the names of rings that words mean: '3.7, 4.2-4.6, row 5' of rows, '3, 7-9' of a chain; or a fault."""
    found: list[str] = []
    for part in typed.replace(";", ",").replace("\n", ",").split(","):
        word = part.strip().casefold()
        if not word:
            continue
        named = _in_chain(word, plan) if isinstance(plan, Chain) else _in_rows(word, plan)
        if not named:
            return Fault(field, f"There is no ring “{part.strip()[:30]}” here. Write rings as {_example(plan)}.")
        found += named
        if len(found) > 2 * MAX_RINGS:
            return Fault(field, f"Name up to {2 * MAX_RINGS:,} rings at a time.")
    return tuple(dict.fromkeys(found)) or Fault(field, f"Name the rings, such as {_example(plan)}.")


def _example(plan: Plan) -> str:
    return "3, 7-9" if isinstance(plan, Chain) else "3.7 (row 3, ring 7), 4.2-4.6 or row 5"


def _in_chain(word: str, plan: Chain) -> list[str]:
    first, dash, last = (part.strip() for part in word.partition("-"))
    ends = [int(part) for part in ((first, last) if dash else (first, first)) if part.isascii() and part.isdigit()]
    if len(ends) < 2 or not min(ends) >= 1 or max(ends) > plan.rings:
        return []
    return [str(number) for number in range(min(ends), max(ends) + 1)]


def _in_rows(word: str, plan: Layout) -> list[str]:
    if word.startswith("row"):
        number = word.removeprefix("row").strip()
        if not (number.isascii() and number.isdigit() and len(number) < 6 and 1 <= int(number) <= len(plan.rows)):
            return []
        places = enumerate(plan.rows[int(number) - 1].items, 1)
        return [f"{int(number)}.{place}" for place, item in places if item]
    first, dash, last = (part.strip() for part in word.partition("-"))
    start = place_of(first)
    if start is None or start[0] >= len(plan.rows):
        return []
    end = start
    if dash:
        # '4.2-6' ends in the same row, as people write it.
        ended = place_of(last if "." in last else f"{start[0] + 1}.{last}")
        if ended is None or ended[0] != start[0]:
            return []
        end = ended
    items = plan.rows[start[0]].items
    low, high = min(start[1], end[1]), max(start[1], end[1])
    if high >= len(items) or (low == high and not items[low]):
        return []
    return [f"{start[0] + 1}.{place + 1}" for place in range(low, high + 1) if items[place]]


def _name(reader: Reader, plan: Plan, kind: Kind) -> str:
    """A name of its own: the typed one, or what it is with a number behind it where that is taken."""
    taken = {each.name for each in plan.attachments}
    typed = reader.text("hang_name", most=40)
    if typed and typed in taken:
        reader.fault("hang_name", "Something of this name hangs there already.")
    wanted = typed or HANGINGS[kind]
    number = 2
    name = wanted
    while name in taken:
        name = f"{wanted} {number}"
        number += 1
    return name


def look_of(plan: Plan, attachment: Attachment) -> HangLook:
    """Return what an attachment would take and add, before it is applied."""
    before = plan_net(plan)
    after = plan_net(replace(plan, attachments=(*plan.attachments, attachment)))
    hosts = chosen(before, attachment.on)
    added = after.roles[len(before) :]
    findings = added.count(FINDING)
    return HangLook(
        attachment, tuple(before.names[index] for index in hosts), tuple(hosts), len(added) - findings, findings
    )


def hung(plan: Plan, attachment: Attachment) -> Acted:
    """Hang it there."""
    return Acted(
        replace(plan, attachments=(*plan.attachments, attachment)),
        f"“{attachment.name}” hangs there now.",
    )


def unhung(plan: Plan, number: int) -> Acted | Faults:
    """Take one attachment (counted from 1) away, with all that hangs on it."""
    if not 1 <= number <= len(plan.attachments):
        return Faults.of("hang_kind", "That does not hang there any more.")
    gone = {plan.attachments[number - 1].name}
    kept: list[Attachment] = []
    for place, each in enumerate(plan.attachments, 1):
        if place == number or (each.on.where == "attachment" and each.on.of in gone):
            gone.add(each.name)
        else:
            kept.append(each)
    said = ", ".join(f"“{each.name}”" for each in plan.attachments if each.name in gone)
    return Acted(replace(plan, attachments=tuple(kept)), f"Took {said} away.")


def place_word(plan: Plan, on: Selection) -> str:
    """Return where something hangs, in words, as the piece hangs now."""
    if on.rings:
        many = len(on.rings)
        where = f"ring {on.rings[0]}" if many == 1 else f"{many} chosen rings"
    elif on.where == "attachment":
        where = f"“{on.of}”"
    elif isinstance(plan, Chain):
        where = {"row starts": "its beginning", "row ends": "its end"}.get(on.where, "every ring")
    elif on.where in EDGES:
        where = f"the {next(side for side in SIDES if edge_at(plan.up, side) == on.where)} edge"
    else:
        where = "all round" if on.where == "outline" else "every ring"
    return where
