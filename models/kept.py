"""Documents that a column keeps as JSON text: what they are in Python, and the number of their format.

Kept is `{"format": 2, "kept": …}`. What was written before formats had numbers stands bare, and counts as format 0. A
field that a shape no longer has is passed over when an older document is read, one that it has since got takes its
default; whatever else changes counts the format up and says how an older document becomes the next.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from functools import cached_property
from typing import Any, Generic, TypeVar

from pydantic import TypeAdapter

T = TypeVar("T")
_ENVELOPE = {"format", "kept"}


class KeptDocument(Generic[T]):
    """One kind of document: `shape` is its type, `upgrades` turn one of a format into one of the next."""

    def __init__(
        self, shape: Any, *, number: int = 1, upgrades: Mapping[int, Callable[[Any], Any]] | None = None
    ) -> None:
        self.number = number
        self._shape = shape
        self._upgrades = upgrades or {}

    @cached_property
    def _adapter(self) -> TypeAdapter[T]:
        return TypeAdapter(self._shape)

    def text(self, value: T) -> str:
        """A document as it is kept."""
        kept = self._adapter.dump_python(value, mode="json", fallback=str)
        return json.dumps({"format": self.number, "kept": kept}, ensure_ascii=False, separators=(",", ":"))

    def read(self, text: str) -> T:
        """A document that was kept. Raises: ValueError for what is none, or is of a newer format than this one."""
        document = json.loads(text)
        number = 0
        if isinstance(document, dict) and document.keys() == _ENVELOPE:
            number, document = document["format"], document["kept"]
        if not isinstance(number, int) or not 0 <= number <= self.number:
            raise ValueError(f"its format is {number}, and this program knows those up to {self.number}")
        for older in range(number, self.number):
            if older in self._upgrades:
                document = self._upgrades[older](document)
        return self._adapter.validate_python(document)
