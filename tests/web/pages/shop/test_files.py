"""Files by their pages: looked at, taken in as a whole, handed out."""

from __future__ import annotations

import html
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import pytest
from sqlmodel import Session

from models.database import Store
from models.intake.csv_file import Column
from models.operations.imports import KINDS, ONLY_OUT, Context, FileKind
from models.queries.costing.outlet import outlets_page
from models.tables import Once
from tests.operations.test_imports import FILES, OUTLETS, rows
from tests.web.conftest import find_form

BOM = "﻿"


def look(client: Any, kind: str, text: str | bytes, name: str = "file.csv") -> Any:
    content = text.encode() if isinstance(text, str) else text
    return client.submit(f"/settings/files/{kind}", files={"file": (name, content, "text/csv")})


def take(client: Any, kind: str, page: str) -> Any:
    seen = find_form(page, f"/settings/files/{kind}/take")
    return client.post(seen.action, seen.fields)


def test_every_kind_of_file_is_offered(client: Any) -> None:
    page = client.get("/settings/files").text
    for code in KINDS:
        assert f'href="/settings/files/{code}"' in page
        assert f'href="/settings/files/{code}.csv"' in page
    assert "how a piece is laid out is kept in a backup" in page


@pytest.mark.parametrize("kind", KINDS)
def test_the_page_of_a_kind_says_what_every_column_holds(client: Any, kind: str) -> None:
    page = html.unescape(client.get(f"/settings/files/{kind}").text)
    for column in KINDS[kind].columns:
        assert f"<code>{column.name}</code>" in page
        assert column.says in page
        assert column.example in page


def test_a_file_is_looked_at_and_then_taken_in(client: Any, store: Store) -> None:
    before = rows(store)
    seen = look(client, "items", FILES["items"])
    assert seen.status_code == 200
    assert "This file brings <strong>7 stock items</strong>" in seen.text
    assert rows(store) == before
    done = take(client, "items", seen.text)
    assert done.status_code == 303
    assert done.headers["location"].startswith("/stock?said=")
    assert rows(store)["Item"] == 7


def test_a_file_is_carried_unchanged_from_the_look_to_the_taking(client: Any, store: Store) -> None:
    text = BOM + 'name;kind;note\r\n"Caf\u00e9; ""stall""";market;"two\rlines\n"\r\n'
    done = take(client, "outlets", look(client, "outlets", text).text)
    assert done.status_code == 303
    with store.reading() as session:
        (outlet,) = outlets_page(session).outlets
    assert outlet.draft.name == 'Café; "stall"'


def test_pasted_lines_are_taken_like_a_file(client: Any, store: Store) -> None:
    seen = client.submit("/settings/files/outlets", {"pasted": OUTLETS})
    assert "2 outlets" in seen.text
    assert take(client, "outlets", seen.text).status_code == 303
    assert rows(store)["Outlet"] == 2


def test_a_file_taken_in_twice_is_taken_in_once(client: Any, store: Store) -> None:
    seen = look(client, "outlets", OUTLETS).text
    first, second = take(client, "outlets", seen), take(client, "outlets", seen)
    assert first.headers["location"] == second.headers["location"]
    assert rows(store)["Outlet"] == 2


def test_bad_lines_are_listed_with_their_reasons_and_nothing_can_be_taken(client: Any, store: Store) -> None:
    seen = look(client, "outlets", OUTLETS + "Gallery,barn,200,,,,,,\n<b>,online,x,,,,,,\n")
    assert seen.status_code == 422
    page = html.unescape(seen.text)
    assert "2 of 4" in page
    assert "Line 4" in page
    assert "Line 5" in page
    assert "Choose one of: online" in page
    assert "of at most 100; this is 200" in page
    assert "&lt;b&gt;" in seen.text
    assert "/take" not in seen.text
    assert rows(store)["Outlet"] == 0


def test_what_became_wrong_meanwhile_is_said_at_the_taking_and_nothing_is_stored(client: Any, store: Store) -> None:
    seen = look(client, "outlets", OUTLETS).text
    client.submit("/outlets/new", {"name": "Fair", "kind": "market"})
    answer = take(client, "outlets", seen)
    assert answer.status_code == 422
    assert "already" in answer.text
    assert rows(store)["Outlet"] == 1


@pytest.mark.parametrize(
    ("content", "says"),
    [
        ("nme,kind\nx,market\n", "lacks name"),
        (b"\xff\xfe\x00", "UTF-8"),
        ("", "Choose a file"),
        ("name,kind\n", "nothing under it"),
        (b"name,kind\n" + b"x" * 1_000_001, "larger than 1 MB"),
    ],
)
def test_a_file_that_cannot_be_read_says_why_beside_its_field(
    client: Any, store: Store, content: str | bytes, says: str
) -> None:
    answer = look(client, "outlets", content, name="f.csv" if content else "")
    assert answer.status_code == 422
    assert says in html.unescape(answer.text)
    assert 'id="f-file-fault"' in answer.text


@pytest.mark.parametrize("content", ["", "not base64", "====", "a" * 1_400_000])
def test_a_file_that_did_not_come_along_whole_is_asked_for_again(client: Any, store: Store, content: str) -> None:
    answer = client.post("/settings/files/outlets/take", {"token": "t" * 24, "content": content})
    assert answer.status_code == 422
    with store.reading() as session:
        assert session.get(Once, "t" * 24) is None


@pytest.mark.parametrize("path", ["/settings/files/horses", "/settings/files/horses.csv"])
def test_an_unknown_kind_of_file_is_a_plain_404(client: Any, path: str) -> None:
    assert client.get(path).status_code == 404


@pytest.mark.parametrize("query", ["", "?comma=decimal"])
def test_what_is_handed_out_can_be_taken_in_again(client: Any, store: Store, query: str) -> None:
    for kind, text in FILES.items():
        assert take(client, kind, look(client, kind, text).text).status_code == 303, kind
    for kind in FILES:
        answer = client.get(f"/settings/files/{kind}.csv{query}")
        assert answer.headers["content-type"] == "text/csv; charset=utf-8"
        assert re.fullmatch(
            rf'attachment; filename="{kind}-\d{{4}}-\d\d-\d\d\.csv"', answer.headers["content-disposition"]
        )
        assert answer.content.startswith(BOM.encode())
        header = answer.text.splitlines()[0]
        assert (";" in header) == bool(query)
    parts = look(client, "parts", client.get(f"/settings/files/parts.csv{query}").content)
    assert "2 designs' parts" in html.unescape(parts.text)
    before = rows(store)
    assert take(client, "parts", parts.text).status_code == 303
    assert rows(store) == before


def test_movements_are_only_handed_out(client: Any) -> None:
    take(client, "items", look(client, "items", FILES["items"]).text)
    take(client, "receipts", look(client, "receipts", FILES["receipts"]).text)
    saved = client.get("/settings/files/movements.csv")
    lines = saved.text.splitlines()
    assert lines[0].lstrip(BOM).startswith("movement,act,done,")
    assert len(lines) == 1 + 5
    assert ";" in client.get("/settings/files/movements.csv?comma=decimal").text.splitlines()[0]
    page = client.get("/settings/files").text
    assert 'href="/settings/files/movements.csv"' in page
    assert 'href="/settings/files/movements"' not in page
    assert client.get("/settings/files/movements").status_code == 404


def test_the_readme_names_every_kind_of_file() -> None:
    said = (Path(__file__).parents[4] / "README.md").read_text(encoding="utf-8")
    taken, given = re.search(r"where KIND is one of (.+)\. Only `export` knows (.+)\.\n", said).groups()  # type: ignore[union-attr]
    assert re.findall(r"`(\w+)`", taken) == list(KINDS)
    assert re.findall(r"`(\w+)`", given) == list(ONLY_OUT)


@pytest.mark.long
def test_what_is_too_much_for_one_page_is_saved_in_parts_that_are_not(client: Any) -> None:
    lines = ["kind,name"] + [f"packaging,Box {number}" for number in range(1500)]
    more = ["kind,name"] + [f"packaging,Bag {number}" for number in range(1500)]
    for text in (lines, more):
        take(client, "items", look(client, "items", "\n".join(text)).text)
    page = client.get("/settings/files/items/parts")
    assert "come in <strong>2 parts</strong>" in page.text
    part = client.get("/settings/files/items.csv?part=2")
    assert "part-2-of-2" in part.headers["content-disposition"]
    assert len(part.text.splitlines()) == 1001
    assert len(client.get("/settings/files/items.csv").text.splitlines()) == 3001
    assert client.get("/settings/files/items.csv?part=3").status_code == 404
    assert client.get("/settings/files/movements.csv?part=1").status_code == 404


def test_a_file_of_half_a_million_columns_is_refused_at_once(client: Any) -> None:
    answer = look(client, "items", "kind,name" + "," * 499_000 + "x\nfinding,Hook\n")
    assert answer.status_code == 422
    assert "at most 200 columns" in answer.text
    assert len(answer.text) < 100_000


def test_of_many_wrong_lines_the_first_are_shown(client: Any) -> None:
    answer = look(client, "items", "kind,name\n" + "gadget,Hook\n" * 2000)
    assert answer.status_code == 422
    assert "2000 of 2000" in answer.text
    assert answer.text.count('<th scope="row">Line') == 100
    assert "And 1900 more lines" in answer.text
    assert len(answer.text) < 200_000


def test_a_kind_of_file_needs_no_more_than_its_entry(
    client: Any, store: Store, monkeypatch: pytest.MonkeyPatch
) -> None:
    taken: list[str] = []

    def take_notes(
        _session: Session, rows: Sequence[Mapping[str, str]], _context: Context
    ) -> tuple[int, dict[int, Any]]:
        taken.extend(row["words"] for row in rows)
        return len(rows), {}

    columns = (Column("words", "What is noted.", required=True, example="Order more clasps."),)
    monkeypatch.setitem(
        KINDS, "notes", FileKind("notes", "note", "notes", "Notes.", columns, take_notes, lambda _session: ())
    )
    assert 'href="/settings/files/notes"' in client.get("/settings/files").text
    seen = look(client, "notes", "words\nOrder more clasps.\n")
    assert seen.status_code == 200
    assert "This file brings <strong>1 note</strong>" in seen.text
    done = take(client, "notes", seen.text)
    assert done.status_code == 303
    assert "1 note was taken in." in client.follow(done).text
    assert taken[-1] == "Order more clasps."
    assert client.get("/settings/files/notes.csv").text.lstrip(BOM).splitlines() == ["words"]
