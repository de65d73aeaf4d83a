"""What people hand in about builds: what is made, what was taken, spoiled and put back, and how long it took.

A page's form and a JSON body are read alike. Whether a design has a choice, and whether a bag holds what is asked of
it, is checked where the shop is known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from models.costing.learning import MOST_TOGETHER
from models.intake.designs.design import ONCE_WORK
from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.intake.stock.place import MOST_PLACE, read_goal, read_place
from models.intake.worktime import work_time
from models.trade.vocabulary.bench import TIMING_ANSWERS, WORK_KINDS

BENCH_KINDS: Final = tuple(kind for kind in WORK_KINDS if kind not in ONCE_WORK)
"""The kinds of work of a build; photographs and the listing are done once for a design, away from the build."""
"""What to do with a timing that looks odd: learn from it, or leave it out."""
BAG_SIGN: Final = ":"
MOST_LINES: Final = 400


@dataclass(frozen=True, slots=True)
class BuildRequest:
    """What is to be made: pieces of a design's revision (None: the latest), with choices as 'group=choice'.

    `instead` are pairs of items: the second is used in the place of the first, in this build only.
    """

    design_id: int
    pieces: int = 1
    choices: tuple[str, ...] = ()
    with_optional: tuple[int, ...] = ()
    number: int | None = None
    instead: tuple[tuple[int, int], ...] = ()


@dataclass(frozen=True, slots=True)
class LineDraft:
    """What is said of one bag, in thousandths of the item's unit and in micrograms; None: nothing was said.

    A bag is named by its lot and place (None: wherever the lot lies), or only by its item, which lets the shop choose.
    `used_milli` is what goes into the pieces. A weight before and after tells what left the bag; with its remembered
    tare the one after is enough.
    """

    lot_id: int | None = None
    place: str | None = None
    item_id: int | None = None
    used_milli: int | None = None
    spoiled_milli: int | None = None
    returned_milli: int | None = None
    before_ug: int | None = None
    after_ug: int | None = None
    tare_ug: int | None = None

    @property
    def weighed(self) -> bool:
        """Whether the bag was put on a scale."""
        return self.before_ug is not None or self.after_ug is not None


@dataclass(frozen=True, slots=True)
class WorkDone:
    """How long it took, in thousandths of minutes: in all, by kind of work, and what to do with an odd timing."""

    minutes_milli: int | None = None
    kinds: Mapping[str, int] = field(default_factory=dict)
    timing: str = ""


@dataclass(frozen=True, slots=True)
class StartDraft:
    """A build to start; without lines the shop says what to take. `spare` takes the allowance along too.

    `started_on` None means today, `due_on` None that nobody waits for it.
    """

    ask: BuildRequest
    lines: tuple[LineDraft, ...] = ()
    spare: bool = False
    started_on: date | None = None
    due_on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class MadeDraft:
    """Pieces that were made already: `ask.pieces` are the good ones. `made_on` None means today."""

    ask: BuildRequest
    lines: tuple[LineDraft, ...] = ()
    spoiled: int = 0
    work: WorkDone = WorkDone()
    made_on: date | None = None
    place: str = ""
    note: str = ""
    keep_scrap: bool = True


@dataclass(frozen=True, slots=True)
class TakeOutDraft:
    """Taking out for a started build: as planned, or other amounts by bag."""

    lines: tuple[LineDraft, ...] = ()
    taken_on: date | None = None


@dataclass(frozen=True, slots=True)
class FinishDraft:
    """A build that is done. `good` None means all that were not spoiled; `keep_scrap` keeps spoiled precious metal."""

    good: int | None = None
    spoiled: int | None = None
    lines: tuple[LineDraft, ...] = ()
    work: WorkDone = WorkDone()
    finished_on: date | None = None
    place: str = ""
    note: str = ""
    keep_scrap: bool = True


@dataclass(frozen=True, slots=True)
class AbandonDraft:
    """A build that is given up: what goes back by bag (nothing said: all of it), the rest is scrap."""

    lines: tuple[LineDraft, ...] = ()
    abandoned_on: date | None = None
    note: str = ""
    keep_scrap: bool = True


@dataclass(frozen=True, slots=True)
class UnpickDraft:
    """Finished pieces taken apart: what goes back by bag (nothing said: all that went in), the rest is spoiled."""

    pieces: int = 1
    lines: tuple[LineDraft, ...] = ()
    unpicked_on: date | None = None
    keep_scrap: bool = True


@dataclass(frozen=True, slots=True)
class RingsFirstDraft:
    """Rings taken out before there is a design: how much of which item or bag."""

    lines: tuple[LineDraft, ...]
    taken_on: date | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class NewDesignDraft:
    """A design to be made of rings that are out already; `lines` say how much of each item is in the piece."""

    name: str
    piece: str = ""
    weave: str | None = None
    lines: tuple[LineDraft, ...] = ()


def read_build_request(raw: Raw) -> BuildRequest | Faults:
    """Read what is to be made, from a page's address or a body."""
    reader = Reader(raw)
    ask = _ask(reader)
    return reader.faults() or ask


def read_start(raw: Raw) -> StartDraft | Faults:
    """Read a build to start."""
    reader = Reader(raw)
    draft = StartDraft(
        ask=_ask(reader),
        lines=_lines(reader),
        spare=reader.flag("spare"),
        # Programs that know no other word still send the day as 'made_on'.
        started_on=reader.date("started_on" if "started_on" in reader.raw else "made_on", required=False),
        due_on=reader.date("due_on", required=False),
        note=_note(reader),
    )
    return reader.faults() or draft


def read_made(raw: Raw) -> MadeDraft | Faults:
    """Read pieces that were made already."""
    reader = Reader(raw)
    draft = MadeDraft(
        ask=_ask(reader),
        lines=_lines(reader),
        spoiled=reader.integer("spoiled", most=MOST_TOGETHER, default=0) or 0,
        work=_work(reader),
        made_on=reader.date("made_on", required=False),
        place=read_goal(reader, "place"),
        note=_note(reader),
        keep_scrap=_keep_scrap(reader),
    )
    if draft.ask.pieces + draft.spoiled > MOST_TOGETHER:
        reader.fault("spoiled", f"Book at most {MOST_TOGETHER:,} pieces at once.")
    return reader.faults() or draft


def read_take_out(raw: Raw) -> TakeOutDraft | Faults:
    """Read what is taken out for a started build."""
    reader = Reader(raw)
    draft = TakeOutDraft(_lines(reader), reader.date("taken_on", required=False))
    return reader.faults() or draft


def read_finish(raw: Raw) -> FinishDraft | Faults:
    """Read how a build went."""
    reader = Reader(raw)
    draft = FinishDraft(
        good=reader.integer("good", most=MOST_TOGETHER, required=False),
        spoiled=reader.integer("spoiled", most=MOST_TOGETHER, required=False),
        lines=_lines(reader),
        work=_work(reader),
        finished_on=reader.date("finished_on", required=False),
        place=read_goal(reader, "place"),
        note=_note(reader),
        keep_scrap=_keep_scrap(reader),
    )
    return reader.faults() or draft


def read_abandon(raw: Raw) -> AbandonDraft | Faults:
    """Read what becomes of a build that is given up."""
    reader = Reader(raw)
    draft = AbandonDraft(
        _lines(reader), reader.date("abandoned_on", required=False), _note(reader), _keep_scrap(reader)
    )
    return reader.faults() or draft


def read_unpick(raw: Raw) -> UnpickDraft | Faults:
    """Read which pieces are taken apart and what goes back."""
    reader = Reader(raw)
    draft = UnpickDraft(
        pieces=reader.integer("pieces", least=1, most=MOST_TOGETHER, default=1) or 1,
        lines=_lines(reader),
        unpicked_on=reader.date("unpicked_on", required=False),
        keep_scrap=_keep_scrap(reader),
    )
    return reader.faults() or draft


def read_rings_first(raw: Raw) -> RingsFirstDraft | Faults:
    """Read rings that are taken out before there is a design; rows without a quantity are passed over."""
    reader = Reader(raw)
    lines = tuple(line for line in _lines(reader) if line.used_milli or line.weighed)
    if not lines and reader.faults() is None:
        reader.fault("lines", "Say what you take, and how many.")
    draft = RingsFirstDraft(lines, reader.date("taken_on", required=False), _note(reader))
    return reader.faults() or draft


def read_new_design(raw: Raw) -> NewDesignDraft | Faults:
    """Read the design that is made of rings that are out."""
    reader = Reader(raw)
    draft = NewDesignDraft(
        name=reader.text("name", required="Give the design a name, such as Copper leaf pendant."),
        piece=reader.text("piece", most=60),
        weave=reader.text("weave") or None,
        lines=_lines(reader),
    )
    return reader.faults() or draft


def _ask(reader: Reader) -> BuildRequest:
    design_id = reader.identity("design_id", required=False)
    if design_id is None and not reader.has("design_id"):
        reader.fault("design_id", "Choose the design.")
    pieces = reader.integer("pieces", least=1, most=MOST_TOGETHER, default=1)
    return BuildRequest(
        design_id=design_id or 0,
        pieces=pieces or 1,
        choices=_several(reader, "choice"),
        with_optional=_optional(reader),
        number=reader.integer("revision", least=1, required=False),
        instead=_instead(reader),
    )


def _several(reader: Reader, name: str) -> tuple[str, ...]:
    """The texts of a field that may hold one, a list of them, or an object ({"colour": "green"})."""
    value = reader.raw.get(name)
    if value is None or value == "":
        return ()
    if isinstance(value, Mapping):
        value = [f"{group}={choice}" for group, choice in value.items()]
    values = value if isinstance(value, (list, tuple)) else (value,)
    return tuple(text for one in values[:MOST_LINES] if (text := str(one).strip()))


def _optional(reader: Reader) -> tuple[int, ...]:
    found = []
    for value in _several(reader, "with"):
        if value.isascii() and value.isdigit() and len(value) < 6:
            found.append(int(value))
        else:
            reader.fault("with", "An optional part is asked for by its place, such as 2.")
    return tuple(found)


def _instead(reader: Reader) -> tuple[tuple[int, int], ...]:
    """Pairs such as '12:15': item 15 in the place of item 12."""
    found = []
    for value in _several(reader, "instead"):
        pair = value.split(BAG_SIGN)
        if len(pair) == 2 and all(one.isascii() and one.isdigit() and len(one) < 10 for one in pair):
            found.append((int(pair[0]), int(pair[1])))
        else:
            reader.fault("instead", "Name the item and what is used in its place, such as 12:15.")
    return tuple(found)


def instead_value(item_id: int, other_id: int) -> str:
    """How a page or a program asks for another item in the place of one, in one build."""
    return f"{item_id}{BAG_SIGN}{other_id}"


def _lines(reader: Reader) -> tuple[LineDraft, ...]:
    rows = reader.raw.get("lines")
    if isinstance(rows, (list, tuple)) and len(rows) > MOST_LINES:
        reader.fault("lines", f"At most {MOST_LINES} lines can be read at once.")
        return ()
    return reader.each("lines", _line)


def _line(reader: Reader) -> LineDraft:
    lot_id, place = reader.identity("lot_id", required=False), read_place(reader, "place")
    if reader.has("bag"):
        lot_id, place = _bag(reader)
    item_id = reader.identity("item_id", required=False)
    if lot_id is None and item_id is None and reader.faults() is None:
        reader.fault("item_id", "Say which bag this is of: its lot, or its item.")
    line = LineDraft(
        lot_id=lot_id,
        place=place,
        item_id=item_id,
        used_milli=_milli(reader, "used"),
        spoiled_milli=_milli(reader, "spoiled"),
        returned_milli=_milli(reader, "returned"),
        before_ug=reader.mass("before", required=False),
        after_ug=reader.mass("after", required=False),
        tare_ug=reader.mass("tare", required=False),
    )
    if line.before_ug is not None and line.after_ug is not None and line.after_ug > line.before_ug:
        reader.fault("after", "The bag weighs more than before. Check both weights.")
    if line.before_ug is not None and line.after_ug is None:
        reader.fault("after", "Weigh the bag again afterwards, or leave both weights empty.")
    return line


def _bag(reader: Reader) -> tuple[int | None, str | None]:
    """A bag as a page names it: '12:drawer B4'."""
    number, _, place = reader.text("bag", most=MOST_PLACE + 20).partition(BAG_SIGN)
    if number.isascii() and number.isdigit() and len(number) < 10:
        return int(number), place
    reader.fault("bag", "This is no bag. Choose one of the list.")
    return None, None


def bag_value(lot_id: int, place: str) -> str:
    """How a page names a bag in one field."""
    return f"{lot_id}{BAG_SIGN}{place}"


def _milli(reader: Reader, name: str) -> int | None:
    value = reader.quantity(name, required=False)
    return None if value is None else int(value * 1000)


def _work(reader: Reader) -> WorkDone:
    nested = reader.raw.get("times")
    times = Reader(nested, prefix="times.") if isinstance(nested, Mapping) else None
    kinds = {}
    for kind in BENCH_KINDS:
        found = work_time(times, kind) if times is not None else work_time(reader, f"time_{kind}")
        if found:
            kinds[kind] = found
    for fault in (times.faults() if times is not None else None) or ():
        reader.fault(fault.field, fault.message)
    minutes = work_time(reader, "minutes")
    if minutes is not None and sum(kinds.values()) > minutes:
        reader.fault("minutes", "The kinds of work add up to more than this. Leave it empty to take their sum.")
    timing = reader.choice("timing", ("", *TIMING_ANSWERS), default="")
    return WorkDone(minutes if minutes is not None else sum(kinds.values()) or None, kinds, timing)


def _note(reader: Reader) -> str:
    return reader.text("note", most=1000, lines=True)


def _keep_scrap(reader: Reader) -> bool:
    """Spoiled precious metal is kept by weight, unless a page asked and the box was left empty."""
    return reader.flag("keep_scrap", default=not reader.flag("keep_scrap_asked"))
