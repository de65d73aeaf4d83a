"""Words of buying and planning, and of lists of designs: how far something is, what it aims at, how it is sorted."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from models.trade.vocabulary.terms import Marked, Term, Vocabulary, closed

PurchaseState = Literal["draft", "sent", "part", "received", "cancelled"]
PlanState = Literal["waiting", "searching", "done", "failed"]
SeenState = Literal[PlanState, "broken off"]
Goal = Literal["profit", "sales", "pieces"]
Stopped = Literal["", "time", "cancelled"]
Limiting = Literal["hours", "item", "money"]
SubstituteWhy = Literal["declared", "near size"]
Allowance = Literal["with", "without"]
PartChange = Literal["added", "taken out", "changed"]
AnswerKind = Literal["", "plan", "unmeetable", "none"]
MakeOrder = Literal["earns", "pieces", "minutes", "name"]
DesignOrder = Literal["name", "earns", "cost", "newest"]


@dataclass(frozen=True, slots=True, kw_only=True)
class StateOfPurchase(Marked):
    """How far a purchase is; those with a `tab` have a list of their own."""

    tab: str = ""


PURCHASE_STATES: Vocabulary[PurchaseState, StateOfPurchase] = closed(
    "state of a purchase",
    {
        "draft": StateOfPurchase(says="draft", tab="Drafts"),
        "sent": StateOfPurchase(says="on its way", mark="good"),
        "part": StateOfPurchase(says="part of it is here", mark="warn"),
        "received": StateOfPurchase(says="all of it is here", mark="good", tab="All here"),
        "cancelled": StateOfPurchase(says="cancelled", tab="Cancelled"),
    },
)
ON_ORDER_STATES: tuple[PurchaseState, ...] = ("sent", "part")
"""The states of a purchase of which something still comes."""
OPEN_STATES: tuple[PurchaseState, ...] = ("draft", *ON_ORDER_STATES)
"""The states of a purchase that is not over."""

PLAN_STATES: Vocabulary[PlanState, Term] = closed(
    "state of a search",
    {
        "waiting": Term(says="waiting"),
        "searching": Term(says="searching"),
        "done": Term(says="done"),
        "failed": Term(says="failed"),
    },
)
"""How far a search is; one that fell silent is shown as 'broken off'."""
UNSETTLED: tuple[PlanState, ...] = ("waiting", "searching")
"""The states of a search that has no answer yet."""

GOALS: Vocabulary[Goal, Term] = closed(
    "goal of a plan",
    {
        "profit": Term(says="most profit"),
        "sales": Term(says="most in sales"),
        "pieces": Term(says="most pieces"),
    },
)

MAKE_ORDERS: Vocabulary[MakeOrder, Term] = closed(
    "order of what can be made",
    {
        "earns": Term(says="what it earns an hour"),
        "pieces": Term(says="how many can be made"),
        "minutes": Term(says="how long one takes"),
        "name": Term(says="name"),
    },
)

DESIGN_ORDERS: Vocabulary[DesignOrder, Term] = closed(
    "order of designs",
    {
        "name": Term(says="name"),
        "earns": Term(says="what it earns an hour"),
        "cost": Term(says="what it costs"),
        "newest": Term(says="newest first"),
    },
)

ALLOWANCES: Vocabulary[Allowance, Term] = closed(
    "word on spoiled rings",
    {"with": Term(says="with the usual allowance"), "without": Term(says="as if none is spoiled")},
)

PART_CHANGES: Vocabulary[PartChange, Marked] = closed(
    "change of a part",
    {
        "added": Marked(says="added", mark="good"),
        "taken out": Marked(says="taken out", mark="bad"),
        "changed": Marked(says="changed"),
    },
)
"""What happened to a part between two revisions."""
