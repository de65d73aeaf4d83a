"""What was said of a quantity, in thousandths of the item's unit: weights become rings, packs what they hold.

Reading the words stands in `models/intake/how_much.py`; how sure a count by weight is, in `models/trade/weighing.py`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal

from sqlmodel import Session, select

from models.costing.lines import Impossible
from models.intake.how_much import HowMuch
from models.intake.stock.offer import from_milli
from models.queries.shop.gathering import gathering_in
from models.queries.stock.material import Material
from models.tables import Item
from models.trade.measures import format_mass, to_grams
from models.trade.vocabulary.things import PACK_UNITS, UNITS

_EXACT = Context(prec=50, rounding=ROUND_HALF_EVEN)


@dataclass(frozen=True, slots=True)
class Measured:
    """A quantity in thousandths, how sure it is ('', 'about', 'plenty'), and how it was worked out, in words."""

    milli: int
    rough: str = ""
    words: str = ""


def measured(item: Material, how: HowMuch) -> Measured | Impossible:
    """The quantity that was said of an item; Impossible with the reason where it cannot be worked out."""
    if how.packs is not None:
        return _packs(item, how.packs, how)
    if not how.said:
        return _plenty(item)
    if how.none:
        # None is none in any unit, also where nobody knows what one weighs.
        return Measured(0)
    found = _one(item, how)
    if isinstance(found, Impossible) or not how.rough:
        return found
    return Measured(found.milli, how.rough, found.words)


def names_of_items(session: Session, names: Collection[str]) -> dict[str, tuple[int, ...]]:
    """The ids of the items with these names, by the name in lower case; of several those in use, else the retired."""
    found: dict[str, list[tuple[bool, int]]] = {name.casefold(): [] for name in names}
    if not found:
        return {}
    for item_id, name, retired in _named_rows(session, found):
        if name.casefold() in found and item_id is not None:
            found[name.casefold()].append((retired, item_id))
    return {
        name: tuple(item_id for retired, item_id in sorted(rows) if retired == min(rows)[0])
        for name, rows in found.items()
    }


def _named_rows(session: Session, names: Collection[str]) -> Iterable[tuple[int | None, str, bool]]:
    """Items that may have one of these names (in lower case), with whether they are retired."""
    if (gathering := gathering_in(session)) is not None:
        known = gathering.by(Item, "name", lambda item: item.name.casefold())
        return [(item.id, item.name, item.retired) for name in names for item in known[name]]
    return session.exec(select(Item.id, Item.name, Item.retired))


def _one(item: Material, how: HowMuch) -> Measured | Impossible:
    if how.weight_ug is not None:
        return _by_weight(item, how.weight_ug)
    if how.length_nm is not None:
        return _by_length(item, Decimal(how.length_nm).scaleb(-9))
    milli = how.milli or 0
    if item.unit == "piece" and milli % 1000:
        return Impossible("These are counted one by one. Give a whole number, such as 48.")
    if how.pieces and item.unit != "piece":
        return Impossible(f"This is counted in {item.unit_words}, not in pieces.")
    return Measured(milli)


def _by_weight(item: Material, weight_ug: int) -> Measured | Impossible:
    grams = to_grams(weight_ug)
    if item.unit == "g":
        return Measured(_milli(grams))
    one_g = item.mass_g
    if one_g is None or (item.measured_mass_ug is None and item.body.metal is not None and item.body.metal.weigh_first):
        words = "What one weighs is not known well enough. Weigh a counted sample first, or give the count."
        return Impossible(words)
    units = _EXACT.divide(grams, one_g)
    milli = int(units.to_integral_value(ROUND_HALF_EVEN)) * 1000 if item.unit == "piece" else _milli(units)
    source = "as weighed" if item.measured_mass_ug else "as computed from its size and metal"
    one = "one" if item.unit == "piece" else "a metre"
    shown = format_mass(int(_EXACT.scaleb(one_g, 6).to_integral_value(ROUND_HALF_EVEN)))
    words = f"{format_mass(weight_ug)} at {shown} for {one}, {source}, is about {from_milli(milli)} {item.unit_words}."
    return Measured(milli, "about", words)


def _by_length(item: Material, metres: Decimal) -> Measured | Impossible:
    if item.unit == "m":
        return Measured(_milli(metres))
    return Impossible(f"This is counted in {item.unit_words}, not by length.")


def _packs(item: Material, packs: Decimal, how: HowMuch) -> Measured | Impossible:
    if how.pack is not None:
        one = _one(item, _times(how.pack, packs))
    elif item.offer is None:
        return Impossible("It has no current offer, so say what one pack holds.")
    else:
        one = _offered(item, packs, item.offer.pack, item.offer.pack_unit)
    if isinstance(one, Impossible):
        return one
    rough = how.rough or one.rough
    return Measured(one.milli, rough, one.words)


def _times(pack: HowMuch, packs: Decimal) -> HowMuch:
    def times(figure: int | None) -> int | None:
        return None if figure is None else int((figure * packs).to_integral_value(ROUND_HALF_EVEN))

    return HowMuch(times(pack.milli), times(pack.weight_ug), times(pack.length_nm), pieces=pack.pieces)


def _offered(item: Material, packs: Decimal, pack: Decimal, pack_unit: str) -> Measured | Impossible:
    unit = PACK_UNITS.term(pack_unit)
    amount = _EXACT.multiply(_EXACT.multiply(packs, pack), unit.size)
    if unit.dimension == "mass":
        return _by_weight(item, int(_EXACT.scaleb(amount, 6).to_integral_value(ROUND_HALF_EVEN)))
    if unit.dimension == "length":
        return _by_length(item, _EXACT.scaleb(amount, -3))
    if item.unit != "piece":
        return Impossible(f"The pack of the current offer is counted, and this item goes by {item.unit_words}.")
    return _one(item, HowMuch(milli=_milli(amount)))


def _plenty(item: Material) -> Measured:
    units = UNITS.term(item.unit).plenty
    return Measured(units * 1000, "plenty", f"Plenty: taken as {units:,} {item.unit_words} until it is counted.")


def _milli(units: Decimal) -> int:
    return int(_EXACT.scaleb(units, 3).to_integral_value(ROUND_HALF_EVEN))
