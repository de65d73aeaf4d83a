"""The worst pieces that a shop takes: as large as their rings, what hangs on them, or their links may be.

Pieces over `MOST_AT_HAND` are counted, kept and drawn as files; those at it are laid out on pages and gone through.
"""

from __future__ import annotations

from typing import Any

PALETTE = [
    {"key": "a", "kind": "ring", "metal": "bronze-c220", "wire": "1.0 mm", "inner": "4.0 mm"},
    {"key": "b", "kind": "ring", "metal": "copper", "wire": "1.0 mm", "inner": "4.0 mm"},
    {"key": "d", "kind": "finding", "name": "Drop", "metal": "copper"},
]


def rows(high: int, wide: int, weave: str = "european-4-in-1", **more: Any) -> dict[str, Any]:
    """A sheet of so many rows of so many rings, whose colours change with every ring."""
    nested = weave != "european-6-in-1"
    laid = [{"start": number % 2 * nested, "rings": wide, "repeat": ["a", "b"]} for number in range(high)]
    return {"weave": weave, "rows": laid, "palette": PALETTE, **more}


def hanging(number: int, kind: str = "hang", each: int = 1, finding: str = "", ring: str = "b") -> list[dict[str, Any]]:
    """So many attachments, each on every ring."""
    one = {"kind": kind, "on": {"where": "every ring"}, "ring": ring, "each": each, "finding": finding}
    return [{"name": f"h{place}", **one} for place in range(number)]


def chain(weave: str, units: int, **more: Any) -> dict[str, Any]:
    """A chain of so many units."""
    laid = [{"units": units, "repeat": ["a", "b"]}]
    return {"kind": "chain", "weave": weave, "stretches": laid, "palette": PALETTE, **more}


LARGEST: dict[str, dict[str, Any]] = {
    "200 rows of 300": rows(200, 300),
    "2,000 rows of 30": rows(2000, 30),
    "one row of 60,000": rows(1, 60_000),
    "244 rows of 245 in eight": rows(244, 245, "european-8-in-1"),
    "85 rows of 85 hubs": rows(85, 85, "japanese-12-in-2", connector="b"),
    "a byzantine chain of 59,996": chain("byzantine", 9_999),
    "10,000 rings by twelve own links": chain("full-persian-6-in-1", 5_000, own_links=list(range(1, 13))),
    "a ring on each of 29,929": rows(173, 173, attachments=hanging(1)),
    "200 rings on each of 289": rows(17, 17, attachments=hanging(200)),
    "200 clasps on 576": rows(24, 24, attachments=hanging(200, "clasp", finding="d", ring="")),
    "200 gathers through 600": rows(24, 25, attachments=hanging(200, "gather")),
}
AT_HAND: dict[str, dict[str, Any]] = {
    "2,000 rows of 15": rows(2000, 15),
    "one row of 30,000": rows(1, 30_000),
    "173 rows of 173 in eight": rows(173, 173, "european-8-in-1"),
    "59 rows of 59 hubs": rows(59, 59, "japanese-12-in-2", connector="b"),
    "a byzantine chain of 29,996": chain("byzantine", 4_999),
    "10,000 rings by twelve own links": chain("full-persian-6-in-1", 5_000, own_links=list(range(1, 13))),
    "a ring on each of 14,884": rows(122, 122, attachments=hanging(1)),
    "a ring and a drop on each of 9,900": rows(99, 100, attachments=hanging(1, finding="d")),
    "200 rings on each of 144": rows(12, 12, attachments=hanging(200)),
    "200 clasps on 576": rows(24, 24, attachments=hanging(200, "clasp", finding="d", ring="")),
    "200 gathers through 600": rows(24, 25, attachments=hanging(200, "gather")),
    "70 rows of 70 with a ring on each": rows(70, 70, attachments=hanging(1)),
}
