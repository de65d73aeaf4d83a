"""Whether a plan that was found still stands with the shop of today: counted again from its pieces and packs alone."""

from __future__ import annotations

from dataclasses import replace

from models.planning.mix import MixPlan, faults_of, plan_of
from models.planning.recipes import stock_of
from models.planning.troubles import listed
from models.queries.planning.answer import PlanAnswer
from models.queries.planning.question import Asked


def plan_today(answer: PlanAnswer, asked: Asked) -> MixPlan | None:
    """A plan put to the shop of today; None where a design or an offer of it is no longer what it was."""
    known = {each.key for each in asked.question.designs}
    offered = {offer.key for offer in asked.question.timely}
    if answer.kind != "plan" or not known.issuperset(answer.pieces) or not offered.issuperset(answer.packs):
        return None
    plan = plan_of(asked.question, answer.pieces, answer.packs)
    # What was proven was proven for the shop of then; a changed value has nothing known above it.
    return replace(plan, bound=max(answer.bound, plan.value)) if plan.value == answer.value else plan


def no_longer(asked: Asked, plan: MixPlan | None) -> str:
    """Why a plan can no longer be booked, in words; empty while it can."""
    if plan is None:
        return "A design or an offer of this plan is no longer what it was."
    if not faults_of(asked.question, plan):
        return ""
    lacking = []
    for use in plan.uses:
        usable = asked.question.usable_milli(use.item)
        if usable is not None and use.taken_milli > usable + use.bought_milli:
            lacking.append(stock_of(asked.question.stock, use.item).called)
    if lacking:
        return f"There is no longer enough of {listed(lacking)} for this plan."
    return "Times, prices or stock have changed since, so this plan no longer fits what you asked."
