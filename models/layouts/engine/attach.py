"""What hangs on a sheet or chain, and on which of its rings: hung rings, gathering rings, ties, bails, clasps.

Not here: finding the chosen rings (choose), their links (links), their places in a drawing (hanging).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from models.trade.vocabulary import pieces

Where = pieces.Where
WHERES = pieces.WHERES.codes
Kind = pieces.Hanging
KINDS = pieces.HANGINGS.codes

MAX_EACH = 20


@dataclass(frozen=True, slots=True)
class Selection:
    """Which rings are chosen: those of a named edge, or of an earlier attachment (`of` is its name).

    `item` keeps only rings of one item; `rows` (first and last row number, counted from 1) only those of some rows;
    then of what is left every k-th is taken, the first `skip` left out. `rings`, when given, names the rings outright.
    """

    where: Where = "every ring"
    item: str = ""
    every: int = 1
    skip: int = 0
    rows: tuple[int, int] | None = None
    of: str = ""
    rings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Attachment:
    """Something that hangs on chosen rings.

    hang: `each` rings of `ring` on every chosen ring, each carrying one `finding` where one is named.
    gather: one ring of `ring` through all chosen rings.
    join, bail, clasp: one `finding` (a chain, a bail, a clasp) for all chosen rings: by `each` tie rings of `ring` on
    every chosen ring, or without them where no ring is named.
    """

    name: str
    kind: Kind
    on: Selection
    ring: str = ""
    finding: str = ""
    each: int = 1

    def as_meant(self) -> Attachment:
        """Return a bail that is a ring and no finding as what it is: one ring through all chosen rings."""
        if self.kind == "bail" and self.ring and not self.finding:
            return replace(self, kind="gather", each=1)
        return self
