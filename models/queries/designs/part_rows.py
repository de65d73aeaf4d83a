"""The parts of a design while they are being typed: every row settled to a stock item or a typed thing, or asked about.

Rows are the plain fields of the editor. `pick` says what a row is: 'item:7', 'typed', the answer to a question
('gauge:AWG'), or nothing while only its `text` is known. Nothing that was typed is ever dropped; nothing is saved here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Literal

from sqlmodel import Session

from models.intake.costing.part import PartDraft
from models.intake.designs.design import MOST_PARTS
from models.intake.designs.part_text import PartLine, read_line, read_lines, with_gauge_system
from models.intake.faults import Fault, Faults
from models.queries.costing.inputs import usual_thing_name
from models.queries.designs.part_match import Candidate, LineMatch, Matcher
from models.queries.stock.item import load_materials, near_nm
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.trade.colours import BARE_TINT, tint_of
from models.trade.gauges import SYSTEMS
from models.trade.measures import Unreadable, exact_text, format_mm, parse_gauge, parse_inner, parse_wire
from models.trade.metals import METALS
from models.trade.number_shape import PLAIN, NumberShape, Typed, in_shape, shape_of
from models.trade.rings import RingSize

ROW_FIELDS = (
    "quantity", "purpose", "optional", "choice_group", "choice_name", "allowance_percent", "joined", "guess", "kind",
    "name", "metal", "colour", "wire", "inner", "unit",
)  # fmt: skip
EMPTY_ROW = dict.fromkeys(("text", "ask", *ROW_FIELDS), "") | {"unit": "piece", "joined": "yes"}
"""What stands in the fields of a row that does not say."""
BESIDE_FIELDS = ("choice_group", "choice_name", "allowance_percent", "joined", "guess")
"""What no line of quick entry says, so that it is kept beside the line."""
CHOOSE = "Choose which one this is, or keep it as typed."
WHICH_GAUGE = "Which gauge is it? American (AWG) and British (SWG) numbers name different wires."
MOST_SETTLED = 2 * MOST_PARTS
"""How many rows are read; a design has half as many parts, and the others can be typed before some are taken out."""
TOO_MANY = f"Only {MOST_SETTLED} rows are read at once. Take some out, or make two designs of this."
GONE = "This stock item is not there any more. Type the part again."

Fields = dict[str, str]


@dataclass(frozen=True, slots=True)
class SettledRow:
    """One row as the page shows it: `fields` are what stands in it.

    An 'item' row has its item. An 'ask' row has what it asks in `says`, with the candidates and, where only a gauge's
    system is missing, the answers as (pick, words). `typed_words` is what keeping it as typed would keep. `metals` are
    the codes that a typed row's words may mean, best first, where that is more than one.
    """

    state: Literal["item", "typed", "ask"]
    fields: Fields
    item: Material | None = None
    candidates: tuple[Candidate, ...] = ()
    gauges: tuple[tuple[str, str], ...] = ()
    says: str = ""
    readable: bool = True
    typed_words: str = ""
    metals: tuple[str, ...] = ()

    @property
    def kind(self) -> str:
        """What kind of thing it is, as far as that is known."""
        return self.item.kind if self.item else self.fields.get("kind", "")

    @property
    def size(self) -> RingSize | None:
        """The ring size, where the row has one that can be read."""
        if self.item:
            return self.item.size
        if self.state != "typed" or self.kind != "ring":
            return None
        try:
            return RingSize(parse_wire(self.fields.get("wire", "")).nm, parse_inner(self.fields.get("inner", "")).nm)
        except Unreadable:
            return None

    @property
    def tint(self) -> str:
        """What the ring is drawn in."""
        if self.item:
            return self.item.tint
        metal = METALS.get(self.fields.get("metal", ""))
        return tint_of(self.fields.get("colour", ""), metal.tint if metal else BARE_TINT)


@dataclass(frozen=True, slots=True)
class ResolvedRows:
    """All rows, in the order of the page."""

    rows: tuple[SettledRow, ...]

    @property
    def asking(self) -> int:
        """How many rows wait for an answer."""
        return sum(row.state == "ask" for row in self.rows)

    def questions(self) -> tuple[Fault, ...]:
        """What has to be answered before the design can be saved, beside the row that asks."""
        return tuple(
            Fault(
                f"parts.{place}.{'pick' if row.readable or row.gauges else 'text'}",
                f"“{row.fields.get('text', '')}”: {row.says}",
            )
            for place, row in enumerate(self.rows)
            if row.state == "ask"
        )

    def parts(self) -> list[dict[str, object]]:
        """The rows that are settled, as `read_design` takes them."""
        return [_handed_in(row) for row in self.rows if row.state != "ask"]

    def on_the_page(self, faults: Faults | None) -> tuple[Fault, ...]:
        """The faults of `parts()` with the places and the fields that they have on the page."""
        places = [place for place, row in enumerate(self.rows) if row.state != "ask"]
        found = []
        for fault in faults or ():
            group, _, rest = fault.field.partition(".")
            place, _, field = rest.partition(".")
            if group == "parts" and place.isdigit() and int(place) < len(places):
                name = "pick" if field == "item_id" else field
                found.append(Fault(f"parts.{places[int(place)]}.{name}", fault.message))
            else:
                found.append(fault)
        return tuple(found)


def resolve_rows(
    session: Session,
    rows: Sequence[Mapping[str, object]],
    quick: str,
    *,
    length_unit: str = "mm",
    shape: NumberShape = PLAIN,
) -> ResolvedRows:
    """Settle the rows of the page and, after them, the lines of the quick entry.

    `shape` is how the page writes numbers, for the lines that are written anew.
    """
    # A typed text stays as it is, since it knows how its numbers are written.
    known = [{name: value if isinstance(value, str) else str(value) for name, value in row.items()} for row in rows]
    quick = Typed(quick, shape)
    groups = tuple({row["choice_group"] for row in known if row.get("choice_group")})
    lines = read_lines(quick, length_unit=length_unit, groups=groups)
    known += [_of_line(line, shape) for line in lines]
    known = [row for row in known if row.get("pick") or row.get("text", "").strip()]
    pending = any(not row.get("pick", "").startswith(("item:", "typed")) or row.get("again") for row in known)
    ids = [number for row in known if (number := _item_id(row)) is not None]
    items = load_materials(session, None if pending else ids)
    matcher = Matcher(items.values(), all_metals(session), near_nm(session)) if pending else None
    settling = _Settling(items, matcher, length_unit, shape)
    found = [settling.settle(row) for row in known[:MOST_SETTLED]]
    found += [SettledRow("ask", {**row, "pick": ""}, says=TOO_MANY, readable=False) for row in known[MOST_SETTLED:]]
    return ResolvedRows(tuple(replace(row, fields={**EMPTY_ROW, **row.fields}) for row in found))


def rows_of(parts: Sequence[PartDraft]) -> list[Fields]:
    """The saved parts of a design as rows of the page."""
    return [_of_part(part) for part in parts]


@dataclass(frozen=True, slots=True)
class _Settling:
    items: Mapping[int, Material]
    matcher: Matcher | None
    length_unit: str
    shape: NumberShape

    def settle(self, row: Fields) -> SettledRow:
        if row.get("again"):
            return self._ask_again(row)
        pick = row.get("pick", "")
        if pick.startswith("item:"):
            item = self.items.get(_item_id(row) or 0)
            if item is None:
                return SettledRow("ask", {**row, "pick": ""}, says=GONE, readable=False)
            return SettledRow("item", self._filled(row), item)
        if pick == "typed":
            return SettledRow("typed", self._filled(row))
        text = row.get("text", "")
        line = self._line(row)
        if pick.startswith("gauge:") and line.gauge:
            said = with_gauge_system(text, line.gauge, pick.removeprefix("gauge:"))
            row = {**row, "text": Typed(said, shape_of(text))}
            line = self._line(row)
        row = {**row, "pick": ""}
        match = self.matcher.match(line) if self.matcher else LineMatch(line, "unreadable")
        if row.get("ask") or match.outcome in {"unreadable", "unsure"}:
            return self._asked(row, match)
        if match.item is not None:
            row = {**row, "pick": f"item:{match.item.id}"}
            return SettledRow("item", self._filled(row), match.item)
        return self._typed({**row, "pick": "typed"}, match)

    def _asked(self, row: Fields, match: LineMatch) -> SettledRow:
        readable = match.outcome != "unreadable"
        gauges = _gauge_answers(match.line.gauge)
        return SettledRow(
            "ask",
            row,
            candidates=match.candidates,
            gauges=gauges,
            says=WHICH_GAUGE if gauges else CHOOSE if readable else match.line.fault,
            readable=readable,
            typed_words=_typed_words(match.line),
        )

    def _ask_again(self, row: Fields) -> SettledRow:
        """A settled row that is asked about once more, with all that it says now written as its line."""
        item = self.items.get(_item_id(row) or 0)
        text = Typed(_line_of_row(row, item, self.shape), self.shape)
        beside: Fields = {name: row[name] for name in BESIDE_FIELDS if name in row}
        asked: Fields = {**beside, "text": text, "pick": "", "ask": "yes"}
        match = self.matcher.match(self._line(asked)) if self.matcher else LineMatch(read_line(text), "unreadable")
        return self._asked(asked, match)

    def _typed(self, row: Fields, match: LineMatch) -> SettledRow:
        filled = self._filled(row)
        if match.metals and not row.get("metal"):
            filled["metal"] = match.metals[0]
        return SettledRow("typed", filled, metals=match.metals if len(match.metals) > 1 else ())

    def _filled(self, row: Fields) -> Fields:
        """The row with what its line says, where the row does not say it itself."""
        if row.get("quantity") or not row.get("text", "").strip():
            return {**row, "ask": ""}
        line = self._line(row)
        said = _of_part(line.as_typed())
        if line.quantity_milli is None:
            said["quantity"] = ""
        own = {name: value for name, value in row.items() if value or name in BESIDE_FIELDS}
        return {**said, **own, "pick": row["pick"], "ask": ""}

    def _line(self, row: Fields) -> PartLine:
        return read_line(row.get("text", ""), length_unit=self.length_unit)


def _of_line(line: PartLine, shape: NumberShape) -> Fields:
    row: Fields = {"pick": "", "text": Typed(line.text, shape)}
    if line.choice_group:
        row |= {"choice_group": line.choice_group, "choice_name": line.choice_name}
        # What is said once for a whole choice stands in no alternative's own text.
        if line.purpose and line.purpose not in line.text:
            row["purpose"] = line.purpose
    return row


def _of_part(part: PartDraft) -> Fields:
    return {
        "pick": f"item:{part.item_id}" if part.item_id is not None else "typed",
        "text": "",
        "quantity": _plain(Decimal(part.quantity_milli).scaleb(-3)),
        "purpose": part.purpose,
        "optional": "yes" if part.optional else "",
        "choice_group": part.choice_group,
        "choice_name": part.choice_name,
        "allowance_percent": "" if part.allowance_percent is None else _plain(part.allowance_percent),
        "joined": "yes" if part.joined else "",
        "guess": "" if part.guess is None else _plain(part.guess),
        "kind": part.typed_kind,
        "name": part.typed_name,
        "metal": part.typed_metal or "",
        "colour": part.typed_colour,
        "wire": exact_text(part.typed_wire_nm) if part.typed_wire_nm else "",
        "inner": exact_text(part.typed_inner_nm) if part.typed_inner_nm else "",
        "unit": part.typed_unit,
    }


def _handed_in(row: SettledRow) -> dict[str, object]:
    fields: dict[str, object] = {name: row.fields[name] for name in ROW_FIELDS}
    if row.item is None:
        return fields
    return {**fields, "item_id": row.item.id}


def _item_id(row: Mapping[str, str]) -> int | None:
    number = row.get("pick", "").removeprefix("item:")
    return int(number) if number.isascii() and number.isdigit() and len(number) < 10 else None


def _line_of_row(row: Fields, item: Material | None, shape: NumberShape) -> str:
    """A settled row as the line that one would type for it."""
    unit = item.unit if item else row.get("unit", "piece")
    number = in_shape(row.get("quantity", ""), shape) or "1"
    if item:
        what = item.name
    else:
        size = " x ".join(row[name] for name in ("wire", "inner") if row.get(name))
        what = " ".join(word for word in (row.get("colour"), row.get("metal"), row.get("name"), size) if word)
    line = f"{number if unit == 'piece' else f'{number} {unit}'} {what}"
    line = f"{line} (optional)" if row.get("optional") else line
    return f"{line}: {row['purpose']}" if row.get("purpose") else line


def _gauge_answers(number: str) -> tuple[tuple[str, str], ...]:
    answers = []
    for system in SYSTEMS if number else ():
        try:
            found = parse_gauge(f"{number} {system}")
        except Unreadable:
            continue
        answers.append((f"gauge:{system}", f"{found.label}, {format_mm(found.nm)}"))
    return tuple(answers)


def _typed_words(line: PartLine) -> str:
    """What keeping a line as typed would keep, in words; empty where it says too little."""
    if not line.words and line.size is None:
        return ""
    kept = line.as_typed()
    if kept.typed_name:
        return f"{kept.typed_name} ({kept.typed_kind})"
    metal = METALS.get(kept.typed_metal or "")
    return usual_thing_name(kept.typed_kind, metal, kept.typed_colour, kept.typed_wire_nm, kept.typed_inner_nm)


def _plain(number: Decimal) -> str:
    return format(number.normalize(), "f")
