"""What is asked of printed labels: of which bags, on what paper, and where on a sheet that was begun they start.

The papers and their measures stand here; `static/ringbench.css` has the same measures, and a test compares them.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader

MOST_LABELS = 500
MOST_PICKED = 2000
MOST_COPIES = 50


@dataclass(frozen=True, slots=True)
class Paper:
    """What labels are printed on; millimetres. A roll has one label a page, a sheet a grid of them.

    `left_mm` and `top_mm` are the edges of the first label, `gap_mm` is between columns; rows touch.
    """

    code: str
    words: str
    width_mm: Decimal
    height_mm: Decimal
    columns: int = 1
    rows: int = 1
    page: str = ""
    left_mm: Decimal = Decimal(0)
    top_mm: Decimal = Decimal(0)
    gap_mm: Decimal = Decimal(0)

    @property
    def on_a_sheet(self) -> bool:
        """Whether it is a sheet of many labels."""
        return bool(self.page)

    @property
    def per_page(self) -> int:
        """How many labels a page holds."""
        return self.columns * self.rows


PAGES_MM = {"A4": (Decimal(210), Decimal(297)), "Letter": (Decimal("215.9"), Decimal("279.4"))}


def _sheet(page: str, grid: tuple[int, int], size: tuple[str, str], edge: tuple[str, str], *, gap: str = "0") -> Paper:
    (columns, rows), (width, height), (left, top) = grid, size, edge
    count = columns * rows
    return Paper(
        code=f"{page.lower()}-{count}",
        words=f"{page} sheet, {count} of {width} × {height} mm",
        width_mm=Decimal(width),
        height_mm=Decimal(height),
        columns=columns,
        rows=rows,
        page=page,
        left_mm=Decimal(left),
        top_mm=Decimal(top),
        gap_mm=Decimal(gap),
    )


def _roll(width: int, height: int) -> Paper:
    return Paper(f"roll-{width}x{height}", f"label printer, {width} × {height} mm", Decimal(width), Decimal(height))


# Usual grids and rolls: common practice, no source. Letter grids are 2 5/8 × 1 in and 4 × 1 in.
PAPERS: dict[str, Paper] = {
    paper.code: paper
    for paper in (
        _roll(50, 25),
        _roll(57, 32),
        _roll(62, 29),
        _sheet("A4", (3, 8), ("70", "37"), ("0", "0.5")),
        _sheet("A4", (4, 10), ("48.5", "25.4"), ("8", "21.5")),
        _sheet("Letter", (3, 10), ("66.7", "25.4"), ("4.7", "12.7"), gap="3.2"),
        _sheet("Letter", (2, 10), ("101.6", "25.4"), ("4", "12.7"), gap="4.7"),
    )
}
USUAL_PAPER = "roll-50x25"


@dataclass(frozen=True, slots=True)
class PaperRequest:
    """Which paper, the place of the first label on the first sheet (from 1), and how many of each."""

    paper: Paper
    start: int = 1
    copies: int = 1


@dataclass(frozen=True, slots=True)
class LabelRequest:
    """Of what labels are made: all bags of these items, all bags of these lots, all bags in these places."""

    items: tuple[int, ...] = ()
    lots: tuple[int, ...] = ()
    places: tuple[str, ...] = ()

    @property
    def of_something(self) -> bool:
        """Whether anything was picked."""
        return bool(self.items or self.lots or self.places)


def read_paper_request(raw: Raw, *, usual: str = USUAL_PAPER) -> tuple[PaperRequest, Faults | None]:
    """Read what can be read; what is wrong is left at its usual value and named beside its field."""
    reader = Reader(raw)
    paper = PAPERS[reader.choice("paper", tuple(PAPERS), default=usual)]
    start = 1
    if paper.on_a_sheet:
        start = reader.integer("start", least=1, most=paper.per_page, default=1) or 1
    copies = reader.integer("copies", least=1, most=MOST_COPIES, default=1) or 1
    return PaperRequest(paper, start, copies), reader.faults()


def read_label_request(items: Iterable[str], lots: Iterable[str], places: Iterable[str]) -> LabelRequest:
    """Read what was picked: numbers one by one or with commas between them. What is no number picks nothing."""
    return LabelRequest(_numbers(items), _numbers(lots), tuple(dict.fromkeys(places))[:MOST_PICKED])


def _numbers(texts: Iterable[str]) -> tuple[int, ...]:
    words = (word.strip() for text in texts for word in text.split(","))
    numbers = (int(word) for word in words if word.isascii() and word.isdigit() and len(word) < 10)
    return tuple(dict.fromkeys(numbers))[:MOST_PICKED]
