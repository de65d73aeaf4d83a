"""The times of work: guesses until the person gives their own, and never overwritten unknowingly."""

from __future__ import annotations

from dataclasses import replace
from decimal import Decimal

import pytest

from models.costing.rates import GUESS, STARTING_RATES, YOUR_FIGURE
from models.database import Store
from models.errors import Stale
from models.intake.costing.rate import RateDraft
from models.operations.costing.rate import rates_version, set_rates
from models.queries.shop.shop import shop_rates, work_rates


def test_a_time_is_a_guess_until_the_person_gives_another_and_again_when_it_is_put_back(store: Store) -> None:
    guess = STARTING_RATES["close"]
    mine = RateDraft("close", Decimal("5.5"), guess.low_factor, guess.high_factor)
    with store.writing() as session:
        assert set_rates(session, [mine], version=rates_version(work_rates(session))) == 1
    with store.reading() as session:
        kept = {rate.kind: rate for rate in work_rates(session)}
        assert (kept["close"].source, kept["close"].guessed) == (YOUR_FIGURE, False)
        assert kept["open"].guessed
        assert shop_rates(session).rates["close"].seconds == Decimal("5.5")
    with store.writing() as session:
        back = replace(mine, seconds=guess.seconds)
        set_rates(session, [back], version=rates_version(work_rates(session)))
        assert {rate.kind: rate for rate in work_rates(session)}["close"].source == GUESS


def test_times_changed_from_a_stale_page_are_refused(store: Store) -> None:
    mine = RateDraft("close", Decimal(5), Decimal(1), Decimal(1))
    with store.reading() as session:
        opened = rates_version(work_rates(session))
    with store.writing() as session:
        set_rates(session, [mine], version=opened)
    with pytest.raises(Stale) as refused, store.writing() as session:
        set_rates(session, [replace(mine, seconds=Decimal(6))], version=opened)
    assert "5 s" in refused.value.changes[0][1]
    assert "6 s" in refused.value.changes[0][2]


def test_times_that_are_the_same_change_nothing(store: Store) -> None:
    with store.writing() as session:
        rates = work_rates(session)
        same = [RateDraft(rate.kind, rate.seconds, rate.low_factor, rate.high_factor) for rate in rates]
        assert set_rates(session, same, version=rates_version(rates)) == 0
        assert rates_version(work_rates(session)) == rates_version(rates)
