"""The tints that drawn rings get from a colour in words: 'dark green', 'light blue', 'black'.

A drawing aid and nothing more: the word always stands beside the drawing. Not here: the tints of bare metals (metals).
"""

from __future__ import annotations

import re

# Muted, so that a drawn ring looks anodised or dyed rather than painted. Own choice, no source.
COLOUR_TINTS: dict[str, str] = {
    "red": "#b3403d", "burgundy": "#74303e", "pink": "#cf7f98", "rose": "#c88a86", "orange": "#cf7b36",
    "copper": "#c0724c", "gold": "#c9a544", "golden": "#c9a544", "champagne": "#cdb68c", "yellow": "#d3b93f",
    "bronze": "#9a6b40", "brown": "#7a543b", "green": "#4a8758", "lime": "#8cab47", "olive": "#76793f",
    "turquoise": "#3f9c99", "teal": "#2f7f7f", "aqua": "#57a9b5", "blue": "#3f6ea6", "sky": "#77a8cf",
    "navy": "#2c3f6b",
    "indigo": "#474a8c", "purple": "#70508e", "violet": "#6c58a0", "lavender": "#9a8cc0", "magenta": "#a4487f",
    "black": "#2b2c2f", "gunmetal": "#505459", "grey": "#85888b", "gray": "#85888b", "silver": "#c9cbcd",
    "white": "#e4e3de", "ice": "#c2d3da", "rainbow": "#8a6f9c", "amber": "#c98a2b", "plum": "#7b3f6d",
}  # fmt: skip

BARE_TINT = "#9a8f80"
"""What a thing of unknown metal is drawn in."""

_TOWARDS = {"dark": 0, "deep": 0, "light": 255, "pale": 255, "pastel": 255}
_HEX = re.compile(r"#[0-9a-f]{6}")


def is_tint(text: str) -> bool:
    """Tell whether this is a tint as they are kept: '#3f6ea6', lower case."""
    return _HEX.fullmatch(text) is not None


def tint_of(colour: str, bare: str) -> str:
    """Return the tint of a colour in words, or of the bare material when no word of it is known.

    The last colour word counts ('rose gold' is gold); dark and light words move it a third of the way.
    """
    words = re.findall(r"[a-z]+", colour.lower())
    tint = next((COLOUR_TINTS[word] for word in reversed(words) if word in COLOUR_TINTS), None)
    if tint is None:
        return bare
    for word in words:
        if word in _TOWARDS:
            tint = _moved(tint, _TOWARDS[word])
    return tint


def _moved(tint: str, towards: int) -> str:
    """Return the tint a third of the way to black (0) or white (255)."""
    channels = (int(tint[place : place + 2], 16) for place in (1, 3, 5))
    return "#" + "".join(f"{channel + (towards - channel) // 3:02x}" for channel in channels)
