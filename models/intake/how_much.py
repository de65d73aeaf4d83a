"""How much of something: a count, a weight, a length or so many packs, exactly or roughly, as people say it.

What a weight comes to in rings is worked out where the item is known.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Final

from models.intake.raw import LARGEST_COUNT, Reader
from models.trade.measures import Unreadable, is_length_unit, is_mass_unit, parse_length, parse_mass
from models.trade.money import parse_amount
from models.trade.number_shape import NumberShape

_PIECE_WORDS: Final = frozenset(
    "piece pieces pc pcs ring rings scale scales bead beads stk each".split()  # noqa: SIM905  (a line of words)
)
_ROUGH: Final = re.compile(
    r"(?P<word>about|around|roughly|approximately|approx\.?|circa|ca\.?|~|≈)\s*(?P<rest>.+)", re.IGNORECASE
)
_PLENTY: Final = re.compile(r"(?:plenty|lots|a lot)(?:[\s,(]+(?P<rest>.+?)\)?)?", re.IGNORECASE)
_NONE: Final = frozenset("none nothing empty nil".split())  # noqa: SIM905  (a line of words)
_UNIT: Final = re.compile(r"(?P<number>[-+0-9.,/'’\s]*[0-9])\s*(?P<unit>[a-z .]*)", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class HowMuch:
    """How much was said, in one way: thousandths of the item's own unit, micrograms, nanometres, or packs.

    `pieces` tells that rings or pieces were named. `rough` is 'about' or 'plenty' where it was said so; of 'plenty'
    alone no figure is known. `pack` is what one pack holds; None takes the pack of the item's current offer.
    """

    milli: int | None = None
    weight_ug: int | None = None
    length_nm: int | None = None
    packs: Decimal | None = None
    pack: HowMuch | None = None
    pieces: bool = False
    rough: str = ""

    @property
    def said(self) -> bool:
        """Whether there is any figure to work with."""
        return any(each is not None for each in (self.milli, self.weight_ug, self.length_nm, self.packs))

    @property
    def none(self) -> bool:
        """Whether it was said that there is none, which is no rough count even where it was said by weight."""
        return self.packs is None and self.said and not (self.milli or self.weight_ug or self.length_nm)


def how_much(reader: Reader, field: str, *, missing: str, zero: bool = False, plenty: bool = False) -> HowMuch | None:
    """Read '500', 'about 400', '23.5 g', '2 m' or, where allowed, 'plenty'; None when it is wrong, with its fault.

    `missing` is said when the field is empty. `zero` allows nothing at all to be said, as 0 or as 'none': whoever
    counts may find none.
    """
    typed = reader.text(field, most=60)
    if not typed:
        reader.fault(field, missing)
        return None
    rough, rest = _roughly(typed)
    if rough == "plenty" and not plenty:
        reader.fault(field, "Give a number here, such as 48 or about 400.")
        return None
    if rough == "plenty" and not rest:
        return HowMuch(rough="plenty")
    if zero and rest.lower() in _NONE:
        return HowMuch(milli=0)
    try:
        found = _measured(rest, reader.shape(field))
    except Unreadable as unreadable:
        reader.fault(field, unreadable.message)
        return None
    if found.none and not zero:
        reader.fault(field, "Give more than 0.")
        return None
    return replace(found, rough="" if found.none else rough)


def packs_of(reader: Reader) -> HowMuch | None:
    """Read so many packs from `packs`, and from `pack` what one holds where the offer says otherwise; None if wrong."""
    packs = reader.quantity("packs", least=Decimal("0.001"), most=Decimal(100_000))
    pack = how_much(reader, "pack", missing="") if reader.has("pack") else None
    if packs is None or (reader.has("pack") and pack is None):
        return None
    return HowMuch(packs=packs, pack=pack, rough=pack.rough if pack else "")


def _roughly(typed: str) -> tuple[str, str]:
    """How sure the words are, and what is left of them: ('about', '400')."""
    found = _PLENTY.fullmatch(typed)
    if found:
        rest = found["rest"] or ""
        inner = _ROUGH.fullmatch(rest)
        return "plenty", inner["rest"] if inner else rest
    found = _ROUGH.fullmatch(typed)
    if found:
        return "about", found["rest"]
    if typed.endswith("?"):
        return "about", typed[:-1].strip()
    return "", typed


def _measured(typed: str, shape: NumberShape) -> HowMuch:
    """Raises: Unreadable."""
    found = _UNIT.fullmatch(typed)
    word = found["unit"].strip().lower() if found else ""
    if found and (not word or word in _PIECE_WORDS):
        value = parse_amount(found["number"].strip(), shape=shape)
        if value > LARGEST_COUNT:
            raise Unreadable(f"Give {LARGEST_COUNT:,} or less; {found['number'].strip()} is too large.")
        milli = value.scaleb(3)
        if milli != milli.to_integral_value():
            raise Unreadable("Give at most 3 decimals.")
        return HowMuch(milli=int(milli), pieces=bool(word))
    if found is None:
        raise Unreadable(f"“{typed}” is not a quantity. Type something like 48, about 400 or 23.5 g.")
    if is_mass_unit(word):
        return HowMuch(weight_ug=parse_mass(typed, shape=shape))
    if is_length_unit(word):
        return HowMuch(length_nm=parse_length(typed, shape=shape).nm)
    raise Unreadable(f"“{word}” is not a unit here. Type something like 48, about 400, 23.5 g or 2 m.")
