"""The words that data are kept by, each with what it is called: one place for tables, readers, pages, files and calls.

A word is kept as it stands on the left, for ever; what it is called may change. To add one, add its line here: readers
take it, pages offer it, files and calls name it, and the column takes it without a migration.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType


@dataclass(frozen=True, slots=True)
class Vocabulary(Mapping[str, str]):
    """A closed set of kept words in the order in which pages offer them, with what each is called."""

    noun: str
    words: Mapping[str, str]

    def __getitem__(self, code: str) -> str:
        return self.words[code]

    def __iter__(self) -> Iterator[str]:
        return iter(self.words)

    def __len__(self) -> int:
        return len(self.words)

    @property
    def codes(self) -> tuple[str, ...]:
        """The kept words alone."""
        return tuple(self.words)

    @property
    def choices(self) -> tuple[tuple[str, str], ...]:
        """Pairs of a kept word and what a page calls it, beginning with a capital letter."""
        return tuple((code, words[:1].upper() + words[1:]) for code, words in self.words.items())


def _of(noun: str, **words: str) -> Vocabulary:
    return Vocabulary(noun, MappingProxyType(words))


OUTLET_KINDS = _of(
    "kind of outlet",
    online="an online shop or marketplace",
    market="a market stall or fair",
    direct="straight to the buyer",
    consignment="a shop that sells it for you",
    wholesale="a shop that buys it from you",
)

FEE_BASES = Vocabulary(
    "base of a fee",
    MappingProxyType(
        {
            "price": "the price",
            "price+shipping": "price and shipping",
            "price+shipping+tax": "price, shipping and tax",
        }
    ),
)

PRICE_ENDINGS = Vocabulary(
    "price ending",
    MappingProxyType(
        {
            "any": "no rule: up to the smallest coin",
            "x.00": "whole amounts",
            "x.50": "ends in .50",
            "x.90": "ends in .90",
            "x.95": "ends in .95",
            "x.99": "ends in .99",
            "5": "multiples of five",
        }
    ),
)
"""How prices end: 'x' and two digits for what stands after the whole amount, or a number whose multiples they are."""
