"""Forms: what a browser sent, kept as it was; and what a page shows in its fields."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated, Any

import pytest
from fastapi import Depends
from hypothesis import given
from hypothesis import strategies as st

from models.intake.faults import Fault, Faults
from webapp.web.forms import Form, RawForm, SentFile, read_form
from webapp.web.render import environment


@pytest.fixture
def sent(app: Any) -> list[RawForm]:
    """Every form that arrives at /sent."""
    found: list[RawForm] = []

    @app.post("/sent")
    def take(raw: Annotated[RawForm, Depends(read_form)]) -> str:
        found.append(raw)
        return "taken"

    return found


def test_empty_fields_are_kept(client: Any, sent: list[RawForm]) -> None:
    client.post("/sent", {"name": "", "wire": " 1.2 mm "})
    assert sent[0].items == (("name", ""), ("wire", " 1.2 mm "))
    assert "name" in sent[0]
    assert "inner" not in sent[0]


def test_empty_fields_of_a_form_with_files_are_kept_too(client: Any, sent: list[RawForm]) -> None:
    client.post("/sent", {"name": ""}, files={"photo": ("p.png", b"\x89PNG", "image/png"), "other": ("", b"")})
    assert sent[0].get("name", "absent") == ""
    assert sent[0].files["photo"] == SentFile("p.png", "image/png", b"\x89PNG")
    assert "other" not in sent[0].files


def test_line_ends_are_made_single(client: Any, sent: list[RawForm]) -> None:
    client.post("/sent", {"parts": "48 bronze 1.2 x 4.0\r\n1 ear wire\r\n"})
    assert sent[0].get("parts") == "48 bronze 1.2 x 4.0\n1 ear wire\n"


def test_several_boxes_of_one_name_are_all_there(client: Any, sent: list[RawForm]) -> None:
    client.post("/sent", {"finish": ["tumble", "seal"]})
    assert sent[0].all("finish") == ("tumble", "seal")
    assert sent[0].raw()["finish"] == "seal"


def test_a_body_that_is_no_form_has_no_fields(client: Any, sent: list[RawForm]) -> None:
    client.request("POST", "/sent", json={"name": "x"})
    assert sent[0].items == ()


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (b"--x\r\nbroken", "multipart/form-data; boundary=x"),
        (b"whatever", "multipart/form-data"),
        (b"a=1&" * 4001, "application/x-www-form-urlencoded"),
    ],
)
def test_a_broken_form_is_refused_in_plain_words(client: Any, sent: list[RawForm], content: bytes, kind: str) -> None:
    answer = client.request("POST", "/sent", content=content, headers={"content-type": kind})
    assert answer.status_code in {200, 400}
    assert (answer.status_code == 400) == (sent == [])
    if answer.status_code == 400:
        assert "could not be read" in answer.text


def test_rows_become_lists_without_gaps() -> None:
    raw = RawForm((("name", "Ember"), ("parts.0.quantity", "48"), ("parts.0.item", "7"), ("parts.1.quantity", "1")))
    assert raw.raw() == {"name": "Ember", "parts": [{"quantity": "48", "item": "7"}, {"quantity": "1"}]}


def test_rows_that_were_removed_leave_no_gap(client: Any, sent: list[RawForm]) -> None:
    client.post("/sent", {"parts.5.quantity": "2", "parts.2.quantity": "1", "parts.12.quantity": "3"})
    assert dict(sent[0].items) == {"parts.1.quantity": "2", "parts.0.quantity": "1", "parts.2.quantity": "3"}
    assert sent[0].raw() == {"parts": [{"quantity": "1"}, {"quantity": "2"}, {"quantity": "3"}]}


def test_a_field_named_like_its_group_does_not_break_the_rows() -> None:
    assert RawForm((("parts", "text"), ("parts.0.quantity", "1"))).raw() == {"parts": "text"}
    assert RawForm((("parts.x.quantity", "1"),)).raw() == {"parts.x.quantity": "1"}


@pytest.mark.parametrize(
    ("text", "version"), [("3", 3), ("", None), ("x", None), ("-1", None), ("9" * 40, None), ("٣", None)]
)
def test_a_version_is_a_plain_whole_number_or_none(text: str, version: int | None) -> None:
    assert RawForm((("version", text),)).version == version


def test_the_token_does_not_count_as_content() -> None:
    a, b = RawForm((("token", "a"), ("n", "1"))), RawForm((("token", "b"), ("n", "1")))
    assert a.digest_source() == b.digest_source()
    assert a.digest_source() != RawForm((("n", "2"),)).digest_source()
    with_file = RawForm((("n", "1"),), {"photo": SentFile("p", "image/png", b"1")})
    other_file = RawForm((("n", "1"),), {"photo": SentFile("p", "image/png", b"2")})
    assert with_file.digest_source() != other_file.digest_source()
    assert "token" not in a.raw()


def test_a_sent_form_keeps_what_was_typed_and_says_what_is_wrong() -> None:
    raw = RawForm((("wire", "16ga"), ("finish", "tumble"), ("finish", "seal"), ("version", "4")))
    form = Form.sent(raw, Faults((Fault("wire", "Say AWG or SWG."), Fault("", "It is all a bit odd."))))
    assert form.status == 422
    assert form.value("wire") == "16ga"
    assert form.ticked("finish", "tumble")
    assert form.ticked("finish", "seal")
    assert form.fault("wire") == "Say AWG or SWG."
    assert form.general == ("It is all a bit odd.",)
    assert form.version == 4


def test_a_blank_form_is_filled_with_what_is_known() -> None:
    form = Form.blank(
        {
            "name": None,
            "price": Decimal("1E+1"),
            "open": True,
            "shut": False,
            "parts": [{"quantity": 4}, {"quantity": 1}],
        },
        version=2,
    )
    assert form.value("name") == ""
    assert form.value("price") == "10"
    assert form.ticked("open")
    assert not form.ticked("shut")
    assert list(form.rows("parts")) == [0, 1]
    assert form.value("parts.1.quantity") == "1"
    assert not form.trouble
    assert form.status == 200


def test_tokens_are_never_the_same() -> None:
    assert len({Form.blank().token for _ in range(50)}) == 50


@given(st.lists(st.tuples(st.text(max_size=20), st.text(max_size=20)), max_size=12))
def test_no_field_name_breaks_reading_or_showing(items: list[tuple[str, str]]) -> None:
    raw = RawForm(tuple(items))
    raw.raw()
    form = Form.sent(raw)
    for name, _ in items:
        assert form.value(name) == [value for key, value in items if key == name][-1]


def shown(text: str, form: Form) -> str:
    return environment().from_string(text).render(form=form)


def test_a_field_has_its_label_hint_and_fault_tied_to_it() -> None:
    form = Form.sent(RawForm((("wire", '1.2" x'),)), Faults.of("wire", "Type a size."))
    page = shown("{{ forms.field(form, 'Wire', 'wire', kind='size', hint='1.2 mm or 18 AWG', required=true) }}", form)
    assert '<label for="f-wire">Wire' in page
    assert 'aria-describedby="f-wire-hint f-wire-fault"' in page
    assert 'aria-invalid="true"' in page
    assert 'id="f-wire-fault"' in page
    assert "Type a size." in page
    assert 'value="1.2&#34; x"' in page


def test_a_field_without_hint_or_fault_points_nowhere() -> None:
    page = shown("{{ forms.field(form, 'Wire', 'wire') }}", Form.blank())
    assert "aria-describedby" not in page
    assert "aria-invalid" not in page


@pytest.mark.parametrize(("kind", "mode"), [("money", "decimal"), ("percent", "decimal"), ("whole", "numeric")])
def test_numbers_bring_up_the_right_keyboard_and_stay_text(kind: str, mode: str) -> None:
    page = shown(f"{{{{ forms.field(form, 'Price', 'price', kind='{kind}') }}}}", Form.blank())
    assert f'inputmode="{mode}"' in page
    assert 'type="text"' in page


def test_sizes_keep_the_whole_keyboard_since_fractions_need_it() -> None:
    assert "inputmode" not in shown("{{ forms.field(form, 'Wire', 'wire', kind='size') }}", Form.blank())


def test_a_known_value_stands_in_until_something_was_typed() -> None:
    field = "{{ forms.field(form, 'Name', 'name', value='Ember') }}"
    assert 'value="Ember"' in shown(field, Form.blank())
    assert 'value=""' in shown(field, Form.sent(RawForm((("name", ""),))))


def test_choices_keep_the_chosen_one() -> None:
    form = Form.blank({"metal": "bronze", "kind": "ring", "open": True})
    options = "[('copper', 'Copper'), ('bronze', 'Bronze')]"
    assert '<option value="bronze" selected>' in shown(
        f"{{{{ forms.choice(form, 'Metal', 'metal', {options}) }}}}", form
    )
    picks = shown("{{ forms.picks(form, 'Kind', 'kind', [('ring', 'A ring'), ('wire', 'Wire')]) }}", form)
    assert 'value="ring" checked' in picks
    assert picks.count("checked") == 1
    assert " checked" in shown("{{ forms.check(form, 'Can be opened', 'open') }}", form)
    assert " checked" not in shown("{{ forms.check(form, 'Can be opened', 'shut') }}", form)


def test_a_text_area_keeps_its_first_empty_line() -> None:
    form = Form.blank({"notes": "\nsecond"})
    page = shown("{{ forms.textarea(form, 'Notes', 'notes') }}", form)
    assert ">\n\nsecond</textarea>" in page


def test_a_field_in_a_row_is_named_for_those_who_cannot_see_the_column() -> None:
    form = Form.sent(RawForm((("parts.0.quantity", "x"),)), Faults.of("parts.0.quantity", "Give a number."))
    page = shown("{{ forms.cell(form, 'How many, row 1', 'parts.0.quantity', kind='whole') }}", form)
    assert 'aria-label="How many, row 1"' in page
    assert 'id="f-parts-0-quantity"' in page
    assert 'aria-describedby="f-parts-0-quantity-fault"' in page


def test_a_form_carries_its_token_version_and_troubles() -> None:
    form = Form.sent(RawForm((("name", ""), ("version", "3"))), Faults.of("name", "Give it a name."))
    page = shown("{% call forms.form(form, action='/stock/1', version=9) %}inside{% endcall %}", form)
    assert f'name="token" value="{form.token}"' in page
    assert 'name="version" value="3"' in page
    assert '<a href="#f-name">Give it a name.</a>' in page
    assert "inside" in page
    fresh = shown("{% call forms.form(form, version=9) %}{% endcall %}", Form.blank())
    assert 'name="version" value="9"' in fresh
    assert "troubles" not in fresh


def test_a_single_button_is_a_form_with_its_own_token() -> None:
    page = shown("{{ forms.post('/x', 'Undo', {'lot': 3}) }}{{ forms.post('/x', 'Undo') }}", Form.blank())
    tokens = {part.split('"')[0] for part in page.split('name="token" value="')[1:]}
    assert len(tokens) == 2
    assert 'name="lot" value="3"' in page
