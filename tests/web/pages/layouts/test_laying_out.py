"""The laying-out room without scripts: every button changes the piece on the page, nothing typed is lost, saving keeps it."""

from __future__ import annotations

import html
import json
import re
from collections.abc import Mapping
from typing import Any

import pytest

from models.database import Store
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft
from models.layouts.engine.chains import Chain
from models.layouts.engine.rows import Layout
from models.operations.designs.design import add_design
from models.operations.designs.layout import add_laid_out_design
from models.queries.designs.design import design_view
from models.queries.designs.layout import layout_of
from tests.counting import queries_of
from tests.laid import a_laid_design, lozenge_raw, read, stock_two
from tests.shops import a_ring, an_outlet
from tests.web.conftest import Client, SeenForm, find_form

NEW, PREVIEW = "/designs/new/rows", "/designs/rows/preview"
HTMX = {"hx-request": "true"}


@pytest.fixture
def studio(store: Store) -> Store:
    """Bronze (item 1), an ear wire (2), blue niobium of the same size (3), larger bronze (4), one outlet."""
    with store.writing() as session:
        an_outlet(session)
        stock_two(session)
        a_ring(session, name="Blue niobium", metal="niobium", colour="blue", inner_nm=4_000_000)
        a_ring(session, name="Large bronze", wire_nm=1_200_000, inner_nm=5_000_000)
    return store


def press(client: Client, form: SeenForm, act: str, **fields: Any) -> SeenForm:
    """Press a button of the room; the form of the page that comes back."""
    answer = client.post(PREVIEW, {**form.fields, **fields, "act": act})
    assert answer.status_code == 200, answer.text[:500]
    return find_form(answer.text, form.action)


def page(client: Client, form: SeenForm, act: str, **fields: Any) -> str:
    """Press a button; the whole page that comes back."""
    answer = client.post(PREVIEW, {**form.fields, **fields, "act": act})
    assert answer.status_code == 200
    return answer.text


def begun(client: Client, **fields: Any) -> SeenForm:
    """A new piece after its first shape: by default a lozenge of 4 in bronze."""
    form = client.form(NEW, NEW)
    return press(client, form, "lay", **{"new_item": "1", "lozenge_middle": "4", **fields})


def two_colours(client: Client, **fields: Any) -> SeenForm:
    return press(client, begun(client, **fields), "add", new_item="3")


def state(form: SeenForm) -> dict[str, Any]:
    found = json.loads(form.fields["state"])
    assert isinstance(found, dict)
    return found


def counts(form: SeenForm) -> dict[str, int]:
    found: dict[str, int] = {}
    for row in state(form)["rows"]:
        for item, many in row["runs"]:
            found[item] = found.get(item, 0) + many
    return found


def widths(form: SeenForm) -> list[int]:
    return [sum(many for _, many in row["runs"]) for row in state(form)["rows"]]


def words(text: str) -> str:
    """The words of a page without its marks."""
    return re.sub(r"\s+", " ", html.unescape(re.sub(r"<[^>]+>", " ", text)))


def done_line(text: str) -> str:
    found = re.search(r'id="done".*?</div>', text, re.DOTALL)
    assert found
    return words(found[0].partition(">")[2]).strip()


# --- beginning ---


def test_the_empty_room_teaches_and_its_first_button_lays_a_piece(client: Client, studio: Store) -> None:
    seen = client.get(NEW).text
    assert "Choose a weave, the outline, and one ring" in words(seen)
    form = begun(client)
    assert widths(form) == [1, 2, 3, 4, 3, 2, 1]
    shown = words(page(client, form, "live"))
    assert "16 rings" in shown
    assert "at Web shop" in shown or "could list at" in shown


def test_without_a_ring_the_first_shape_asks_for_one_and_keeps_what_was_typed(client: Client, studio: Store) -> None:
    form = client.form(NEW, NEW)
    again = press(client, form, "lay", shape="fan", fan_rows="7")
    assert (again.fields["shape"], again.fields["fan_rows"]) == ("fan", "7")
    assert "Choose a ring to lay it in." in page(client, form, "lay")


def test_a_typed_ring_is_found_in_stock_or_kept_as_typed(client: Client, studio: Store) -> None:
    found = press(client, client.form(NEW, NEW), "lay", new_line="blue niobium 1.0 x 4.0")
    assert set(counts(found)) == {"i3"}
    typed = press(client, client.form(NEW, NEW), "lay", new_line="copper 1.0 x 4.0")
    assert set(counts(typed)) == {"t1"}
    assert state(typed)["palette"][0]["metal"].startswith("copper")


def test_a_typed_ring_that_may_be_several_asks_which(client: Client, studio: Store) -> None:
    form = client.form(NEW, NEW)
    asked = page(client, form, "lay", new_line="bronze")
    assert "lay-item-1" in asked
    assert "lay-item-4" in asked
    assert set(counts(press(client, form, "lay-item-4", new_line="bronze"))) == {"i4"}


def test_a_line_that_cannot_be_read_says_why(client: Client, studio: Store) -> None:
    shown = page(client, client.form(NEW, NEW), "lay", new_line="bronze 99 x 1")
    assert "Not done" in shown


@pytest.mark.parametrize(
    ("fields", "expected"),
    [
        ({"shape": "rectangle", "rectangle_rows": "3", "rectangle_rings": "4"}, [4, 4, 4]),
        ({"shape": "triangle", "triangle_widest": "3"}, [3, 2, 1]),
        ({"shape": "trapezium", "trapezium_first": "2", "trapezium_last": "3"}, [2, 3]),
        ({"shape": "strip", "strip_long": "6", "strip_wide": "2"}, [6, 6]),
        ({"shape": "fan", "fan_rows": "3", "fan_widest": "4"}, [4, 3, 3]),
        ({"shape": "edges", "edges_rows": "2", "edges_rings": "3", "edges_ends": "1"}, [3, 3]),
    ],
)
def test_every_outline_is_laid_at_one_press(
    client: Client, studio: Store, fields: Mapping[str, str], expected: list[int]
) -> None:
    assert widths(begun(client, **fields)) == expected


def test_a_disc_is_laid_round(client: Client, studio: Store) -> None:
    found = widths(begun(client, shape="disc", disc_rows="9"))
    assert len(found) == 9
    assert found == found[::-1]


# --- editing ---


def test_rows_are_typed_over(client: Client, studio: Store) -> None:
    form = two_colours(client)
    assert form.fields["row.3.text"] == "4 bronze"
    changed = press(client, form, "live", **{"row.3.text": "(1 bronze, 1 blue) x 2", "row.0.start": "5"})
    assert counts(changed) == {"i1": 14, "i3": 2}
    assert state(changed)["rows"][0]["start"] == 5
    assert "does not nest" not in page(client, changed, "live")
    crooked = page(client, form, "live", **{"row.0.start": "4"})
    assert "does not nest" in crooked


def test_a_row_that_cannot_be_read_keeps_its_words_beside_what_is_wrong(client: Client, studio: Store) -> None:
    form = begun(client)
    fields = {"row.3.text": "4 green", "row.2.text": "2 bronze"}
    shown = page(client, form, "row-copy-1", **fields)
    again = find_form(shown, NEW)
    assert again.fields["row.3.text"] == "4 green"
    assert again.fields["row.2.text"] == "2 bronze"
    assert "“green” is none of the rings of this piece: bronze." in html.unescape(shown)
    # The button waits until the row can be read, so that nothing is done by halves.
    assert len(state(again)["rows"]) == 7


@pytest.mark.parametrize(
    ("act", "fields", "expected"),
    [
        ("row-copy", {"row_number": "4"}, [1, 2, 3, 4, 4, 3, 2, 1]),
        ("row-remove", {"row_number": "4"}, [1, 2, 3, 3, 2, 1]),
        ("row-start-longer", {"row_number": "1"}, [2, 2, 3, 4, 3, 2, 1]),
        ("row-start-shorter", {"row_number": "4"}, [1, 2, 3, 3, 3, 2, 1]),
        ("row-end-longer", {"row_number": "7"}, [1, 2, 3, 4, 3, 2, 2]),
        ("row-end-shorter", {"row_number": "4"}, [1, 2, 3, 3, 3, 2, 1]),
        ("grow", {"grow_edge": "right"}, [2, 3, 4, 5, 4, 3, 2]),
        ("grow", {"grow_edge": "bottom", "grow_by": "2"}, [1, 2, 3, 4, 3, 2, 1, 1, 1]),
        ("shrink", {"grow_edge": "top"}, [2, 3, 4, 3, 2, 1]),
        ("repeat", {"repeat_first": "1", "repeat_last": "6", "repeat_times": "2"}, [1, 2, 3, 4, 3, 2] * 2 + [1]),
        ("mirror", {"mirror_about": "row"}, [1, 2, 3, 4, 3, 2, 1, 2, 3, 4, 3, 2, 1]),
        ("drop", {"paint_rings": "1.1"}, [2, 3, 4, 3, 2, 1]),
    ],
)
def test_buttons_change_the_rows(
    client: Client, studio: Store, act: str, fields: Mapping[str, str], expected: list[int]
) -> None:
    assert widths(press(client, begun(client), act, **fields)) == expected


def test_a_row_moves_and_an_offer_nests_it_again(client: Client, studio: Store) -> None:
    form = begun(client)
    moved = press(client, form, "row-on", row_number="2")
    assert state(moved)["rows"][1]["start"] == state(form)["rows"][1]["start"] + 1
    assert 'value="nest-2"' in page(client, moved, "live")
    nested = press(client, moved, "nest-2")
    assert (state(nested)["rows"][1]["start"] - state(nested)["rows"][0]["start"]) % 2 == 1


def test_an_offer_drops_the_rings_that_nothing_holds(client: Client, studio: Store) -> None:
    form = press(client, begun(client), "grow", grow_edge="bottom")
    shown = page(client, form, "live")
    assert "Ring 8.1 passes through only one other ring" in words(shown)
    offer = re.search(r'value="(offer-\d+)"', shown)
    assert offer
    dropped = press(client, form, offer[1])
    assert widths(dropped) == [1, 2, 3, 4, 3, 2, 1]


def test_an_offer_takes_a_gathering_ring_away_that_gathers_nothing(client: Client, studio: Store) -> None:
    hung = press(client, begun(client), "attach", hang_kind="gather", hang_ring="i1", hang_where="top")
    shown = page(client, hung, "live")
    assert "“gathering ring” goes through only one ring" in words(shown)
    offer = re.search(r'value="(offer-\d+)"', shown)
    assert offer
    dropped = press(client, hung, offer[1])
    assert state(dropped)["attachments"] == []
    assert widths(dropped) == widths(hung)


def test_laying_anew_does_not_wait_for_a_row_that_cannot_be_read(client: Client, studio: Store) -> None:
    bad = {"row.2.text": "3 purple"}
    assert "none of the rings" in words(page(client, begun(client), "row-copy-1", **bad))
    laid = press(client, begun(client), "lay", **bad, shape="rectangle", rectangle_rows="3", rectangle_rings="4")
    assert widths(laid) == [4, 4, 4]


@pytest.mark.parametrize(
    ("act", "fields", "expected"),
    [
        ("border", {"border_item": "i3"}, {"i3": 12, "i1": 4}),
        ("stripes", {"stripes_bands": "1 blue, 1 bronze", "stripes_from_row": "4", "stripes_outward": "yes"},
         {"i1": 8, "i3": 8}),
        ("along", {"along_repeat": "bronze, blue"}, {"i1": 8, "i3": 8}),
        ("checks", {"checks_items": "bronze, blue"}, None),
        ("recolour", {"recolour_old": "i1", "recolour_new": "i3"}, {"i3": 16}),
        ("paint", {"paint_rings": "4.1, row 7", "brush": "i3"}, {"i1": 14, "i3": 2}),
        ("fill", {"paint_rings": "4.1", "brush": "i3"}, {"i3": 16}),
        ("strokes", {"strokes": '[["i3", ["4.1", "4.2"]]]'}, {"i1": 14, "i3": 2}),
    ],
)  # fmt: skip
def test_buttons_colour_the_piece(
    client: Client, studio: Store, act: str, fields: Mapping[str, str], expected: Mapping[str, int] | None
) -> None:
    found = counts(press(client, two_colours(client), act, **fields))
    assert sum(found.values()) == 16
    assert found == expected if expected else set(found) == {"i1", "i3"}


def test_strokes_of_the_painter_come_before_any_other_button(client: Client, studio: Store) -> None:
    form = two_colours(client)
    both = press(client, form, "recolour", strokes='[["i3", ["1.1"]]]', recolour_old="i1", recolour_new="i3")
    assert counts(both) == {"i3": 16}
    undone = press(client, form, "undo", strokes='[["i3", ["1.1"]]]')
    assert counts(undone) == {"i1": 16}
    again = press(client, undone, "redo")
    assert counts(again) == {"i1": 15, "i3": 1}


def test_the_piece_is_turned(client: Client, studio: Store) -> None:
    turned = press(client, begun(client), "turn", turn_up="bottom")
    assert state(turned)["up"] == "last row"
    assert "top (row 7)" in page(client, turned, "live")


def test_what_is_wrong_stands_beside_its_field_and_everything_is_kept(client: Client, studio: Store) -> None:
    form = two_colours(client)
    shown = page(client, form, "stripes", stripes_bands="2 green", checks_rows="3")
    assert 'id="f-stripes_bands-fault"' in shown
    again = find_form(shown, NEW)
    assert again.fields["stripes_bands"] == "2 green"
    assert again.fields["checks_rows"] == "3"
    assert again.fields["state"] == form.fields["state"]
    assert re.search(r'id="tool-colours" open', shown)


# --- undo ---


def test_every_step_is_undone_and_done_again(client: Client, studio: Store) -> None:
    form = two_colours(client)
    bordered = press(client, form, "border", border_item="i3")
    turned = press(client, bordered, "turn", turn_up="bottom")
    back = press(client, press(client, turned, "undo"), "undo")
    assert counts(back) == {"i1": 16}
    ahead = press(client, press(client, back, "redo"), "redo")
    assert ahead.fields["state"] == turned.fields["state"]
    other = press(client, back, "recolour", recolour_old="i1", recolour_new="i3")
    assert other.fields["ahead"] == ""


def test_looking_is_no_step(client: Client, studio: Store) -> None:
    form = begun(client)
    looked = press(client, form, "zoom", paint_rings="4.1")
    assert looked.fields["past"] == form.fields["past"]
    assert looked.fields["around"] == "4.1"
    assert press(client, looked, "zoom-out").fields["around"] == ""


def test_a_chosen_set_that_no_longer_fits_is_given_up_and_that_is_said(client: Client, studio: Store) -> None:
    with studio.writing() as session:
        raw = lozenge_raw(closed_beforehand=["1.1", "3.2"])
        add_laid_out_design(session, DesignDraft("Lozenge", layout=read(raw)))
    form = client.form("/designs/1/rows", "/designs/1/rows")
    assert state(form)["closed_beforehand"] == ["1.1", "3.2"]
    shown = page(client, form, "shrink", grow_edge="bottom", grow_by="3")
    assert "follows the order of work again" in shown
    assert state(find_form(shown, form.action))["closed_beforehand"] is None


# --- what hangs there ---


def test_what_hangs_is_shown_before_it_is_applied(client: Client, studio: Store) -> None:
    form = two_colours(client, shape="rectangle", rectangle_rows="3", rectangle_rings="6")
    asked = {"hang_kind": "hang", "hang_ring": "i3", "hang_where": "bottom", "hang_every": "2"}
    looked = page(client, form, "attach-look", **asked)
    assert "3 rings chosen , marked on the drawing: 3.1, 3.3, 3.5. Adds 3 rings." in words(looked)
    assert looked.count('class="mark"') == 3
    assert state(find_form(looked, NEW))["attachments"] == []
    hung = press(client, form, "attach", **asked)
    assert state(hung)["attachments"][0]["on"]["where"] == "last row"
    assert "21 rings" in words(page(client, hung, "live"))
    assert state(press(client, hung, "detach-1"))["attachments"] == []


def test_a_bail_ring_a_gathering_ring_and_a_finding(client: Client, studio: Store) -> None:
    form = press(client, two_colours(client), "add", new_item="2")
    gathered = press(client, form, "attach", hang_kind="gather", hang_ring="i3", hang_where="bottom")
    bailed = press(client, gathered, "attach", hang_kind="bail", hang_ring="", hang_finding="i2", hang_where="top")
    assert [one["kind"] for one in state(bailed)["attachments"]] == ["gather", "bail"]
    shown = words(page(client, bailed, "live"))
    assert "Ear wire (1)" in shown or "ear wire (1)" in shown.lower()
    assert "measure" in shown


def test_a_bail_may_be_a_ring(client: Client, studio: Store) -> None:
    bailed = press(client, two_colours(client), "attach", hang_kind="bail", hang_ring="i3", hang_where="top")
    assert [(one["name"], one["ring"]) for one in state(bailed)["attachments"]] == [("bail", "i3")]
    refused = page(client, two_colours(client), "attach", hang_kind="bail", hang_ring="", hang_where="top")
    assert "Choose a bail ring, or the bail." in words(refused)


# --- rings ---


def test_rings_are_added_and_taken_out(client: Client, studio: Store) -> None:
    form = two_colours(client)
    assert [one["key"] for one in state(form)["palette"]] == ["i1", "i3"]
    assert form.fields["brush"] == "i3"
    less = press(client, form, "take-out", brush="i3")
    assert [one["key"] for one in state(less)["palette"]] == ["i1"]
    assert "This one is in the piece" in page(client, form, "take-out", brush="i1")


def test_another_ring_keeps_the_shape_or_the_size(client: Client, studio: Store) -> None:
    form = begun(client, shape="rectangle", rectangle_rows="12", rectangle_rings="10")
    same_shape = press(client, form, "swap", swap_old="i1", swap_item="4")
    assert counts(same_shape) == {"i4": 120}
    same_size = press(client, form, "swap", swap_old="i1", swap_item="4", swap_keep="size")
    assert set(counts(same_size)) == {"i4"}
    assert len(widths(same_size)) < 12
    assert "Choose one from stock" in page(client, form, "swap", swap_old="i1")


def test_all_rings_go_to_another_size_from_stock_or_as_typed(client: Client, studio: Store) -> None:
    form = press(client, two_colours(client), "border", border_item="i3")
    other = press(client, form, "resize", resize_wire="1.2", resize_inner="5")
    assert counts(other) == {"i4": 4, "t1": 12}
    assert "AR" in words(page(client, form, "resize", resize_wire="1.6", resize_inner="3.5"))
    assert "size already" in page(client, form, "resize", resize_wire="1.0", resize_inner="4.0")


def test_a_typed_ring_gets_a_guessed_price(client: Client, studio: Store) -> None:
    form = press(client, client.form(NEW, NEW), "lay", new_line="copper 1.0 x 4.0")
    priced = press(client, form, "live", **{"price.0.guess": "0.25"})
    assert state(priced)["palette"][0]["guess"] == "0.25"
    assert priced.fields["price.0.guess"] == "0.25"
    wrong = page(client, form, "live", **{"price.0.guess": "much"})
    assert "is not a number" in wrong
    assert find_form(wrong, NEW).fields["price.0.guess"] == "much"


# --- sizes ---


def test_a_wanted_size_finds_its_rows(client: Client, studio: Store) -> None:
    form = begun(client, shape="rectangle", rectangle_rows="6", rectangle_rings="6")
    shown = page(client, form, "fit", fit_width="40 mm", fit_height="31")
    offers = re.findall(r'value="(fit-(?:rings|rows)-\d+)"', shown)
    assert len(offers) == 4
    rings = next(offer for offer in offers if "rings" in offer)
    laid = widths(press(client, form, rings, fit_width="40 mm"))
    assert laid == [int(rings.rpartition("-")[2])] * 6


# --- chains ---


def test_a_chain_is_laid_to_its_length_and_grows_by_units(client: Client, studio: Store) -> None:
    form = press(
        client, client.form(NEW, NEW), "lay", new_item="1", weave="chain-1-in-1", chain_wanted="10 cm",
        chain_clasp="10 mm",
    )  # fmt: skip
    assert state(form)["stretches"] == [{"units": 22, "repeat": ["i1"]}]
    shown = page(client, form, "live")
    offer = re.search(r'value="(fit-units-23)"', shown)
    assert offer
    longer = press(client, form, offer[1])
    assert state(longer)["stretches"][0]["units"] == 23
    typed = press(client, press(client, form, "add", new_item="3"), "live", **{"row.0.text": "2 bronze, 1 blue"})
    assert state(typed)["stretches"][0]["repeat"] == ["i1", "i1", "i3"]
    closed = press(client, form, "lay", chain_units="12", chain_wanted="", chain_closed="yes")
    assert state(closed)["closed"] is True


# --- saving ---


def test_a_new_piece_is_saved_as_a_design_and_taken_back(client: Client, studio: Store) -> None:
    form = press(client, two_colours(client), "border", border_item="i3")
    refused = client.post(NEW, form.fields)
    assert refused.status_code == 422
    assert "Give the design a name" in refused.text
    assert find_form(refused.text, NEW).fields["state"] == form.fields["state"]
    saved = client.post(NEW, {**form.fields, "name": "Reed lozenge", "piece": "pendant"})
    shown = client.follow(saved)
    assert "Reed lozenge is saved." in shown.text
    assert 'class="piece"' in shown.text
    assert "7 rows, 16 rings" in words(shown.text)
    with studio.reading() as session:
        kept = layout_of(session, 1)
    assert kept is not None
    assert isinstance(kept.plan, Layout)
    assert kept.plan.rings == 16


def test_what_was_typed_in_a_row_is_saved_without_pressing_anything_else(client: Client, studio: Store) -> None:
    form = two_colours(client)
    client.follow(client.post(NEW, {**form.fields, "name": "Reed", "row.3.text": "1 bronze, 2 blue, 1 bronze"}))
    with studio.reading() as session:
        kept = layout_of(session, 1)
    assert kept is not None
    assert isinstance(kept.plan, Layout)
    assert kept.plan.rows[3].items == ("i1", "i3", "i3", "i1")


def test_nothing_laid_is_not_saved(client: Client, studio: Store) -> None:
    refused = client.post(NEW, {**client.form(NEW, NEW).fields, "name": "Nothing"})
    assert refused.status_code == 422
    assert "Lay the piece out first." in refused.text


@pytest.fixture
def laid(studio: Store) -> Store:
    """A laid-out design, number 1."""
    with studio.writing() as session:
        add_laid_out_design(session, a_laid_design())
    return studio


def test_a_changed_piece_shows_the_difference_and_makes_a_revision(client: Client, laid: Store) -> None:
    form = client.form("/designs/1/rows", "/designs/1/rows")
    assert 'id="changed"' not in client.get("/designs/1/rows").text
    # One ring more in each of 5 rows, and one bail ring more on the first row, which has 2 rings now.
    grown = page(client, form, "grow", grow_edge="right")
    assert re.search(r"Against what is saved: \+6 rings , \+0\.\d+ g , \+[\d.]+ min", words(grown))
    changed = find_form(grown, "/designs/1/rows")
    shown = client.follow(client.post("/designs/1/rows", {**changed.fields, "change_note": "wider"}))
    assert "Saved as revision 2." in shown.text
    with laid.reading() as session:
        view = design_view(session, 1)
    assert (view.number, view.change_note) == (2, "wider")
    same = client.form("/designs/1/rows", "/designs/1/rows")
    assert "Nothing was changed." in client.follow(client.post("/designs/1/rows", same.fields)).text


def test_a_stale_page_is_told_and_loses_nothing(client: Client, laid: Store) -> None:
    first = client.form("/designs/1/rows", "/designs/1/rows")
    second = client.form("/designs/1/rows", "/designs/1/rows")
    client.post("/designs/1/rows", press(client, first, "grow", grow_edge="right").fields)
    late = press(client, second, "grow", grow_edge="bottom")
    answer = client.post("/designs/1/rows", late.fields)
    assert answer.status_code == 409
    kept = find_form(answer.text, "/designs/1/rows")
    assert kept.fields["state"] == late.fields["state"]
    client.follow(client.post("/designs/1/rows", kept.fields))
    with laid.reading() as session:
        found = layout_of(session, 1)
    assert found is not None
    assert isinstance(found.plan, Layout)
    assert len(found.plan.rows) == 6


def test_a_plain_design_is_laid_out_and_its_rows_take_the_place_of_its_rings(client: Client, studio: Store) -> None:
    with studio.writing() as session:
        add_design(session, DesignDraft("Plain", parts=(PartDraft(16_000, item_id=1), PartDraft(1000, item_id=2))))
    assert "Lay it out as rows" in client.get("/designs/1").text
    form = press(client, client.form("/designs/1/rows", "/designs/1/rows"), "lay", new_item="1", lozenge_middle="3")
    assert form.fields["take_place"] == "yes"
    client.follow(client.post("/designs/1/rows", form.fields))
    with studio.reading() as session:
        draft = design_view(session, 1).draft
    assert sorted((part.item_id, part.quantity_milli, part.layout_key) for part in draft.parts) == [
        (1, 9000, "i1"),
        (2, 1000, ""),
    ]


# --- the page ---


def test_htmx_gets_the_changed_parts_alone(client: Client, laid: Store) -> None:
    form = client.form("/designs/1/rows", "/designs/1/rows")
    answer = client.post(PREVIEW, {**form.fields, "act": "grow", "grow_edge": "right"}, headers=HTMX)
    assert "<html" not in answer.text
    for part in ("answer", "state", "done", "palette", "drawing", "checks", "in-rows", "in-hang"):
        assert re.search(rf'id="{part}"[^>]* hx-swap-oob="true"', answer.text), part
    quiet = client.post(
        PREVIEW, {**form.fields, "act": "strokes", "quiet": "yes", "strokes": '[["t1", ["3.2"]]]'}, headers=HTMX
    )
    assert 'id="drawing"' not in quiet.text
    assert 'id="palette"' in quiet.text


def test_a_drawing_is_closed_in_on_a_ring(client: Client, studio: Store) -> None:
    form = begun(client, shape="rectangle")
    whole = re.search(r'viewBox="([^"]+)"[^>]*data-units', page(client, form, "zoom-out"))
    near = re.search(r'viewBox="([^"]+)"[^>]*data-units', page(client, form, "zoom", paint_rings="3.2"))
    assert whole
    assert near
    assert float(near[1].split()[2]) < float(whole[1].split()[2])


def test_a_state_that_was_tampered_with_is_refused_in_words(client: Client, laid: Store) -> None:
    form = client.form("/designs/1/rows", "/designs/1/rows")
    for bad in ("{", '{"weave": "none"}', "[]", '{"weave":"european-4-in-1","rows":[{"rings":99999999,"item":"i1"}]}'):
        answer = client.post(PREVIEW, {**form.fields, "state": bad, "act": "live"})
        assert answer.status_code == 200
        assert "cannot be read any more" in answer.text
        refused = client.post("/designs/1/rows", {**form.fields, "state": bad, "token": form.fields["token"]})
        assert refused.status_code == 422


def test_unknown_buttons_and_nonsense_change_nothing(client: Client, laid: Store) -> None:
    form = client.form("/designs/1/rows", "/designs/1/rows")
    for act in ("", "explode", "offer-99", "page-999", "detach-9", "row-copy-99", "fit-rows-0", "add-item-999"):
        answer = client.post(PREVIEW, {**form.fields, "act": act, "first_row": "x", "around": "99.9", "past": "???"})
        assert answer.status_code == 200, act
        again = find_form(answer.text, "/designs/1/rows")
        assert state(again)["rows"] == state(form)["rows"], act


def test_a_large_piece_shows_a_page_of_rows_and_a_light_drawing(client: Client, studio: Store) -> None:
    form = begun(client, shape="rectangle", rectangle_rows="100", rectangle_rings="50")
    shown = page(client, form, "page-41")
    again = find_form(shown, NEW)
    assert again.fields["row.0.number"] == "41"
    assert "row.40.number" not in again.fields
    assert "data-light" in shown
    changed = press(client, again, "live", **{"row.0.text": "50 bronze, 1 gap"})
    assert widths(changed)[40] == 51


def test_the_room_asks_the_shop_no_more_for_a_larger_piece(client: Client, studio: Store) -> None:
    small, large = begun(client), begun(client, shape="rectangle", rectangle_rows="40", rectangle_rings="20")
    asked = []
    for form in (small, large):
        with queries_of(studio) as statements:
            page(client, form, "live")
        asked.append(len(statements))
    assert asked[0] == asked[1]


def test_a_laid_design_shows_its_drawing_and_where_to_go_on(client: Client, laid: Store) -> None:
    shown = client.get("/designs/1").text
    assert 'class="piece"' in shown
    for path in ("rows", "rows/order", "sheet", "kit", "class", "drawing.svg", "drawing.png"):
        assert f'href="/designs/1/{path}"' in shown
        assert client.get(f"/designs/1/{path}").status_code == 200, path


def test_a_very_large_piece_is_shown_by_its_file(client: Client, studio: Store) -> None:
    form = begun(client, shape="rectangle", rectangle_rows="120", rectangle_rings="50")
    shown = client.follow(client.post(NEW, {**form.fields, "name": "Cloak"})).text
    assert 'class="piece"' not in shown
    assert 'src="/designs/1/drawing.png?revision=1"' in shown


def test_a_chain_has_no_rows_to_grow(client: Client, studio: Store) -> None:
    form = press(client, client.form(NEW, NEW), "lay", new_item="1", weave="byzantine", chain_units="5")
    assert "laid in rows" in page(client, form, "grow", grow_edge="bottom")
    client.follow(client.post(NEW, {**form.fields, "name": "Short chain"}))
    with studio.reading() as session:
        kept = layout_of(session, 1)
    assert kept is not None
    assert isinstance(kept.plan, Chain)
