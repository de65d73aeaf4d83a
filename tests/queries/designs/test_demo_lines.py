"""Lines as a maker types them, against the demo's own drawers: found, or asked, and never taken for something else."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.database import Store
from models.intake.designs.part_text import read_line
from models.queries.designs.part_match import LineMatch, Matcher, load_matcher
from models.queries.stock.item import load_materials
from tests.budget import budget

_TOKEN = re.compile(r"\S+ × \S+ mm|\d+ mm|[^\s,]+")


@pytest.fixture(scope="module")
def drawers(demo_folder: Path) -> Iterator[Matcher]:
    store = Store(demo_folder)
    with store.reading() as session:
        yield load_matcher(session)
    store.close()


def match(drawers: Matcher, text: str) -> LineMatch:
    return drawers.match(read_line(text))


@pytest.fixture(scope="module")
def names(demo_folder: Path) -> Iterator[dict[int, tuple[str, str]]]:
    """Every item of the demo: its name, and what a quantity of it begins with."""
    store = Store(demo_folder)
    with store.reading() as session:
        yield {
            item.id: (item.name, "3" if item.unit == "piece" else f"3 {item.unit}")
            for item in load_materials(session).values()
        }
    store.close()


@settings(max_examples=budget(300, 40))
@given(data=st.data())
def test_the_exact_name_in_any_order_of_its_words_finds_its_item(
    drawers: Matcher, names: dict[int, tuple[str, str]], data: st.DataObject
) -> None:
    item_id = data.draw(st.sampled_from(sorted(names)))
    name, quantity = names[item_id]
    words = data.draw(st.permutations(_TOKEN.findall(name)))
    for text in (f"{quantity} {name}", f"{quantity} {' '.join(words)}"):
        found = match(drawers, text).item
        assert found is not None, text
        assert found.id == item_id, text


@pytest.mark.parametrize(
    ("text", "name"),
    [
        # Rings, by size, by gauge label, colour before or after the metal, with and without words that say nothing.
        ("20 bronze 1.0 x 3.6", "Jewellery bronze C226 ring 1.0 × 3.6 mm"),
        ("20 bronze rings 1.0 x 3.6 mm", "Jewellery bronze C226 ring 1.0 × 3.6 mm"),
        ("20 bronze jump rings, 1.0 mm wire, 3.6 mm inside", "Jewellery bronze C226 ring 1.0 × 3.6 mm"),
        ("20 x 1.0 x 3.6 bronze", "Jewellery bronze C226 ring 1.0 × 3.6 mm"),
        ("24 bronze C226 1.0 x 3.6", "Jewellery bronze C226 ring 1.0 × 3.6 mm"),
        ("1 bronze 16 SWG x 6.5 mm", "Jewellery bronze C226 ring 1.6 × 6.5 mm"),
        ("1 16 SWG bronze ring, 6.5 mm inside", "Jewellery bronze C226 ring 1.6 × 6.5 mm"),
        ("16 copper 18 AWG x 5/32", "Copper ring 1.024 × 3.969 mm"),
        ('16 18 AWG copper 5/32"', "Copper ring 1.024 × 3.969 mm"),
        ("10 sterling silver 20 AWG 3.5 mm", "Sterling silver 925 ring 0.812 × 3.5 mm"),
        ("10 silver 20 AWG x 3.5 mm", "Sterling silver 925 ring 0.812 × 3.5 mm"),
        ("10 16 SWG aluminium 1/4 in", "Bright aluminium 5356 ring 1.626 × 6.35 mm"),
        ("10 aluminium 1.6 x 6.35", "Bright aluminium 5356 ring 1.6 × 6.35 mm"),
        ("16 aluminium leaf green 1.0 x 3.6", "Leaf green aluminium 5356 ring 1.0 × 3.6 mm"),
        ("16 green alu 1.0 x 3.6", "Leaf green aluminium 5356 ring 1.0 × 3.6 mm"),
        ("24 anodised leaf green aluminium 1.0 x 3.6", "Leaf green aluminium 5356 ring 1.0 × 3.6 mm"),
        ("1 soldered sterling ring 1.0 x 6.0", "Soldered sterling silver 925 ring 1.0 × 6.0 mm"),
        ("6 gold filled 0.8 x 3", "Gold-filled 14/20 on brass C260 ring 0.8 × 3.0 mm"),
        ("4 stainless 1.6 x 8", "Stainless steel 304 ring 1.6 × 8.0 mm"),
        ("4 yellow brass 1.0 x 4.0", "Brass C260 ring 1.0 × 4.0 mm"),
        ("10 black rubber 1.6 x 6.4", "Black EPDM rubber ring 1.6 × 6.4 mm"),
        # A colour and a size without a metal, where one bag has both.
        ("16 leaf green 1.0 x 3.6", "Leaf green aluminium 5356 ring 1.0 × 3.6 mm"),
        ("16 violet 1.0 x 3.6", "Violet aluminium 5356 ring 1.0 × 3.6 mm"),
        ("16 blue rings 1.0 x 3.6", "Sky blue aluminium 5356 ring 1.0 × 3.6 mm"),
        ("16 teal 0.8 x 2.8", "Teal niobium ring 0.8 × 2.8 mm"),
        ("16 plum 0.8 x 2.8: petals", "Plum niobium ring 0.8 × 2.8 mm"),
        ("10 black 1.6 x 6.4", "Black EPDM rubber ring 1.6 × 6.4 mm"),
        ("10 black 1.2 x 5.0", "Black aluminium 5356 ring 1.2 × 5.0 mm"),
        # Findings, beads and scales, one and several.
        ("1 pair titanium ear wires", "ear wire, titanium"),
        ("2 ear wires, bronze", "ear wire, bronze"),
        ("2 earwires bronze", "ear wire, bronze"),
        ("1 lobster clasp", "lobster clasp, bronze"),
        ("1 silver toggle", "toggle clasp, sterling"),
        ("1 key ring 24 mm", "key ring 24 mm, steel"),
        ("1 24 mm key ring, steel", "key ring 24 mm, steel"),
        ("1 steel keyring", "key ring 24 mm, steel"),
        ("2 amber glass beads 6 mm", "glass bead 6 mm, amber"),
        ("3 sky blue small scales", "small scale, sky blue"),
        # Chain and wire by length, packaging and what is used up.
        ("45 cm fine bronze chain", "fine chain, bronze"),
        ("45 cm fine chain, bronze", "fine chain, bronze"),
        ("45 cm bronze chain, fine", "fine chain, bronze"),
        ("0.45 m fine steel chain", "fine chain, steel"),
        ("18 in steel chain", "fine chain, steel"),
        ("2 m copper wire", "copper wire"),
        ("2 m 1.2 mm copper wire", "copper wire"),
        ("50 cm silver wire 0.8 mm", "sterling wire"),
        ("2 gift boxes", "gift box, small"),
        ("1 backing card", "backing card"),
        ("2 padded bags", "padded bag"),
        ("2 g tumbling soap", "tumbling soap"),
        ("1 polishing cloth", "polishing cloth"),
    ],
)
def test_a_line_finds_what_it_names(drawers: Matcher, text: str, name: str) -> None:
    found = match(drawers, text)
    assert found.outcome == "matched", found
    assert found.item is not None
    assert found.item.name == name


@pytest.mark.parametrize(
    ("text", "offered"),
    [
        ("45 cm fine chain", {"fine chain, bronze", "fine chain, steel"}),
        ("1 pair ear wires", {"ear wire, bronze", "ear wire, titanium"}),
        ("16 niobium 0.8 x 2.8", {"Plum niobium ring 0.8 × 2.8 mm", "Teal niobium ring 0.8 × 2.8 mm"}),
        # One word that the bag does not answer is enough to ask.
        ("24 anodised twisted leaf green aluminium 1.0 x 3.6", {"Leaf green aluminium 5356 ring 1.0 × 3.6 mm"}),
        ("24 bright bronze 1.0 x 3.6", {"Jewellery bronze C226 ring 1.0 × 3.6 mm"}),
        ("24 bronze or copper 1.0 x 3.6", {"Jewellery bronze C226 ring 1.0 × 3.6 mm"}),
        ("1 large gift box", {"gift box, small"}),
        ("1 copper gift box", {"gift box, small"}),
        ("2 titanium bronze ear wires", {"ear wire, titanium"}),
        ("1 key ring 30 mm, steel", {"key ring 24 mm, steel"}),
        # Gold-filled is neither gold nor brass.
        ("6 gold 0.8 x 3.0", {"Gold-filled 14/20 on brass C260 ring 0.8 × 3.0 mm"}),
        ("6 brass 0.8 x 3.0", {"Gold-filled 14/20 on brass C260 ring 0.8 × 3.0 mm"}),
        ("1 m sterling wire 20 AWG", {"sterling wire"}),
        ("1 000 bronze 1.0 x 3.6", {"Jewellery bronze C226 ring 1.0 × 3.6 mm"}),
    ],
)
def test_a_line_that_says_more_or_less_than_its_item_is_asked(drawers: Matcher, text: str, offered: set[str]) -> None:
    found = match(drawers, text)
    assert found.outcome == "unsure", found
    assert {candidate.item.name for candidate in found.candidates} >= offered


@pytest.mark.parametrize(
    ("text", "metal"),
    [
        ("45 cm fine silver chain", "fine-silver"),
        ("45 cm fine copper chain", "copper"),
        ("2 m copper wire 0.8 mm", "copper"),
        ("24 phosphor bronze 1.0 x 3.6", "phosphor-bronze-c510"),
        ("4 stainless 316 1.6 x 8.0", "stainless-316"),
        ("4 red brass 1.0 x 4.0", "brass-c230"),
        ("1 pair copper ear wires", "copper"),
        ("24 fine 1.0 x 3.6", "fine-silver"),
    ],
)
def test_what_the_studio_does_not_have_keeps_the_metal_that_it_names(drawers: Matcher, text: str, metal: str) -> None:
    found = match(drawers, text)
    assert found.outcome == "unknown", found
    assert found.metals[0] == metal
