"""The two wire gauges of the trade, AWG and SWG, as exact sizes; a gauge is only a label for a wire diameter.

Not here: lengths in millimetres or inches (measures). A gauge number without its system is never understood.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from functools import cache

from models.trade.typed import Unreadable, shown, tidy

SYSTEMS = ("AWG", "SWG")

# Source: BS 3737:1964 (withdrawn), inches in ten-thousandths. 7/0 is -6, 1/0 is 0.
# No. 28 is 0.0148 in; some tables print 0.0149 in, which breaks the table's even steps: 0.0016 in
# from No. 26 to 28, 0.0012 in from No. 28 to 30.
_SWG_FIRST = -6
_SWG_TEN_THOUSANDTHS_IN = (
    5000, 4640, 4320, 4000, 3720, 3480, 3240, 3000, 2760, 2520, 2320, 2120, 1920, 1760, 1600, 1440,
    1280, 1160, 1040, 920, 800, 720, 640, 560, 480, 400, 360, 320, 280, 240, 220, 200,
    180, 164, 148, 136, 124, 116, 108, 100, 92, 84, 76, 68, 60, 52, 48, 44,
    40, 36, 32, 28, 24, 20, 16, 12, 10,
)  # fmt: skip
_AWG_FIRST, _AWG_LAST = -3, 40
_SWG_LAST = _SWG_FIRST + len(_SWG_TEN_THOUSANDTHS_IN) - 1
_EXACT = Context(prec=60)

_SYSTEM = r"(?P<system>awg|swg)"
_NAME = r"(?:no\.?\s*|#\s*)?(?P<name>[0-9]+(?:/[0-9]+|[.,][0-9]+)?)"
_UNIT = r"(?:\s*-?\s*(?:gauge|gage|ga|g)\b\.?)?"
_AFTER = re.compile(rf"{_NAME}{_UNIT}\s*-?\s*{_SYSTEM}", re.IGNORECASE)
_BEFORE = re.compile(rf"{_SYSTEM}\s*-?\s*{_NAME}{_UNIT}", re.IGNORECASE)
_NO_SYSTEM = re.compile(
    r"(?:no\.?\s*|#\s*)?([0-9]+(?:/0)?)\s*-?\s*(?:gauge|gage|ga|g)\.?|(?:gauge|#)\s*([0-9]+(?:/0)?)", re.IGNORECASE
)


@dataclass(frozen=True, slots=True)
class Gauge:
    """One whole gauge: its system, its name as the trade writes it ('20', '2/0') and its size in nanometres."""

    system: str
    name: str
    nm: int

    @property
    def label(self) -> str:
        """Return '20 AWG' or '2/0 SWG'."""
        return f"{self.name} {self.system}"


@cache
def awg_nm(number: int) -> int:
    """Return the diameter of a whole American gauge in nanometres; 0 is 1/0, -3 is 4/0.

    Rounded once, half to even, from d = 0.127 mm x 92^((36 - n) / 39). Raises: ValueError outside 4/0 to 40.
    Source: ASTM B258 (the formula, not its tabulated inches, which differ by up to 0.4 %).
    """
    if not _AWG_FIRST <= number <= _AWG_LAST:
        raise ValueError(f"AWG {number} is outside 4/0 to 40")
    exponent = _EXACT.divide(Decimal(36 - number), Decimal(39))
    exact_nm = _EXACT.multiply(Decimal(127_000), _EXACT.power(Decimal(92), exponent))
    return int(exact_nm.to_integral_value(context=_EXACT))


def swg_nm(number: int) -> int:
    """Return the diameter of a whole British gauge in nanometres, exactly; 0 is 1/0, -6 is 7/0.

    Raises: ValueError outside 7/0 to 50. Source: BS 3737:1964.
    """
    if not _SWG_FIRST <= number <= _SWG_LAST:
        raise ValueError(f"SWG {number} is outside 7/0 to 50")
    # One ten-thousandth of an inch is exactly 2,540 nm.
    return _SWG_TEN_THOUSANDTHS_IN[number - _SWG_FIRST] * 2540


def gauge(system: str, number: int) -> Gauge:
    """Return one gauge by its number (0 is 1/0, -1 is 2/0). Raises: ValueError when there is no such gauge."""
    if system not in SYSTEMS:
        raise ValueError(f"no such gauge system: {system}")
    nm = awg_nm(number) if system == "AWG" else swg_nm(number)
    return Gauge(system, str(number) if number > 0 else f"{1 - number}/0", nm)


@cache
def all_gauges(system: str) -> tuple[Gauge, ...]:
    """Return every whole gauge of a system, thickest first."""
    first, last = (_AWG_FIRST, _AWG_LAST) if system == "AWG" else (_SWG_FIRST, _SWG_LAST)
    return tuple(gauge(system, number) for number in range(first, last + 1))


def nearest_gauge(nm: int, system: str) -> tuple[str, int]:
    """Return the label and the size in nanometres of the gauge nearest to a wire; the thicker of two equally near."""
    best = min(all_gauges(system), key=lambda each: abs(each.nm - nm))
    return best.label, best.nm


def asks_for_system(text: str) -> str | None:
    """Return the question to ask when a gauge number came without its system ('16ga', '16 gauge'), else None."""
    match = _NO_SYSTEM.fullmatch(text.strip())
    if not match:
        return None
    name = match[1] or match[2]
    sizes = []
    for system in SYSTEMS:
        try:
            found = gauge(system, _number(name))
        except ValueError:
            continue
        sizes.append(f"{found.label} is {float(Fraction(found.nm, 1_000_000)):.2f} mm")
    if not sizes:
        return f"There is no gauge {shown(name)}. Type something like 20 AWG, 16 SWG or 1.0 mm."
    return f"Which gauge system? Type {name} AWG or {name} SWG ({', '.join(sizes)}), or the size in mm."


def names_gauge(text: str) -> bool:
    """Tell whether the text names a gauge with its system, readable or not."""
    return re.search(r"\b(?:[0-9./]*\s*(?:awg|swg))", text, re.IGNORECASE) is not None


def parse_gauge(text: str) -> Gauge:
    """Return the gauge that was typed: '20 AWG', 'swg16', '2/0 AWG', '00 swg', '#18 AWG', '20 gauge AWG'.

    Raises: Unreadable with a question when the system is missing, or with what would be right.
    """
    text = tidy(text, "20 AWG")
    question = asks_for_system(text)
    if question:
        raise Unreadable(question)
    match = _AFTER.fullmatch(text) or _BEFORE.fullmatch(text)
    if not match:
        raise Unreadable(f"“{shown(text)}” is not a gauge. Type something like 20 AWG or 16 SWG.")
    system, name = match["system"].upper(), match["name"]
    if "." in name or "," in name:
        raise Unreadable(f"{system} is read in whole gauges only. Type 20 {system}, or the size in mm.")
    try:
        return gauge(system, _number(name))
    except ValueError:
        first, last = ("4/0", _AWG_LAST) if system == "AWG" else ("7/0", _SWG_LAST)
        raise Unreadable(f"There is no {shown(name)} {system}. {system} runs from {first} to {last} here.") from None


def _number(name: str) -> int:
    """Return 20 for '20', 0 for '0' and '1/0', -1 for '00' and '2/0'. Raises: ValueError for other fractions."""
    if "/" in name:
        count, zero = name.split("/")
        if zero != "0" or not 1 <= len(count) <= 2 or int(count) < 1:
            raise ValueError(f"no such gauge: {name}")
        return 1 - int(count)
    if name.strip("0") == "":
        return 1 - len(name)
    if name.startswith("0") or len(name) > 2:
        raise ValueError(f"no such gauge: {name}")
    return int(name)
