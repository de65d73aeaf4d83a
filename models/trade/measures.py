"""Lengths and masses as people write them: text in, whole nanometres and micrograms out, and back.

The only module that imports Pint; it holds the exact definitions and never sees typed text. Not here: the gauge tables
(gauges, whose names are passed on), ring arithmetic (rings).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal
from fractions import Fraction

import pint

from models.trade.gauges import (
    SYSTEMS,
    Gauge,
    asks_for_system,
    awg_nm,
    names_gauge,
    nearest_gauge,
    parse_gauge,
    swg_nm,
)
from models.trade.number_shape import NumberShape, Reads, shape_of
from models.trade.typed import Unreadable, is_fraction, read_number, shown, tidy

__all__ = [
    "GRAMS_PER", "LENGTH_UNITS", "MASS_UNITS", "SYSTEMS", "Gauge", "Length", "Unreadable", "awg_nm", "exact_mass_text",
    "exact_text", "format_length", "format_mass", "format_mm", "format_wire", "from_mm", "is_length_unit",
    "is_mass_unit", "nearest_gauge", "parse_gauge", "parse_inner", "parse_length", "parse_mass", "parse_wire", "swg_nm",
    "to_grams", "to_mm",
]  # fmt: skip

# Exact definitions. Source: international yard and pound agreement of 1959 as NIST SP 811 prints it (from memory);
# 480 grains of 64.79891 mg are 31.1034768 g.
_DEFINITIONS = """
metre = [length] = m
millimetre = 1/1000 metre = mm
centimetre = 1/100 metre = cm
micrometre = 1/1000000 metre = um
nanometre = 1/1000000000 metre = nm
inch = 254/10000 metre = in
foot = 12 inch = ft
gram = [mass] = g
milligram = 1/1000 gram = mg
microgram = 1/1000000 gram = ug
kilogram = 1000 gram = kg
pound = 45359237/100000 gram = lb
ounce = 1/16 pound = oz
grain = 1/7000 pound = gr
pennyweight = 24 grain = dwt
troy_ounce = 480 grain = ozt
"""

LENGTH_UNITS: dict[str, str] = {"mm": "millimetre", "cm": "centimetre", "m": "metre", "in": "inch", "ft": "foot"}
MASS_UNITS: dict[str, str] = {
    "g": "gram", "mg": "milligram", "kg": "kilogram", "oz": "ounce", "ozt": "troy ounce", "dwt": "pennyweight",
    "lb": "pound", "gr": "grain",
}  # fmt: skip


def _factors(units: dict[str, str], base: str) -> dict[str, Fraction]:
    """Return how many of the base unit are in one of each, exactly."""
    registry: pint.UnitRegistry[Fraction] = pint.UnitRegistry(None, non_int_type=Fraction)
    for definition in _DEFINITIONS.strip().splitlines():
        registry.define(definition)
    return {code: Fraction(registry.Quantity(Fraction(1), code).to(base).magnitude) for code in units}


_NM_PER = _factors(LENGTH_UNITS, "nanometre")
_UG_PER = _factors(MASS_UNITS, "microgram")
_PLAIN = Context(prec=60, rounding=ROUND_HALF_EVEN)

GRAMS_PER: dict[str, Decimal] = {
    code: _PLAIN.divide(Decimal(ug.numerator), Decimal(ug.denominator * 1_000_000)) for code, ug in _UG_PER.items()
}
"""Grams in one of each mass unit; every value is exact."""

_LENGTH_WORDS = {
    "mm": "mm", "millimetre": "mm", "millimetres": "mm", "millimeter": "mm", "millimeters": "mm",
    "cm": "cm", "centimetre": "cm", "centimetres": "cm", "centimeter": "cm", "centimeters": "cm",
    "m": "m", "metre": "m", "metres": "m", "meter": "m", "meters": "m",
    "in": "in", "in.": "in", "inch": "in", "inches": "in", '"': "in",
    "ft": "ft", "ft.": "ft", "foot": "ft", "feet": "ft", "'": "ft",
}  # fmt: skip
_MASS_WORDS = {
    "g": "g", "gram": "g", "grams": "g", "gramme": "g", "grammes": "g", "mg": "mg", "milligram": "mg",
    "milligrams": "mg", "kg": "kg", "kilo": "kg", "kilos": "kg", "kilogram": "kg", "kilograms": "kg",
    "oz": "oz", "oz.": "oz", "ounce": "oz", "ounces": "oz",
    "ozt": "ozt", "oz t": "ozt", "t oz": "ozt", "troy oz": "ozt", "oz troy": "ozt", "troy ounce": "ozt",
    "troy ounces": "ozt", "dwt": "dwt", "pennyweight": "dwt", "pennyweights": "dwt",
    "lb": "lb", "lb.": "lb", "lbs": "lb", "pound": "lb", "pounds": "lb", "gr": "gr", "grain": "gr", "grains": "gr",
}  # fmt: skip
_NUMBER_AND_UNIT = re.compile(r"(?P<number>[-+0-9.,/' ]*[0-9][.,]?)\s*(?P<unit>[^0-9]*)")

_MAX_WIRE_NM = 20_000_000
_MAX_INNER_NM = 500_000_000
_MAX_LENGTH_NM = 100_000 * 10**9
_MAX_MASS_UG = 1_000 * 10**9


@dataclass(frozen=True, slots=True)
class Length:
    """A length in whole nanometres, with the gauge label ('16 SWG') when a gauge was typed."""

    nm: int
    label: str | None = None


def is_length_unit(word: str) -> bool:
    """Tell whether a typed word is a unit of length."""
    return word.strip().lower() in _LENGTH_WORDS


def is_mass_unit(word: str) -> bool:
    """Tell whether a typed word is a unit of weight."""
    return word.strip().lower() in _MASS_WORDS


def parse_length(
    text: str | int | Decimal,
    *,
    default_unit: str = "mm",
    gauges: bool = False,
    shape: NumberShape | None = None,
    reads: Reads = "measure",
) -> Length:
    """Return the length that was typed: '1.0', '1mm', '3,97 mm', '5/32', '.16in', '3 1/2 mm', '20 AWG' where allowed.

    A bare fraction is inches; another bare number is in the default unit, a number from a program in millimetres.
    Marks are read in the shape that the text knows of or that is given; '1.250 mm' may be asked where it means two.
    Rounded once to whole nanometres, half to even. Zero is a length. Raises: Unreadable.
    """
    example = "1.0 mm, 20 AWG or 3/64 in" if gauges else "4.0 mm or 5/32 in"
    if not isinstance(text, str):
        default_unit = "mm"
    shape = shape_of(text) if shape is None else shape
    typed = tidy(text, example, shape)
    question = asks_for_system(typed)
    if question and gauges:
        raise Unreadable(question)
    if question or names_gauge(typed):
        if gauges:
            found = parse_gauge(typed)
            return Length(found.nm, found.label)
        raise Unreadable(f"A gauge names a wire. Type this size in mm or inches, for example {example}.")
    number, word = _split(typed, example, shape, reads)
    if word:
        unit = _LENGTH_WORDS.get(word)
        if unit is None:
            raise Unreadable(f"“{shown(word)}” is not a unit of length. Type something like {example}.")
    else:
        unit = "in" if is_fraction(number) else default_unit
    value = read_number(number, example, shape, reads)
    if value < 0:
        raise Unreadable(f"A size can't be below zero. Type something like {example}.")
    nm = round(value * _NM_PER[unit])
    if nm > _MAX_LENGTH_NM:
        raise Unreadable(f"This is longer than 100 km. Type something like {example}.")
    return Length(nm)


def parse_wire(text: str | int | Decimal, *, default_unit: str = "mm", shape: NumberShape | None = None) -> Length:
    """Return a wire diameter that was typed, gauges allowed; above zero and up to 20 mm. Raises: Unreadable."""
    length = parse_length(text, default_unit=default_unit, gauges=True, shape=shape, reads="small")
    if length.nm <= 0:
        raise Unreadable("A wire must be thicker than zero. Type something like 1.0 mm or 20 AWG.")
    if length.nm > _MAX_WIRE_NM:
        raise Unreadable(
            f"{format_mm(length.nm)} is thicker than any ring wire (up to 20 mm). Type something like 1.0 mm or 20 AWG."
        )
    return length


def parse_inner(text: str | int | Decimal, *, default_unit: str = "mm", shape: NumberShape | None = None) -> Length:
    """Return an inner diameter that was typed, no gauges; above zero and up to 500 mm. Raises: Unreadable."""
    length = parse_length(text, default_unit=default_unit, shape=shape, reads="small")
    if length.nm <= 0:
        raise Unreadable("The opening must be wider than zero. Type something like 4.0 mm or 5/32 in.")
    if length.nm > _MAX_INNER_NM:
        raise Unreadable(
            f"{format_mm(length.nm)} is wider than any ring here (up to 500 mm). Type something like 4.0 mm or 5/32 in."
        )
    return length


def parse_mass(text: str | int | Decimal, default_unit: str = "g", *, shape: NumberShape | None = None) -> int:
    """Return the mass that was typed in whole micrograms, rounded once, half to even. 'oz' is the everyday ounce.

    A number from a program is in grams. Raises: Unreadable.
    """
    example = "12.5 g or 1 ozt"
    if not isinstance(text, str):
        default_unit = "g"
    shape = shape_of(text) if shape is None else shape
    number, word = _split(tidy(text, example, shape), example, shape, "measure")
    unit = _MASS_WORDS.get(word) if word else default_unit
    if unit is None:
        raise Unreadable(f"“{shown(word)}” is not a unit of weight. Type something like {example}.")
    value = read_number(number, example, shape, "measure")
    if value < 0:
        raise Unreadable(f"A weight can't be below zero. Type something like {example}.")
    ug = round(value * _UG_PER[unit])
    if ug > _MAX_MASS_UG:
        raise Unreadable(f"This is more than 1,000 kg. Type something like {example}.")
    return ug


def _split(text: str, example: str, shape: NumberShape, reads: Reads) -> tuple[str, str]:
    """Return the number and the lower-case unit word of typed text."""
    match = _NUMBER_AND_UNIT.fullmatch(text)
    if not match:
        # No digit before a word, or digits after it: the number reader knows the right complaint.
        read_number(text, example, shape, reads)
        raise Unreadable(f"“{shown(text)}” is not understood. Type something like {example}.")
    return match["number"].strip(), match["unit"].strip().lower()


def to_mm(nm: int) -> Decimal:
    """Return nanometres as exact millimetres."""
    return _PLAIN.scaleb(Decimal(nm), -6)


def from_mm(mm: Decimal) -> int:
    """Return millimetres as whole nanometres, rounded once, half to even."""
    return int(_PLAIN.scaleb(mm, 6).to_integral_value(rounding=ROUND_HALF_EVEN))


def to_grams(ug: int) -> Decimal:
    """Return micrograms as exact grams."""
    return _PLAIN.scaleb(Decimal(ug), -6)


def _trimmed(value: Decimal, places: int, least: int = 0) -> str:
    """Return the value at no more than so many decimals, without trailing zeros, but with at least so many decimals."""
    text = format(value.quantize(Decimal(1).scaleb(-places), rounding=ROUND_HALF_EVEN, context=_PLAIN), "f")
    whole, _, part = text.partition(".")
    part = part.rstrip("0").ljust(least, "0")
    return f"{whole}.{part}" if part else whole


def format_mm(nm: int) -> str:
    """Return '1.0 mm', '3.97 mm', '3.969 mm': one to three decimals, half to even. For people; see `exact_text`."""
    return f"{_trimmed(to_mm(nm), 3, 1)} mm"


def exact_text(nm: int, unit: str = "mm") -> str:
    """Return the length in full ('3.96875 mm', '5/32 in', '0.03937008 in'): it parses back to the same nanometres.

    Raises: ValueError for a unit other than mm and in.
    """
    if unit == "in":
        # 1e-8 in is a quarter of a nanometre, so eight decimals still round to the right one.
        return _inches(nm, 8)
    if unit != "mm":
        raise ValueError(f"lengths are shown in mm or in, not {unit}")
    return f"{_trimmed(to_mm(nm), 6, 1)} mm"


def _inches(nm: int, places: int) -> str:
    """Return inches as a fraction for exact 64ths, else to so many decimals."""
    inches = Fraction(nm) / _NM_PER["in"]
    if 64 % inches.denominator:
        return f"{_trimmed(_PLAIN.divide(Decimal(inches.numerator), Decimal(inches.denominator)), places)} in"
    whole, rest = divmod(inches, 1)
    return " ".join(part for part in (str(whole) if whole or not rest else "", str(rest) if rest else "", "in") if part)


def format_length(nm: int, unit: str = "mm") -> str:
    """Return the length in 'mm', or in 'in': a fraction for exact 64ths ('5/32 in'), else up to four decimals.

    Raises: ValueError for another unit.
    """
    if unit == "mm":
        return format_mm(nm)
    if unit != "in":
        raise ValueError(f"lengths are shown in mm or in, not {unit}")
    return _inches(nm, 4)


def format_wire(nm: int, label: str | None = None, gauge_system: str | None = None) -> str:
    """Return '1.0 mm', or '16 SWG (1.626 mm)' for a labelled wire: the real millimetres are always visible.

    With a gauge system and no label the nearest gauge is named: as its own size, else '1.0 mm (near 18 AWG)'.
    """
    size = format_mm(nm)
    if label:
        return f"{label} ({size})"
    if gauge_system:
        name, gauge_nm = nearest_gauge(nm, gauge_system)
        return f"{name} ({size})" if gauge_nm == nm else f"{size} (near {name})"
    return size


def format_mass(ug: int) -> str:
    """Return '0.025 mg', '0.0973 g', '12.34 g', '245.6 g' or '12.35 kg', half to even. For people."""
    grams = to_grams(ug)
    if 0 < ug < 1000:
        return f"{_trimmed(grams * 1000, 3)} mg"
    if grams >= 10_000:
        return f"{_trimmed(grams / 1000, 2)} kg"
    return f"{_trimmed(grams, 1 if grams >= 100 else 2 if grams >= 1 else 4)} g"


def exact_mass_text(ug: int) -> str:
    """Return grams in full ('0.097259 g'), which parse back to the same micrograms."""
    return f"{_trimmed(to_grams(ug), 6)} g"
