"""Searches for the best mix in the background: one at a time, told about in the shop's own tables, stopped on request.

One thread searches, a second one says every second how far it is. The interpreter is free while the solver runs, so
pages answer meanwhile. What is asked and what is kept stands in `models/operations/planning/make_plan`.
"""

from __future__ import annotations

import logging
import os
import queue
import secrets
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from decimal import Decimal
from time import monotonic

from filelock import Timeout
from sqlmodel import Session

from models.database import Store
from models.errors import Missing
from models.intake.faults import Faults
from models.intake.planning.make_plan import PLAN_QUESTION, PlanRequest
from models.operations.planning.make_plan import beat, begin_search, fail_search, keep_answer, keep_limits
from models.planning.mix import plan_mix
from models.planning.mix_limits import Limits, what_limits
from models.planning.solver import NO_ANSWER, Progress, Search, SolverFailed
from models.queries.planning.answer import read_answer
from models.queries.planning.check import plan_today
from models.queries.planning.make_plan import plan_row
from models.queries.planning.question import Asked, plan_question

LOG = logging.getLogger("ringbench.planner")

BEAT_S = 1.0
LIMITS_S = 8.0
CLOSE_S = 5.0
PATIENCE = 6
"""How many times a result that is to be kept asks for its turn to write."""
MOST_WAITERS = 8
"""So many requests may wait for an answer at once; others look again later, so that pages always find a thread."""
NO_GAP = Decimal(0)


@dataclass(frozen=True, slots=True)
class _Job:
    """One search: of a plan, or of what limits it."""

    plan_id: int
    limits: bool = False
    stop: threading.Event = field(default_factory=threading.Event)
    done: threading.Event = field(default_factory=threading.Event)


class Planner:
    """Searches the questions of one shop, one after the other. Its threads start with the first question."""

    def __init__(self, store: Store) -> None:
        self._store = store
        self.name = f"{os.getpid()}-{secrets.token_hex(4)}"
        self._waiting: queue.SimpleQueue[_Job | None] = queue.SimpleQueue()
        self._jobs: dict[int, _Job] = {}
        self._told: dict[int, Progress] = {}
        self._lock = threading.Lock()
        self._closed = threading.Event()
        self._threads: list[threading.Thread] = []
        self._waiters = threading.BoundedSemaphore(MOST_WAITERS)

    def search(self, plan_id: int, *, limits: bool = False) -> None:
        """Search a question that waits, as soon as those before it are done."""
        job = _Job(plan_id, limits)
        with self._lock:
            if self._closed.is_set():
                return
            self._jobs[plan_id] = job
            if not self._threads:
                self._threads = [
                    threading.Thread(target=work, name=f"planner-{word}", daemon=True)
                    for word, work in (("search", self._work), ("beat", self._beat))
                ]
                for thread in self._threads:
                    thread.start()
        self._waiting.put(job)

    def stop(self, plan_id: int) -> None:
        """Let a search of this process end with the best it has; another process reads that from the shop."""
        with self._lock:
            job = self._jobs.get(plan_id)
        if job is not None:
            job.stop.set()

    def wait(self, plan_id: int, seconds: float) -> bool:
        """Wait for a search of this process, unless too many wait already; answers whether it is done."""
        with self._lock:
            job = self._jobs.get(plan_id)
        if job is None or seconds <= 0 or not self._waiters.acquire(blocking=False):
            return job is None or job.done.is_set()
        try:
            return job.done.wait(seconds)
        finally:
            self._waiters.release()

    def close(self) -> None:
        """Stop every search and wait a little for what they have; called when the app closes."""
        with self._lock:
            self._closed.set()
            jobs = list(self._jobs.values())
        for job in jobs:
            job.stop.set()
        self._waiting.put(None)
        until = monotonic() + CLOSE_S
        for thread in self._threads:
            thread.join(max(0.0, until - monotonic()))

    def _work(self) -> None:
        while (job := self._waiting.get()) is not None:
            try:
                self._search(job)
            except Missing:
                LOG.info("plan %s is gone; nothing to search", job.plan_id)
            except SolverFailed as failed:
                LOG.warning("the search of plan %s failed: %s", job.plan_id, failed)
                self._fail(job, NO_ANSWER)
            except Exception:
                # Whatever went wrong must not end the thread: later questions would wait for ever.
                LOG.exception("the search of plan %s failed", job.plan_id)
                self._fail(job, "Something broke on our side; the log in the shop's folder says what.")
            finally:
                with self._lock:
                    if self._jobs.get(job.plan_id) is job:
                        del self._jobs[job.plan_id]
                    self._told.pop(job.plan_id, None)
                job.done.set()

    def _search(self, job: _Job) -> None:
        with self._store.writing() as session:
            if not begin_search(session, job.plan_id, self.name, limits=job.limits):
                return
            ask = PLAN_QUESTION.read(plan_row(session, job.plan_id).question)
        if job.limits:
            self._search_limits(job, ask)
            return
        asked = self._asked(ask)
        found = plan_mix(asked.question, self._how(job, ask.search_s)) if isinstance(asked, Asked) else ()
        if isinstance(found, tuple) or not isinstance(asked, Asked):
            # The shop changed between the asking and the search, so that the question makes no sense any more.
            LOG.warning("plan %s can no longer be asked", job.plan_id)
            wrong = found if isinstance(asked, Asked) and isinstance(found, tuple) else asked
            said = " ".join(each.message for each in wrong) if isinstance(wrong, (tuple, Faults)) else ""
            self._fail(job, f"Your designs or stock have changed while it waited: {said}")
            return
        self._write(lambda session: keep_answer(session, job.plan_id, asked, found))

    def _search_limits(self, job: _Job, ask: PlanRequest) -> None:
        asked = self._asked(ask)
        found: Limits | None = None
        if isinstance(asked, Asked):
            with self._store.reading() as session:
                answer = read_answer(plan_row(session, job.plan_id).result)
            plan = plan_today(answer, asked) if answer is not None else None
            try:
                if plan is not None:
                    found = what_limits(
                        asked.question, plan, self._how(job, LIMITS_S), item_units=asked.next_units(plan)
                    )
            except ValueError as changed:
                LOG.info("plan %s no longer fits the shop: %s", job.plan_id, changed)
        self._write(lambda session: keep_limits(session, job.plan_id, found))

    def _asked(self, ask: PlanRequest) -> Asked | Faults:
        with self._store.reading() as session:
            return plan_question(session, ask)

    def _how(self, job: _Job, seconds: float) -> Search:
        def tell(progress: Progress) -> None:
            self._told[job.plan_id] = progress

        return Search(float(seconds), NO_GAP, progress=tell, cancelled=job.stop.is_set)

    def _fail(self, job: _Job, why: str) -> None:
        try:
            self._write(lambda session: fail_search(session, job.plan_id, why, limits=job.limits))
        except Exception:
            # The plan then falls silent, and its page says that it broke off.
            LOG.exception("plan %s could not be marked as failed", job.plan_id)

    def _write(self, act: Callable[[Session], None]) -> None:
        """Write what a search came to; found at the cost of minutes, it waits for a busy shop more than once."""
        for _ in range(PATIENCE - 1):
            try:
                with self._store.writing() as session:
                    act(session)
            except Timeout:
                LOG.info("the shop is busy; what was found is written in a moment")
            else:
                return
        with self._store.writing() as session:
            act(session)

    def _beat(self) -> None:
        """Say once a second how far the searches are, and hear whether another process asked to stop one."""
        while not self._closed.wait(BEAT_S):
            with self._lock:
                jobs = dict(self._jobs)
            if not jobs:
                continue
            try:
                with self._store.writing() as session:
                    stopped = beat(session, jobs, dict(self._told))
            except Exception:
                LOG.exception("the planner could not say how far it is")
                continue
            for plan_id in stopped:
                jobs[plan_id].stop.set()
