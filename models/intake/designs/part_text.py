"""Quick entry: parts typed or pasted as text, one a line, read into quantity, size, metal, colour, name and purpose.

    48 bronze 1.2 x 4.0                     24 x blue niobium 20 AWG x 1/8 in: petals
    1 pair ear wires                        0.5 g wax for polishing
    30 cm copper chain                      1 gift box (optional)
    A: 24 blue niobium 0.8 x 2.8 | B: 24 green niobium 0.8 x 2.8

A line begins with how many (and a unit, where it is not pieces), then says what, in any order. What it is for follows a
colon or the word 'for'. Alternatives of a choice stand on one line with a bar between them; each may begin with its
name and a colon. Which stock item is meant is not decided here, there is no database.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, replace
from decimal import Decimal
from fractions import Fraction
from itertools import count, pairwise

from models.intake.costing.part import COUNTED_KINDS, MOST_QUANTITY, PartDraft
from models.intake.designs.part_words import (
    COLOUR_WORDS,
    KIND_WORDS,
    METAL_COLOURS,
    METAL_NOUNS,
    NOISE_WORDS,
    QUANTITY_UNITS,
    SOLD_BY_LENGTH,
    words_of,
)
from models.trade.gauges import asks_for_system
from models.trade.measures import Length, Unreadable, exact_text, parse_inner, parse_wire
from models.trade.metals import METALS, match_metal, names_metal
from models.trade.number_shape import NumberShape, shape_of
from models.trade.rings import RingSize, absurd
from models.trade.typed import read_number

MOST_LINES = 200
MOST_LINE_CHARACTERS = 300
MOST_LINE_WORDS = 60
MOST_DIGITS = 12
MOST_ALTERNATIVES = 26
"""How much is read: every rule below takes time by the words and the digits of a line, and nobody means more."""

_SAME = str.maketrans(
    {"⁄": "/", "−": "-", "×": "x", "✕": "x", "“": '"', "”": '"', "″": '"', "’": "'", "·": " ", "•": " "}
)
_GAUGE = r"(?:#?\d{1,2}(?:/0)?\s*(?:gauge\s*)?(?:awg|swg)|(?:awg|swg)\s*\d{1,2}(?:/0)?)"
_BARE_GAUGE = r"(?:\d{1,2}(?:/0)?\s*-?\s*(?:gauge|gage|ga|g))"
_SIMPLE = r"(?:\d+/\d+|\d*[.,]\d+|\d+)"
_NUMBER = rf"(?:\d+\s+\d+/\d+|{_SIMPLE})"
_INCHES = r"(?:inches|inch|in\b\.?|\")"
_UNITS = rf"(?:\s*(?:mm|cm|{_INCHES}))?"
_WIRE = rf"(?:{_GAUGE}|{_BARE_GAUGE}(?=\s*(?:x|wire|by)?\s*\.?\d)|{_SIMPLE}{_UNITS})"
_BEFORE = r"(?<![\w.,/])"
_INNER = rf"(?P<inner>{_NUMBER}{_UNITS})(?:\s*(?:inside|inner|id\b|i\.d\.))?(?![\w/])"
_CROSSED = re.compile(rf"{_BEFORE}(?P<wire>{_WIRE})\s*(?:wire\s*)?(?:[x*]|\bby\b)\s*{_INNER}", re.IGNORECASE)
# Two sizes side by side, as they stand on a bag or in the columns of a sheet.
_BESIDE = re.compile(rf"{_BEFORE}(?P<wire>{_WIRE})\s*(?:wire\s*)?(?:,\s*|\s+){_INNER}", re.IGNORECASE)
_LABELLED = re.compile(rf"{_WIRE}\s+wire\s*(?:[x*,]|\bby\b)?\s*{_INNER}", re.IGNORECASE)
_SINGLE = re.compile(rf"{_BEFORE}(?P<wire>{_GAUGE}|{_NUMBER}\s*(?:mm|{_INCHES}))(?![\w/])", re.IGNORECASE)
_ONLY_GAUGE = re.compile(rf"{_BEFORE}(?P<gauge>\d{{1,2}}(?:/0)?\s*-?\s*(?:gauge|gage|ga))\b", re.IGNORECASE)
_LEADING = re.compile(
    rf"(?P<number>{_SIMPLE})(?:\s*[x*](?=[\sa-z(])|\s*[x*]\s*(?=[\d.])|(?=[\sa-z(]|$))\s*", re.IGNORECASE
)
_MIXED = re.compile(r"(?P<number>\d+\s+\d+/\d+)\s*(?=[a-z])", re.IGNORECASE)
_TRAILING = re.compile(
    r"(?:\s+[x*]\s*|\s*[,=]\s*|\s+-\s+|\s*\()(?P<number>\d+(?:[.,]\d+)?)\s*(?:pcs|pieces)?\s*\)?\s*$", re.IGNORECASE
)
_INSIDE = re.compile(r"(?:^|\s)(?P<number>\d{1,5})(?=\s|$)")
_LETTERS = re.compile(r"(?P<letters>[a-z]+)\b\.?\s*(?:of\s+)?", re.IGNORECASE)
_OPTIONAL = re.compile(
    r"^optional(?:ly)?\b\s*[:,;]?\s*|(?<![\s,;])[\s,;]*[(\[]?\s*\boptional(?:ly)?\b\s*[)\]]?[\s,;]*", re.IGNORECASE
)
_RATIO = re.compile(r"\bar\s*[:=]?\s*\d+(?:[.,]\d+)?", re.IGNORECASE)
_FOR = re.compile(r"\s+for\s+(?P<purpose>\S.*)$", re.IGNORECASE)
# '1.2/4.0' cannot be a fraction, so the stroke stands between two sizes.
_SLASHED = re.compile(r"(\d[.,]\d+(?:\s*mm)?|\d\s*mm)\s*/\s*(?=\d)", re.IGNORECASE)
_LONE = re.compile(rf"{_BEFORE}(?P<inner>{_NUMBER}{_UNITS})(?![\w/])", re.IGNORECASE)
_SEVERAL_MARKS = re.compile(r"(?<![\w.,/])\d+(?:[.,]\d+){2,}(?![\w/])")
_HARD_GROUP = re.compile(r"(?<=\d)[\u00a0\u202f\u2009'\u2019](?=\d{3}(?!\d))")
_SPACED = re.compile(r"(?P<number>\d{1,3} (?P<last>\d{3})) (?=[a-z])", re.IGNORECASE)
_BULLET = re.compile(r"^\s*(?:[-*–—]\s+|\d{1,2}[.)]\s+(?=\d))")
_MANY_DIGITS = re.compile(rf"\d{{{MOST_DIGITS + 1}}}")
TOO_MANY_WORDS = f"Keep a line to {MOST_LINE_WORDS} words."
_NO_QUANTITY = "How many? Begin the line with a number above zero, such as 48."


@dataclass(frozen=True, slots=True)
class PartLine:
    """One part as a line says it. `quantity_milli` is thousandths of `unit`; None when the line does not say how many.

    `said` are all words but how many and what for, sizes too. `words` are what is left to find it by, in lower case;
    `metal_words` and `colour_words` are those of them that name
    a metal of the catalogue or a colour. `fault` says in plain words what cannot be read, with what would be right;
    `gauge` is a gauge that came without its system ('16'), which has to be asked.
    """

    text: str
    quantity_milli: int | None = None
    unit: str = "piece"
    kind: str = ""
    wire: Length | None = None
    inner: Length | None = None
    words: tuple[str, ...] = ()
    said: tuple[str, ...] = ()
    metal_words: str = ""
    colour_words: tuple[str, ...] = ()
    name: str = ""
    purpose: str = ""
    optional: bool = False
    choice_group: str = ""
    choice_name: str = ""
    gauge: str = ""
    fault: str = ""

    @property
    def size(self) -> RingSize | None:
        """The ring size, where the line has one."""
        return RingSize(self.wire.nm, self.inner.nm) if self.wire and self.inner else None

    @property
    def metals(self) -> tuple[str, ...]:
        """The codes of the catalogue's metals that the line may mean, best first."""
        return tuple(metal.code for metal in match_metal(self.metal_words)) if self.metal_words else ()

    def as_typed(self) -> PartDraft:
        """The part that this line is when it is kept as typed; a missing quantity counts as one."""
        kind = self.kind or ("ring" if self.size else "finding")
        metals = self.metals
        return PartDraft(
            quantity_milli=self.quantity_milli or 1000,
            typed_kind=kind,
            typed_name="" if kind == "ring" else self.name,
            typed_metal=metals[0] if metals else None,
            typed_colour=" ".join(self.colour_words),
            typed_wire_nm=self.wire.nm if self.wire else None,
            typed_inner_nm=self.inner.nm if self.inner else None,
            typed_unit=self.unit,
            purpose=self.purpose,
            optional=self.optional,
            choice_group=self.choice_group,
            choice_name=self.choice_name,
        )


def read_lines(text: str, *, length_unit: str = "mm", groups: tuple[str, ...] = ()) -> tuple[PartLine, ...]:
    """Read every line that is not blank; the alternatives of a choice become lines of their own.

    `groups` are names of choices that are in use already. Lines past 200 are answered as one with a fault.
    """
    shape = shape_of(text)
    found: list[PartLine] = []
    taken = set(groups)
    for line in text.splitlines():
        if not line.strip():
            continue
        if len(found) >= MOST_LINES:
            found.append(PartLine(text="", fault=f"Only {MOST_LINES} lines can be read at once."))
            break
        alternatives = [piece for piece in line.split("|", 2 * MOST_ALTERNATIVES) if piece.strip()]
        if len(alternatives) > MOST_ALTERNATIVES:
            found.append(PartLine(text=_plainly(line), fault=f"One line holds at most {MOST_ALTERNATIVES} choices."))
            continue
        if len(alternatives) < 2:
            found.append(read_line(line, length_unit=length_unit, shape=shape))
            continue
        group = next(name for number in count(1) if (name := f"choice {number}") not in taken)
        taken.add(group)
        found += _choice(alternatives, group, length_unit, shape)
    return tuple(found)


def read_line(text: str, *, length_unit: str = "mm", shape: NumberShape | None = None) -> PartLine:
    """Read one line, its numbers in the shape that it knows of or that is given.

    What cannot be read becomes its fault, and its text is kept.
    """
    shape = shape_of(text) if shape is None else shape
    original = _plainly(text)
    if len(original) > MOST_LINE_CHARACTERS:
        return PartLine(text=original, fault=f"Keep a line to {MOST_LINE_CHARACTERS} characters.")
    if text.count("\t") > MOST_LINE_WORDS:
        return PartLine(text=original, fault=TOO_MANY_WORDS)
    plain = _HARD_GROUP.sub("", text.replace("\t", " , "))
    for mark, known in shape.own:
        plain = plain.replace(mark, known)
    plain = _plainly(unicodedata.normalize("NFKC", plain).translate(_SAME))
    if plain.count(" ") >= MOST_LINE_WORDS or len(plain) > 2 * MOST_LINE_CHARACTERS:
        return PartLine(text=original, fault=TOO_MANY_WORDS)
    if _MANY_DIGITS.search(plain):
        return PartLine(text=original, fault=f"No number here has more than {MOST_DIGITS} digits.")
    plain = _SEVERAL_MARKS.sub(lambda found: _one_mark(found[0], shape), plain)
    plain = _SLASHED.sub(r"\1 x ", plain)
    rest, optional = _take_optional(_BULLET.sub("", plain))
    rest, purpose = _take_purpose(rest)
    kind = _kind(rest)
    line = PartLine(text=original, purpose=purpose, optional=optional, kind=kind)
    try:
        line, rest = _take_quantity(line, rest, shape)
        line = replace(line, said=tuple(word for word in words_of(rest) if word not in NOISE_WORDS))
        line, rest = _take_size(line, rest, length_unit, shape)
    except Unreadable as unreadable:
        return replace(line, fault=unreadable.message)
    line = _take_words(line, rest)
    if line.fault or line.gauge:
        return line
    return _checked(line)


def _plainly(text: str) -> str:
    return " ".join(text.split())


def with_gauge_system(text: str, gauge: str, system: str) -> str:
    """The same line with the system put behind its gauge number."""
    return re.sub(
        rf"(?<![\w.,/]){re.escape(gauge)}\s*-?\s*(?:gauge|gage|ga|g)\b",
        f"{gauge} {system}",
        text,
        count=1,
        flags=re.IGNORECASE,
    )


def line_of(part: PartDraft, name: str = "") -> str:
    """A line that reads back as this typed part; for a stock item its name is given."""
    number = format(Decimal(part.quantity_milli).scaleb(-3).normalize(), "f")
    words = [number if part.typed_unit == "piece" else f"{number} {part.typed_unit}"]
    if name:
        words.append(name)
    else:
        metal = METALS.get(part.typed_metal or "")
        words += [part.typed_colour, metal.code if metal else part.typed_metal or "", part.typed_name]
        if part.typed_wire_nm and part.typed_inner_nm:
            words.append(f"{exact_text(part.typed_wire_nm)} x {exact_text(part.typed_inner_nm)}")
        elif part.typed_wire_nm:
            words.append(exact_text(part.typed_wire_nm))
    line = " ".join(word for word in words if word)
    line = f"{line} (optional)" if part.optional else line
    return f"{line}: {part.purpose}" if part.purpose else line


def _one_mark(number: str, shape: NumberShape) -> str:
    """The number with a decimal point alone, where its thousands are parted as the shape parts them."""
    try:
        value = read_number(number, "48", shape, "count")
    except Unreadable:
        return number
    return format(Decimal(value.numerator) / Decimal(value.denominator), "f")


def _choice(pieces: list[str], group: str, length_unit: str, shape: NumberShape) -> list[PartLine]:
    """The alternatives of one line; what only the last is said to be for, all are for."""
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
    found = [_alternative(piece, group, letters[place % 26], length_unit, shape) for place, piece in enumerate(pieces)]
    if not any(line.purpose for line in found[:-1]):
        found = [replace(line, purpose=found[-1].purpose) for line in found]
    return found


def _alternative(piece: str, group: str, letter: str, length_unit: str, shape: NumberShape) -> PartLine:
    """One alternative; words before its first colon are its name unless they begin with how many."""
    head, colon, tail = piece.partition(":")
    named = bool(colon) and bool(head.strip()) and not head.strip()[0].isdigit() and len(head.strip()) <= 60
    line = read_line(tail if named else piece, length_unit=length_unit, shape=shape)
    return replace(line, choice_group=group, choice_name=head.strip() if named else letter)


def _take_optional(text: str) -> tuple[str, bool]:
    rest = _OPTIONAL.sub(" ", text)
    return rest.strip(), rest != text


def _take_purpose(text: str) -> tuple[str, str]:
    """What it is for: after a colon, or before it when the line begins with that ('Petals: 24 …'), or after 'for'."""
    head, colon, tail = text.partition(":")
    if colon:
        head, tail = head.strip(), tail.strip()
        if head and not head[0].isdigit() and tail[:1].isdigit():
            return tail, head
        return head, tail
    found = _FOR.search(text)
    return (text[: found.start()], found["purpose"].strip()) if found else (text, "")


def _kind(text: str) -> str:
    """The kind that the words name; the last such word counts, two words together count before one."""
    # In '1.0 mm wire, 3.6 mm inside' the word says which size is the wire's.
    text = text if not _LABELLED.search(text) else re.sub(r"\bwire\b", " ", text, flags=re.IGNORECASE)
    words = words_of(text)
    for phrase in reversed([f"{a} {b}" for a, b in pairwise(words)]):
        if phrase in KIND_WORDS:
            return KIND_WORDS[phrase]
    kinds = [KIND_WORDS[word] for word in reversed(words) if word in KIND_WORDS]
    if not (_CROSSED.search(text) or _BESIDE.search(text)):
        # A ring has a size; without one 'toggle clasp, bar and ring' is a clasp.
        kinds.sort(key=lambda kind: kind == "ring")
    return kinds[0] if kinds else ""


def _take_quantity(line: PartLine, text: str, shape: NumberShape) -> tuple[PartLine, str]:
    spaced = _SPACED.match(text) if shape.spaced else None
    if spaced and not match_metal(spaced["last"]):
        joined = spaced["number"].replace(" ", "")
        raise Unreadable(f"Do you mean {joined}? Type it without the space.")
    by_length = line.kind in SOLD_BY_LENGTH
    lead = (_MIXED.match(text) if by_length else None) or _LEADING.match(text)
    if lead and not _begins_with_size(text, lead, by_length=by_length):
        rest = text[lead.end() :]
        letters = _LETTERS.match(rest)
        word = letters["letters"].lower() if letters else ""
        if letters and word in QUANTITY_UNITS and not (word == "in" and not by_length):
            base, factor = QUANTITY_UNITS[word]
            number = read_number(lead["number"], "48", shape, "count" if base == "piece" else "measure")
            return _quantity(line, number * factor, base), rest[letters.end() :]
        if text[lead.end() - 1 : lead.end()].isdigit() and rest[:1].isalpha():
            # '1e5' and '3rd' are no numbers to begin with.
            return line, text
        return _quantity(line, read_number(lead["number"], "48", shape, "count"), "piece"), rest
    trail = _TRAILING.search(text)
    # '1.2 x 4.0' at the end of a line is a size; only a third number is a quantity.
    if trail and (_CROSSED.search(text[: trail.start()]) or not (_CROSSED.search(text) or _BESIDE.search(text))):
        return _quantity(line, read_number(trail["number"], "48", shape, "count"), "piece"), text[: trail.start()]
    return line, text


def _begins_with_size(text: str, lead: re.Match[str], *, by_length: bool) -> bool:
    """Tell whether the number at the start belongs to a size: '1.2 x 4.0 bronze', '4 mm bead', '20 AWG copper wire'."""
    if _CROSSED.match(text):
        # In '48 x 1.2 x 4.0' and '48 3/64 x 5/32' there is a whole size behind the number.
        rest = text[lead.end() :]
        return not (_CROSSED.match(rest) or (lead["number"].isdigit() and _LABELLED.match(rest)))
    single = _SINGLE.match(text)
    if single:
        return not by_length or re.search(r"(?:awg|swg)", single["wire"], re.IGNORECASE) is not None
    # '1.2 4.0 bronze': how many is never typed as 1.2 of something that has another size behind it.
    behind = text[lead.end() : lead.end() + 1]
    return not by_length and not behind.isalpha() and _BESIDE.match(text) is not None and not lead["number"].isdigit()


def _quantity(line: PartLine, number: Fraction, unit: str) -> PartLine:
    milli = number * 1000
    if milli <= 0:
        raise Unreadable(_NO_QUANTITY)
    if milli > MOST_QUANTITY * 1000:
        raise Unreadable(f"That is more than {MOST_QUANTITY:,} for one piece. Check the number.")
    return replace(line, quantity_milli=max(1, round(milli)), unit=unit)


def _take_size(line: PartLine, text: str, length_unit: str, shape: NumberShape) -> tuple[PartLine, str]:
    text = _RATIO.sub(" ", text)
    pair = (_CROSSED.search(text) or _BESIDE.search(text)) if line.kind in {"", "ring"} else None
    if pair is None:
        return _take_single(line, text, length_unit)
    rest = f"{text[: pair.start()]} {text[pair.end() :]}"
    line = replace(line, kind="ring")
    number = _INSIDE.search(rest) if line.quantity_milli is None else None
    if number:
        # 'bronze 48 1.2 x 4.0': beside a size, a whole number of its own can only say how many.
        line, rest = (
            _quantity(line, read_number(number["number"], "48", shape, "count"), "piece"),
            _without(rest, number),
        )
    gauge = _bare_gauge(pair["wire"])
    if gauge:
        return replace(line, gauge=gauge, fault=asks_for_system(f"{gauge} ga") or ""), rest
    wire = parse_wire(pair["wire"], default_unit=length_unit)
    return replace(line, wire=wire, inner=parse_inner(pair["inner"], default_unit=length_unit)), rest


def _take_single(line: PartLine, text: str, length_unit: str) -> tuple[PartLine, str]:
    """One size alone is the wire of a wire or a ring; of anything else it is part of the name ('bead 4 mm')."""
    gauge = _ONLY_GAUGE.search(text)
    if gauge:
        number = _bare_gauge(gauge["gauge"])
        return replace(line, gauge=number, fault=asks_for_system(gauge["gauge"]) or ""), _without(text, gauge)
    single = _SINGLE.search(text) if line.kind in {"", "wire", "ring"} else None
    if single is None or (not line.kind and "wg" not in single["wire"].lower()):
        return line, text
    line, rest = replace(line, wire=parse_wire(single["wire"], default_unit=length_unit)), _without(text, single)
    lone = _LONE.search(rest) if line.kind != "wire" else None
    if lone is None:
        return line, rest
    # '18 SWG brass 3/16': with the wire said elsewhere, the other size is the opening.
    inner = parse_inner(lone["inner"], default_unit=length_unit)
    return replace(line, kind="ring", inner=inner), _without(rest, lone)


def _without(text: str, found: re.Match[str]) -> str:
    return f"{text[: found.start()]} {text[found.end() :]}"


def _bare_gauge(text: str) -> str:
    """The number of a gauge that came without its system; empty for anything else."""
    found = re.fullmatch(r"(\d{1,2}(?:/0)?)\s*-?\s*(?:gauge|gage|ga|g)", text.strip(), re.IGNORECASE)
    return found[1] if found else ""


def _take_words(line: PartLine, text: str) -> PartLine:
    """What is left describes the part: its metal, its colours and the rest of its name."""
    words = tuple(word for word in words_of(text) if word not in NOISE_WORDS)
    metal = _metal_words([word for word in words if word not in KIND_WORDS], soft=line.kind == "ring")
    in_metal = set(metal.split())
    return replace(
        line,
        words=words,
        metal_words=metal,
        colour_words=tuple(word for word in words if word in COLOUR_WORDS and word not in in_metal),
        name=" ".join(text.strip(" ,;-=").split()),
    )


def _metal_words(words: list[str], *, soft: bool) -> str:
    """The longest run of words that names a metal; a colour word is one only when no other metal is named.

    A run without a noun, such as 'fine', names one only of a ring (`soft`) and where nothing else does: 'fine bronze
    chain' is bronze.
    """
    runs = [
        " ".join(words[start : start + length])
        for length in (4, 3, 2, 1)
        for start in range(len(words) - length + 1)
        if all(len(word) > 2 or length > 1 for word in words[start : start + length])
    ]
    known = [run for run in dict.fromkeys(runs) if names_metal(run)]
    plain = [run for run in known if not all(word in COLOUR_WORDS for word in run.split())]
    named = [run for run in plain if _names_a_metal(run)]
    # 'red' begins 'red brass', but of the colours only these are metals by themselves.
    alone = [run for run in known if all(word in METAL_COLOURS for word in run.split())]
    return (named or alone or (plain if soft else []) or [""])[0]


def _names_a_metal(run: str) -> bool:
    """Whether a noun or the number of an alloy ('925', 'c226', '18k') is among the words."""
    return any(word in METAL_NOUNS or any(sign.isdigit() for sign in word) for word in run.split())


def _checked(line: PartLine) -> PartLine:
    wrong = absurd(line.size) if line.size else None
    if line.unit != "piece" and line.kind in COUNTED_KINDS:
        wrong = "These are counted, not weighed or measured. Begin the line with how many."
    elif line.kind == "ring" and line.size is None:
        wrong = "A ring needs both sizes, wire and inner diameter, for example 48 bronze 1.2 x 4.0."
    elif not line.words and line.size is None and line.wire is None:
        wrong = "What is it? Name the part, for example 48 bronze 1.2 x 4.0 or 1 ear wire."
    elif line.quantity_milli is None:
        wrong = _NO_QUANTITY
    elif line.quantity_milli % 1000 and line.kind in COUNTED_KINDS:
        wrong = "These are counted one by one. Begin the line with a whole number, such as 48."
    return replace(line, fault=wrong) if wrong else line
