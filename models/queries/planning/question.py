"""A question of the best mix put to the shop: recipes, free stock, what pieces earn, and offers of today.

The search is in `models/planning`; plans that were asked for stand in `make_plan`.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from sqlmodel import Session

from models.intake.faults import Fault, Faults
from models.intake.planning.make_plan import Cap, PlanRequest
from models.planning.mix import MixPlan
from models.planning.mix_request import MixDesign, MixRequest, mix_troubles
from models.planning.recipes import draws_of, steps_taken, stock_of
from models.planning.troubles import Trouble
from models.queries.buying.market import planning_offers
from models.queries.planning.piece_figures import PieceFigure, outlets_in_use, piece_figures
from models.queries.planning.recipes import RecipeBook, ShopRecipe, planning_stock, recipe_book
from models.trade.vocabulary.plans import GOALS


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A way to make a design that no plan can have, and why."""

    design_id: int
    name: str
    why: str


@dataclass(frozen=True, slots=True)
class Asked:
    """A question as the planning room takes it, with the recipes by key and what was left out."""

    ask: PlanRequest
    question: MixRequest
    recipes: Mapping[str, ShopRecipe]
    left_out: tuple[LeftOut, ...]
    sold_at: Mapping[str, str]
    """Where a piece of each recipe is sold: the outlet that was asked for, or where it earns most."""

    def next_units(self, plan: MixPlan) -> dict[int, int]:
        """For each item the least that some design lacks for one piece more than planned, in thousandths.

        One ring more seldom brings anything, so what limits a plan is asked with as many as a piece would need.
        """
        left = {use.item: use.left_milli for use in plan.uses}
        found: dict[int, int] = {}
        for each in self.question.designs:
            made = plan.pieces.get(each.key, 0)
            for item, draws in draws_of(
                each.recipe, self.question.stock, with_allowance=self.question.with_allowance
            ).items():
                stock = stock_of(self.question.stock, item)
                free = left.get(item, stock.free_milli)
                more = (steps_taken(draws, made + 1) - steps_taken(draws, made)) * stock.step_milli
                lacks = 0 if free is None else more - max(free - self.question.keep_back.get(item, 0), 0)
                if lacks > 0:
                    found[item] = min(lacks, found.get(item, lacks))
        return found


def plan_question(session: Session, ask: PlanRequest) -> Asked | Faults:
    """The question with today's shop; faults where it names what the shop does not have, or can't be asked so.

    'Plenty' ends where its figure does, because a build can take out no more. A design without a price at the outlet
    is left out, unless pieces are the goal.
    """
    book = recipe_book(session)
    outlets = outlets_in_use(session)
    faults = _unknown(ask, book, outlets)
    if faults:
        return Faults(tuple(faults))
    figures = piece_figures(session, book.recipes)
    stock = planning_stock(session, plenty_ends=True)
    for place, one in enumerate(ask.keep_back):
        if one.item_id not in stock:
            faults.append(Fault(f"keep_back.{place}.item_id", "There is no such item any more. Choose another one."))
    if faults:
        return Faults(tuple(faults))
    caps = {cap.key: cap for cap in ask.caps}
    designs, left_out = [], []
    for each in book.recipes:
        why = _why_not(each, figures.get(each.key), ask)
        # A wish for what can't be in any plan is kept, so that the answer can say what is missing.
        if why and caps.get(each.key, Cap("")).at_least == 0:
            left_out.append(LeftOut(each.design_id, f"{each.recipe.name} {each.recipe.choice}".strip(), why))
            continue
        designs.append(_mix_design(each, figures.get(each.key), ask, caps.get(each.key)))
    if not designs:
        where = "" if ask.outlet_id is None else " there"
        return Faults.of(
            "goal", f"No design of which you have the parts has a price that pays{where} yet. Ask for pieces."
        )
    offers, suppliers = planning_offers(session) if ask.spend_micros else ((), ())
    question = MixRequest(
        designs=tuple(designs),
        stock=stock,
        goal=GOALS.word(ask.goal),
        seconds=ask.seconds,
        keep_back={one.item_id: one.milli for one in ask.keep_back},
        different=ask.different,
        spend_micros=ask.spend_micros,
        offers=offers,
        suppliers=suppliers,
        lead_days=ask.lead_days,
        with_allowance=ask.allowance,
    )
    troubles = mix_troubles(question)
    if troubles:
        return faults_of_troubles(troubles, ask)
    recipes = {each.key: each for each in book.recipes}
    places = {key: figure.at_outlet(ask.outlet_id) for key, figure in figures.items()}
    sold_at = {key: sold.outlet for key, sold in places.items() if sold is not None}
    return Asked(ask, question, recipes, tuple(left_out), sold_at)


def faults_of_troubles(troubles: Iterable[Trouble], ask: PlanRequest) -> Faults:
    """What the planning room found wrong, beside the fields of the form that it came from."""
    rows = {cap.key: place for place, cap in enumerate(ask.caps)}
    kept = {str(one.item_id): place for place, one in enumerate(ask.keep_back)}
    found: dict[str, str] = {}
    for trouble in troubles:
        group, _, rest = trouble.field.partition(".")
        name = group if group in {"hours", "spend", "lead_days", "different"} else ""
        if group == "designs" and rest:
            key, _, part = rest.rpartition(".")
            key, part = (key, part) if key in rows else (rest, "key")
            name = f"caps.{rows[key]}.{part}" if key in rows else "most_each" if "at_most" in rest else ""
        elif group == "keep_back":
            name = f"keep_back.{kept.get(rest, 0)}.quantity"
        found.setdefault(name, trouble.message)
    return Faults(tuple(Fault(name, message) for name, message in found.items()))


def _unknown(ask: PlanRequest, book: RecipeBook, outlets: Mapping[int, str]) -> list[Fault]:
    faults = []
    if ask.outlet_id is not None and ask.outlet_id not in outlets:
        faults.append(Fault("outlet", "There is no such outlet any more. Choose another one."))
    known = {each.key for each in book.recipes}
    seen: set[str] = set()
    for place, cap in enumerate(ask.caps):
        if cap.key not in known:
            faults.append(Fault(f"caps.{place}.key", "This design is not made in this way. Choose one of the list."))
        elif cap.key in seen:
            faults.append(Fault(f"caps.{place}.key", "This design is there twice. Leave one out."))
        seen.add(cap.key)
    if not book.recipes:
        faults.append(Fault("", "No design has parts yet. Type the parts of one first."))
    return faults


def _why_not(each: ShopRecipe, figure: PieceFigure | None, ask: PlanRequest) -> str:
    if each.recipe.unknown:
        return f"{', '.join(each.recipe.unknown)}: not in your stock"
    if figure is None or (ask.goal != "pieces" and figure.at_outlet(ask.outlet_id) is None):
        return "no price that pays" if ask.outlet_id is None else "no price that pays at this outlet"
    return ""


def _mix_design(each: ShopRecipe, figure: PieceFigure | None, ask: PlanRequest, cap: Cap | None) -> MixDesign:
    sold = figure.at_outlet(ask.outlet_id) if figure else None
    return MixDesign(
        recipe=each.recipe,
        seconds=figure.seconds if figure else 0,
        profit_micros=sold.profit_micros if sold else 0,
        sales_micros=sold.price_micros if sold else 0,
        at_least=cap.at_least if cap else 0,
        at_most=cap.at_most if cap and cap.at_most is not None else _most(ask, cap),
        design=str(each.design_id),
    )


def _most(ask: PlanRequest, cap: Cap | None) -> int | None:
    """The most of a design that has no cap of its own; a wish for more of one goes before what holds for each."""
    if ask.most_each is None:
        return None
    return max(ask.most_each, cap.at_least if cap else 0)
