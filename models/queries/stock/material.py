"""What designs are made of and what lies in stock, as plain values: what it is, how it looks, weighs and costs.

Nothing here reads the database (`item` and `offer` do), and nothing else says what one unit of an item costs.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from datetime import datetime
from decimal import Decimal
from functools import cached_property
from typing import Any

from models.costing.exact import EXACT
from models.costing.inputs import UnitCost
from models.costing.lines import Impossible, Line
from models.costing.unit_cost import Body, typed_unit_cost, unit_cost_of_offer
from models.intake.fields import raw_of
from models.intake.stock.item import ItemDraft, short_metal, unit_mass_g, usual_name
from models.intake.stock.offer import breaks_text, from_milli
from models.trade.colours import BARE_TINT
from models.trade.measures import Unreadable, exact_text, parse_inner, parse_wire
from models.trade.rings import RingSize
from models.trade.units import unit_words


@dataclass(frozen=True, slots=True)
class ItemWords:
    """An item's name, kind and unit; whatever is known of an item beyond them says a quantity in the same words."""

    id: int
    name: str
    kind: str
    unit: str

    @classmethod
    def of(cls, row: Any) -> ItemWords:
        """The words of an item's row, or of a row that reads its four columns."""
        return ItemWords(row.id, row.name, row.kind, row.unit)

    @property
    def unit_words(self) -> str:
        """What many of it are counted in: 'rings', 'pieces', 'm' or 'g'."""
        return unit_words(self.kind, self.unit, Decimal(2))

    def counted(self, milli: int) -> str:
        """A quantity in words: '1 ring', '48 rings', '2.5 m'."""
        number = from_milli(milli)
        return f"{number} {unit_words(self.kind, self.unit, abs(number))}"


@dataclass(frozen=True, slots=True)
class OfferView:
    """One offer: `pack` of `pack_unit` for `price` in `currency`, at `exchange_rate` of the shop's own each.

    Costs follow the current one; those that are standing may be bought. `lead_days` None takes the supplier's. `breaks`
    (from so many packs, each costs) are read with an item's or a supplier's offers, and empty elsewhere. `in_design`
    tells that a design is costed by it: the lines then say whether it still holds, and what was asked abroad.
    """

    id: int
    supplier_id: int | None
    supplier: str
    pack: Decimal
    pack_unit: str
    price: Decimal
    currency: str
    exchange_rate: Decimal
    current: bool
    note: str
    made_at: datetime
    version: int
    body: Body
    """What is known of one unit of the item."""
    item_unit: str
    standing: bool = True
    lead_days: int | None = None
    breaks: tuple[tuple[int, Decimal], ...] = ()
    in_design: bool = False

    @property
    def breaks_typed(self) -> str:
        """The price breaks as they are typed."""
        return breaks_text(self.breaks)

    @property
    def foreign(self) -> bool:
        """Whether the price was turned into the shop's currency by a rate."""
        return self.exchange_rate != 1

    @property
    def source(self) -> str:
        """Where the price comes from, for the lines of a cost."""
        of, day = f" of {self.supplier}" if self.supplier else "", self.made_at.date().isoformat()
        if not self.in_design:
            return f"the offer{of}, {day}"
        return f"{'the current offer' if self.current else 'the last offer, which no longer holds'}{of}, noted {day}"

    @property
    def unit_cost(self) -> UnitCost | Impossible:
        """The cost of one unit in the shop's own currency, with the facts behind it.

        In a design an offer that no longer holds gives a provisional one.
        """
        cost = unit_cost_of_offer(
            EXACT.multiply(self.price, self.exchange_rate),
            self.pack,
            self._in_words(self.pack_unit, self.pack),
            item_unit=self._in_words(self.item_unit),
            body=self.body,
            source=self.source,
            provisional=self.in_design and not self.current,
        )
        if isinstance(cost, Impossible) or not self.foreign:
            return cost
        return replace(cost, lines=(*self._exchange_lines, *cost.lines))

    def _in_words(self, unit: str, many: Decimal | None = None) -> str:
        """The unit as the lines of a cost say it: pieces rather than piece; those of a design keep the unit alone."""
        return "pieces" if unit == "piece" and many != 1 and not self.in_design else unit

    @property
    def _exchange_lines(self) -> tuple[Line, ...]:
        if self.in_design:
            return (
                Line("Price asked", self.price, amount_unit=self.currency, reason="In the supplier's currency.",
                     source=self.source),
                Line(f"One {self.currency}", self.exchange_rate, amount_unit="of your currency",
                     reason="The exchange rate noted with the offer.", source=self.source),
            )  # fmt: skip
        asked = f"The pack is priced at {format(self.price, 'f')} {self.currency}; this rate was typed with it."
        return (Line(f"One {self.currency} costs", self.exchange_rate, reason=asked, source=self.source),)


# Without slots, so that what it costs and weighs is worked out once, when somebody asks.
@dataclass(frozen=True)
class Material(ItemWords):
    """A stock item, or with `id` 0 what is only typed in a design: sizes in nanometres, masses of one unit.

    `offer` is None where it has none, or where none was read. `cost` stands in the place of what the offer says: a
    guess, what the stock cost, an estimate.
    """

    metal: str | None = None
    body: Body = field(default_factory=Body)
    finish: str = ""
    colour: str = ""
    own_tint: str = ""
    tint: str = BARE_TINT
    """What it is drawn in: its own tint, else its colour's, else its metal's."""
    wire_nm: int | None = None
    inner_nm: int | None = None
    wire_label: str = ""
    inner_label: str = ""
    hole_nm: int | None = None
    measured_mass_ug: int | None = None
    can_open: bool = True
    arrives: str = ""
    note: str = ""
    retired: bool = False
    version: int = 0
    offer: OfferView | None = None
    cost: UnitCost | None = None

    @property
    def item_id(self) -> int | None:
        """The number of the stock item; None for what is only typed."""
        return self.id or None

    @property
    def metal_name(self) -> str:
        """The metal in short, such as 'commercial bronze C220'; empty without one."""
        return short_metal(self.body.metal) if self.body.metal else self.metal or ""

    @property
    def look(self) -> str:
        """Colour, finish and metal in words, as they stand on a bag: 'green anodised niobium'."""
        return " ".join(word for word in (self.colour, self.finish, self.metal_name) if word)

    @cached_property
    def size(self) -> RingSize | None:
        """The ring size, for a ring whose sizes are known."""
        if self.kind != "ring" or not self.wire_nm or not self.inner_nm:
            return None
        return RingSize(self.wire_nm, self.inner_nm)

    @property
    def aspect_ratio(self) -> Decimal | None:
        """Inner diameter over wire diameter, for a ring."""
        return self.size.aspect_ratio if self.size else None

    @cached_property
    def mass_g(self) -> Decimal | None:
        """The mass of one unit: measured, else computed, else unknown."""
        return unit_mass_g(self.unit, self.body)

    @cached_property
    def unit_cost(self) -> UnitCost | None:
        """What one unit costs, with the facts behind it; None when no price is known, or no cost follows from it."""
        if self.cost is not None:
            return self.cost
        asked = self.offer.unit_cost if self.offer else None
        return asked if isinstance(asked, UnitCost) else None

    @property
    def no_price(self) -> str:
        """Why nobody can say what one unit costs; empty when somebody can."""
        if self.unit_cost is not None:
            return ""
        if self.offer is not None:
            return self.no_cost
        if self.item_id is not None:
            return "No supplier's price is noted for it yet."
        return "It is not in stock, and no price is guessed for it yet."

    @property
    def no_cost(self) -> str:
        """Why the offer says nothing about one unit; empty when it does, or when there is none."""
        asked = self.offer.unit_cost if self.offer else None
        return asked.reason if isinstance(asked, Impossible) else ""

    def guessed_at(self, guess: Decimal | None) -> Material:
        """The same at a price that was typed in a design, where nothing else says what one unit costs."""
        if guess is None or self.unit_cost is not None:
            return self
        return replace(self, cost=typed_unit_cost(guess, guessed=True, source="typed in the design"))

    @property
    def own_name(self) -> str:
        """The name where it is not just the usual one of its metal and size."""
        usual = usual_name(self.kind, self.body.metal, self.colour or self.finish, self.wire_nm, self.inner_nm)
        return "" if self.name == usual else self.name

    def raw(self) -> dict[str, object]:
        """The item as its form and the API hand it in, without an offer; `read_item` gives the same item back.

        A usual name is left out, so that it follows when metal or size change.
        """
        return {
            **raw_of(ItemDraft, self, name=self.own_name, tint=self.own_tint, mass_ug=self.measured_mass_ug),
            **_typed_size("wire", self.wire_nm, self.wire_label, lambda text: parse_wire(text).nm),
            **_typed_size("inner", self.inner_nm, self.inner_label, lambda text: parse_inner(text).nm),
        }


def _typed_size(name: str, nm: int | None, label: str, read: Callable[[str], int]) -> dict[str, object]:
    """A size as it is typed: by its label alone where that says the same size, else the exact size and the label."""
    if nm is None:
        return {name: "", f"{name}_label": ""}
    try:
        same = bool(label) and read(label) == nm
    except Unreadable:
        same = False
    return {name: label if same else exact_text(nm), f"{name}_label": "" if same else label}
