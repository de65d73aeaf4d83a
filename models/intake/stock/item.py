"""What people hand in about a stock item: one reader for a page's form, a JSON body and a CSV row.

The offer's own fields are read in `offer`; whether a near-equal size is in stock already is asked in the operation.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Annotated, Final

from models.costing.lines import Impossible
from models.costing.unit_cost import Body, one_mass_g, unit_cost_of_offer
from models.intake.faults import Faults
from models.intake.fields import (
    ANY_NUMBER,
    Beside,
    Choice,
    Flag,
    Mass,
    Own,
    Size,
    Text,
    columns_of,
    read_fields,
)
from models.intake.raw import Raw, Reader
from models.intake.stock.metal import no_tint
from models.intake.stock.offer import OfferDraft, from_milli, has_offer, offer_fields
from models.trade.measures import Length, Unreadable, format_length, format_mm, parse_gauge, parse_length, to_grams
from models.trade.metals import METALS, Metal, match_metal
from models.trade.rings import RingSize, absurd, wire_g_per_m
from models.trade.vocabulary.things import ARRIVALS, ITEM_KINDS, PART_KINDS, UNITS

MOST_SAMPLE: Final = 100_000

_OF_AN_OFFER: Final = (
    "supplier", "supplier_id", "pack_milli", "pack_unit", "price", "currency", "exchange_rate", "note",
)  # fmt: skip
_PACK: Final = Own(
    label="Pack", says="What one pack holds.", example="100", typed="pack", held="number", json=ANY_NUMBER
)


@dataclass(frozen=True, slots=True)
class ItemDraft:
    """A stock item as handed in; sizes in nanometres, the measured mass of one unit in micrograms.

    `name` is never empty: an unnamed ring or wire gets the usual name of its metal and size. `offer` is the offer that
    becomes its current one, where one came along. `near_ok` says that a near-equal size in stock is another thing.
    """

    kind: Annotated[str, Choice(label="Kind", says="What it is.", example="ring", among=PART_KINDS)]
    name: Annotated[
        str,
        Text(
            label="Name",
            says="Its name; a ring or wire without one is named by its metal and size.",
            example="Ear wire",
            most=120,
        ),
    ]
    metal: Annotated[
        str | None,
        Own(label="Metal", says="The code or the name of a metal on the Metals page.", example="bronze-c220"),
    ]
    finish: Annotated[str, Text(label="Finish", says="The finish, such as matt or bright.", example="matt", most=60)]
    colour: Annotated[
        str,
        Text(
            label="Colour",
            says="The colour, for anodised, dyed or coated metal and for rubber.",
            example="green",
            most=60,
        ),
    ]
    tint: Annotated[
        str,
        Text(
            label="Tint",
            says="The tint of the drawn ring, where the word for the colour does not say it.",
            example="#3b7d4f",
            most=20,
            tidy=str.lower,
            wrong=no_tint,
        ),
    ]
    wire_nm: Annotated[
        int | None,
        Size(
            label="Wire",
            says="The real wire: mm, inches, or a gauge with AWG or SWG.",
            example="1.0 mm",
            typed="wire",
            reads="wire",
            required=False,
        ),
    ]
    wire_label: Annotated[
        str,
        Own(
            label="Wire as the bag says",
            says="What the bag says of the wire, where it differs.",
            example="16 SWG",
            held="label",
        ),
    ]
    inner_nm: Annotated[
        int | None,
        Size(
            label="Inside",
            says="A ring's inner diameter: mm or inches.",
            example="5/32 in",
            typed="inner",
            reads="inner",
            required=False,
        ),
    ]
    inner_label: Annotated[
        str,
        Own(
            label="Inside as the bag says",
            says="What the bag says of the opening, where it differs.",
            example="5/32 in",
            held="label",
        ),
    ]
    hole_nm: Annotated[
        int | None,
        Size(
            label="Hole",
            says="The hole of a scale, bead or finding.",
            example="3.2 mm",
            typed="hole",
            reads="inner",
            required=False,
        ),
    ]
    unit: Annotated[
        str, Choice(label="Counted in", says="What it is counted in.", example="piece", among=UNITS, default="piece")
    ]
    mass_ug: Annotated[
        int | None,
        Mass(
            label="Weighed mass of one",
            says="The weighed mass of one; it wins over the computed one.",
            example="0.0973 g",
            typed="mass",
            required=False,
        ),
    ]
    can_open: Annotated[
        bool,
        Flag(
            label="Can be opened",
            says="Whether a ring can be opened; empty means yes, and no for rubber.",
            example="yes",
        ),
    ]
    arrives: Annotated[
        str,
        Choice(
            label="Arrives",
            says="Whether a ring arrives open or closed.",
            example="open",
            among=ARRIVALS,
            default="open",
        ),
    ]
    note: Annotated[
        str,
        Text(
            label="Note",
            says="Anything else.",
            example="Springy; close it with two pairs of pliers.",
            most=2000,
            lines=True,
        ),
    ]
    offer: Annotated[
        OfferDraft | None,
        Beside(label="Offer", of=OfferDraft, only=_OF_AN_OFFER, otherwise={"pack_milli": _PACK}),
    ] = None
    near_ok: Annotated[
        bool,
        Flag(
            label="Another thing",
            says="Say yes where a near-equal size in stock is another thing.",
            example="yes",
            in_row=False,
        ),
    ] = False
    retired: Annotated[bool, Flag(label="Retired", says="Whether it is kept out of lists.", example="no")] = False

    @property
    def size(self) -> RingSize | None:
        """The ring size, for a ring."""
        return RingSize(self.wire_nm, self.inner_nm) if self.wire_nm and self.inner_nm else None


def read_item(
    raw: Raw,
    *,
    metals: Mapping[str, Metal] = METALS,
    currency: str = "",
    length_unit: str = "mm",
) -> ItemDraft | Faults:
    """Read an item, with its current offer when any field of one is filled.

    `metals` are those that the shop knows, `currency` its own (empty: settled later), `length_unit` is that of a bare
    number.
    """
    reader = Reader(raw, length_unit=length_unit)
    kind = reader.choice("kind", PART_KINDS)
    unknown = reader.faults()
    if unknown:
        # What else would be right depends on the kind.
        return unknown
    metal = _metal(reader, kind, metals)
    wire, inner, hole = _sizes(reader, kind)
    wire_nm, inner_nm = wire.nm if wire else None, inner.nm if inner else None
    wire_label, inner_label = _wire_label(reader, wire), _inner_label(reader, inner)
    unit = _unit(reader, kind)
    can_open, arrives = _opening(reader, kind, metal)
    draft = read_fields(
        ItemDraft,
        reader,
        kind=kind,
        metal=metal.code if metal else None,
        wire_nm=wire_nm,
        wire_label=wire_label,
        inner_nm=inner_nm,
        inner_label=inner_label,
        hole_nm=hole.nm if hole else None,
        unit=unit,
        mass_ug=_mass(reader, kind, unit),
        can_open=can_open,
        arrives=arrives,
        offer=None,
    )
    if not draft.name and not ITEM_KINDS.term(kind).needs_metal:
        reader.fault("name", "Give it a name, such as 'ear wire' or 'gift box'.")
    offer = offer_fields(reader, currency=currency) if has_offer(reader) else None
    if offer is not None and reader.faults() is None:
        body = body_of(kind=kind, unit=unit, metal=metal, wire_nm=wire_nm, inner_nm=inner_nm, mass_ug=draft.mass_ug)
        _check_pack(reader, offer, unit, body)
    name = draft.name or usual_name(kind, metal, draft.colour or draft.finish, wire_nm, inner_nm)
    return reader.faults() or replace(draft, name=name, offer=offer)


ITEM_COLUMNS: Final = columns_of(ItemDraft)
"""The columns of a CSV file of items; their names are the fields that `read_item` reads."""


def usual_name(kind: str, metal: Metal | None, look: str, wire_nm: int | None, inner_nm: int | None) -> str:
    """The name of an unnamed ring or wire: 'Green niobium ring 0.8 × 2.8 mm'; empty for what must be named."""
    if (
        not ITEM_KINDS.term(kind).needs_metal
        or metal is None
        or wire_nm is None
        or (kind == "ring" and inner_nm is None)
    ):
        return ""
    words = f"{look} {short_metal(metal)} {kind}".strip()
    sizes = (wire_nm,) if inner_nm is None else (wire_nm, inner_nm)
    shown = " × ".join(format_mm(nm).removesuffix(" mm") for nm in sizes)
    return f"{words[:1].upper()}{words[1:]} {shown} mm"


def short_metal(metal: Metal) -> str:
    """The metal's name without what stands in brackets: 'commercial bronze C220'."""
    return metal.name.partition(" (")[0]


def find_metal(words: str, metals: Mapping[str, Metal]) -> Metal | None:
    """The metal that these words name in full, by its code, name or another word; None when none or several do."""
    wanted = words.strip().casefold()
    if wanted in metals:
        return metals[wanted]
    named = [metal for metal in metals.values() if wanted in (metal.name.casefold(), short_metal(metal).casefold())]
    named = named or [metal for metal in metals.values() if wanted in metal.aliases]
    return named[0] if len(named) == 1 else None


def metal_trouble(words: str, metals: Mapping[str, Metal]) -> str:
    """What to say about words that `find_metal` could not settle."""
    own = [metal for code, metal in metals.items() if code not in METALS]
    likely = ", ".join(metal.code for metal in match_metal(words, own)[:5])
    if likely:
        return f"'{words}' may be several metals here; choose one of: {likely}."
    return f"'{words}' is not a metal here. Choose one of the list, or add your own under Metals."


def body_of(
    *, kind: str, unit: str, metal: Metal | None, wire_nm: int | None, inner_nm: int | None, mass_ug: int | None
) -> Body:
    """What is known of one unit, to turn a pack by weight or length into units; `mass_ug` is a measured mass."""
    measured = to_grams(mass_ug) if mass_ug else None
    return Body(
        size=RingSize(wire_nm, inner_nm) if kind == "ring" and wire_nm and inner_nm else None,
        wire_nm=wire_nm if kind == "wire" else None,
        metal=metal,
        mass_g=measured if unit == "piece" else None,
        g_per_m=measured if unit == "m" else None,
    )


def unit_mass_g(unit: str, body: Body) -> Decimal | None:
    """The mass of one unit in grams: as measured, of a ring or a metre of wire as computed; None when unknown."""
    if unit == "g":
        return Decimal(1)
    if unit == "piece":
        return one_mass_g(body)
    if body.g_per_m is None and body.wire_nm and body.metal:
        return wire_g_per_m(body.wire_nm, body.metal.density)
    return body.g_per_m


def _check_pack(reader: Reader, offer: OfferDraft, unit: str, body: Body) -> None:
    """A pack from which no cost of one unit follows is refused beside its unit."""
    cost = unit_cost_of_offer(offer.price, from_milli(offer.pack_milli), offer.pack_unit, item_unit=unit, body=body)
    if isinstance(cost, Impossible):
        reader.fault("pack_unit", cost.reason)


def _metal(reader: Reader, kind: str, metals: Mapping[str, Metal]) -> Metal | None:
    words = reader.text("metal", most=80)
    if not words:
        if ITEM_KINDS.term(kind).needs_metal:
            reader.fault("metal", "Choose what it is made of.")
        return None
    if not ITEM_KINDS.term(kind).has_metal:
        reader.fault("metal", f"{_a(kind)} has no metal here; put what matters into its name.")
        return None
    found = find_metal(words, metals)
    if found is None:
        reader.fault("metal", metal_trouble(words, metals))
    return found


def _sizes(reader: Reader, kind: str) -> tuple[Length | None, Length | None, Length | None]:
    wire = inner = hole = None
    if ITEM_KINDS.term(kind).has_wire:
        wire = reader.wire("wire", required=ITEM_KINDS.term(kind).needs_metal)
    elif reader.has("wire"):
        reader.fault("wire", f"{_a(kind)} has no wire; leave this empty.")
    if kind == "ring":
        inner = reader.inner("inner")
    elif reader.has("inner"):
        reader.fault("inner", f"Only a ring has an inner diameter; leave this empty for {_a(kind).lower()}.")
    if ITEM_KINDS.term(kind).has_hole:
        hole = reader.inner("hole", required=False)
    elif reader.has("hole"):
        reader.fault("hole", f"{_a(kind)} has no hole here; leave this empty.")
    if wire and inner:
        wrong = absurd(RingSize(wire.nm, inner.nm))
        if wrong:
            reader.fault("inner", wrong)
    return wire, inner, hole


def _wire_label(reader: Reader, wire: Length | None) -> str:
    """What the bag says where it differs from the real wire; a gauge that was typed as the size is its own label."""
    typed = reader.text("wire_label", most=20)
    if not typed:
        return (wire.label or "") if wire else ""
    if wire is None and not reader.has("wire"):
        reader.fault("wire_label", "Give the real wire too; this is only what the bag says.")
        return ""
    try:
        return parse_gauge(typed).label
    except Unreadable as no_gauge:
        try:
            parse_length(typed, reads="small")
        except Unreadable:
            reader.fault("wire_label", no_gauge.message)
            return ""
    return typed


def _inner_label(reader: Reader, inner: Length | None) -> str:
    """What the bag says of the opening; an inch fraction that was typed as the size is its own label."""
    typed = reader.text("inner_label", most=20)
    if typed:
        try:
            label = parse_length(typed, reads="small")
        except Unreadable as unreadable:
            reader.fault("inner_label", unreadable.message)
            return ""
        return _as_fraction(label.nm, typed) or typed
    return _as_fraction(inner.nm, reader.text("inner", most=60)) if inner else ""


def _as_fraction(nm: int, typed: str) -> str:
    """'5/32 in' when it was typed as a fraction of an inch and is one exactly; else empty."""
    shown = format_length(nm, "in")
    return shown if "/" in typed and "mm" not in typed.lower() and "/" in shown else ""


def _unit(reader: Reader, kind: str) -> str:
    allowed = ITEM_KINDS.term(kind).units
    unit = reader.choice("unit", UNITS.codes, default=allowed[0])
    if unit not in allowed:
        words = " or ".join(UNITS[each] for each in allowed)
        reader.fault("unit", f"{_a(kind)} is counted in {words}.")
        return allowed[0]
    return unit


def _opening(reader: Reader, kind: str, metal: Metal | None) -> tuple[bool, str]:
    """Whether a ring can be opened (rubber never), and whether it arrives open or closed."""
    if kind != "ring":
        return True, ""
    rubber = metal is not None and metal.family == "rubber"
    can_open = reader.flag("can_open") if reader.has("can_open") else not rubber
    if rubber and can_open:
        reader.fault("can_open", "A rubber ring only stretches; it cannot be opened.")
    arrives = reader.choice("arrives", ARRIVALS.codes, default="open" if can_open else "closed")
    if not can_open and arrives == "open":
        reader.fault("arrives", "A ring that cannot be opened arrives closed.")
    return can_open, arrives


def _mass(reader: Reader, kind: str, unit: str) -> int | None:
    """The measured mass of one unit: the weight of a sample, divided by how many were weighed; rounded half to even."""
    if not reader.has("mass"):
        if reader.has("mass_of"):
            reader.integer("mass_of", least=1, most=MOST_SAMPLE)
        return None
    sample_ug = reader.mass("mass")
    count = reader.integer("mass_of", least=1, most=MOST_SAMPLE, default=1)
    if sample_ug is None or count is None:
        return None
    if unit == "g":
        reader.fault("mass", f"{_a(kind)} that is counted in grams weighs what it weighs; leave this empty.")
        return None
    one_ug = int((Decimal(sample_ug) / count).to_integral_value(rounding=ROUND_HALF_EVEN))
    if one_ug < 1:
        reader.fault(
            "mass", "That is less than a millionth of a gram for one; check the weight and how many were weighed."
        )
        return None
    return one_ug


def _a(kind: str) -> str:
    return ITEM_KINDS.term(kind).one
