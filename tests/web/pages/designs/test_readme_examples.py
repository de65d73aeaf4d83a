"""What the README shows as typed, typed into the demo as it stands there: the text is taken out of the README itself."""

from __future__ import annotations

import csv
import io
import re
from pathlib import Path
from textwrap import dedent

import pytest

from models.database import Store
from models.intake.csv_file import write_csv
from models.intake.layouts.row_text import read_rings
from models.operations.imports import KINDS, take_file
from tests.web.conftest import Client

README = (Path(__file__).parents[4] / "README.md").read_text(encoding="utf-8")
PARTS = next(
    block for block in re.findall(r"^ *```\n(.*?)^ *```", README, re.DOTALL | re.MULTILINE) if ": border" in block
)
FOUND = [
    ("Jewellery bronze C226 ring 1.0 × 3.6 mm", "20", "border"),
    ("Leaf green aluminium 5356 ring 1.0 × 3.6 mm", "16", "field"),
    ("Jewellery bronze C226 ring 1.6 × 6.5 mm", "1", "gathering ring"),
    ("fine chain, bronze", "0.45", ""),
]


@pytest.fixture
def empty_shop(demo_folder: Path) -> Path:
    """The invented studio instead of an empty shop."""
    return demo_folder


def test_the_parts_of_the_first_example_find_their_bags_in_the_parts_box(client: Client, store: Store) -> None:
    saved = client.submit("/designs/new", {"name": "As the README has it", "quick": dedent(PARTS)}, action="/designs")
    assert saved.status_code == 303, saved.text
    design = saved.headers["location"].partition("?")[0].rpartition("/")[2]
    names = {item["id"]: item["name"] for item in client.get("/api/items?per_page=500").json()["items"]}
    parts = client.get(f"/api/designs/{design}").json()["parts"]
    assert [(names[part["item_id"]], f"{part['quantity']:g}", part["purpose"]) for part in parts] == FOUND
    # A file of parts says the same names in full, and takes them back.
    exported = client.get("/settings/files/parts.csv").text.lstrip("\ufeff")
    rows = [row for row in csv.DictReader(io.StringIO(exported)) if row["design"] == "As the README has it"]
    assert [(row["item"], row["quantity"], row["purpose"]) for row in rows] == FOUND
    with store.writing() as session:
        assert take_file(session, KINDS["parts"], write_csv(tuple(rows[0]), rows).encode()) == 1
    assert client.get(f"/api/designs/{design}").json()["parts"] == parts


def test_the_rows_of_the_tour_are_read() -> None:
    typed = [text for text in re.findall(r"`([^`]*)`", README) if "1 blue" in text]
    assert typed == ["5 bronze, 1 blue", "(1 bronze, 1 blue) × 6"]
    words = {"i1": "bronze", "i2": "blue"}
    assert [read_rings(text, words, "row") for text in typed] == [("i1",) * 5 + ("i2",), ("i1", "i2") * 6]
