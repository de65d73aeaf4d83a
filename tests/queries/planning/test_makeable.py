"""What can be made, read from a real shop: against building one more until something is missing, and what rows tell."""

from __future__ import annotations

from decimal import Decimal

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlmodel import Session, select

from models.database import Store
from models.errors import NotEnoughForBuild
from models.intake.builds.build import BuildRequest, StartDraft
from models.intake.how_much import HowMuch
from models.intake.planning.makeable import MakeFilter
from models.intake.stock.count import CountDraft
from models.intake.stock.stand_in import StandInDraft
from models.operations.builds.start import start_build
from models.operations.figures import refresh_figures
from models.operations.stock.count import count_bag
from models.operations.stock.stand_in import declare_stand_in
from models.planning.makeable import makeable
from models.planning.recipes import taken_milli
from models.queries.builds.plan import plan_build
from models.queries.planning.makeable import makeable_view
from models.queries.planning.recipes import (
    MOST_CHOICES,
    makeable_by_design,
    makeable_of_design,
    planning_stock,
    recipe_book,
    short_answer,
)
from models.tables import Item, Revision
from tests.budget import budget
from tests.builds import a_bench
from tests.ledgers import DAY, DRAWER, a_lot, undone
from tests.shops import a_design, a_finding, a_part, a_ring, an_outlet, counted

RINGS = 4
PERCENTS = (None, None, Decimal(0), Decimal(5), Decimal("12.5"))


@st.composite
def small_shops(draw: st.DrawFn) -> tuple[list[int], list[list[tuple[int, int, Decimal | None, str]]], Decimal | None]:
    """Free rings of each item, and designs as lists of (item, quantity, allowance, choice of the one group)."""
    free = [draw(st.integers(0, 40)) for _ in range(RINGS)]
    part = st.tuples(
        st.integers(0, RINGS - 1), st.integers(1, 7), st.sampled_from(PERCENTS), st.sampled_from(("", "", "a", "b"))
    )
    designs = draw(st.lists(st.lists(part, min_size=1, max_size=5), min_size=1, max_size=3))
    return free, designs, draw(st.sampled_from((None, Decimal(3), Decimal(20))))


def possible(session: Session, ask: BuildRequest, *, spare: bool) -> int:
    """How many a person would find by asking a build for one more until it is short."""
    pieces = 0
    while not plan_build(session, BuildRequest(ask.design_id, pieces + 1, ask.choices), spare=spare).shorts:
        pieces += 1
    return pieces


@settings(max_examples=budget(25, 5), suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])
@given(shop=small_shops(), with_allowance=st.booleans(), held=st.integers(0, 1))
def test_makeable_equals_asking_builds_for_one_more_on_random_small_shops(
    store: Store,
    shop: tuple[list[int], list[list[tuple[int, int, Decimal | None, str]]], Decimal | None],
    with_allowance: bool,
    held: int,
) -> None:
    free, designs, percent = shop
    with undone(store) as session:
        items = [a_ring(session, name=f"Ring {n}", inner_nm=3_000_000 + n * 500_000) for n in range(RINGS)]
        for item, many in zip(items, free, strict=True):
            if many:
                a_lot(session, item, many // 2 + 1, "1.00")
                a_lot(session, item, many - many // 2, "1.00", place="tin")
        ids = [
            a_design(
                session,
                [
                    a_part(
                        items[item],
                        many,
                        allowance_percent=share,
                        choice_group="colour" if choice else "",
                        choice_name=choice,
                    )
                    for item, many, share, choice in parts
                ],
                name=f"Design {number}",
            )
            for number, parts in enumerate(designs)
        ]
        for revision in session.exec(select(Revision)):
            revision.allowance_percent = percent
        session.flush()
        if held:
            try:
                start_build(session, StartDraft(BuildRequest(ids[0], 1), started_on=DAY))
            except NotEnoughForBuild:
                held = 0
        book, stock = recipe_book(session), planning_stock(session)
        assert {each.design_id for each in book.recipes} == set(ids)
        for each, answer in zip(book.recipes, makeable(book.plain, stock, with_allowance=with_allowance), strict=True):
            ask = BuildRequest(each.design_id, 1, each.choices)
            assert answer.pieces == possible(session, ask, spare=with_allowance)
            several = plan_build(session, BuildRequest(each.design_id, 3, each.choices), spare=with_allowance)
            build = {
                one.item.id: one.need.need_milli + (one.need.spare_milli if with_allowance else 0)
                for one in several.items
            }
            assert taken_milli(each.recipe, 3, stock, with_allowance=with_allowance) == build


def test_each_combination_of_choices_is_a_way_to_make_a_design_and_the_cut_is_said(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        few = [a_part(ring, n + 1, choice_group="size", choice_name=str(n)) for n in range(3)]
        few += [a_part(ring, 1, choice_group="end", choice_name=name) for name in ("loop", "bar")]
        many = [a_part(ring, 1, choice_group=f"g{n // 4}", choice_name=str(n)) for n in range(12)]
        small = a_design(session, [*few, a_part(ring, 5, optional=True)], name="Small")
        large = a_design(session, many, name="Large")
        book = recipe_book(session)
        mine = [each for each in book.recipes if each.design_id == small]
        assert [each.recipe.choice for each in mine[:2]] == ["size 0, end loop", "size 0, end bar"]
        assert (len(mine), mine[0].usual, mine[1].usual) == (6, True, False)
        assert mine[0].recipe.lines[0].quantity_milli == 2000
        assert len([each for each in book.recipes if each.design_id == large]) == MOST_CHOICES
        assert book.cut == {large: 4 * 4 * 4 - MOST_CHOICES}


def test_parts_that_are_no_stock_item_are_named_and_designs_without_parts_are_told(store: Store) -> None:
    with store.writing() as session:
        ring = a_ring(session)
        a_lot(session, ring, 100, "4.00")
        a_design(session, [a_part(ring, 5), a_part(None, 1, typed_kind="finding", typed_name="silk cord")], name="Cord")
        empty = a_design(session, [], name="Idea")
        refresh_figures(session)
        view = makeable_view(session, MakeFilter())
        assert [(row.answer.unknown, row.answer.pieces, row.can) for row in view.rows] == [(("silk cord",), 0, False)]
        assert (view.designs, view.can, view.bare) == (1, 0, 1)
        assert makeable_by_design(session).keys() == {view.rows[0].design_id}
        assert makeable_of_design(session, empty) == ()


def test_a_design_whose_clasp_runs_out_shows_its_own_first_ring(store: Store) -> None:
    with store.writing() as session:
        bronze, clasp = a_ring(session), a_finding(session)
        a_lot(session, bronze, 500, "5.00")
        a_design(session, [a_part(clasp, 1), a_part(bronze, 20)], name="Chain", weave=None)
        (row,) = (view := makeable_view(session, MakeFilter())).rows
        assert [item.id for item in row.limiting] == [clasp]
        assert row.drawn is not None
        assert (view.drawn[row.drawn - 1].wire_nm, view.drawn[row.drawn - 1].inner_nm) == (1_000_000, 3_600_000)


def test_rough_counts_give_a_range_and_plenty_no_end(store: Store) -> None:
    with store.writing() as session:
        bench = a_bench(session)
        count_bag(
            session, CountDraft(HowMuch(milli=40_000, rough="about"), bench.silver_lot, place=DRAWER, counted_on=DAY)
        )
        (answer,) = makeable(recipe_book(session).plain, planning_stock(session), with_allowance=False)
        # 100 bronze rings make 5; about 40 silver ones make 9 to 11.
        assert (answer.pieces, answer.rests_on) == (5, ())
        for lot, place in ((bench.old, DRAWER), (bench.new, "tin")):
            count_bag(session, CountDraft(HowMuch(rough="plenty"), lot, place=place, counted_on=DAY))
        (answer,) = makeable(recipe_book(session).plain, planning_stock(session), with_allowance=False)
        assert (answer.pieces, answer.at_worst, answer.at_best) == (10, 5, 11)
        assert set(answer.rests_on) == {bench.bronze, bench.silver}
        assert planning_stock(session, plenty_ends=True)[bench.bronze].free_milli == 100_000


def two_designs(session: Session) -> tuple[int, int, int]:
    """A pendant of 20 bronze and 4 silver rings, and earrings of 30 bronze ones; 100 bronze, 40 silver, one outlet."""
    an_outlet(session)
    bench = a_bench(session)
    earrings = a_design(session, [a_part(bench.bronze, 30)], name="Earrings", weave="box-chain")
    refresh_figures(session)
    return bench.design, earrings, bench.bronze


def test_making_one_design_shows_what_is_left_for_the_others(store: Store) -> None:
    with store.writing() as session:
        pendant, earrings, bronze = two_designs(session)
        view = makeable_view(session, MakeFilter(making=str(pendant), pieces=2, allowance=False))
        rows = {row.design_id: row for row in view.rows}
        assert [(e.before, e.after) for row in rows.values() if (e := row.effect)] == [(5, 3), (3, 2)]
        assert [item.id for item in rows[earrings].limiting] == [bronze]
        assert [(one.item.id, one.counted) for one in rows[earrings].lacks] == [(bronze, "20 rings")]
        assert view.making is not None
        trouble = makeable_view(session, MakeFilter(making=str(pendant), pieces=9, allowance=False))
        assert trouble.trouble == "Your free stock makes 5 of Copper leaf pendant, not 9."
        assert "no longer made in this way" in makeable_view(session, MakeFilter(making="999")).trouble


def test_rows_are_narrowed_by_time_skill_metal_weave_words_and_what_can_be_made(store: Store) -> None:
    with store.writing() as session:
        pendant, earrings, _ = two_designs(session)
        other = a_design(session, [a_part(a_finding(session), 2)], name="Hooks", weave=None)
        refresh_figures(session)

        def ids(**wanted: object) -> set[int]:
            return {row.design_id for row in makeable_view(session, MakeFilter(**wanted)).rows}

        times = {row.design_id: row.minutes for row in makeable_view(session, MakeFilter()).rows}
        assert ids() == {pendant, earrings, other}
        assert ids(minutes=times[earrings]) == {key for key, value in times.items() if value <= times[earrings]}
        assert ids(minutes=Decimal("0.01")) == set()
        assert ids(metal="sterling-925") == {pendant, other}
        assert ids(weave="byzantine") == {pendant}
        assert ids(text="copper PENDANT") == {pendant}
        assert ids(text="bronze ring 1.0") == {pendant, earrings}
        assert ids(now=True) == {pendant, earrings}
        session.exec(select(Revision).where(Revision.design_id == pendant)).one().skill = 3
        session.flush()
        assert ids(skill=2) == {earrings, other}


def test_profit_follows_the_outlet_and_a_dearer_choice_earns_less(store: Store) -> None:
    with store.writing() as session:
        web, fair = (
            an_outlet(session),
            an_outlet(session, name="Fair", position=1, fees=(("Stall", "40", "price", "0"),)),
        )
        cheap, dear = a_ring(session, name="Plain", price="2.00"), a_ring(session, name="Gold", price="200.00")
        for ring in (cheap, dear):
            a_lot(session, ring, 100, "5.00")
        parts = [
            a_part(ring, 20, choice_group="ring", choice_name=name) for ring, name in ((cheap, "plain"), (dear, "gold"))
        ]
        a_design(session, parts)
        refresh_figures(session)
        plain, gold = makeable_view(session, MakeFilter(order="name")).rows
        assert plain.sold is not None
        assert gold.sold is not None
        assert plain.sold.outlet_id == gold.sold.outlet_id
        assert plain.sold.price_micros == gold.sold.price_micros
        # 20 rings at 2.00 more each but for the pack of 100: 20 * 1.98, and 0 % of allowance in this shop's settings.
        more = plain.sold.profit_micros - gold.sold.profit_micros
        allowance = makeable_view(session, MakeFilter()).rows[0].recipe.recipe.lines[0].allowance
        assert more == 20 * 1_980_000 * (1 + allowance)
        at = {
            outlet: makeable_view(session, MakeFilter(outlet_id=outlet, order="name")).rows[0].sold
            for outlet in (web, fair)
        }
        assert {outlet: sold.outlet_id for outlet, sold in at.items() if sold} == {web: web, fair: fair}
        assert all(row.sold is None for row in makeable_view(session, MakeFilter(outlet_id=999)).rows)


def test_stand_ins_are_proposed_with_what_differs_and_never_used(store: Store) -> None:
    with store.writing() as session:
        bench = a_bench(session)
        near = a_ring(session, name="Bronze ring 1.02 × 3.6 mm", wire_nm=1_020_000)
        said = a_ring(session, name="Brass ring 1.0 × 3.6 mm", metal="brass-c260")
        for ring in (near, said):
            a_lot(session, ring, 60, "2.00")
        before = makeable_view(session, MakeFilter(allowance=False)).rows[0]
        declare_stand_in(session, bench.bronze, StandInDraft(said))
        row = makeable_view(session, MakeFilter(allowance=False)).rows[0]
        assert before.answer == row.answer
        assert [(one.other.id, one.told.why, one.told.same_look) for one in row.stand_ins] == [
            (said, "declared", False),
            (near, "near size", True),
        ]
        assert [one.told.more_pieces for one in row.stand_ins] == [3, 3]
        assert "The wire is 1.02 mm instead of 1.0 mm." in row.stand_ins[1].told.differences


def test_the_short_answer_names_the_best_design_that_can_be_made(store: Store) -> None:
    with store.writing() as session:
        pendant, earrings, bronze = two_designs(session)
        answer = short_answer(session)
        assert (answer.designs, answer.can) == (2, 2)
        assert answer.best_id in {pendant, earrings}
        start_build(session, StartDraft(BuildRequest(pendant, 5), started_on=DAY))
        answer = short_answer(session)
        assert (answer.designs, answer.can, answer.best) == (2, 0, "")
        item = session.get_one(Item, bronze)
        assert {one.limiting for one in makeable_of_design(session, pendant)} == {(item.name,)}


def test_the_number_of_queries_does_not_grow_with_the_designs(store: Store) -> None:
    def queries(session: Session) -> list[int]:
        found = []
        for ask in (
            lambda: makeable_view(session, MakeFilter()),
            lambda: makeable_by_design(session),
            lambda: short_answer(session),
        ):
            with counted(session) as seen:
                ask()
            found.append(len(seen))
        return found

    def grow(session: Session, many: int) -> None:
        for _ in range(many):
            rings = [a_ring(session, name=f"Ring {n}") for n in range(2)]
            for ring in rings:
                a_lot(session, ring, 50, "2.00")
            parts = [a_part(ring, 5, choice_group="colour", choice_name=str(n)) for n, ring in enumerate(rings)]
            a_design(session, [*parts, a_part(rings[0], 3)])
        refresh_figures(session)

    with store.writing() as session:
        an_outlet(session)
        grow(session, 1)
        few = queries(session)
        grow(session, 12)
        assert queries(session) == few
        assert few[1:] == [4, 5]


@pytest.mark.parametrize("field", ["minutes", "skill", "pieces", "outlet"])
def test_nonsense_in_the_question_is_said_beside_its_field(field: str) -> None:
    from models.intake.faults import Faults
    from models.intake.planning.makeable import read_make_filter

    found = read_make_filter({field: "-3"})
    assert isinstance(found, Faults)
    assert list(found.by_field()) == [field]
