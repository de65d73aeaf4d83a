"""How long each kind of work takes: the person's own figures in place of the starting guesses."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import Session

from models.costing.rates import STARTING_RATES, YOUR_FIGURE
from models.errors import Stale
from models.intake.costing.rate import RateDraft
from models.intake.fields import differences, values_of
from models.operations.costing.timings import learn_timings
from models.queries.shop.shop import RateView, work_rates
from models.tables import WorkRate


def rates_version(rates: Sequence[RateView]) -> int:
    """One number for the whole table of rates, which grows with every change of any of them."""
    return sum(rate.version for rate in rates)


def set_rates(session: Session, drafts: Sequence[RateDraft], *, version: int | None) -> int:
    """Take over the times that differ from what is kept; answer how many did.

    A time that was changed is the person's own from then on; one put back to the starting guess is a guess again.
    Raises `Stale` when somebody changed a rate since `version`.
    """
    before = {rate.kind: rate for rate in work_rates(session)}
    if version != rates_version(tuple(before.values())):
        raise Stale("table of times", _differences(before, drafts))
    changed = [draft for draft in drafts if differences(before[draft.kind], draft)]
    for draft in changed:
        guess = STARTING_RATES[draft.kind]
        as_guessed = not differences(guess, draft)
        row = session.get(WorkRate, draft.kind) or WorkRate(source="", version=0, **values_of(draft))
        row.sqlmodel_update(values_of(draft))
        row.source = guess.source if as_guessed else YOUR_FIGURE
        row.version += 1
        session.add(row)
    if changed:
        session.flush()
        learn_timings(session)
    return len(changed)


def _differences(before: dict[str, RateView], drafts: Sequence[RateDraft]) -> tuple[tuple[str, str, str], ...]:
    return tuple(
        (before[draft.kind].words, _words(before[draft.kind]), _words(draft))
        for draft in drafts
        if differences(before[draft.kind], draft)
    )


def _words(rate: RateView | RateDraft) -> str:
    return f"{rate.seconds:f} s, from {rate.low_factor:f} to {rate.high_factor:f} times as long"
