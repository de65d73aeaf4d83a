"""Plans that were asked for: how far a search is, what it found, what limits it, and what became of it.

The question is put to the shop in `plan_question`, the answer is kept as `plan_answer` says.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Final

from sqlalchemy import select
from sqlmodel import Session, col

from models.intake.faults import Faults
from models.intake.planning.make_plan import PLAN_QUESTION, PlanRequest
from models.kept import KeptDocument
from models.planning.solver import gap_between
from models.queries.fetch import fetch
from models.queries.planning.answer import PlanAnswer, PlanLimits, PlanLine, read_answer, read_limits
from models.queries.planning.check import no_longer, plan_today
from models.queries.planning.piece_figures import outlets_in_use
from models.queries.planning.question import plan_question
from models.queries.planning.recipes import ShopRecipe, recipe_book
from models.queries.stock.item_words import item_words
from models.tables import Build, Item, MakePlan, Purchase
from models.trade.vocabulary.plans import UNSETTLED

SILENT_S = 15
"""A search that nobody heard of for so long is broken off: its process has ended."""
LATEST = 12


@dataclass(frozen=True, slots=True)
class Booked:
    """What was made of a plan: the builds by the key of their recipe, and the drafted purchases."""

    builds: tuple[tuple[str, int], ...] = ()
    purchases: tuple[int, ...] = ()


KEPT_BOOKED: Final[KeptDocument[Booked]] = KeptDocument(Booked)


def booked_of(row: MakePlan) -> Booked:
    """What was made of a plan; nothing where it was not booked."""
    return KEPT_BOOKED.read(row.booked) if row.booked else Booked()


@dataclass(frozen=True, slots=True)
class BookedBuild:
    """A build that came of a plan, as it is now."""

    key: str
    id: int
    state: str
    pieces: int


@dataclass(frozen=True, slots=True)
class BookedPurchase:
    """A purchase that came of a plan, as it is now."""

    id: int
    state: str


@dataclass(frozen=True, slots=True)
class LineState:
    """A line of the plan with the builds that came of it, and how many pieces wait for rings that are not here yet."""

    line: PlanLine
    builds: tuple[BookedBuild, ...]
    waits: int


@dataclass(frozen=True, slots=True)
class PlanView:
    """A plan as its page shows it. `state` is waiting, searching, done, failed or broken off.

    `value` and `bound` tell how far a search is: the best so far and what no mix exceeds, in millionths, or pieces
    where they are the goal. `booked` tells whether builds or purchases came of it, `no_longer` why an answer that was
    not booked does not stand any more with the shop of today ('' while it does).
    """

    id: int
    ask: PlanRequest
    outlet: str
    capped: tuple[str, ...]
    kept_back: tuple[str, ...]
    state: str
    stop_asked: bool
    seconds: Decimal
    value: int | None
    bound: int | None
    answer: PlanAnswer | None
    limits: PlanLimits | None
    limits_state: str
    lines: tuple[LineState, ...]
    purchases: tuple[BookedPurchase, ...]
    booked: bool
    no_longer: str
    created_at: datetime
    version: int

    @property
    def running(self) -> bool:
        """Whether its answer is still to come."""
        return self.state in UNSETTLED

    @property
    def limits_running(self) -> bool:
        """Whether it is being found out what limits it."""
        return self.limits_state in UNSETTLED

    @property
    def gap(self) -> Decimal | None:
        """How far the best so far can be from the best there is; None before there is both."""
        return None if self.value is None or self.bound is None else gap_between(self.value, self.bound)

    @property
    def ended(self) -> str:
        """In words how the search ended without a mix; '' while it runs and where there is one."""
        answer = self.answer
        if self.running or (answer is not None and answer.kind == "plan" and answer.lines):
            return ""
        if self.state == "broken off":
            return "The search broke off: Ringbench was closed while it ran."
        if answer is None:
            return "The search ended without an answer."
        if answer.kind == "plan":
            return (
                f"Nothing that could be made brings any{'thing' if self.ask.goal == 'pieces' else f' {self.ask.goal}'}."
            )
        if answer.kind != "none":
            return answer.message or "The search ended without an answer."
        when = "The search was stopped before" if answer.stopped == "cancelled" else "The time ran out before"
        return f"{when} any mix that meets the wishes was found. There may be one: search longer, or wish for less."

    @property
    def limits_ended(self) -> str:
        """In words how the search for what limits the plan ended without an answer; '' otherwise."""
        if self.limits_state == "broken off":
            return "That broke off: Ringbench was closed while it searched."
        if self.limits_state != "failed":
            return ""
        return (self.limits.message if self.limits else "") or "That did not come to an end."

    @property
    def waits(self) -> int:
        """How many pieces wait for rings that are not here yet."""
        return sum(line.waits for line in self.lines)

    @property
    def hours(self) -> Decimal | None:
        """The minutes that may be worked; None without a limit."""
        return None if self.ask.seconds is None else Decimal(self.ask.seconds) / 60


@dataclass(frozen=True, slots=True)
class PlanRow:
    """A plan in the list of the latest ones."""

    id: int
    state: str
    created_at: datetime
    minutes: Decimal | None
    outlet: str
    goal: str
    kind: str
    pieces: int
    designs: int
    profit_micros: int
    sales_micros: int
    booked: bool


@dataclass(frozen=True, slots=True)
class AskPage:
    """What the form of a question needs: ways to make designs, items to keep back, outlets, and the latest plans."""

    recipes: tuple[tuple[str, str], ...]
    items: tuple[tuple[int, str], ...]
    outlets: tuple[tuple[int, str], ...]
    latest: tuple[PlanRow, ...]


def ask_page(session: Session, *, now: datetime) -> AskPage:
    """What the form of a question needs."""
    items = session.execute(
        select(col(Item.id), col(Item.name))
        .where(~col(Item.retired), col(Item.kind).not_in(("piece", "scrap")))
        .order_by(col(Item.name))
    )
    outlets = outlets_in_use(session)
    return AskPage(
        recipes=tuple((each.key, recipe_words(each)) for each in recipe_book(session).recipes),
        items=tuple((item_id, name) for item_id, name in items),
        outlets=tuple(outlets.items()),
        latest=latest_plans(session, now=now),
    )


def recipe_words(each: ShopRecipe) -> str:
    """A way to make a design, in words."""
    return f"{each.recipe.name}, {each.recipe.choice}" if each.recipe.choice else each.recipe.name


def latest_plans(session: Session, *, now: datetime, limit: int = LATEST) -> tuple[PlanRow, ...]:
    """The plans that were asked for last."""
    outlets = outlets_in_use(session)
    rows = session.scalars(select(MakePlan).order_by(col(MakePlan.id).desc()).limit(limit))
    return tuple(_plan_row(row, outlets, now) for row in rows)


def plan_view(session: Session, plan_id: int, *, now: datetime) -> PlanView:
    """One plan. Raises: Missing."""
    row = plan_row(session, plan_id)
    ask, answer, booked = PLAN_QUESTION.read(row.question), read_answer(row.result), booked_of(row)
    builds = _builds(session, booked)
    names = {each.key: recipe_words(each) for each in recipe_book(session).recipes} if ask.caps else {}
    return PlanView(
        id=plan_id,
        ask=ask,
        outlet=outlets_in_use(session).get(ask.outlet_id or 0, ""),
        capped=tuple(_cap_words(names.get(cap.key, "a design"), cap.at_least, cap.at_most) for cap in ask.caps),
        kept_back=_kept_back(session, ask),
        state=state_of(row, now),
        stop_asked=row.stop_asked,
        seconds=Decimal(row.searched_ms).scaleb(-3),
        value=row.value,
        bound=row.bound,
        answer=answer,
        limits=read_limits(row.limits),
        limits_state=state_of(row, now, limits=True),
        lines=tuple(_line_state(line, builds, booked) for line in answer.lines) if answer else (),
        purchases=_purchases(session, booked.purchases),
        booked=bool(row.booked),
        no_longer=_no_longer(session, ask, answer) if answer and answer.lines and not row.booked else "",
        created_at=row.created_at,
        version=row.version,
    )


def plan_row(session: Session, plan_id: int) -> MakePlan:
    """The row of a plan. Raises: Missing."""
    return fetch(session, MakePlan, plan_id, "plan")


def state_of(row: MakePlan, now: datetime, *, limits: bool = False) -> str:
    """How far a search is; one that fell silent is broken off, whoever was searching."""
    state = row.limits_state if limits else row.state
    silent = row.beat_at is None or now - row.beat_at > timedelta(seconds=SILENT_S)
    return "broken off" if state in UNSETTLED and silent else state


def _no_longer(session: Session, ask: PlanRequest, answer: PlanAnswer) -> str:
    asked = plan_question(session, ask)
    if isinstance(asked, Faults):
        return " ".join(fault.message for fault in asked)
    return no_longer(asked, plan_today(answer, asked))


def _plan_row(row: MakePlan, outlets: Mapping[int, str], now: datetime) -> PlanRow:
    ask, answer = PLAN_QUESTION.read(row.question), read_answer(row.result)
    return PlanRow(
        id=row.id or 0,
        state=state_of(row, now),
        created_at=row.created_at,
        minutes=None if ask.seconds is None else Decimal(ask.seconds) / 60,
        outlet=outlets.get(ask.outlet_id or 0, ""),
        goal=ask.goal,
        kind=answer.kind if answer else "",
        pieces=answer.all_pieces if answer else 0,
        designs=answer.designs if answer else 0,
        profit_micros=answer.profit_micros if answer else 0,
        sales_micros=answer.sales_micros if answer else 0,
        booked=bool(row.booked),
    )


def _cap_words(name: str, at_least: int, at_most: int | None) -> str:
    if at_most == 0:
        return f"no {name}"
    said = [f"at least {at_least}"] if at_least else []
    said += [f"at most {at_most}"] if at_most is not None else []
    return f"{' and '.join(said)} of {name}"


def _kept_back(session: Session, ask: PlanRequest) -> tuple[str, ...]:
    if not ask.keep_back:
        return ()
    words = item_words(session, {one.item_id for one in ask.keep_back})
    return tuple(
        f"{words[one.item_id].counted(one.milli)} of {words[one.item_id].name}"
        for one in ask.keep_back
        if one.item_id in words
    )


def _builds(session: Session, booked: Booked) -> dict[int, tuple[str, int]]:
    """State and pieces of the booked builds that are still there, by id."""
    ids = {build_id for _, build_id in booked.builds}
    if not ids:
        return {}
    rows = session.execute(select(col(Build.id), col(Build.state), col(Build.pieces)).where(col(Build.id).in_(ids)))
    return {build_id: (state, pieces) for build_id, state, pieces in rows if build_id is not None}


def _line_state(line: PlanLine, builds: Mapping[int, tuple[str, int]], booked: Booked) -> LineState:
    mine = tuple(
        BookedBuild(key, build_id, *builds[build_id])
        for key, build_id in booked.builds
        if key == line.key and build_id in builds
    )
    begun = sum(build.pieces for build in mine if build.state != "abandoned")
    return LineState(line, mine, max(0, line.pieces - begun))


def _purchases(session: Session, ids: Collection[int]) -> tuple[BookedPurchase, ...]:
    if not ids:
        return ()
    rows = session.execute(
        select(col(Purchase.id), col(Purchase.state)).where(col(Purchase.id).in_(ids)).order_by(col(Purchase.id))
    )
    return tuple(BookedPurchase(purchase_id, state) for purchase_id, state in rows if purchase_id is not None)
