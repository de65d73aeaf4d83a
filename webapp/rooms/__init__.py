"""The rooms of the house: which routers answer pages, and which rooms the frame links to.

To add a room: write `webapp/rooms/<name>.py` with a `router`, import it here, and add it to both lists.
"""

from __future__ import annotations

from dataclasses import dataclass

from fastapi import APIRouter


@dataclass(frozen=True, slots=True)
class RoomLink:
    """A room in the frame: its word, where it starts, and its drawing in `templates/_icons.html`."""

    word: str
    path: str
    icon: str

    def holds(self, path: str) -> bool:
        """Whether a page belongs to this room."""
        return path == self.path or (self.path != "/" and path.startswith(self.path.rstrip("/") + "/"))


ROOMS: list[APIRouter] = []

# In this order: Bench, Stock, Designs, Builds, Orders, Buying, Outlets, Books, Settings. A room that does not
# exist yet has no line.
ROOM_LINKS: list[RoomLink] = []

FINDER_PATH: str | None = None
"""Where the finder in the frame sends its words as `q`; without it the frame shows no finder."""
