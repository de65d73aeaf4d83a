"""Questions of the best mix: asking one, what the search tells and finds, stopping it, asking what limits it.

The search itself runs outside of any transaction, in the web face; turning an answer into builds is `plan_builds`.
"""

from __future__ import annotations

from collections.abc import Collection

from sqlmodel import Session, col, select

from models.errors import Conflict, Unfit
from models.intake.faults import Faults
from models.intake.planning.make_plan import PLAN_QUESTION, PlanRequest
from models.operations.shop.clock import now
from models.planning.mix import MixPlan, NoPlanYet
from models.planning.mix_limits import Limits
from models.planning.mix_wishes import Unmeetable
from models.planning.solver import Progress
from models.queries.planning.answer import answer_text, failed_limits_text, failed_text, limits_text
from models.queries.planning.make_plan import plan_row, state_of
from models.queries.planning.question import Asked, plan_question
from models.tables import MakePlan
from models.trade.vocabulary.plans import UNSETTLED

MOST_WAITING = 20
"""So many questions may wait for their search at once."""
SHOP_CHANGED = "The shop has changed since, so that this plan no longer stands."


def ask_plan(session: Session, ask: PlanRequest) -> int:
    """Keep a question that can be asked; answer its id.

    Raises: Unfit with faults beside the fields of the form; Conflict while too many wait already.
    """
    asked = plan_question(session, ask)
    if isinstance(asked, Faults):
        raise Unfit(asked)
    rows = session.exec(select(MakePlan).where(col(MakePlan.state).in_(UNSETTLED)))
    if sum(state_of(row, now()) in UNSETTLED for row in rows) >= MOST_WAITING:
        raise Conflict(f"{MOST_WAITING} searches wait already. Ask again when some of them are done.")
    row = MakePlan(question=PLAN_QUESTION.text(ask), beat_at=now(), created_at=now())
    session.add(row)
    session.flush()
    return row.id or 0


def ask_again(session: Session, plan_id: int) -> int:
    """Ask the same question of the shop as it is now; answer the new plan's id. Raises: Missing, Unfit."""
    return ask_plan(session, PLAN_QUESTION.read(plan_row(session, plan_id).question))


def begin_search(session: Session, plan_id: int, runner: str, *, limits: bool = False) -> bool:
    """Take a waiting question up; answers whether there still is something to search. Raises: Missing."""
    row = plan_row(session, plan_id)
    if (row.limits_state if limits else row.state) != "waiting":
        return False
    if limits:
        row.limits_state = "searching"
    else:
        row.state = "searching"
    row.runner, row.beat_at = runner, now()
    session.flush()
    return True


def beat(session: Session, plan_ids: Collection[int], told: dict[int, Progress]) -> set[int]:
    """Say that these searches are alive, and how far they are; answers those that somebody asked to stop."""
    stopped = set()
    for row in session.exec(select(MakePlan).where(col(MakePlan.id).in_(plan_ids))):
        progress = told.get(row.id or 0)
        row.beat_at = now()
        if progress is not None and row.state == "searching":
            row.searched_ms = round(progress.seconds * 1000)
            row.value, row.bound = _storable(progress.value), _storable(progress.bound)
        if row.stop_asked:
            stopped.add(row.id or 0)
    session.flush()
    return stopped


def keep_answer(session: Session, plan_id: int, asked: Asked, found: MixPlan | Unmeetable | NoPlanYet) -> None:
    """Keep what a search found. Raises: Missing."""
    row = plan_row(session, plan_id)
    row.result = answer_text(session, asked, found)
    row.state, row.ended_at, row.beat_at = "done", now(), now()
    if isinstance(found, MixPlan):
        row.value, row.bound = _storable(found.value), _storable(found.bound)
        row.searched_ms = round(found.search_s * 1000)
    row.version += 1
    session.flush()


def fail_search(session: Session, plan_id: int, why: str, *, limits: bool = False) -> None:
    """Note that a search ended without an answer, and in words why. Raises: Missing."""
    row = plan_row(session, plan_id)
    if limits:
        row.limits_state, row.limits = "failed", failed_limits_text(why)
    else:
        row.state, row.ended_at, row.result = "failed", now(), failed_text(why)
    session.flush()


def stop_plan(session: Session, plan_id: int) -> None:
    """Ask a search to end with the best it has; one that ended already stays as it is. Raises: Missing."""
    row = plan_row(session, plan_id)
    if row.state in UNSETTLED or row.limits_state in UNSETTLED:
        row.stop_asked = True
        session.flush()


def ask_limits(session: Session, plan_id: int) -> bool:
    """Ask what limits a plan; answers whether a search is to be made. Raises: Missing, Conflict without a plan."""
    row = plan_row(session, plan_id)
    if row.state != "done" or not row.result:
        raise Conflict("There is no plan yet. Wait for it, then ask what limits it.")
    if row.limits_state == "done" or state_of(row, now(), limits=True) in UNSETTLED:
        return False
    row.limits = ""
    row.limits_state, row.stop_asked, row.beat_at = "waiting", False, now()
    session.flush()
    return True


def keep_limits(session: Session, plan_id: int, found: Limits | None) -> None:
    """Keep what limits a plan; None where the shop has changed so that it no longer stands. Raises: Missing."""
    row = plan_row(session, plan_id)
    if found is None:
        fail_search(session, plan_id, SHOP_CHANGED, limits=True)
        return
    row.limits_state, row.limits = "done", limits_text(session, found)
    session.flush()


def _storable(value: int | None) -> int | None:
    """A bound before any search can be without end; what no column holds is not known yet."""
    return value if value is not None and abs(value) < 2**62 else None
