"""Words of buying and planning: how far a purchase or a search is, what a plan aims at, and how lists are sorted."""

from __future__ import annotations

from typing import Literal

from models.trade.vocabulary.terms import Marked, Term, Vocabulary, closed

PurchaseState = Literal["draft", "sent", "part", "received", "cancelled"]
PlanState = Literal["waiting", "searching", "done", "failed"]
SeenState = Literal[PlanState, "broken off"]
Goal = Literal["profit", "sales", "pieces"]
AnswerKind = Literal["", "plan", "unmeetable", "none"]
MakeOrder = Literal["earns", "pieces", "minutes", "name"]
DesignOrder = Literal["name", "earns", "cost", "newest"]

PURCHASE_STATES: Vocabulary[PurchaseState, Marked] = closed(
    "state of a purchase",
    {
        "draft": Marked(says="draft"),
        "sent": Marked(says="on its way", mark="good"),
        "part": Marked(says="part of it is here", mark="warn"),
        "received": Marked(says="all of it is here", mark="good"),
        "cancelled": Marked(says="cancelled"),
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
