"""What people hand in about a metal of their own."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Annotated

from models.intake.faults import Faults
from models.intake.fields import Number, Text, read_fields
from models.intake.raw import Raw, Reader
from models.trade.colours import is_tint

LIGHTEST = Decimal("0.5")
HEAVIEST = Decimal(25)
USUAL_TINT = "#a3a3a3"


def no_tint(tint: str) -> str:
    """What is wrong with a word that is no tint; '' for one that is."""
    return "" if is_tint(tint) else "Give the tint as six hexadecimal digits, such as #3b7d4f, or leave it empty."


def _or_usual(tint: str) -> str:
    return tint.lower() or USUAL_TINT


@dataclass(frozen=True, slots=True)
class MetalDraft:
    """A metal or other ring material as handed in; density in g/cm3, exact."""

    name: Annotated[str, Text(label="Name", required="Give the metal a name.", most=80)]
    density: Annotated[Decimal, Number(label="Density", says="g/cm³ at 20 °C", least=LIGHTEST, most=HEAVIEST, places=4)]
    source: Annotated[
        str,
        Text(
            label="Source",
            says="Where the density comes from.",
            required="Say where this density comes from, such as 'the maker's data sheet' or 'weighed myself'.",
            most=300,
        ),
    ]
    tint: Annotated[
        str,
        Text(
            label="Tint",
            says="What rings of it are drawn in, such as #b97b48.",
            most=20,
            tidy=_or_usual,
            wrong=no_tint,
        ),
    ]
    note: Annotated[str, Text(label="Note", most=500, lines=True)]


def read_metal(raw: Raw) -> MetalDraft | Faults:
    """Read a metal from a form, a JSON body or a CSV row."""
    reader = Reader(raw)
    draft = read_fields(MetalDraft, reader)
    return reader.faults() or draft
