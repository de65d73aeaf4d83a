"""What is asked of a kit: how many spare rings, whether rings are prepared, for how many people; and a kit for sale.

A question is read from an address and keeps its usual values where something is wrong with it; a kit that is to be
kept is refused instead.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from models.intake.faults import Faults
from models.intake.raw import Raw, Reader

USUAL_SPARE_PERCENT = Decimal(5)
USUAL_PEOPLE = 8
MOST_PEOPLE = 200
MOST_SPARE_PERCENT = Decimal(100)
MOST_PACK_MINUTES = Decimal(600)


@dataclass(frozen=True, slots=True)
class KitRequest:
    """How a kit is put together: spare rings in per cent of each bag, and whether rings are delivered prepared."""

    spare_percent: Decimal = USUAL_SPARE_PERCENT
    prepared: bool = False

    @property
    def spare_share(self) -> Decimal:
        """The spares as a share of each bag."""
        return self.spare_percent.scaleb(-2)


@dataclass(frozen=True, slots=True)
class KitDraft:
    """A kit that is to be kept as a design of its own; `pack_minutes_milli` None takes the usual time to pack it."""

    question: KitRequest
    name: str = ""
    pack_minutes_milli: int | None = None


def read_kit_request(raw: Raw) -> tuple[KitRequest, Faults | None]:
    """Read what can be read; what is wrong is left at its usual value and named beside its field."""
    reader = Reader(raw)
    return _question(reader), reader.faults()


def read_people(raw: Raw) -> tuple[int, Faults | None]:
    """Read for how many people a class is; what is wrong is left at the usual number."""
    reader = Reader(raw)
    people = reader.integer("people", least=1, most=MOST_PEOPLE, default=USUAL_PEOPLE) or USUAL_PEOPLE
    return people, reader.faults()


def read_kit(raw: Raw) -> KitDraft | Faults:
    """Read a kit that is to be kept; without a name it takes that of its design."""
    reader = Reader(raw)
    minutes = reader.decimal("pack_minutes", most=MOST_PACK_MINUTES, required=False, places=3)
    draft = KitDraft(
        question=_question(reader),
        name=reader.text("name"),
        pack_minutes_milli=None if minutes is None else int(minutes * 1000),
    )
    return reader.faults() or draft


def _question(reader: Reader) -> KitRequest:
    percent = reader.percent("spare_percent", most=MOST_SPARE_PERCENT, default=USUAL_SPARE_PERCENT)
    return KitRequest(
        spare_percent=USUAL_SPARE_PERCENT if percent is None else percent,
        prepared=reader.flag("prepared"),
    )
