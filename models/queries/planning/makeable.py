"""The page of what can be made now: every design and choice with its number, what runs out first and what it earns.

Recipes and free stock come from `recipes`, what a piece earns from `piece_figures`; the best use of all is `make_plan`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from sqlalchemy import select
from sqlmodel import Session, col

from models.intake.planning.makeable import MakeFilter
from models.planning.makeable import Answer, Effect, effects, makeable
from models.planning.recipes import Recipe, Stock
from models.planning.substitutes import StandIn, StandIns, propose
from models.planning.troubles import Trouble
from models.queries.designs.list import DrawnRing, counted_choices, metal_name
from models.queries.newest_revision import newest_revisions
from models.queries.planning.piece_figures import OutletAt, PieceFigure, outlets_in_use, piece_figures
from models.queries.planning.recipes import ShopRecipe, planning_stock, recipe_book, recipes
from models.queries.stock.item import load_materials
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.queries.stock.on_order import on_order_milli
from models.queries.stock.stand_ins import stand_ins
from models.queries.stock.weave import ShopWeaves, shop_weaves
from models.tables import Design, Revision
from models.trade.rings import RingSize
from models.trade.weaves import WEAVES, Fit

__all__ = ["MakeFilter", "MakeRow", "MakeView", "makeable_view", "planning_stock", "recipes"]

PER_PAGE = 100


@dataclass(frozen=True, slots=True)
class Lacks:
    """What one more piece would need of an item beyond what is free, in thousandths and in words.

    `on_order_milli` is what sent purchases still bring of it.
    """

    item: Material
    milli: int
    rough: bool
    on_order_milli: int = 0

    @property
    def counted(self) -> str:
        """How much of it, in words: '12 rings'."""
        return self.item.counted(self.milli)

    @property
    def on_order(self) -> str:
        """How much of it is on order, in words."""
        return self.item.counted(self.on_order_milli)


@dataclass(frozen=True, slots=True)
class Proposal:
    """A ring that may stand in for one that runs out; never used unless somebody says so."""

    item: Material
    other: Material
    told: StandIn


@dataclass(frozen=True, slots=True)
class MakeRow:
    """One design with one combination of its choices.

    `pieces` is None where nothing counted limits it; `after` is what is left of it when `making` is made, None where
    that touches nothing of it. `cut` are further combinations of the design that are not worked out.
    """

    recipe: ShopRecipe
    answer: Answer
    piece: str
    weave: str
    weave_name: str
    skill: int
    minutes: Decimal | None
    provisional: bool
    sold: OutletAt | None
    metals: tuple[str, ...]
    limiting: tuple[Material, ...]
    lacks: tuple[Lacks, ...]
    rests_on: tuple[Material, ...]
    stand_ins: tuple[Proposal, ...]
    effect: Effect | None
    cut: int
    drawn: int | None = None
    """The place (from 1) of its ring among all that the page draws: the one that runs out first, else its own first."""

    @property
    def key(self) -> str:
        """The key of the recipe."""
        return self.recipe.key

    @property
    def design_id(self) -> int:
        """The design's number."""
        return self.recipe.design_id

    @property
    def name(self) -> str:
        """The design's name."""
        return self.answer.name

    @property
    def can(self) -> bool:
        """Whether any can be made now."""
        return self.answer.pieces is None or self.answer.pieces > 0

    @property
    def profit_hourly_micros(self) -> int | None:
        """The profit of an hour, without the wage; None where no price or no time is known."""
        if self.sold is None or not self.minutes:
            return None
        return int(self.sold.profit_micros * 60 / self.minutes)


@dataclass(frozen=True, slots=True)
class MakeView:
    """One page of what can be made now, and how many rows were `found` in all.

    The counts are of designs in use that have parts; `bare` have none yet. `making` is the row whose effect is shown,
    `trouble` why it cannot be.
    """

    rows: tuple[MakeRow, ...]
    found: int
    wanted: MakeFilter
    designs: int
    can: int
    best: MakeRow | None
    making: MakeRow | None
    trouble: str
    bare: int
    outlets: Mapping[int, str]
    metals: tuple[tuple[str, str], ...]
    weaves: tuple[tuple[str, str], ...]
    drawn: tuple[DrawnRing, ...]
    scale_nm: int

    @property
    def guessed(self) -> bool:
        """Whether any number of this page is a range, because a bag holds only 'about' so many."""
        return any(not row.answer.sure for row in self.rows)

    @property
    def pages(self) -> int:
        """How many pages of rows there are."""
        return max(1, -(-self.found // PER_PAGE))


@dataclass(frozen=True, slots=True)
class _Known:
    """What every row of the page is made from, by design, by recipe or by item."""

    heads: Mapping[int, _Head]
    figures: Mapping[str, PieceFigure]
    looks: Mapping[int, Material]
    cut: Mapping[int, int]
    told: _Effects
    on_order: Mapping[int, int]


@dataclass(frozen=True, slots=True)
class _Head:
    """What the page says of a design beside its recipe."""

    piece: str
    weave: str
    skill: int


def makeable_view(session: Session, wanted: MakeFilter) -> MakeView:
    """The page, narrowed as wanted; a constant number of queries."""
    metals = all_metals(session)
    book, stock, substitutes = recipe_book(session), planning_stock(session), stand_ins(session)
    used = {line.item for each in book.recipes for line in each.recipe.lines}
    others = {other.item for item in used for other, _ in substitutes.of(item)}
    looks = load_materials(session, used | others, metals, offers="none")
    answers = makeable(book.plain, stock, with_allowance=wanted.allowance)
    told = _effects(book.plain, stock, wanted)
    proposals = _Proposals(substitutes, shop_weaves(session), stock, looks)
    known = _Known(
        _heads(session), piece_figures(session, book.recipes), looks, book.cut, told, on_order_milli(session)
    )
    every = [_row(each, answer, known, wanted) for each, answer in zip(book.recipes, answers, strict=True)]
    shown = [row for row in every if _matches(row, wanted, looks)]
    page = _sorted(shown, wanted.order)[(wanted.page - 1) * PER_PAGE : wanted.page * PER_PAGE]
    rings = {row.key: ring for row in page if (ring := _ring(row, looks)) is not None}
    drawn = tuple(dict.fromkeys(rings.values()))
    placed = {key: drawn.index(ring) + 1 for key, ring in rings.items()}
    rows = tuple(replace(row, drawn=placed.get(row.key), stand_ins=proposals.of(row)) for row in page)
    by_key = {row.key: row for row in every}
    return MakeView(
        rows=rows,
        found=len(shown),
        wanted=wanted,
        designs=len({row.design_id for row in every}),
        can=len({row.design_id for row in every if row.can}),
        best=_best(every),
        making=by_key.get(wanted.making),
        trouble=told.trouble,
        bare=len(book.bare),
        outlets=outlets_in_use(session),
        metals=counted_choices((code, metal_name(code, metals)) for row in every for code in row.metals),
        weaves=counted_choices((row.weave, row.weave_name) for row in every),
        drawn=drawn,
        scale_nm=max((ring.inner_nm + 2 * ring.wire_nm for ring in drawn), default=0),
    )


class _Effects(dict[str, Effect]):
    """What making one design does to every recipe, by key; `trouble` says why it cannot be made."""

    trouble: str = ""


def _effects(plain: Sequence[Recipe], stock: Mapping[int, Stock], wanted: MakeFilter) -> _Effects:
    told = _Effects()
    if not wanted.making:
        return told
    if all(recipe.key != wanted.making for recipe in plain):
        told.trouble = "This design is no longer made in this way. Pick another one."
        return told
    found = effects(plain, stock, wanted.making, wanted.pieces, with_allowance=wanted.allowance)
    if isinstance(found, Trouble):
        told.trouble = found.message
    else:
        told.update((effect.key, effect) for effect in found)
    return told


def _heads(session: Session) -> dict[int, _Head]:
    newest = newest_revisions()
    rows = session.execute(
        select(col(Design.id), col(Design.piece), col(Revision.weave), col(Revision.skill))
        .join(newest, newest.c.design_id == col(Design.id))
        .join(Revision, (col(Revision.design_id) == col(Design.id)) & (col(Revision.number) == newest.c.number))
    )
    return {design_id: _Head(piece, weave or "", skill) for design_id, piece, weave, skill in rows}


def _row(each: ShopRecipe, answer: Answer, known: _Known, wanted: MakeFilter) -> MakeRow:
    head, figure, looks = known.heads[each.design_id], known.figures.get(each.key), known.looks
    weave = WEAVES.get(head.weave)
    metals = dict.fromkeys(code for line in each.recipe.lines if (code := looks[line.item].metal))
    return MakeRow(
        recipe=each,
        answer=answer,
        piece=head.piece,
        weave=head.weave,
        weave_name=weave.name if weave else "",
        skill=head.skill,
        minutes=Decimal(figure.minutes_milli).scaleb(-3) if figure and figure.minutes_milli else None,
        provisional=bool(figure and figure.provisional),
        sold=figure.at_outlet(wanted.outlet_id) if figure else None,
        metals=tuple(metals),
        limiting=tuple(looks[item] for item in answer.limiting),
        lacks=tuple(
            Lacks(looks[one.item], one.milli, one.rough, known.on_order.get(one.item, 0)) for one in answer.next_needs
        ),
        rests_on=tuple(looks[item] for item in answer.rests_on),
        stand_ins=(),
        effect=known.told.get(each.key),
        cut=known.cut.get(each.design_id, 0) if each.usual else 0,
    )


def _matches(row: MakeRow, wanted: MakeFilter, looks: Mapping[int, Material]) -> bool:
    if wanted.now and not row.can:
        return False
    if wanted.minutes is not None and (row.minutes is None or row.minutes > wanted.minutes):
        return False
    if wanted.skill and row.skill > wanted.skill:
        return False
    if (wanted.weave and row.weave != wanted.weave) or (wanted.metal and wanted.metal not in row.metals):
        return False
    if not wanted.text:
        return True
    used = (looks[line.item] for line in row.recipe.recipe.lines)
    parts = (f"{item.name} {item.look}" for item in used)
    text = " ".join((row.name, row.answer.choice, row.piece, row.weave_name, *parts)).casefold()
    return all(word in text for word in wanted.text.casefold().split())


def _sorted(rows: Iterable[MakeRow], order: str) -> list[MakeRow]:
    by_name = sorted(rows, key=lambda row: (row.name.casefold(), row.design_id))
    if order == "pieces":
        return sorted(by_name, key=lambda row: -_many(row))
    if order == "minutes":
        return sorted(by_name, key=lambda row: (not row.can, row.minutes is None, row.minutes or 0))
    if order == "earns":
        return sorted(by_name, key=lambda row: (not row.can, row.sold is None, -_earned(row)))
    return by_name


def _many(row: MakeRow) -> float:
    return float("inf") if row.answer.pieces is None else row.answer.pieces


def _earned(row: MakeRow) -> int:
    return row.sold.hourly_micros or 0 if row.sold else 0


def _best(rows: Iterable[MakeRow]) -> MakeRow | None:
    """The design that can be made now and earns most an hour."""
    earning = [row for row in rows if row.can and row.sold is not None and row.sold.hourly_micros is not None]
    return max(earning, key=_earned, default=None)


def _ring(row: MakeRow, looks: Mapping[int, Material]) -> DrawnRing | None:
    """The ring that runs out first; where something else does, the design's own first ring."""
    among = (*row.limiting, *(looks[line.item] for line in row.recipe.recipe.lines))
    item = next((item for item in among if item.size), None)
    return DrawnRing(item.wire_nm or 0, item.inner_nm or 0, item.tint) if item else None


class _Proposals:
    """Works out what may stand in where a design runs out; what fits a weave is asked once for each size."""

    def __init__(
        self, rings: StandIns, weaves: ShopWeaves, stock: Mapping[int, Stock], looks: Mapping[int, Material]
    ) -> None:
        self._rings, self._weaves, self._stock, self._looks = rings, weaves, stock, looks
        self._fits: dict[tuple[str, RingSize], Fit] = {}

    def of(self, row: MakeRow) -> tuple[Proposal, ...]:
        """The proposals for one row."""
        others = {other.item for item in row.answer.limiting for other, _ in self._rings.of(item)}
        if not others:
            return ()
        asked = others.union(line.item for line in row.recipe.recipe.lines)
        found = propose(
            row.recipe.recipe,
            row.answer,
            {item: self._stock[item] for item in asked},
            self._rings,
            fit_of=(lambda size: self._fit(row.weave, size)) if row.weave in WEAVES else None,
        )
        return tuple(Proposal(self._looks[one.item], self._looks[one.stand_in], one) for one in found)

    def _fit(self, weave: str, size: RingSize) -> Fit:
        key = (weave, size)
        if key not in self._fits:
            self._fits[key] = self._weaves.fit(weave, size)
        return self._fits[key]
