"""What a vocabulary is: kept words in the order in which pages offer them, each with what it is called."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Generic, Literal, TypeVar, cast

K = TypeVar("K", bound=str)


@dataclass(frozen=True, slots=True, kw_only=True)
class Term:
    """What a kept word is called: `says` within a sentence, `offered` in a list of choices where that differs."""

    says: str
    offered: str = ""

    @property
    def label(self) -> str:
        """What a list of choices calls it, beginning with a capital letter."""
        return self.offered or self.says[:1].upper() + self.says[1:]


@dataclass(frozen=True, slots=True, kw_only=True)
class Marked(Term):
    """A word that pages show with a mark: all is well, look at it, something is wrong, or nothing of these."""

    mark: Literal["good", "warn", "bad", "idle"] = "idle"


T = TypeVar("T", bound=Term)


@dataclass(frozen=True, slots=True, eq=False)
class Vocabulary(Mapping[K, str], Generic[K, T]):
    """Kept words with what they are called; a mapping of each word to how a sentence says it.

    Of a `closed` one the code itself depends on every word, and the database checks them; an open one takes another
    line here and needs no migration. A vocabulary equals only itself.
    """

    noun: str
    terms: Mapping[K, T]
    closed: bool = False

    def __getitem__(self, code: K) -> str:
        return self.terms[code].says

    def __iter__(self) -> Iterator[K]:
        return iter(self.terms)

    def __len__(self) -> int:
        return len(self.terms)

    def __eq__(self, other: object) -> bool:
        return self is other

    def __hash__(self) -> int:
        return id(self)

    def term(self, code: str) -> T:
        """All that is declared of a word. Raises: KeyError for a word that is not of this vocabulary."""
        return self.terms[self.word(code)]

    def word(self, code: str) -> K:
        """A text as the word of this vocabulary that it is. Raises: KeyError for one that is not."""
        if code not in self.terms:
            raise KeyError(f"'{code}' is no {self.noun}")
        return cast(K, code)

    @property
    def codes(self) -> tuple[K, ...]:
        """The kept words alone."""
        return tuple(self.terms)

    @property
    def choices(self) -> tuple[tuple[K, str], ...]:
        """Pairs of a kept word and what a list of choices calls it."""
        return tuple((code, term.label) for code, term in self.terms.items())

    def those(self, fit: Callable[[T], bool]) -> tuple[K, ...]:
        """The words whose terms fit, in their order."""
        return tuple(code for code, term in self.terms.items() if fit(term))


def closed(noun: str, terms: dict[K, T]) -> Vocabulary[K, T]:
    """A vocabulary whose every word the code depends on."""
    return Vocabulary(noun, MappingProxyType(terms), closed=True)


def opened(noun: str, terms: dict[str, T]) -> Vocabulary[str, T]:
    """A vocabulary that takes another line without any other change."""
    return Vocabulary(noun, MappingProxyType(terms))
