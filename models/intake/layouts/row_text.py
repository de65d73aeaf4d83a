"""Rings along a row in words, '5 bronze, 1 blue' or '(1 bronze, 1 blue) × 6', read and written the same way.

Also the short word that tells each ring of a piece from the others. Not here: what an act does with a row (layout_act).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from itertools import groupby
from typing import Final

from models.intake.faults import Fault
from models.layouts.engine.rows import GAP, MAX_RINGS

GAP_WORD: Final = "gap"
MOST_TEXT: Final = 20_000
_MOST_RUNS_OF_A_REPEAT: Final = 8
_RUN: Final = re.compile(r"(?:(?P<count>\d{1,6})(?![\d.,])\s*[x×]?\s*)?(?P<word>.*)", re.IGNORECASE | re.DOTALL)
_GROUP: Final = re.compile(r"\((?P<inside>[^()]*)\)\s*[x×*]\s*(?P<times>\d{1,6})", re.IGNORECASE)
_EXAMPLE: Final = "such as 5 bronze, 1 blue"


def short_words(wanted: Mapping[str, Sequence[str]]) -> dict[str, str]:
    """Return one word or two for each ring's key: the first of its wanted words that no other ring also wants.

    Where all are shared, its first word with a letter: 'bronze A', 'bronze B'.
    """
    used: dict[str, int] = {}
    for words in wanted.values():
        for word in {each.casefold() for each in words}:
            used[word] = used.get(word, 0) + 1
    found: dict[str, str] = {}
    lettered: dict[str, int] = {}
    for key, words in wanted.items():
        alone = next((word for word in words if used[word.casefold()] == 1 and _plain(word)), None)
        if alone is None:
            first = next((word for word in words if _plain(word)), "ring")
            place = lettered[first.casefold()] = lettered.get(first.casefold(), 0) + 1
            alone = f"{first} {_letter(place)}"
        found[key] = alone
    return found


def _plain(word: str) -> bool:
    """Whether a word can stand in a row's text without being taken for something else."""
    return bool(word.strip()) and not set(word) & set("(),*") and not word.strip()[0].isdigit()


def _letter(place: int) -> str:
    return chr(ord("A") + place - 1) if place <= 26 else str(place)


def rings_in_words(items: Sequence[str], words: Mapping[str, str]) -> str:
    """Return the rings of a row in words, a repeat as a repeat where that is shorter."""
    length = _period(items)
    if length is None:
        return _runs_in_words(items, words)
    return f"({_runs_in_words(items[:length], words)}) × {len(items) // length}"


def _period(items: Sequence[str]) -> int | None:
    """Return the length of the shortest repeat of several runs that makes the whole row, where there is one."""
    total = len(items)
    for length in range(2, min(total // 2, 60) + 1):
        if total % length == 0 and len(set(items[:length])) > 1 and items[length:] == items[:-length]:
            runs = sum(1 for _ in groupby(items[:length]))
            return length if runs <= _MOST_RUNS_OF_A_REPEAT else None
    return None


def _runs_in_words(items: Iterable[str], words: Mapping[str, str]) -> str:
    return ", ".join(
        f"{sum(1 for _ in group)} {words.get(item, item) if item != GAP else GAP_WORD}"
        for item, group in groupby(items)
    )


def read_rings(text: str, words: Mapping[str, str], field: str, *, gaps: bool = True) -> tuple[str, ...] | Fault:
    """Return the item of each place of a row, or what is wrong with its words.

    `words` are the rings that may be named, by key; a key itself and the beginning of one word alone are understood.
    """
    if not text.strip():
        return Fault(field, f"Say which rings, {_EXAMPLE}.")
    if len(text) > MOST_TEXT:
        return Fault(field, "This is too long. Write repeats as (1 bronze, 1 blue) x 12.")
    found: list[str] = []
    at = 0
    for group in _GROUP.finditer(text):
        before = _read_runs(text[at : group.start()], words, field, gaps=gaps)
        inside = _read_runs(group["inside"], words, field, gaps=gaps)
        if isinstance(before, Fault):
            return before
        if isinstance(inside, Fault):
            return inside
        if len(found) + len(before) + len(inside) * int(group["times"]) > MAX_RINGS:
            return Fault(field, f"A row has up to {MAX_RINGS:,} rings here.")
        found += before + inside * int(group["times"])
        at = group.end()
    rest = _read_runs(text[at:], words, field, gaps=gaps)
    if isinstance(rest, Fault):
        return rest
    found += rest
    if len(found) > MAX_RINGS:
        return Fault(field, f"A row has up to {MAX_RINGS:,} rings here.")
    return tuple(found) if found else Fault(field, f"Say which rings, {_EXAMPLE}.")


def _read_runs(text: str, words: Mapping[str, str], field: str, *, gaps: bool) -> list[str] | Fault:
    found: list[str] = []
    for part in re.split(r"[,;\n]", text):
        if not part.strip():
            continue
        run = _RUN.fullmatch(part.strip())
        word = run["word"].strip() if run else ""
        count = int(run["count"]) if run and run["count"] else 1
        if run is None or set(word) & set("()"):
            return Fault(field, f"“{part.strip()[:40]}” is not understood. Write it {_EXAMPLE}.")
        if count > MAX_RINGS or len(found) + count > MAX_RINGS:
            return Fault(field, f"A row has up to {MAX_RINGS:,} rings here.")
        key = _named(word, words)
        if key is None or (key == GAP and not gaps):
            known = ", ".join(words.values()) or "none yet"
            return Fault(field, f"“{word[:40]}” is none of the rings of this piece: {known}.")
        found += [key] * count
    return found


def _named(word: str, words: Mapping[str, str]) -> str | None:
    """Return the key that a word means; a number alone means the only ring there is."""
    if not word:
        return next(iter(words)) if len(words) == 1 else None
    folded = _folded(word)
    if folded in (GAP_WORD, "gaps"):
        return GAP
    for key, own in words.items():
        if folded in (_folded(own), key.casefold()):
            return key
    begins = [key for key, own in words.items() if _folded(own).startswith(folded)]
    return begins[0] if len(begins) == 1 else None


def _folded(word: str) -> str:
    """A word as it is compared: a keyboard has an x where a size reads ×, and spaces round it do not matter."""
    return re.sub(r"(?<=\d)\s*[x×]\s*(?=\d)", "x", word.casefold())
