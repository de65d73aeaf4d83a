"""QR codes as one path for an inline drawing: `<path d="{{ qr.path }}"/>` in a view box of `qr.size` modules."""

from __future__ import annotations

from dataclasses import dataclass

import segno

QUIET = 4
"""The empty modules around a code that scanners need. Source: ISO/IEC 18004, quiet zone of a QR code, from memory."""


@dataclass(frozen=True, slots=True)
class QrDrawing:
    """The dark modules of a code as one path, in a square of `size` modules with its quiet zone."""

    path: str
    size: int


def qr_path(text: str) -> QrDrawing:
    """The code of a text, such as the address of a page; errors are corrected at level M."""
    rows = tuple(segno.make(text, error="m", micro=False).matrix)
    strokes = []
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            run = x
            while run < len(row) and row[run]:
                run += 1
            if run > x:
                strokes.append(f"M{x + QUIET} {y + QUIET}h{run - x}v1h-{run - x}z")
            x = run + 1 if run == x else run
    return QrDrawing("".join(strokes), len(rows) + 2 * QUIET)
