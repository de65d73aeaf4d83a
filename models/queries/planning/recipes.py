"""What every design takes and what is free: the shop as `models/planning` asks for it, in a few light queries.

Columns of parts and balances are read, nothing is costed. What follows from it stands in `makeable` and `make_plan`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from fractions import Fraction
from itertools import islice, product
from typing import Any

from sqlalchemy import case, func, select
from sqlmodel import Session, col

from models.costing.design_cost import usual_allowance
from models.planning.makeable import makeable
from models.planning.recipes import Recipe, RecipeLine, Rough, Stock
from models.queries.costing.costing import choice_value
from models.queries.newest_revision import newest_revisions
from models.tables import Design, Item, ItemBalance, Lot, LotPlace, Outlet, Part, PriceFigure, Revision, Shop

MOST_CHOICES = 24
"""So many combinations of choices of one design are worked out; what is beyond is said, never hidden."""
ABOUT_SHARE = 10
"""A bag that holds 'about' so many may hold a tenth less or a tenth more: our own rule, as nobody counted it."""


@dataclass(frozen=True, slots=True)
class ShopRecipe:
    """A recipe with its design and revision, the choices as a form asks for them, and whether it is the usual one."""

    recipe: Recipe
    design_id: int
    number: int
    picks: tuple[tuple[str, str], ...] = ()
    usual: bool = True

    @property
    def key(self) -> str:
        """The key of its recipe."""
        return self.recipe.key

    @property
    def choices(self) -> tuple[str, ...]:
        """The choices as 'colour=green'."""
        return tuple(choice_value(group, name) for group, name in self.picks)


@dataclass(frozen=True, slots=True)
class RecipeBook:
    """The recipes of the shop in the order of their designs; `cut` is how many combinations of a design are left out.

    `bare` are the designs that have no parts yet.
    """

    recipes: tuple[ShopRecipe, ...]
    cut: Mapping[int, int]
    bare: tuple[int, ...] = ()

    @property
    def plain(self) -> tuple[Recipe, ...]:
        """The same as planning takes them."""
        return tuple(each.recipe for each in self.recipes)


@dataclass(frozen=True, slots=True)
class Makeable:
    """How many pieces of one design free stock makes with the allowance: its best choice; None where nothing limits it.

    `plenty` tells that only rough heaps are used, `choices` in how many ways it can be made now.
    """

    pieces: int | None
    rough: bool
    choices: int


@dataclass(frozen=True, slots=True)
class MadeOf:
    """How many of one design in one of its choices; `limiting` names what runs out first, `unknown` what is no item."""

    key: str
    choice: str
    pieces: int | None
    rough: bool
    limiting: tuple[str, ...]
    unknown: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class ShortAnswer:
    """What can be made now, for one glance: of how many designs, and the one of them that earns most an hour."""

    designs: int
    can: int
    best_id: int | None = None
    best: str = ""
    best_pieces: int | None = None


def recipes(session: Session, design_ids: Collection[int] | None = None) -> tuple[Recipe, ...]:
    """One recipe for each design in use and combination of its choices, the usual one first."""
    return recipe_book(session, design_ids).plain


def recipe_book(session: Session, design_ids: Collection[int] | None = None) -> RecipeBook:
    """The recipes of all designs in use, or of those named; two queries. Optional parts are left out.

    A part whose item is retired still counts: what is left of it may be used up.
    """
    shop_percent = session.scalar(select(col(Shop.allowance_percent))) or Decimal(0)
    by_design: dict[int, list[Any]] = {}
    for row in session.execute(_parts(design_ids)):
        by_design.setdefault(row.design_id, []).append(row)
    found: list[ShopRecipe] = []
    cut: dict[int, int] = {}
    bare: list[int] = []
    for design_id, rows in by_design.items():
        if rows[0].position is None:
            bare.append(design_id)
            continue
        percent = rows[0].design_percent
        allowance = (shop_percent if percent is None else percent).scaleb(-2)
        combinations, left_out = _combinations(rows)
        if left_out:
            cut[design_id] = left_out
        found += [
            _recipe(design_id, rows, picks, allowance, usual=not number) for number, picks in enumerate(combinations)
        ]
    return RecipeBook(tuple(found), cut, tuple(bare))


def planning_stock(session: Session, *, plenty_ends: bool = False) -> dict[int, Stock]:
    """What is free of every item, as planning takes it; two queries.

    Of 'about' so many a tenth less or more may be there. 'Plenty' has no end, unless `plenty_ends`: then it ends where
    its figure does, because a build can take out no more than that.
    """
    rough: dict[int, dict[str, int]] = {}
    bags = (
        select(col(Lot.item_id), col(LotPlace.rough), func.sum(LotPlace.quantity_milli - LotPlace.reserved_milli))
        .join(Lot, col(Lot.id) == col(LotPlace.lot_id))
        .where(col(LotPlace.rough) != "", col(LotPlace.quantity_milli) > 0)
        .group_by(col(Lot.item_id), col(LotPlace.rough))
    )
    for item_id, mark, milli in session.execute(bags):
        rough.setdefault(item_id, {})[mark] = int(milli)
    free = ItemBalance.on_hand_milli - ItemBalance.reserved_milli
    rows = session.execute(
        select(col(Item.id), col(Item.name), col(Item.unit), func.coalesce(free, 0)).outerjoin(
            ItemBalance, col(ItemBalance.item_id) == col(Item.id)
        )
    )
    return {
        item_id: _stock(item_id, name, unit, int(milli), rough.get(item_id, {}), plenty_ends=plenty_ends)
        for item_id, name, unit, milli in rows
    }


def makeable_by_design(session: Session, design_ids: Collection[int] | None = None) -> dict[int, Makeable]:
    """How many pieces of each design in use free stock makes, in four queries; designs without parts are left out."""
    book = recipe_book(session, design_ids)
    found: dict[int, Makeable] = {}
    for each, answer in zip(book.recipes, makeable(book.plain, planning_stock(session)), strict=True):
        known = found.get(each.design_id)
        ways = (known.choices if known else 0) + (answer.pieces is None or answer.pieces > 0)
        best = Makeable(answer.pieces, not answer.sure, ways)
        if known is not None and (
            known.pieces is None or (answer.pieces is not None and answer.pieces <= known.pieces)
        ):
            best = Makeable(known.pieces, known.rough, ways)
        found[each.design_id] = best
    return found


def makeable_of_design(session: Session, design_id: int) -> tuple[MadeOf, ...]:
    """How many pieces of one design free stock makes, choice by choice, with the allowance; none without parts."""
    book, stock = recipe_book(session, (design_id,)), planning_stock(session)
    return tuple(
        MadeOf(
            key=answer.key,
            choice=answer.choice,
            pieces=answer.pieces,
            rough=not answer.sure,
            limiting=tuple(stock[item].name for item in answer.limiting),
            unknown=answer.unknown,
        )
        for answer in makeable(book.plain, stock)
    )


def short_answer(session: Session) -> ShortAnswer:
    """What can be made now, in five queries."""
    found = makeable_by_design(session)
    can = {design_id for design_id, made in found.items() if made.choices}
    earned = (
        select(col(PriceFigure.design_id), col(Design.name))
        .join(Design, col(Design.id) == col(PriceFigure.design_id))
        .join(Outlet, col(Outlet.id) == col(PriceFigure.outlet_id))
        .where(~col(Outlet.retired), ~col(Design.retired), col(PriceFigure.hourly_micros).is_not(None))
        .order_by(col(PriceFigure.hourly_micros).desc(), col(Design.id))
    )
    for design_id, name in session.execute(earned):
        if design_id in can:
            return ShortAnswer(len(found), len(can), design_id, name, found[design_id].pieces)
    return ShortAnswer(len(found), len(can))


def _parts(design_ids: Collection[int] | None) -> Any:
    """The parts of every latest revision with what a recipe needs of them; a design without parts has one row."""
    newest = newest_revisions()
    wanted: Any = (
        select(
            col(Design.id).label("design_id"), col(Design.name), col(Revision.number),
            col(Revision.allowance_percent).label("design_percent"), col(Part.position), col(Part.item_id),
            col(Part.quantity_milli), col(Part.optional), col(Part.choice_group), col(Part.choice_name),
            col(Part.allowance_percent), col(Part.typed_name), col(Part.typed_kind),
            case((col(Part.item_id).is_(None), col(Part.typed_kind)), else_=col(Item.kind)).label("kind"),
        )
        .join(newest, newest.c.design_id == col(Design.id))
        .join(Revision, (col(Revision.design_id) == col(Design.id)) & (col(Revision.number) == newest.c.number))
        .outerjoin(Part, col(Part.revision_id) == col(Revision.id))
        .outerjoin(Item, col(Item.id) == col(Part.item_id))
        .where(~col(Design.retired))
        .order_by(func.lower(Design.name), col(Design.id), col(Part.position))
    )  # fmt: skip
    return wanted if design_ids is None else wanted.where(col(Design.id).in_(design_ids))


def _combinations(rows: Sequence[Any]) -> tuple[list[tuple[tuple[str, str], ...]], int]:
    """Every combination of one choice of each group, the usual one first, and how many more there are."""
    groups: dict[str, dict[str, None]] = {}
    for row in rows:
        if row.choice_group:
            groups.setdefault(row.choice_group, {})[row.choice_name] = None
    every = 1
    for names in groups.values():
        every *= len(names)
    ways = product(*([(group, name) for name in names] for group, names in groups.items()))
    return list(islice(ways, MOST_CHOICES)), max(0, every - MOST_CHOICES)


def _recipe(
    design_id: int, rows: Sequence[Any], picks: tuple[tuple[str, str], ...], allowance: Decimal, *, usual: bool
) -> ShopRecipe:
    """The recipe of one combination: of each item one line, as a build takes it out."""
    picked = dict(picks)
    taken: dict[int, list[tuple[int, Decimal]]] = {}
    unknown: dict[str, None] = {}
    for row in rows:
        if row.optional or (row.choice_group and picked[row.choice_group] != row.choice_name):
            continue
        if row.item_id is None:
            unknown[row.typed_name or row.typed_kind or "a part without a name"] = None
            continue
        own = None if row.allowance_percent is None else row.allowance_percent.scaleb(-2)
        share = usual_allowance(row.kind, Decimal(row.quantity_milli).scaleb(-3), own, allowance)
        taken.setdefault(row.item_id, []).append((row.quantity_milli, share))
    key = str(design_id) if not picks else f"{design_id}:{'|'.join(choice_value(*pick) for pick in picks)}"
    recipe = Recipe(
        key=key,
        name=rows[0].name,
        lines=tuple(_line(item, parts) for item, parts in taken.items()),
        choice=choice_words(picks),
        unknown=tuple(unknown),
    )
    return ShopRecipe(recipe, design_id, rows[0].number, picks, usual)


def choice_words(picks: Iterable[tuple[str, str]]) -> str:
    """The choices in words: 'colour green, clasp toggle'."""
    return ", ".join(f"{group} {name}" for group, name in picks)


def _line(item: int, parts: Sequence[tuple[int, Decimal]]) -> RecipeLine:
    """All parts of an item as one line with their common allowance, exact: a build rounds them up together, once."""
    first = parts[0][1]
    if len(parts) == 1:
        return RecipeLine(item, parts[0][0], first)
    milli = sum(quantity for quantity, _ in parts)
    if all(share == first for _, share in parts):
        return RecipeLine(item, milli, first)
    return RecipeLine(item, milli, Fraction(sum(quantity * share for quantity, share in parts)) / milli)


def _stock(
    item_id: int, name: str, unit: str, free_milli: int, rough: Mapping[str, int], *, plenty_ends: bool
) -> Stock:
    step = 1000 if unit == "piece" else 1
    about, plenty = rough.get("about", 0), rough.get("plenty", 0)
    off = about // ABOUT_SHARE // step * step
    endless = plenty > 0
    if not (endless or about):
        return Stock(item_id, free_milli, step, name=name)
    return Stock(
        item=item_id,
        free_milli=None if endless and not plenty_ends else free_milli,
        step_milli=step,
        rough=Rough(max(0, free_milli - off), None if endless else free_milli + off),
        name=name,
    )
