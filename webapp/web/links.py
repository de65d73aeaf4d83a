"""A room as the frame shows it; which rooms there are stands in `webapp/pages`, whose modules need the frame."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class RoomLink:
    """A room in the frame: its word, where it starts, and its drawing in `templates/_icons.html`."""

    word: str
    path: str
    icon: str

    def holds(self, path: str) -> bool:
        """Whether a page belongs to this room."""
        return path == self.path or (self.path != "/" and path.startswith(self.path.rstrip("/") + "/"))
