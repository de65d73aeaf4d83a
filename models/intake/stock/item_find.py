"""How people ask for items: words and sizes to find, and filters. Nothing is looked up here."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader
from models.trade.measures import Unreadable, parse_length
from models.trade.vocabulary.ledger import SHELF_STATES
from models.trade.vocabulary.things import ITEM_KINDS

MOST_AR: Final = Decimal(200)

# What stands between two sizes: '1.2 x 4.0', '0.8mm×2.8mm'.
_BETWEEN = re.compile(r"(?<=[\dm\"])\s*(?:[x×]|\bby\b)\s*(?=[\d.])", re.IGNORECASE)

# A number with what belongs to it ('20 AWG', '5/32 in', '1 1/4"', '1.0mm'), or a plain word.
_TERM = re.compile(
    r"(?P<size>(?:\d+\s+)?\d[\d.,/]*|[.,]\d+)\s*(?P<unit>awg|swg|mm|inches|inch|in\b|\"|ga\b|gauge)?(?=\s|$|·)"
    r"|(?P<word>[^\s·]+)",
    re.IGNORECASE,
)


@dataclass(frozen=True, slots=True)
class Term:
    """One thing to find: a word in lower case, and the size that it may mean in nanometres."""

    word: str
    size_nm: int | None = None


@dataclass(frozen=True, slots=True)
class ItemFilter:
    """What a list of items is narrowed to; empty and None narrow nothing. Sizes match within the shop's tolerance."""

    find: str = ""
    terms: tuple[Term, ...] = ()
    kind: str = ""
    metal: str = ""
    colour: str = ""
    wire_nm: int | None = None
    inner_nm: int | None = None
    ar_from: Decimal | None = None
    ar_to: Decimal | None = None
    retired: bool = False
    shelf: str = ""
    page: int = 1

    @property
    def narrows(self) -> bool:
        """Whether anything is asked for beyond a page of everything."""
        return self != ItemFilter(page=self.page)


def read_item_filter(raw: Raw, *, length_unit: str = "mm") -> ItemFilter | Faults:
    """Read what is to be found from the address of a page or an API call."""
    reader = Reader(raw, length_unit=length_unit)
    find = reader.text("find", most=100)
    wire = reader.wire("wire", required=False)
    inner = reader.inner("inner", required=False)
    ar_from = reader.decimal("ar_from", required=False, most=MOST_AR, places=3)
    ar_to = reader.decimal("ar_to", required=False, most=MOST_AR, places=3)
    if ar_from is not None and ar_to is not None and ar_to < ar_from:
        reader.fault("ar_to", f"This is under {ar_from}, where it should start.")
    found = ItemFilter(
        find=find,
        terms=read_terms(find, length_unit=length_unit),
        kind=reader.choice("kind", ("", *ITEM_KINDS), default=""),
        metal=reader.text("metal", most=60),
        colour=reader.text("colour", most=60),
        wire_nm=wire.nm if wire else None,
        inner_nm=inner.nm if inner else None,
        ar_from=ar_from,
        ar_to=ar_to,
        retired=reader.flag("retired"),
        shelf=reader.choice("shelf", ("", *SHELF_STATES), default=""),
        page=reader.integer("page", least=1, most=10_000, default=1) or 1,
    )
    return reader.faults() or found


def read_terms(find: str, *, length_unit: str = "mm") -> tuple[Term, ...]:
    """What was typed as separate things to find: '20 AWG x 1/8 green' is two sizes and a word.

    A bare number is a size in the shop's unit and a bare fraction one in inches, but both may also be part of a name.
    """
    terms = []
    for found in _TERM.finditer(_BETWEEN.sub(" ", find)):
        text = found[0].strip()
        if found["word"]:
            terms.append(Term(text.lower()))
            continue
        try:
            size_nm: int | None = parse_length(text, default_unit=length_unit, gauges=True, reads="small").nm
        except Unreadable:
            size_nm = None
        terms.append(Term(text.lower(), size_nm))
    return tuple(terms)
