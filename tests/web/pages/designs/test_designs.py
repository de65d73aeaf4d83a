"""The pages of designs without scripts: from parts to price, questions in place, nothing typed lost, nothing stored by halves."""

import re
from io import BytesIO
from typing import Any

import pytest
from PIL import Image
from sqlmodel import func, select

from models.database import Store
from models.intake.costing.part import PartDraft
from models.intake.designs.design import DesignDraft
from models.operations.designs.design import add_design
from models.queries.designs.design import design_view, draft_of
from models.tables import Design, Item, Revision
from tests.counting import queries_of
from tests.shops import NOON, a_finding, a_ring, an_outlet
from tests.web.conftest import Client, SeenForm, find_form

NEW, PREVIEW = "/designs/new", "/designs/preview"
HTMX = {"hx-request": "true"}


@pytest.fixture
def studio(store: Store) -> Store:
    """A few bags and one outlet."""
    with store.writing() as session:
        an_outlet(session)
        a_ring(session, name="Bronze 1.2 × 4.0", wire_nm=1_200_000, inner_nm=4_000_000)
        for colour in ("blue", "green"):
            a_ring(
                session, name=f"{colour} niobium", metal="niobium", colour=colour, wire_nm=800_000, inner_nm=2_800_000
            )
        a_finding(session)
        session.add(Item(kind="packaging", name="Gift box", created_at=NOON))
    return store


def count(store: Store, table: type) -> int:
    with store.reading() as session:
        return session.exec(select(func.count()).select_from(table)).one()


def preview(client: Client, form: SeenForm | None = None, **data: Any) -> SeenForm:
    """Press a button of the editor that saves nothing; the form of the page that comes back."""
    fields = {**(form or client.form(NEW, "/designs")).fields, **data}
    answer = client.post(PREVIEW, fields)
    assert answer.status_code == 200, answer.text[:500]
    return find_form(answer.text, "/designs" if not fields.get("design") else f"/designs/{fields['design']}/edit")


def page_of(client: Client, form: SeenForm | None = None, **data: Any) -> str:
    fields = {**(form or client.form(NEW, "/designs")).fields, **data}
    return client.post(PREVIEW, fields).text


def shown_faults(page: str) -> dict[str, str]:
    """The messages that stand beside fields, by the field's id."""
    found = re.findall(r'id="f-([^"]+?)-fault">.*?</span>\s*(.*?)</p>', page, re.DOTALL)
    return dict(found)


# --- from parts to price ---


def test_a_pendant_is_costed_before_anything_is_saved(client: Client, studio: Store) -> None:
    page = page_of(client, quick="48 bronze 1.2 x 4.0\n2 ear wires: fittings", act="cost")
    assert "Could list at" in page
    assert "Web shop" in page
    assert 'value="fittings"' in page
    assert count(studio, Design) == 0


def test_a_new_design_is_saved_with_its_lines_and_shown(client: Client, studio: Store) -> None:
    answer = client.submit(
        NEW, {"name": "Leaf pendant", "weave": "byzantine", "quick": "48 bronze 1.2 x 4.0\n1 gift box (optional)", "width": "18"},
        action="/designs",
    )  # fmt: skip
    page = client.follow(answer).text
    assert "Leaf pendant is saved." in page
    with studio.reading() as session:
        draft = draft_of(session, 1)
    assert (draft.weave, draft.width_nm, [part.quantity_milli for part in draft.parts]) == (
        "byzantine",
        18_000_000,
        [48_000, 1_000],
    )
    assert draft.parts[1].optional
    assert [row.kind for row in draft.work] == ["setup", "pack", "photograph", "listing"]


def test_a_form_sent_twice_makes_one_design(client: Client, studio: Store) -> None:
    form = client.form(NEW, "/designs")
    data = {**form.fields, "name": "Leaf"}
    first, second = client.post("/designs", data), client.post("/designs", data)
    assert first.headers["location"] == second.headers["location"]
    assert count(studio, Design) == 1


def test_lines_become_rows_that_can_be_changed_moved_and_taken_out(client: Client, studio: Store) -> None:
    form = preview(client, quick="48 bronze 1.2 x 4.0\n2 ear wires\n1 gift box", act="add")
    assert [form.fields[f"parts.{n}.quantity"] for n in range(3)] == ["48", "2", "1"]
    assert form.fields["quick"] == ""
    form = preview(client, form, act="up-2")
    assert [form.fields[f"parts.{n}.quantity"] for n in range(3)] == ["48", "1", "2"]
    form = preview(client, form, act="remove-0")
    assert [form.fields[f"parts.{n}.quantity"] for n in range(2)] == ["1", "2"]
    assert "parts.2.quantity" not in form.fields
    form = preview(client, form, act="row")
    assert (form.fields["parts.2.pick"], form.fields["parts.2.kind"]) == ("typed", "ring")
    form = preview(client, form, act="stock", stock_item="1", stock_quantity="12")
    assert (form.fields["parts.3.pick"], form.fields["parts.3.quantity"]) == ("item:1", "12")


# --- what is unsure is asked in place ---


def test_a_line_with_several_answers_is_asked_and_answered(client: Client, studio: Store) -> None:
    page = page_of(client, quick="24 niobium 0.8 x 2.8: petals", act="add")
    assert "Choose which one this is" in page
    assert "Not counted yet" in page
    form = find_form(page, "/designs")
    form = preview(client, form, **{"parts.0.pick": "item:3", "act": "cost"})
    assert (form.fields["parts.0.pick"], form.fields["parts.0.quantity"], form.fields["parts.0.purpose"]) == (
        "item:3",
        "24",
        "petals",
    )


def test_a_near_size_offers_what_is_there_or_keeps_it_as_typed(client: Client, studio: Store) -> None:
    page = page_of(client, quick="48 bronze 1.22 x 4.0", act="add")
    assert "nearly the size that you typed" in page
    form = preview(client, find_form(page, "/designs"), **{"parts.0.pick": "typed", "act": "cost"})
    assert form.fields["parts.0.wire"] == "1.22 mm"
    assert form.fields["parts.0.kind"] == "ring"
    answer = client.post("/designs", {**form.fields, "name": "Leaf", "parts.0.guess": "0.05"})
    assert answer.status_code == 303
    with studio.reading() as session:
        part = draft_of(session, 1).parts[0]
    assert (part.typed_wire_nm, part.typed_metal is not None, str(part.guess)) == (1_220_000, True, "0.05")


def test_a_gauge_without_its_system_is_asked_and_answered(client: Client, studio: Store) -> None:
    page = page_of(client, quick="48 copper 16ga x 1/4 in", act="add")
    assert "16 AWG" in page
    assert "16 SWG" in page
    form = preview(client, find_form(page, "/designs"), **{"parts.0.pick": "gauge:SWG", "act": "cost"})
    assert (form.fields["parts.0.wire"], form.fields["parts.0.quantity"]) == ("1.6256 mm", "48")


def test_a_line_that_cannot_be_read_keeps_its_words_until_they_are_mended(client: Client, studio: Store) -> None:
    page = page_of(client, quick="some bronze", act="add")
    assert "How many?" in page
    form = find_form(page, "/designs")
    assert form.fields["parts.0.text"] == "some bronze"
    form = preview(client, form, **{"parts.0.text": "48 bronze 1.2 x 4.0", "act": "cost"})
    assert form.fields["parts.0.pick"] == "item:1"


def test_what_the_shop_does_not_have_is_kept_as_typed_with_a_guess(client: Client, studio: Store) -> None:
    form = preview(client, quick="3 dragon scales", act="add")
    assert (form.fields["parts.0.pick"], form.fields["parts.0.name"]) == ("typed", "dragon scales")
    assert "has no price" in page_of(client, form, act="cost")
    assert "guessed" in page_of(client, form, **{"parts.0.guess": "1.50", "act": "cost"})


def test_another_item_can_be_chosen_for_a_row(client: Client, studio: Store) -> None:
    form = preview(client, quick="24 blue niobium 0.8 x 2.8: petals", act="add")
    page = page_of(client, form, act="again-0")
    assert "green niobium" in page
    form = find_form(page, "/designs")
    assert form.fields["parts.0.text"] == "24 blue niobium: petals"
    form = preview(client, form, **{"parts.0.pick": "item:3", "act": "cost"})
    assert (form.fields["parts.0.pick"], form.fields["parts.0.purpose"]) == ("item:3", "petals")


def test_saving_with_questions_open_stores_nothing_and_asks(client: Client, studio: Store) -> None:
    answer = client.submit(
        NEW,
        {"name": "Leaf", "quick": "24 niobium 0.8 x 2.8\n48 bronze 16ga x 1/4 in\nasdf\n1 gift box"},
        action="/designs",
    )
    assert answer.status_code == 422
    assert count(studio, Design) == 0
    form = find_form(answer.text, "/designs")
    assert [form.fields[f"parts.{n}.text"] for n in range(3)] == [
        "24 niobium 0.8 x 2.8",
        "48 bronze 16ga x 1/4 in",
        "asdf",
    ]
    assert form.fields["parts.3.pick"].startswith("item:")
    assert answer.text.count('class="part-row part-ask"') == 3


# --- for htmx the same in parts ---


def test_htmx_gets_only_cost_and_counts_while_one_types(client: Client, studio: Store) -> None:
    fields = {**client.form(NEW, "/designs").fields, "quick": "48 bronze 1.2 x 4.0", "act": "live"}
    text = client.post(PREVIEW, fields, headers=HTMX).text
    assert "<html" not in text
    assert 'id="parts"' not in text
    for place in ("answer", "worked", "counts"):
        assert re.search(rf'id="{place}"[^>]* hx-swap-oob="true"', text)
    assert "0 to open" not in text


def test_htmx_gets_the_parts_when_a_button_changed_them(client: Client, studio: Store) -> None:
    fields = {**client.form(NEW, "/designs").fields, "quick": "48 bronze 1.2 x 4.0", "act": "add"}
    text = client.post(PREVIEW, fields, headers=HTMX).text
    assert text.lstrip().startswith('<fieldset id="parts"')
    assert 'name="parts.0.quantity"' in text


# --- bad input ---


PART = {"parts.0.pick": "typed", "parts.0.kind": "ring", "parts.0.wire": "1.0", "parts.0.inner": "4.0", "parts.0.quantity": "12", "parts.0.metal": "copper"}  # fmt: skip
BAD = [
    ("name", ""), ("name", "x" * 201), ("piece", "x" * 61), ("weave", "knitting"), ("skill", "9"), ("width", "wide"),
    ("height", "0"), ("length", "-1"), ("measured_weight", "heavy"), ("allowance_percent", "101"), ("once_pieces", "0"),
    ("note", "x" * 5001), ("open_count", "-1"), ("close_count", "x"), ("weave_count", "1.5"), ("attach_count", "many"),
    ("tumble_minutes", "3"), ("polish_minutes", "long"), ("pack_minutes", "-1"), ("photograph_minutes", "99999"),
    ("parts.0.quantity", ""), ("parts.0.quantity", "1.5"), ("parts.0.wire", "16ga"), ("parts.0.inner", "0.5"), ("parts.0.guess", "cheap"),
    ("parts.0.purpose", "x" * 201), ("parts.0.choice_group", "x" * 61), ("parts.0.choice_name", "x" * 61), ("parts.0.metal", "mithril"),
    ("parts.0.allowance_percent", "-1"), ("parts.0.colour", "x" * 61), ("parts.0.kind", "gem"),
]  # fmt: skip


@pytest.mark.parametrize(("field", "value"), BAD)
def test_every_bad_field_says_so_beside_it_and_keeps_what_was_typed(
    client: Client, studio: Store, field: str, value: str
) -> None:
    typed = {"name": "Leaf", "note": "Hang it low.", **PART, field: value}
    answer = client.submit(NEW, typed, action="/designs")
    assert answer.status_code == 422
    assert count(studio, Design) == 0
    assert field.replace(".", "-") in shown_faults(answer.text)
    form = find_form(answer.text, "/designs")
    for name, kept in typed.items():
        if name not in {"weave", "skill", "parts.0.kind", "parts.0.metal"}:
            assert form.fields[name] == kept, name


def test_too_many_parts_are_refused_and_kept(client: Client, studio: Store) -> None:
    answer = client.submit(NEW, {"name": "Leaf", "quick": "1 gift box\n" * 200, **PART}, action="/designs")
    assert answer.status_code == 422
    assert "up to 200 parts" in answer.text
    assert answer.text.count('class="part-row"') == 201


@pytest.mark.long
def test_two_hundred_parts_are_saved_and_come_back(client: Client, studio: Store) -> None:
    client.follow(client.submit(NEW, {"name": "N" * 200, "quick": "1 gift box: x\n" * 200}, action="/designs"))
    form = client.form("/designs/1/edit", "/designs/1/edit")
    assert form.fields["parts.199.purpose"] == "x"
    assert form.fields["name"] == "N" * 200
    answer = client.post("/designs/1/edit", {**form.fields, "parts.199.purpose": "y"})
    assert "Saved as revision 2." in client.follow(answer).text


def test_a_name_that_is_taken_is_refused_beside_it(client: Client, studio: Store) -> None:
    client.submit(NEW, {"name": "Leaf"}, action="/designs")
    answer = client.submit(NEW, {"name": "leaf"}, action="/designs")
    assert "already a design called" in shown_faults(answer.text)["name"]
    assert count(studio, Design) == 1


def test_markup_that_is_typed_is_only_text(client: Client, studio: Store) -> None:
    typed = {
        "name": "<script>alert(1)</script>",
        "note": "<b>",
        "quick": '1 "><img src=x>',
        **PART,
        "parts.0.purpose": '"><img src=x>',
    }
    asked = client.submit(NEW, typed, action="/designs")
    form = find_form(asked.text, "/designs")
    assert form.fields["parts.1.text"] == '1 "><img src=x>'
    saved = client.follow(client.post("/designs", {**form.fields, "parts.1.text": "1 gift box", "parts.1.pick": ""}))
    for page in (asked.text, saved.text, client.get("/designs").text, client.get("/designs/1/edit").text):
        assert "<script>alert" not in page
        assert "<img src=x" not in page


def test_strange_rows_and_buttons_break_nothing(client: Client, studio: Store) -> None:
    for data in (
        {"act": "remove-99999"}, {"act": "up-0"}, {"act": "again-x"}, {"act": "stock", "stock_item": "x"}, {"parts": "x"},
        {"parts.0.pick": "item:999999"}, {"parts.0.pick": "item:x"}, {"parts.0.pick": "gauge:XYZ", "parts.0.text": "4 16ga"},
        {"parts.70000.pick": "typed"}, {"parts.0.pick": "nonsense", "parts.0.text": "1 gift box"}, {"design": "99"}, {"design": "x"},
    ):  # fmt: skip
        answer = client.post(PREVIEW, {**client.form(NEW, "/designs").fields, **data})
        assert answer.status_code in {200, 404}


# --- changing ---


@pytest.fixture
def leaf(studio: Store) -> int:
    with studio.writing() as session:
        return add_design(
            session, DesignDraft("Leaf", note="Low.", parts=(PartDraft(48_000, item_id=1), PartDraft(1_000, item_id=4)))
        )


def test_a_change_of_parts_is_saved_as_a_revision(client: Client, studio: Store, leaf: int) -> None:
    answer = client.submit(f"/designs/{leaf}/edit", {"parts.0.quantity": "50", "change_note": "fuller"})
    assert "Saved as revision 2." in client.follow(answer).text
    answer = client.submit(f"/designs/{leaf}/edit", {"note": "High."})
    page = client.follow(answer).text
    assert "Saved." in page
    assert count(studio, Revision) == 2
    assert "Nothing was changed." in client.follow(client.submit(f"/designs/{leaf}/edit")).text


def test_a_stale_edit_is_shown_with_both_values_and_can_be_sent_again(client: Client, studio: Store, leaf: int) -> None:
    form = client.form(f"/designs/{leaf}/edit", f"/designs/{leaf}/edit")
    client.submit(f"/designs/{leaf}/edit", {"note": "Lower."})
    answer = client.post(f"/designs/{leaf}/edit", {**form.fields, "note": "High.", "parts.0.quantity": "60"})
    assert answer.status_code == 409
    assert "Lower." in answer.text
    assert "High." in answer.text
    again = find_form(answer.text, f"/designs/{leaf}/edit")
    assert (again.fields["note"], again.fields["parts.0.quantity"], again.fields["version"]) == ("High.", "60", "2")
    assert client.post(f"/designs/{leaf}/edit", again.fields).status_code == 303
    with studio.reading() as session:
        assert draft_of(session, leaf).note == "High."


def test_an_edit_is_previewed_without_changing_the_design(client: Client, studio: Store, leaf: int) -> None:
    form = client.form(f"/designs/{leaf}/edit", f"/designs/{leaf}/edit")
    form = preview(client, form, act="add", quick="1 gift box")
    assert form.fields["version"] == "1"
    assert form.fields["parts.2.quantity"] == "1"
    with studio.reading() as session:
        assert len(draft_of(session, leaf).parts) == 2


def test_unticked_work_and_rings_closed_beforehand_are_kept(client: Client, studio: Store, leaf: int) -> None:
    client.submit(
        f"/designs/{leaf}/edit",
        {"pack": "", "parts.0.joined": "", "seal": "yes", "seal_minutes": "4", "open_count": "0"},
    )
    with studio.reading() as session:
        draft = draft_of(session, leaf)
    assert not draft.parts[0].joined
    kinds = {row.kind: row for row in draft.work}
    assert "pack" not in kinds
    assert (kinds["seal"].minutes_milli, kinds["open"].count) == (4000, 0)


# --- copies, retiring, history ---


def test_a_copy_can_be_taken_back_where_it_was_made(client: Client, studio: Store, leaf: int) -> None:
    page = client.follow(client.submit(f"/designs/{leaf}", action=f"/designs/{leaf}/copy")).text
    assert "Copy of Leaf is a design of its own now." in page
    undo = find_form(page, "/designs/2/discard")
    assert "is gone again" in client.follow(client.post(undo.action, undo.fields)).text
    assert count(studio, Design) == 1


def test_a_copy_that_was_worked_on_stays(client: Client, studio: Store, leaf: int) -> None:
    page = client.follow(client.submit(f"/designs/{leaf}", action=f"/designs/{leaf}/copy")).text
    undo = find_form(page, "/designs/2/discard")
    client.submit("/designs/2/edit", {"skill": "4"})
    answer = client.post(undo.action, undo.fields)
    assert answer.status_code == 409
    assert "worked on since" in answer.text
    assert count(studio, Design) == 2


def test_retiring_hides_a_design_and_can_be_undone(client: Client, studio: Store, leaf: int) -> None:
    page = client.follow(client.submit(f"/designs/{leaf}", action=f"/designs/{leaf}/retire")).text
    assert "Leaf is retired." in page
    assert "Leaf" not in client.get("/designs").text
    assert "Leaf" in client.get("/designs?retired=yes").text
    undo = find_form(page, f"/designs/{leaf}/bring-back")
    assert "is back in the list" in client.follow(client.post(undo.action, undo.fields)).text
    assert "Leaf" in client.get("/designs").text


def test_earlier_revisions_are_seen_and_compared(client: Client, studio: Store, leaf: int) -> None:
    client.submit(f"/designs/{leaf}/edit", {"parts.0.quantity": "60", "weave": "byzantine"})
    page = client.get(f"/designs/{leaf}/revisions").text
    assert "Revision 2" in page
    assert "Revision 1" in page
    old = client.get(f"/designs/{leaf}/revisions/1").text
    assert "As it was in revision 1" in old
    assert "48 rings" in old
    difference = client.get(f"/designs/{leaf}/difference?before=1&after=2").text
    assert "more</strong>" in difference or "more to make" in difference
    assert "48 rings" in difference
    assert "60 rings" in difference
    assert "Byzantine" in difference
    assert "+12" in difference
    assert client.get(f"/designs/{leaf}/difference?before=1&after=9").status_code == 404


@pytest.mark.parametrize("path", ["", "/edit", "/revisions", "/revisions/1", "/difference"])
def test_a_design_that_is_not_there_is_not_found(client: Client, studio: Store, path: str) -> None:
    assert client.get(f"/designs/99{path}").status_code == 404
    assert client.get(f"/designs/x{path}").status_code == 404


def test_an_empty_room_teaches_and_starts_a_design(client: Client, store: Store) -> None:
    page = client.get("/designs").text
    assert "What do you make?" in page
    assert 'href="/designs/new"' in page


def test_the_list_is_narrowed_by_its_address(client: Client, studio: Store, leaf: int) -> None:
    assert "1 design matches" in client.get("/designs?find=leaf").text
    assert "No design matches" in client.get("/designs?find=leaf&weave=byzantine").text
    assert client.get("/designs?order=sideways&metal=mithril").status_code == 200
    part = client.get("/designs?find=leaf", headers=HTMX).text
    assert part.lstrip().startswith('<section id="designs"')


def test_the_list_page_takes_the_same_queries_for_any_number_of_designs(
    client: Client, studio: Store, leaf: int
) -> None:
    def seen() -> int:
        with queries_of(studio) as statements:
            assert client.get("/designs").status_code == 200
        return len(statements)

    seen()  # the first page of a client also asks how figures are shown
    few = seen()
    with studio.writing() as session:
        for number in range(15):
            add_design(
                session,
                DesignDraft(f"Design {number}", parts=(PartDraft(12_000, item_id=1), PartDraft(1_000, item_id=4))),
            )
    assert seen() == few


def test_the_editor_takes_the_same_queries_for_any_number_of_parts(client: Client, studio: Store) -> None:
    form = client.form(NEW, "/designs")

    def seen(lines: int) -> int:
        with queries_of(studio) as statements:
            client.post(
                PREVIEW, {**form.fields, "quick": "48 bronze 1.2 x 4.0\n3 dragon scales\n" * lines, "act": "add"}
            )
        return len(statements)

    assert seen(40) == seen(1)


# --- photos ---


def picture(size: tuple[int, int] = (900, 600)) -> bytes:
    out = BytesIO()
    Image.new("RGB", size, "#aa7744").save(out, "PNG")
    return out.getvalue()


def test_a_photo_is_put_on_served_small_and_large_and_taken_away(client: Client, studio: Store, leaf: int) -> None:
    answer = client.submit(f"/designs/{leaf}/edit", files={"photo": ("leaf.png", picture(), "image/png")})
    page = client.follow(answer).text
    found = re.search(r'src="(/photos/[0-9a-f]{64}\.jpg)"', page)
    assert found
    large, small = client.get(found[1]), client.get(f"{found[1]}?small=1")
    assert large.headers["content-type"] == small.headers["content-type"] == "image/jpeg"
    assert "immutable" in large.headers["cache-control"]
    assert large.headers["x-content-type-options"] == "nosniff"
    assert len(small.content) < len(large.content)
    assert count(studio, Revision) == 1
    client.submit(f"/designs/{leaf}/edit", {"photo_off": "yes"})
    with studio.reading() as session:
        assert design_view(session, leaf).photo is None


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"not a picture", "not a picture"),
        (picture()[:300], "broken"),
        (b"\x89PNG" + b"x" * (20 * 1024 * 1024), "over 10 MB"),
    ],
)
def test_a_file_that_is_no_photo_is_refused_beside_it_and_nothing_else_is_lost(
    client: Client, studio: Store, leaf: int, content: bytes, says: str
) -> None:
    answer = client.submit(f"/designs/{leaf}/edit", {"note": "High."}, files={"photo": ("x.png", content, "image/png")})
    assert answer.status_code == 422
    assert says in shown_faults(answer.text)["photo"]
    assert find_form(answer.text, f"/designs/{leaf}/edit").fields["note"] == "High."
    assert list(studio.photos.iterdir()) == []


def test_a_good_photo_is_kept_while_something_else_is_put_right(client: Client, studio: Store) -> None:
    answer = client.submit(NEW, {"name": ""}, action="/designs", files={"photo": ("x.png", picture(), "image/png")})
    assert answer.status_code == 422
    form = find_form(answer.text, "/designs")
    assert form.fields["photo_name"]
    client.post("/designs", {**form.fields, "name": "Leaf"})
    with studio.reading() as session:
        assert design_view(session, 1).photo == form.fields["photo_name"]


def test_a_photo_name_that_is_none_of_ours_is_never_taken(client: Client, studio: Store, leaf: int) -> None:
    for name in ("../shop.db", "0" * 64 + ".jpg", "x"):
        client.submit(f"/designs/{leaf}/edit", {"photo_name": name, "note": name})
        assert client.get(f"/photos/{name}").status_code == 404
    with studio.reading() as session:
        assert design_view(session, leaf).photo is None
