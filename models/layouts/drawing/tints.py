"""Shades of a ring's tint for its drawing: the edge of the wire, its body, deeper where it lies lower.

Not here: the tints themselves (colours, metals).
"""

from __future__ import annotations

import re

from models.layouts.engine.items import PLAIN_TINT

_HEX = re.compile(r"#[0-9a-f]{6}")


def safe(tint: str) -> str:
    """Return the tint as it stands when it is one ('#c5754f'), else a plain grey: nothing else reaches a drawing."""
    return tint if _HEX.fullmatch(tint) else PLAIN_TINT


def mixed(tint: str, other: str, part: float) -> str:
    """Return a tint moved a part of the way (0 to 1) to another."""
    return "#" + "".join(
        f"{round(int(tint[place : place + 2], 16) * (1 - part) + int(other[place : place + 2], 16) * part):02x}"
        for place in (1, 3, 5)
    )


_DARK, _LIGHT = "#140f0a", "#ffffff"


def edge_of(tint: str, depth: float = 0.0) -> str:
    """Return the shade at the edge of a wire of this tint; `depth` from 0 (in front) to 1 (at the back) darkens it."""
    return mixed(body_of(tint, depth), _DARK, 0.6)


def body_of(tint: str, depth: float = 0.0) -> str:
    """Return the shade of the body of a wire."""
    return mixed(tint, _DARK, 0.06 + 0.16 * depth)


def shade_of(tint: str, depth: float = 0.0) -> str:
    """Return the shade of the side of a wire that is turned from the light."""
    return mixed(body_of(tint, depth), _DARK, 0.26)


def light_of(tint: str, depth: float = 0.0) -> str:
    """Return the shade of the side of a wire that is turned to the light."""
    return mixed(body_of(tint, depth), _LIGHT, 0.24 - 0.06 * depth)


def gleam_of(tint: str, depth: float = 0.0) -> str:
    """Return the shade of the brightest line along a wire."""
    return mixed(body_of(tint, depth), _LIGHT, 0.68 - 0.12 * depth)
