"""Finding stock items: by any part of a name or size in any unit, and by filters; a page of them at a time."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from math import ceil
from typing import Any

from sqlmodel import Session

from models.intake.stock.item_find import ItemFilter, Term
from models.queries.stock.item import in_order, item_in, items_with_offers, near_nm
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.trade.measures import exact_text, format_length, format_mm
from models.trade.metals import Metal
from models.trade.rings import RingSize
from models.trade.vocabulary.things import ITEM_KINDS, PART_KINDS

PER_PAGE = 60


@dataclass(frozen=True, slots=True)
class Facets:
    """What there is to filter by among the items listed; a choice is a (value, words) pair that says how many."""

    kinds: tuple[tuple[str, str], ...]
    metals: tuple[tuple[str, str], ...]
    colours: tuple[tuple[str, str], ...]
    wires: tuple[str, ...]
    """The wires as they can be typed, thinnest first."""
    inners: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ItemList:
    """One page of the items that were asked for, and what the shop has in all (`stock_…`, without retired items)."""

    items: tuple[Material, ...]
    total: int
    """How many were found on all pages."""
    page: int
    pages: int
    facets: Facets
    scale_nm: int
    """The largest outer diameter on this page, so that its rings are drawn in one proportion."""
    stock_size: int
    stock_rings: int
    stock_ring_metals: int
    """In how many metals the rings are."""
    stock_unpriced: int
    """How many items have no current offer."""


def find_items(
    session: Session, wanted: ItemFilter, *, per_page: int = PER_PAGE, among: Collection[int] | None = None
) -> ItemList:
    """Answer one page of the items that match, in the usual order; a page past the end is the last one.

    `among` leaves out every other item, where what is on the shelf was asked for.
    """
    metals = all_metals(session)
    tolerance_nm = near_nm(session)
    rows = session.execute(items_with_offers()).all()
    listed = [row for row in rows if row.retired == wanted.retired]
    chosen = [row for row in listed if among is None or row.id in among]
    found = in_order(row for row in chosen if _matches(row, wanted, metals, tolerance_nm))
    pages = max(1, ceil(len(found) / per_page))
    page = min(wanted.page, pages)
    items = tuple(item_in(row, metals) for row in found[(page - 1) * per_page : page * per_page])
    stock = [row for row in rows if not row.retired]
    rings = [row for row in stock if row.kind == "ring"]
    return ItemList(
        items=items,
        total=len(found),
        page=page,
        pages=pages,
        facets=_facets(listed, metals),
        scale_nm=max((item.size.outer_nm for item in items if item.size), default=0),
        stock_size=len(stock),
        stock_rings=len(rings),
        stock_ring_metals=len({row.metal for row in rings}),
        stock_unpriced=sum(row.offer_id is None for row in stock if row.kind in PART_KINDS),
    )


def _matches(row: Any, wanted: ItemFilter, metals: Mapping[str, Metal], tolerance_nm: int) -> bool:
    if wanted.kind and row.kind != wanted.kind:
        return False
    if wanted.metal and row.metal != wanted.metal:
        return False
    if wanted.colour and row.colour.casefold() != wanted.colour.casefold():
        return False
    if wanted.wire_nm is not None and not _close(row.wire_nm, wanted.wire_nm, tolerance_nm):
        return False
    if wanted.inner_nm is not None and not _close(row.inner_nm, wanted.inner_nm, tolerance_nm):
        return False
    if (wanted.ar_from is not None or wanted.ar_to is not None) and not _ratio_within(
        row, wanted.ar_from, wanted.ar_to
    ):
        return False
    if not wanted.terms:
        return True
    words = _words(row, metals)
    sizes_nm = [nm for nm in (row.wire_nm, row.inner_nm, row.hole_nm) if nm]
    return all(_has(term, words, sizes_nm, tolerance_nm) for term in wanted.terms)


def _has(term: Term, words: str, sizes_nm: Sequence[int], tolerance_nm: int) -> bool:
    """Whether an item has what was typed: as a size, as the beginning of a written size, or as part of its words."""
    if term.size_nm is not None:
        if any(_close(nm, term.size_nm, tolerance_nm) for nm in sizes_nm):
            return True
        number = re.sub(r"[^\d./]", "", term.word.replace(",", "."))
        if any(written.startswith(number) for nm in sizes_nm for written in _written(nm)):
            return True
        # A number inside a name counts only where it stands by itself: '20' is not in '120'.
        return re.search(rf"(?<![\d.]){re.escape(term.word)}(?![\d])", words) is not None
    return term.word in words


def _words(row: Any, metals: Mapping[str, Metal]) -> str:
    """All words of an item in one line, in lower case."""
    metal = metals.get(row.metal) if row.metal else None
    of_metal = (metal.name, metal.code, metal.family, *metal.aliases) if metal else ()
    parts = (row.name, row.kind, row.colour, row.finish, row.wire_label, row.inner_label, row.supplier or "", *of_metal)
    return " ".join(parts).lower()


def _written(nm: int) -> tuple[str, str]:
    """A size in millimetres and in inches, without the units."""
    return format_mm(nm).removesuffix(" mm"), format_length(nm, "in").removesuffix(" in")


def _close(nm: int | None, wanted_nm: int, tolerance_nm: int) -> bool:
    return nm is not None and abs(nm - wanted_nm) <= tolerance_nm


def _ratio_within(row: Any, low: Decimal | None, high: Decimal | None) -> bool:
    if not row.wire_nm or not row.inner_nm:
        return False
    ratio = RingSize(row.wire_nm, row.inner_nm).aspect_ratio
    return (low is None or ratio >= low) and (high is None or ratio <= high)


def _facets(rows: Sequence[Any], metals: Mapping[str, Metal]) -> Facets:
    def named(code: str) -> str:
        return metals[code].name if code in metals else code

    def by_words(options: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
        return tuple(sorted(options, key=lambda option: option[1].casefold()))

    kinds = _counted(row.kind for row in in_order(rows))
    coded = _counted(row.metal for row in rows if row.metal)
    coloured = _counted(row.colour.lower() for row in rows if row.colour)
    return Facets(
        kinds=tuple((kind, f"{ITEM_KINDS.term(kind).says} ({many})") for kind, many in kinds),
        metals=by_words((code, f"{named(code)} ({many})") for code, many in coded),
        colours=by_words((colour, f"{colour} ({many})") for colour, many in coloured),
        wires=tuple(exact_text(nm) for nm in sorted({row.wire_nm for row in rows if row.wire_nm})),
        inners=tuple(exact_text(nm) for nm in sorted({row.inner_nm for row in rows if row.inner_nm})),
    )


def _counted(values: Iterable[Any]) -> list[tuple[Any, int]]:
    counts: dict[Any, int] = {}
    for value in values:
        counts[value] = counts.get(value, 0) + 1
    return list(counts.items())
