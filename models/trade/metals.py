"""Metals, alloys and rubbers that rings are made from: densities with their sources, and the cautions they carry.

Not here: finishes and colours, which belong to a stock item. A shop's own metals are passed in by the caller.
"""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from functools import lru_cache

_CONTEXT = Context(prec=50)

# Source: element densities at 20 C, g/cm3, as two public element libraries print them (periodictable, mendeleev).
# They disagree on tantalum (16.654 and 16.4); the middle is used.
ELEMENT_DENSITIES: dict[str, Decimal] = {
    symbol: Decimal(text)
    for symbol, text in {
        "Al": "2.70", "Cu": "8.96", "Zn": "7.13", "Sn": "7.29", "Ni": "8.90", "Fe": "7.87", "Ti": "4.51", "Nb": "8.57",
        "Ta": "16.6", "Ag": "10.50", "Au": "19.3", "Pt": "21.45", "Pd": "12.02", "Mg": "1.74", "Cr": "7.15",
        "Mn": "7.3", "Si": "2.33", "P": "1.82", "Ge": "5.323", "Mo": "10.2", "Pb": "11.35", "Cd": "8.65",
    }.items()
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Metal:
    """What a ring is made of; density in g/cm3 at 20 C with the source that it was taken from.

    `tint` colours the drawn ring and says nothing about a finish. `weigh_first` marks what is too uncertain to compute.
    `aliases` are further words for it, for what people type.
    """

    code: str
    name: str
    density: Decimal
    source: str
    family: str
    tint: str
    notes: tuple[str, ...] = ()
    precious: bool = False
    weigh_first: bool = False
    aliases: tuple[str, ...] = ()


_CDA = "from memory of Copper Development Association data"
_MID = "a mid value from memory of polymer handbooks; weigh your own rings"
_NICKEL = "Contains nickel, which can cause skin allergies."
_STAINLESS = "Contains nickel bound in the steel; the release is usually low, but it is not free of nickel."
_DUST = "Titanium dust and fine chips burn: keep them dry."
_MARKS = "May mark the skin green and tarnishes."
_RUBBER = "Weigh a counted sample: the filler moves the density, so do not compute from it."
_RECIPE = "The recipe moves the density by up to 6 %; use your maker's sheet or weigh a counted sample."
_LEADED = "Some brasses hold lead: ask your supplier for the composition."

_ROWS: tuple[Metal, ...] = (
    # Aluminium
    Metal("aluminium-1100", "aluminium 1100", Decimal("2.71"), "Kissell & Ferry, Aluminum Structures, Table 4.3",
          "aluminium", "#d5d8da", aliases=("aluminum 1100", "alu 1100")),
    Metal("aluminium-5052", "aluminium 5052", Decimal("2.68"), "Kissell & Ferry, Aluminum Structures, Table 4.3",
          "aluminium", "#d2d6d9", aliases=("aluminum 5052", "alu 5052")),
    Metal("aluminium-5154", "aluminium 5154", Decimal("2.66"), "Kissell & Ferry, Aluminum Structures, Table 4.3",
          "aluminium", "#d0d4d8", aliases=("aluminum 5154", "alu 5154")),
    Metal("aluminium-5356", "aluminium 5356", Decimal("2.64"), "Kissell & Ferry, Aluminum Structures, Table 4.3",
          "aluminium", "#d3d6d8", aliases=("aluminum 5356", "alu 5356", "bright aluminium", "bright aluminum")),
    # Copper and its alloys
    Metal("copper", "copper", Decimal("8.96"), "the element: periodictable, mendeleev", "copper", "#c5754f",
          (_MARKS,), aliases=("cu",)),
    Metal("copper-c110", "copper C110", Decimal("8.94"), f"{_CDA} (8.89 to 8.94, wrought)", "copper", "#c5754f",
          (_MARKS,)),
    Metal("brass-c260", "brass C260 (70/30, yellow brass)", Decimal("8.53"), "published data sheets, 0.308 lb/in3",
          "copper", "#d1ad52", (_MARKS, _LEADED), aliases=("yellow brass", "cartridge brass")),
    Metal("brass-c230", "red brass C230 (85/15)", Decimal("8.75"), _CDA, "copper", "#c88f52", (_MARKS,),
          aliases=("red brass", "rich low brass")),
    Metal("bronze-c220", "commercial bronze C220 (90/10)", Decimal("8.80"), _CDA, "copper", "#b97b48",
          ("By composition a brass of 10 % zinc.", _MARKS), aliases=("jewellers bronze", "jewelers bronze")),
    Metal("bronze-c226", "jewellery bronze C226 (87.5/12.5)", Decimal("8.78"), _CDA, "copper", "#bf844b",
          ("By composition a brass of 12.5 % zinc.", _MARKS), aliases=("jewellery bronze", "jewelry bronze")),
    Metal("phosphor-bronze-c510", "phosphor bronze C510", Decimal("8.86"), f"{_CDA} (0.320 lb/in3)", "copper",
          "#b8744a", (_MARKS,)),
    Metal("silicon-bronze-c655", "silicon bronze C655", Decimal("8.53"), "published data sheets, 0.308 lb/in3",
          "copper", "#b5764d", (_MARKS,)),
    Metal("nickel-silver-c752", "nickel silver C752 (65-18-17)", Decimal("8.73"), _CDA, "copper", "#c3c1b4",
          ("Contains 18 % nickel and no silver.", _NICKEL), aliases=("german silver", "alpaca", "alpacca")),
    Metal("nickel-silver-c770", "nickel silver C770 (55-18-27)", Decimal("8.70"), _CDA, "copper", "#c5c3b8",
          ("Contains 18 % nickel and no silver.", _NICKEL)),
    # Steels
    Metal("stainless-304", "stainless steel 304", Decimal("7.93"),
          "from memory of data sheets; EN 10088-1 prints 7.9, US sheets 8.00 to 8.03", "steel", "#b4b7ba",
          (_STAINLESS,), aliases=("ss304", "stainless 304")),
    Metal("stainless-302", "stainless steel 302", Decimal("7.93"),
          "from memory of data sheets; EN 10088-1 prints 7.9, US sheets 8.00 to 8.03", "steel", "#b2b5b8",
          (_STAINLESS,), aliases=("ss302", "stainless 302")),
    Metal("stainless-316", "stainless steel 316", Decimal("7.98"),
          "from memory of data sheets; EN 10088-1 prints 8.0", "steel", "#b8bbbe", (_STAINLESS,),
          aliases=("ss316", "stainless 316")),
    Metal("mild-steel", "mild steel", Decimal("7.85"), "from memory of EN 1991-1-1", "steel", "#84878a",
          ("Rusts unless oiled or sealed.",), aliases=("iron", "black steel")),
    Metal("galvanised-steel", "galvanised steel", Decimal("7.81"),
          "derived: 20 um of zinc on wire of 1.6 mm finished diameter", "steel", "#a4a9ac",
          ("Zinc fumes are harmful: never heat or weld it.", "Thinner wire or thicker zinc moves the density."),
          aliases=("galvanized steel", "galvanised", "galvanized")),
    # Reactive metals
    Metal("titanium", "titanium grade 1 or 2", Decimal("4.51"), "from memory of ASTM and ASM data; the element agrees",
          "reactive", "#9a9ba0", (_DUST,), aliases=("titanium grade 1", "titanium grade 2", "ti")),
    Metal("niobium", "niobium", Decimal("8.57"), "the element: periodictable, mendeleev", "reactive", "#8d8a93",
          aliases=("nb",)),
    Metal("tantalum", "tantalum", Decimal("16.6"), "the element: periodictable 16.654, mendeleev 16.4", "reactive",
          "#7d7f88", ("The published densities differ by 1.5 %.",), aliases=("ta",)),
    # Silver, gold and others
    Metal("fine-silver", "fine silver 999", Decimal("10.50"), "the element: periodictable, mendeleev", "silver",
          "#dcdddf", precious=True, aliases=("silver 999", "fine silver", "999 silver")),
    Metal("sterling-925", "sterling silver 925", Decimal("10.36"),
          "from memory of data sheets; the rule of mixtures with copper gives 10.366", "silver", "#d6d7da",
          precious=True, aliases=("sterling", "silver 925", "925 silver", "925")),
    Metal("silver-935-germanium", "silver 935 with copper and germanium", Decimal("10.3"),
          "derived from an assumed 93.5/5.3/1.2 mixture; the true share of germanium varies", "silver", "#d9dadc",
          precious=True, aliases=("935 silver", "germanium silver", "silver 935")),
    Metal("coin-silver-900", "coin silver 900", Decimal("10.31"), "from memory of data sheets", "silver", "#d3d4d6",
          precious=True, aliases=("coin silver", "silver 900")),
    Metal("fine-gold", "fine gold 999", Decimal("19.3"), "the element: periodictable, mendeleev (19.32 often printed)",
          "gold", "#e0b83e", precious=True, aliases=("24k gold", "fine gold")),
    Metal("gold-14k-yellow", "gold 14 k yellow (585)", Decimal("13.07"), "from memory of data sheets, 13.0 to 13.7",
          "gold", "#d9b65a", (_RECIPE,), precious=True, aliases=("14k gold", "gold 585", "14k yellow gold")),
    Metal("gold-18k-yellow", "gold 18 k yellow (750)", Decimal("15.5"), "from memory of data sheets, 15.2 to 15.6",
          "gold", "#dfb648", (_RECIPE,), precious=True, aliases=("18k gold", "gold 750", "18k yellow gold")),
    Metal("gold-filled-14-20", "gold-filled 14/20 on brass C260", Decimal("8.68"),
          "derived: 1/20 of 14 k gold at 13.07 on brass at 8.53", "filled", "#d4b056",
          ("A layer of gold on brass; say the fraction.",),
          aliases=("gold filled", "14/20", "14/20 gold filled", "14k gold filled", "gf")),
    Metal("silver-filled-1-10", "silver-filled 1/10 on brass C260", Decimal("8.68"),
          "derived: 1/10 of sterling at 10.36 on brass at 8.53", "filled", "#d0d1d2",
          ("A layer of silver on brass; say the fraction.",), aliases=("silver filled", "1/10 silver filled")),
    Metal("silver-filled-1-20", "silver-filled 1/20 on brass C260", Decimal("8.61"),
          "derived: 1/20 of sterling at 10.36 on brass at 8.53", "filled", "#d0d1d2",
          ("A layer of silver on brass; say the fraction.",), aliases=("1/20 silver filled",)),
    Metal("platinum", "platinum", Decimal("21.45"), "the element: periodictable (mendeleev 21.5)", "platinum",
          "#cfd0d2", precious=True, aliases=("pt",)),
    Metal("palladium", "palladium", Decimal("12.02"), "the element: periodictable (mendeleev 12.0)", "platinum",
          "#cbcccf", precious=True, aliases=("pd",)),
    # Rubbers: closed rings that only stretch
    Metal("rubber-epdm", "EPDM rubber", Decimal("1.25"), f"{_MID} (compounded 1.10 to 1.40)", "rubber", "#2f3033",
          (_RUBBER,), weigh_first=True, aliases=("epdm",)),
    Metal("rubber-silicone", "silicone rubber", Decimal("1.18"), f"{_MID} (1.10 to 1.25)", "rubber", "#6b6f75",
          (_RUBBER,), weigh_first=True, aliases=("silicone", "vmq")),
    Metal("rubber-natural", "natural rubber", Decimal("1.1"), f"{_MID} (0.92 to 0.95 neat, 1.1 filled)", "rubber",
          "#4a4038", (_RUBBER, "Natural rubber latex can cause allergies."), weigh_first=True, aliases=("latex",)),
)  # fmt: skip

METALS: dict[str, Metal] = {each.code: each for each in _ROWS}


def metal(code: str, own: Mapping[str, Metal] | None = None) -> Metal:
    """Return a metal by its code; a shop's own metals come first. Raises: KeyError for an unknown code."""
    if own and code in own:
        return own[code]
    return METALS[code]


def alloy_density(parts: Mapping[str, Decimal]) -> Decimal:
    """Return the rule-of-mixtures density in g/cm3, 1 / sum(mass fraction / density), of element symbols or codes.

    Lesson: right to 0.1 % for sterling and 0.5 % for aluminium alloys, but 0.7 to 3.7 % too low for brasses, bronzes,
    nickel silvers and stainless steels, whose real lattices are denser: take those from a table. Unrounded.
    Raises: KeyError for an unknown part, ValueError unless the fractions are positive and add up to exactly 1.
    """
    if sum(parts.values()) != 1 or any(share <= 0 for share in parts.values()):
        raise ValueError("the mass fractions of an alloy are above zero and add up to 1")
    volume_cm3_per_g = Decimal(0)
    for part, share in parts.items():
        density = ELEMENT_DENSITIES.get(part) or METALS[part].density
        volume_cm3_per_g = _CONTEXT.add(volume_cm3_per_g, _CONTEXT.divide(share, density))
    return _CONTEXT.divide(Decimal(1), volume_cm3_per_g)


def match_metal(words: str, own: Iterable[Metal] = ()) -> list[Metal]:
    """Return the metals that typed words may mean, best first: 'bronze', 'sterling', 'alu', 'ss 316'.

    A code, a name or an alias typed in full is certain and stands alone. Else every typed word must begin a word of the
    metal; those whose own name begins so come first, and more than one means: ask.
    """
    wanted = _words(words)
    if not wanted:
        return []
    ours = tuple(own)
    certain = next((each for each in ours if wanted in _names(each)), None) or _catalogue().called.get(wanted)
    if certain is not None:
        return [certain]
    possible = [each for each in ours if all(_begins(word, each) for word in wanted)]
    possible += _catalogue().begun_by(wanted)
    return sorted(possible, key=lambda each: not _words(each.name)[0].startswith(wanted[0]))


def names_metal(words: str) -> bool:
    """Whether typed words may mean a metal of the catalogue: whether `match_metal` would answer any."""
    wanted = _words(words)
    return bool(wanted) and (wanted in _catalogue().called or bool(_catalogue().begun_by(wanted)))


def _begins(word: str, each: Metal) -> bool:
    """Whether a word begins a word of a metal; '260' means C260 too."""
    return any(
        part.startswith(word) or (word.isdigit() and part == f"c{word}") for name in _names(each) for part in name
    )


class _Catalogue:
    """The catalogue's words in order, each with the metals that have it, so that a word is looked up and not tried."""

    def __init__(self) -> None:
        self._metals = tuple(METALS.values())
        self.called: dict[tuple[str, ...], Metal] = {}
        having: dict[str, int] = {}
        for place, each in enumerate(self._metals):
            for name in _names(each):
                self.called.setdefault(name, each)
                for part in name:
                    having[part] = having.get(part, 0) | 1 << place
        self._parts = sorted(having)
        self._having = having

    def begun_by(self, wanted: tuple[str, ...]) -> list[Metal]:
        """The metals of which every word begins a word, in the order of the catalogue."""
        found = -1
        for word in wanted:
            found &= self._begun(word)
            if not found:
                return []
        return [each for place, each in enumerate(self._metals) if found >> place & 1]

    def _begun(self, word: str) -> int:
        """The metals that a word begins a word of, as bits by their place."""
        found = self._having.get(f"c{word}", 0) if word.isdigit() else 0
        for place in range(bisect_left(self._parts, word), len(self._parts)):
            if not self._parts[place].startswith(word):
                break
            found |= self._having[self._parts[place]]
        return found


@lru_cache(maxsize=1)
def _catalogue() -> _Catalogue:
    return _Catalogue()


@lru_cache(maxsize=256)
def _names(each: Metal) -> tuple[tuple[str, ...], ...]:
    """Return the words of a metal's code, name and aliases."""
    return tuple(_words(name) for name in (each.code, each.name, *each.aliases))


def _words(text: str) -> tuple[str, ...]:
    """Return the lower-case words of a name; '14 k' and '14k' are one word."""
    plain = re.sub(r"\b(\d+) k\b", r"\1k", text[:80].lower().replace("'", ""))
    return tuple(re.findall(r"[a-z0-9./]+", plain))


_FAMILY_CAUTIONS: dict[str, str] = {
    "reactive-titanium": (
        "Titanium: dust and fine chips burn. Keep them dry and away from flames, and never use water on such a fire."
    ),
    "nickel": (
        "Nickel: some of these metals hold nickel. Many places limit how much a piece may give off against the skin, "
        "more strictly for piercings. Say so to the buyer, and check your local law."
    ),
    "lead": (
        "Lead and cadmium: many places limit both in each metal part of a piece, and more strictly for children. "
        "Ask your supplier for the composition in writing, and check your local law."
    ),
    "precious": (
        "Precious metals: a description such as sterling or 14 k may need a hallmark or a maker's mark above a certain "
        "weight. Check your local law or ask an assay office."
    ),
    "filled": (
        "Filled metals: say the layer's fraction and metal, and do not call the piece gold or silver alone. "
        "Check your local law for the words you may use."
    ),
    "galvanised": "Galvanised steel: zinc fumes are harmful. Do not heat, solder or weld it.",
    "copper": "Copper alloys: they tarnish and may mark the skin. Tell the buyer how to care for the piece.",
    "latex": "Natural rubber: latex can cause allergies. Tell the buyer.",
}


def cautions_for(codes: Iterable[str], own: Mapping[str, Metal] | None = None) -> list[str]:
    """Return the usual cautions for a piece made of these metals, each once. They never say that a piece complies.

    Raises: KeyError for an unknown code. Source: common practice, and the topics that European, British and American
    rules on jewellery name (nickel release, lead, cadmium, hallmarks); the figures are left to local law.
    """
    found: set[str] = set()
    for each in (metal(code, own) for code in codes):
        text = " ".join((each.name, *each.notes)).lower()
        if "titanium" in text:
            found.add("reactive-titanium")
        if "nickel" in text:
            found.add("nickel")
        if each.family in {"copper", "filled"}:
            found.add("lead")
        if each.precious:
            found.add("precious")
        if each.family in {"filled", "copper"}:
            found.add(each.family)
        if each.code == "galvanised-steel":
            found.add("galvanised")
        if "latex" in text:
            found.add("latex")
    return [text for key, text in _FAMILY_CAUTIONS.items() if key in found]
