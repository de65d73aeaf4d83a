"""Eight threads book builds from the same bags at once: none is lost, none goes below zero, the refused are told why."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor

from models.database import Store
from models.errors import NotEnoughForBuild
from models.intake.builds.build import BuildRequest, MadeDraft, StartDraft
from models.operations.builds.made import book_made
from models.operations.builds.start import start_build
from tests.builds import a_bench, bags, is_sound, pieces_of
from tests.ledgers import DAY
from tests.planted import planted

TRIES = 8


def test_eight_threads_make_what_there_is_enough_for(store: Store) -> None:
    bench = planted(store, a_bench)

    def make(_number: int) -> str:
        try:
            with store.writing() as session:
                return book_made(session, MadeDraft(BuildRequest(bench.design), made_on=DAY)).words
        except NotEnoughForBuild as short:
            return str(short)

    with ThreadPoolExecutor(TRIES) as pool:
        answers = list(pool.map(make, range(TRIES)))
    assert sum(answer.startswith("Made 1 piece") for answer in answers) == 5
    assert sum(answer.startswith("None of “Bronze ring") for answer in answers) == 3
    with store.reading() as session:
        assert pieces_of(session, bench)[0] == 5
        assert is_sound(session)


def test_eight_threads_reserve_no_more_than_there_is(store: Store) -> None:
    bench = planted(store, a_bench)

    def start(_number: int) -> bool:
        try:
            with store.writing() as session:
                start_build(session, StartDraft(BuildRequest(bench.design, 2), started_on=DAY))
        except NotEnoughForBuild:
            return False
        return True

    with ThreadPoolExecutor(TRIES) as pool:
        assert sum(pool.map(start, range(TRIES))) == 2
    with store.reading() as session:
        assert sum(reserved for _, reserved in bags(session).values()) == 96
        assert is_sound(session)
