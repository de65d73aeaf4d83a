"""Turning a plan into builds and purchases, starting what had to wait for rings, and taking all of it back.

Builds are started and purchases drafted by their own operations; the plan is counted again before anything is booked.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

from sqlmodel import Session

from models.errors import Conflict, Unfit
from models.intake.builds.build import BuildRequest, StartDraft
from models.intake.faults import Faults
from models.intake.planning.make_plan import PLAN_QUESTION, PlanRequest
from models.operations.builds.start import start_build
from models.operations.builds.undo import undo_build
from models.operations.buying.purchase import cancel_purchase, draft_purchases
from models.operations.shop.clock import now
from models.planning.makeable import makeable
from models.planning.mix import MixPlan
from models.planning.recipes import Stock, taken_milli
from models.planning.troubles import listed
from models.queries.planning.answer import PlanAnswer, read_answer
from models.queries.planning.check import no_longer, plan_today
from models.queries.planning.make_plan import KEPT_BOOKED, Booked, PlanView, booked_of, plan_row, plan_view
from models.queries.planning.question import Asked, plan_question
from models.tables import MakePlan


@dataclass(frozen=True, slots=True)
class PlanAct:
    """What was done with a plan, in words, and whether anything was."""

    plan_id: int
    words: str
    done: bool = True


def book_plan(session: Session, plan_id: int) -> PlanAct:
    """Start the builds of a plan as far as their rings are here, and draft its purchases; a second time does nothing.

    The plan is first counted again with today's shop. Raises: Missing; Conflict when there is no plan, or it no longer
    fits; NotEnoughForBuild.
    """
    row = plan_row(session, plan_id)
    if row.booked:
        return PlanAct(plan_id, "This plan was turned into builds already.", done=False)
    answer, asked, plan = _checked(session, row)
    made = _start(session, asked, {line.key: line.pieces for line in answer.lines})
    purchases = draft_purchases(session, plan.orders, f"For plan {plan_id}.") if plan.orders else ()
    row.booked, row.booked_at = KEPT_BOOKED.text(Booked(tuple(made), purchases)), now()
    row.version += 1
    session.flush()
    view = plan_view(session, plan_id, now=now())
    return PlanAct(plan_id, _booked_words(view))


def start_rest(session: Session, plan_id: int) -> PlanAct:
    """Start those pieces of a booked plan that had to wait, as far as their rings are here now.

    Raises: Missing; Conflict when it was not booked, or nothing more can be started yet.
    """
    row = plan_row(session, plan_id)
    if not row.booked:
        raise Conflict("Turn the plan into builds first.")
    view = plan_view(session, plan_id, now=now())
    asked = _asked(session, PLAN_QUESTION.read(row.question))
    left = {line.line.key: line.waits for line in view.lines if line.waits and line.line.key in asked.recipes}
    made = _start(session, asked, left)
    if not made:
        raise Conflict("The rings of what waits are not here yet, so nothing more was started.")
    booked = booked_of(row)
    row.booked = KEPT_BOOKED.text(replace(booked, builds=(*booked.builds, *made)))
    row.version += 1
    session.flush()
    waits = plan_view(session, plan_id, now=now()).waits
    return PlanAct(plan_id, f"Started {_builds(len(made))}.{_waits_words(waits)}")


def unbook_plan(session: Session, plan_id: int) -> PlanAct:
    """Take back the builds and purchases of a plan, while none of them has gone on.

    Raises: Missing; Conflict when it was not booked, or a build or purchase has gone on.
    """
    row = plan_row(session, plan_id)
    if not row.booked:
        raise Conflict("Nothing was booked of this plan, so there is nothing to take back.")
    view = plan_view(session, plan_id, now=now())
    builds = [build for line in view.lines for build in line.builds]
    gone_on = [f"build {build.id}" for build in builds if build.state in {"making", "finished"}]
    gone_on += [f"purchase {each.id}" for each in view.purchases if each.state not in {"draft", "cancelled"}]
    if gone_on:
        verb = "has" if len(gone_on) == 1 else "have"
        raise Conflict(f"{listed(gone_on).capitalize()} {verb} gone on since. Take that back there first.")
    for build in builds:
        if build.state == "started":
            undo_build(session, build.id)
    for purchase in view.purchases:
        if purchase.state == "draft":
            cancel_purchase(session, purchase.id)
    row.booked, row.booked_at = "", None
    row.version += 1
    session.flush()
    return PlanAct(plan_id, "The builds and purchases of this plan are taken back.")


def _checked(session: Session, row: MakePlan) -> tuple[PlanAnswer, Asked, MixPlan]:
    answer = read_answer(row.result)
    if answer is None or answer.kind != "plan" or not answer.lines:
        raise Conflict("There is no plan to turn into builds. Ask for one first.")
    asked = _asked(session, PLAN_QUESTION.read(row.question))
    plan = plan_today(answer, asked)
    why = no_longer(asked, plan)
    if plan is None or why:
        raise Conflict(f"{why} Ask again.")
    return answer, asked, plan


def _asked(session: Session, ask: PlanRequest) -> Asked:
    asked = plan_question(session, ask)
    if isinstance(asked, Faults):
        raise Conflict(f"This question can no longer be asked: {Unfit(asked)}")
    return asked


def _start(session: Session, asked: Asked, wanted: Mapping[str, int]) -> list[tuple[str, int]]:
    """Start builds of these pieces by key, each as far as its rings are free now; answers key and build."""
    left: dict[int, Stock] = {}
    for item, stock in asked.question.stock.items():
        kept = asked.question.keep_back.get(item, 0)
        left[item] = replace(stock, free_milli=max(0, (stock.free_milli or 0) - kept))
    made = []
    for key, pieces in wanted.items():
        each = asked.recipes[key]
        (answer,) = makeable([each.recipe], left, with_allowance=asked.ask.allowance)
        now_pieces = pieces if answer.pieces is None else min(pieces, answer.pieces)
        if not now_pieces:
            continue
        ask = BuildRequest(each.design_id, now_pieces, each.choices)
        made.append((key, start_build(session, StartDraft(ask, spare=asked.ask.allowance)).build_id))
        for item, milli in taken_milli(each.recipe, now_pieces, left, with_allowance=asked.ask.allowance).items():
            left[item] = replace(left[item], free_milli=(left[item].free_milli or 0) - milli)
    return made


def _booked_words(view: PlanView) -> str:
    said = [f"Started {_builds(sum(len(line.builds) for line in view.lines))}"]
    if view.purchases:
        said.append("drafted 1 purchase" if len(view.purchases) == 1 else f"drafted {len(view.purchases)} purchases")
    return f"{' and '.join(said)}.{_waits_words(view.waits)}"


def _builds(many: int) -> str:
    return "1 build" if many == 1 else f"{many} builds"


def _waits_words(waits: int) -> str:
    if not waits:
        return ""
    return " 1 piece waits for its rings." if waits == 1 else f" {waits} pieces wait for their rings."
