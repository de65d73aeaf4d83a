"""Labels on paper: which label comes where on the pages, and under which address a phone finds what a code means."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Generic, TypeVar

from fastapi import Request

from models.intake.stock.label import PAPERS, PaperRequest
from webapp.security import host_name
from webapp.settings import is_loopback

T = TypeVar("T")

PAPER_CHOICES = tuple((paper.code, paper.words) for paper in PAPERS.values())


@dataclass(frozen=True, slots=True)
class LaidOut(Generic[T]):
    """Labels page by page, row by row; None is a place on the sheet that was used before."""

    question: PaperRequest
    pages: tuple[tuple[T | None, ...], ...]

    @property
    def labels(self) -> int:
        """How many labels there are."""
        return sum(1 for page in self.pages for label in page if label is not None)


@dataclass(frozen=True, slots=True)
class CodeAddress:
    """The beginning of every address in a code, and whether a phone in the network can open it."""

    base: str
    from_phone: bool


def lay_out(labels: Sequence[T], question: PaperRequest) -> LaidOut[T]:
    """Put each label on the paper as often as it was asked for, from the asked place on."""
    places: list[T | None] = [None] * (question.start - 1)
    places += [label for label in labels for _ in range(question.copies)]
    size = question.paper.per_page
    pages = (tuple(places[at : at + size]) for at in range(0, len(places), size))
    return LaidOut(question, tuple(pages) if labels else ())


def code_address(request: Request) -> CodeAddress:
    """The address that the shop is reached by, for a phone that reads a code.

    Opened on this machine itself while the shop is on the network, its address there stands in.
    """
    base = str(request.base_url)
    if not is_loopback(host_name(request.url.netloc)):
        return CodeAddress(base, from_phone=True)
    in_network: tuple[str, ...] = request.app.state.addresses
    return CodeAddress(in_network[0], from_phone=True) if in_network else CodeAddress(base, from_phone=False)
