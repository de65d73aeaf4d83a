"""Rows of a piece, and stretches of a chain, as they stand in fields and are typed over: a start and rings in words.

A row that was not typed over is left alone, also where the piece changed meanwhile. Not here: the words themselves
(row_text), edits by a button (layout_act).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from models.intake.faults import Fault
from models.intake.layouts.known import Acted, Known
from models.intake.layouts.layout import Plan
from models.intake.layouts.row_text import read_rings, rings_in_words
from models.intake.raw import Raw, Reader
from models.layouts.document.model import MAX_STEP
from models.layouts.engine.chains import Chain, Stretch, chain_faults
from models.layouts.engine.nesting import faults_of
from models.layouts.engine.rows import MAX_PLACES, MAX_RINGS, MAX_ROWS, Layout, Row, too_many_places

ROWS_SHOWN = 40
"""So many rows stand in fields at a time; the others a page further."""


@dataclass(frozen=True, slots=True)
class RowFields:
    """One row (or stretch of chain) as its fields show it: its number from 1, where it starts (a stretch: how many
    units), its rings in words, and how many rings they are."""

    number: int
    start: str
    text: str
    rings: int

    @property
    def was(self) -> str:
        """What stood in the fields, to tell whether they were typed over."""
        return f"{self.start}|{self.text}"


def rows_of_plan(plan: Plan, words: Mapping[str, str], first: int = 1) -> tuple[RowFields, ...]:
    """The rows from `first` (counted from 1) as fields, or the stretches of a chain."""
    if isinstance(plan, Chain):
        return tuple(
            RowFields(number, str(each.units), rings_in_words(each.repeat, words), len(each.repeat))
            for number, each in enumerate(plan.stretches, 1)
        )
    shown = plan.rows[first - 1 : first - 1 + ROWS_SHOWN]
    return tuple(
        RowFields(number, str(row.start), rings_in_words(row.items, words), row.rings)
        for number, row in enumerate(shown, first)
    )


def typed_rows(raw: Raw, plan: Plan, known: Known) -> tuple[Acted, tuple[Fault, ...]]:
    """The piece with what was typed over in its rows, and what could not be read of it ('row.3.text')."""
    sent = raw.get("row")
    rows = [one for one in sent if isinstance(one, Mapping)] if isinstance(sent, list) else []
    done, faults, many = plan, list[Fault](), 0
    for place, one in enumerate(rows):
        if f"{one.get('start', '')}|{one.get('text', '')}" == one.get("was", ""):
            continue
        reader = Reader(one, prefix=f"row.{place}.", faults=faults)
        before = len(faults)
        changed = _stretch(reader, done, known) if isinstance(done, Chain) else _row(reader, done, known)
        if len(faults) > before:
            continue
        done, many = changed, many + 1
        places = done.rings if isinstance(done, Chain) else sum(len(row.items) for row in done.rows)
        if places > MAX_PLACES:
            return Acted(plan), (*faults, Fault(f"row.{place}.text", too_many_places(places)))
    if many and not faults:
        wrong = chain_faults(done) if isinstance(done, Chain) else faults_of(done)
        if wrong:
            return Acted(plan), tuple(Fault("row.0.text", each.message) for each in wrong)
    said = f"Changed {many} {'row' if many == 1 else 'rows'}." if many else ""
    return Acted(done, said), tuple(faults)


def _row(reader: Reader, plan: Layout, known: Known) -> Layout:
    number = reader.integer("number", least=1, most=MAX_ROWS) or 0
    start = _start(reader)
    rings = _rings(reader, known, gaps=True)
    if not 1 <= number <= len(plan.rows) or not rings:
        return plan
    rows = list(plan.rows)
    rows[number - 1] = Row(start, rings)
    return plan.with_rows(rows)


def _start(reader: Reader) -> int:
    """A row's start in steps, which may be below zero."""
    typed = reader.text("start").replace("\u2212", "-").removeprefix("+") or "0"
    if not (typed.removeprefix("-").isdigit() and typed.isascii()) or abs(int(typed[:9])) > MAX_STEP:
        reader.fault("start", "Say at which step the row starts: a whole number such as 0, 1 or -2.")
        return 0
    return int(typed[:9])


def _rings(reader: Reader, known: Known, *, gaps: bool) -> tuple[str, ...]:
    found = read_rings(reader.text("text", most=20_000), known.ring_words, "text", gaps=gaps)
    if isinstance(found, Fault):
        reader.fault("text", found.message)
        return ()
    return found


def _stretch(reader: Reader, plan: Chain, known: Known) -> Chain:
    number = reader.integer("number", least=1, most=len(plan.stretches)) or 0
    units = reader.integer("start", least=1, most=MAX_RINGS) or 1
    repeat = _rings(reader, known, gaps=False)
    if not 1 <= number <= len(plan.stretches) or not repeat:
        return plan
    stretches = list(plan.stretches)
    stretches[number - 1] = Stretch(units, repeat)
    return replace(plan, stretches=tuple(stretches))
