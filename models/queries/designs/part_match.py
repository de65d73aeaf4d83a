"""Which stock item a typed line means: sure, unsure with candidates, or none that the shop has.

Every item gets a score from 0 to 100: what of the line it answers, over what the line asks.

    asks                                    counts   is answered by
    a ring's size                           40       the same wire and opening; the gauge that the bag is sold by counts
    a metal                                 25       a metal that the words may mean
    colours                                 15       the same colour words in its colour, finish or name
    other words                             35       words of its name, finish and kind (15 beside a ring's size)

Taken off afterwards: 15 for a size that is only near (within the shop's tolerance), 15 for a ring's metal or colour
that the line does not name (not for the metal of a ring whose size and colour it names: where one bag has both, that
is enough), 5 for such a metal or colour of another thing, 5 for a finish, 2 for each further word of its name (at most
8), 30 for another unit or kind. A ring of another size or metal, a wire of another thickness, and a thing of which no
word was typed, is no candidate. The best one is sure from 90 on when no other is within 5 of it, or when it alone has
exactly the typed name; but never while a word of the line is not answered by it, nor while it is of a metal that the
line's word only begins to name ('gold' of gold-filled, 'silver' of nickel silver).
What a line says is read in `models/intake/designs/part_text`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal

from sqlmodel import Session

from models.intake.costing.part import COUNTED_KINDS
from models.intake.designs.part_text import PartLine
from models.intake.designs.part_words import COLOUR_WORDS, NOISE_WORDS, words_of
from models.queries.stock.item import load_materials, near_nm
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.trade.metals import METALS, Metal, match_metal

Outcome = Literal["matched", "unsure", "unknown", "unreadable"]

SURE = 90
LEAD = 5
WORTH_ASKING = 50
MOST_CANDIDATES = 6
_NOT_BY_ITSELF = ("filled", "nickel")
SAME_NM = 500
"""Sizes are shown to a thousandth of a millimetre, so a size copied from a name is that near to the real one."""


@dataclass(frozen=True, slots=True)
class Candidate:
    """A stock item that a line may mean; `near` tells that its size is only near the typed one.

    `open` tells that something of the line is not answered by it, so that it has to be asked.
    """

    item: Material
    score: int
    near: bool = False
    same_name: bool = False
    open: bool = False


@dataclass(frozen=True, slots=True)
class LineMatch:
    """What became of one line: `matched` has one candidate, `unsure` some, `unknown` and `unreadable` none.

    `metals` are the codes that its words may mean, the shop's own among them, best first.
    """

    line: PartLine
    outcome: Outcome
    candidates: tuple[Candidate, ...] = ()
    metals: tuple[str, ...] = ()

    @property
    def item(self) -> Material | None:
        """The item that is surely meant."""
        return self.candidates[0].item if self.outcome == "matched" else None


@dataclass(frozen=True, slots=True)
class _Entry:
    item: Material
    words: frozenset[str]
    name_words: frozenset[str]


class Matcher:
    """The items of a shop, ready to be compared with many lines."""

    def __init__(self, items: Iterable[Material], metals: Mapping[str, Metal], tolerance_nm: int) -> None:
        self._own = [metal for code, metal in metals.items() if code not in METALS]
        self._near_nm = tolerance_nm
        self._entries = [_entry(item) for item in items if not item.retired]
        self._named: dict[tuple[str, ...], list[Material]] = {}
        for entry in self._entries:
            self._named.setdefault(_in_order(_own_words(entry.item)), []).append(entry.item)

    def match(self, line: PartLine) -> LineMatch:
        """Compare one line with every item; one that it names in full is found whatever else its words might say."""
        named = self._named.get(_in_order(line.said), [])
        if len(named) == 1 and _counts(line, named[0]):
            return LineMatch(line, "matched", (Candidate(named[0], 100, same_name=True),), self._metals(line)[0])
        if line.fault:
            return LineMatch(line, "unreadable")
        metals, metal_words = self._metals(line)
        asked = _Asked.of(line, metals, metal_words)
        scored = [found for entry in self._entries if (found := self._score(line, asked, entry)) is not None]
        scored = [found for found in scored if found.score >= WORTH_ASKING]
        scored.sort(key=lambda found: (-found.score, not found.same_name, found.item.name.casefold(), found.item.id))
        if not scored:
            return LineMatch(line, "unknown", metals=metals)
        if _is_sure(scored):
            return LineMatch(line, "matched", (scored[0],), metals)
        return LineMatch(line, "unsure", tuple(scored[:MOST_CANDIDATES]), metals)

    def _metals(self, line: PartLine) -> tuple[tuple[str, ...], frozenset[str]]:
        """The metals that the line may mean, and the words that say so; the shop's own win over the catalogue's."""
        typed = set(line.words)
        for metal in self._own:
            for name in (metal.name, metal.code, *metal.aliases):
                words = set(words_of(name.replace("-", " ")))
                if words and words <= typed and not set(line.metal_words.split()) > words:
                    return (metal.code,), frozenset(words)
        found = match_metal(line.metal_words, self._own) if line.metal_words else []
        return tuple(metal.code for metal in found), frozenset(line.metal_words.split())

    def _score(self, line: PartLine, asked: _Asked, entry: _Entry) -> Candidate | None:
        item = entry.item
        same_size = self._size(line, item)
        metal_answers = item.metal in asked.metals
        if same_size is None or not asked.weight:
            return None
        if asked.metals and not metal_answers and (item.metal is not None or item.kind == "ring"):
            return None
        words_found = sum(times for stem, times in asked.rest_stems if stem in entry.words)
        colours_found = sum(_has(word, entry.words) for word in asked.colours)
        if asked.rest and not line.size and not words_found:
            return None
        earned = (40 if line.size else 0) + (25 if metal_answers else 0)
        if asked.rest:
            earned += asked.rest_weight * words_found // len(asked.rest)
        if asked.colours:
            earned += 15 * colours_found // len(asked.colours)
        score = earned * 100 // asked.weight - _unasked(line, asked, entry) - (0 if same_size else 15)
        return Candidate(
            item,
            max(0, score),
            near=not same_size,
            same_name=entry.name_words == asked.named and line.unit == item.unit,
            open=words_found < len(asked.rest) or colours_found < len(asked.colours) or _only_begun(asked, item),
        )

    def _size(self, line: PartLine, item: Material) -> bool | None:
        """True for the same size or where none was typed, False for a near one, None for another."""
        if line.size and line.inner:
            if item.kind != "ring" or item.size is None:
                return None
            inner = self._off(line.inner.nm, item.size.inner_nm)
        elif line.wire and item.kind == "wire":
            inner = True
        else:
            return True
        if not line.wire or not item.wire_nm:
            return False
        sold_by_gauge = bool(line.wire.label) and line.wire.label == item.wire_label
        wire = True if sold_by_gauge else self._off(line.wire.nm, item.wire_nm)
        return None if wire is None or inner is None else wire and inner

    def _off(self, typed_nm: int, real_nm: int) -> bool | None:
        """True for the same, False for near, None for neither."""
        off_nm = abs(typed_nm - real_nm)
        return True if off_nm < SAME_NM else False if off_nm <= self._near_nm else None


@dataclass(frozen=True, slots=True)
class _Asked:
    """What a line asks for, sorted by kind of word, with the weight of all of it; `named` are all its words."""

    metals: frozenset[str]
    colours: tuple[str, ...]
    rest: tuple[str, ...]
    rest_weight: int
    named: frozenset[str]
    weight: int
    rest_stems: tuple[tuple[str, int], ...]
    """The stems of `rest`, each once with how often it was typed: every item is compared with them."""

    @classmethod
    def of(cls, line: PartLine, metals: Sequence[str], metal_words: frozenset[str]) -> _Asked:
        colours = tuple(word for word in line.words if word in COLOUR_WORDS and word not in metal_words)
        rest = tuple(word for word in line.words if word not in metal_words and word not in colours)
        rest_weight = 15 if line.size else 35
        weight = (
            (40 if line.size else 0) + (25 if metals else 0) + (15 if colours else 0) + (rest_weight if rest else 0)
        )
        stems = tuple(Counter(map(_stem, rest)).items())
        return cls(frozenset(metals), colours, rest, rest_weight, frozenset(map(_stem, line.words)), weight, stems)


def load_matcher(session: Session) -> Matcher:
    """The shop's items and metals, read once for all lines of a page."""
    return Matcher(load_materials(session).values(), all_metals(session), near_nm(session))


def match_lines(session: Session, lines: Sequence[PartLine]) -> tuple[LineMatch, ...]:
    """Match every line; without lines nothing is read."""
    if not lines:
        return ()
    matcher = load_matcher(session)
    return tuple(matcher.match(line) for line in lines)


def _unasked(line: PartLine, asked: _Asked, entry: _Entry) -> int:
    """What is taken off for what an item is and the line does not say."""
    item = entry.item
    off = 0
    told = line.size is not None and asked.colours and all(_has(word, entry.words) for word in asked.colours)
    if item.metal is not None and not asked.metals and not told:
        off += 15 if item.kind == "ring" else 5
    if item.colour and not asked.colours:
        off += 15 if item.kind == "ring" else 5
    if item.finish and not any(_has(word, asked.named) for word in words_of(item.finish)):
        off += 5
    if not line.size:
        off += min(8, 2 * sum(word not in asked.named for word in entry.name_words))
    if line.unit != item.unit or (line.kind and line.kind != item.kind):
        off += 30
    return off


def _is_sure(scored: Sequence[Candidate]) -> bool:
    best = scored[0]
    if best.near or best.open:
        return False
    if best.same_name and sum(found.same_name for found in scored) == 1:
        return True
    if best.score < SURE:
        return False
    return len(scored) == 1 or best.score - scored[1].score >= LEAD


def _only_begun(asked: _Asked, item: Material) -> bool:
    """Whether the item's metal is another than the typed word by itself says: gold-filled is no gold."""
    return bool(asked.metals) and any(
        word in words_of(item.metal_name.replace("-", " ")) and word not in asked.named for word in _NOT_BY_ITSELF
    )


def _own_words(item: Material) -> list[str]:
    return [word for word in words_of(item.name) if word not in NOISE_WORDS]


def _in_order(words: Iterable[str]) -> tuple[str, ...]:
    return tuple(sorted(map(_stem, words)))


def _counts(line: PartLine, item: Material) -> bool:
    """Whether the line says how many, as this item is counted."""
    if line.quantity_milli is None or line.unit != item.unit or line.gauge:
        return False
    return item.kind not in COUNTED_KINDS or not line.quantity_milli % 1000


def _entry(item: Material) -> _Entry:
    own = [_stem(word) for word in _own_words(item)]
    more = words_of(f"{item.colour} {item.finish} {item.kind} {item.metal_name}")
    # 'earwire' and 'ear wire' are one.
    joined = (f"{first}{second}" for first, second in pairwise(map(_stem, words_of(item.name))))
    return _Entry(item, frozenset({*own, *map(_stem, more), *joined}), frozenset(own))


def _has(word: str, words: frozenset[str]) -> bool:
    return _stem(word) in words


def _stem(word: str) -> str:
    """The word without a plural's ending, so that 'ear wires' finds 'ear wire'."""
    if len(word) > 3 and word.endswith(("xes", "ches", "shes")):
        return word[:-2]
    return word[:-1] if len(word) > 3 and word.endswith("s") and not word.endswith("ss") else word
