"""What is asked of a price tag: whose price it bears, how many there are, and what they are printed on."""

from __future__ import annotations

from dataclasses import dataclass

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader

MOST_TAGS = 60
PRINTED_ON = ("label", "sheet")


@dataclass(frozen=True, slots=True)
class TagRequest:
    """Which tags; no outlet leaves it to the first one with a listed price."""

    outlet_id: int | None = None
    copies: int = 1
    printed_on: str = "label"


def read_tag_request(raw: Raw) -> tuple[TagRequest, Faults | None]:
    """Read what can be read; what is wrong is left at its usual value and named beside its field."""
    reader = Reader(raw)
    question = TagRequest(
        outlet_id=reader.identity("outlet", required=False),
        copies=reader.integer("copies", least=1, most=MOST_TAGS, default=1) or 1,
        printed_on=reader.choice("printed_on", PRINTED_ON, default="label"),
    )
    return question, reader.faults()
