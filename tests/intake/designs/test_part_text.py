"""Quick entry: what people type or paste for a part is read as they mean it, and what cannot be read is asked about."""

from time import process_time

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from models.intake.costing.part import PartDraft
from models.intake.designs.part_text import (
    MOST_ALTERNATIVES,
    MOST_LINE_CHARACTERS,
    MOST_LINE_WORDS,
    MOST_LINES,
    PartLine,
    line_of,
    read_line,
    read_lines,
    with_gauge_system,
)
from models.trade.gauges import awg_nm, swg_nm
from models.trade.metals import METALS

EIGHTH_INCH_NM = 3_175_000
QUARTER_INCH_NM = 6_350_000


def only(text: str) -> PartLine:
    found = read_line(text)
    assert not found.fault, found.fault
    return found


@pytest.mark.parametrize(
    "text",
    [
        "48 bronze 1.2 x 4.0",
        "48 x bronze 1.2 x 4.0",
        "48x bronze 1.2x4.0",
        "48 bronze 1,2 x 4,0",
        "48 × bronze 1.2 × 4.0",
        "48 pcs bronze 1.2 mm x 4 mm",
        "48 bronze rings 1.2mm 4mm",
        "48 1.2 x 4.0 bronze",
        "48 x 1.2 x 4.0 bronze",
        "bronze 1.2 x 4.0 x 48",
        "bronze 1.2 x 4.0, 48",
        "bronze 1.2 x 4.0 (48)",
        "48 bronze 1.2mm/4mm",
        "48 bronze 1.2/4.0",
        "bronze 48 1.2 x 4.0",
        "4 dozen bronze 1.2 by 4.0",
        "- 48 bronze 1.2 x 4.0",
        "48\tbronze\t1.2\t4.0",
        "48 × 1.2 mm wire · 4.0 mm inside · AR 3.33 · bronze",
        "  48   Bronze   1.2 x 4.0 ID  ",
    ],
)
def test_a_count_of_rings_is_read_however_it_is_written(text: str) -> None:
    line = only(text)
    assert (line.quantity_milli, line.unit, line.kind) == (48_000, "piece", "ring")
    assert line.size is not None
    assert (line.size.wire_nm, line.size.inner_nm) == (1_200_000, 4_000_000)
    assert line.metal_words == "bronze"


@pytest.mark.parametrize(
    ("text", "wire_nm", "inner_nm", "label"),
    [
        ("48 x bronze 16 SWG x 1/4 in", swg_nm(16), QUARTER_INCH_NM, "16 SWG"),
        ("48 bronze swg 16 x 1/4", swg_nm(16), QUARTER_INCH_NM, "16 SWG"),
        ("24 blue niobium 20awg x 1/8", awg_nm(20), EIGHTH_INCH_NM, "20 AWG"),
        ('12 copper 1.0 mm x 5/32"', 1_000_000, 3_968_750, None),
        ("12 copper 3/64 x 5/32", 1_190_625, 3_968_750, None),
        ("12 18 swg brass 3/16", swg_nm(18), 4_762_500, "18 SWG"),
        ("12 copper 1.5 x 1 1/4 in", 1_500_000, 31_750_000, None),
    ],
)
def test_gauges_and_inches_are_sizes_too(text: str, wire_nm: int, inner_nm: int, label: str | None) -> None:
    line = only(text)
    assert line.wire is not None
    assert line.inner is not None
    assert (line.wire.nm, line.inner.nm, line.wire.label) == (wire_nm, inner_nm, label)


@pytest.mark.parametrize(
    ("text", "quantity_milli", "unit", "kind", "name"),
    [
        ("1 ear wire", 1_000, "piece", "finding", "ear wire"),
        ("2x Ear wire", 2_000, "piece", "finding", "Ear wire"),
        ("ear wire x2", 2_000, "piece", "finding", "ear wire"),
        ("1 pair ear wires", 2_000, "piece", "finding", "ear wires"),
        ("2 m chain", 2_000, "m", "chain", "chain"),
        ("30 cm copper chain", 300, "m", "chain", "copper chain"),
        ("50 mm chain", 50, "m", "chain", "chain"),
        ("2 in of chain", 51, "m", "chain", "chain"),
        ("1 1/2 m chain", 1_500, "m", "chain", "chain"),
        ("0.5 g wax", 500, "g", "consumable", "wax"),
        ("3 beads 4 mm", 3_000, "piece", "bead", "beads 4 mm"),
        ("1 gift box", 1_000, "piece", "packaging", "gift box"),
        ("1 m 20 AWG copper wire", 1_000, "m", "wire", "copper wire"),
        ("2 split rings 6 mm", 2_000, "piece", "finding", "split rings 6 mm"),
        ("1 toggle clasp, bar and ring", 1_000, "piece", "finding", "toggle clasp, bar and ring"),
        ("1 box 60 x 60 mm", 1_000, "piece", "packaging", "box 60 x 60 mm"),
    ],
)
def test_findings_chain_and_packaging_are_read_with_their_units(
    text: str, quantity_milli: int, unit: str, kind: str, name: str
) -> None:
    line = only(text)
    assert (line.quantity_milli, line.unit, line.kind, line.name) == (quantity_milli, unit, kind, name)
    assert line.size is None


def test_a_colour_is_told_from_a_metal() -> None:
    line = only("48 gold aluminium 1.2 x 5")
    assert (line.metal_words, line.colour_words) == ("aluminium", ("gold",))
    assert only("12 silver 0.8 x 2.8").metal_words == "silver"
    assert only("12 14k gold filled 0.8 x 2.8").metals == ("gold-filled-14-20",)
    assert only("5 glass beads 6mm red").metals == ()
    assert only("6 black silicone 1.6 x 5").colour_words == ("black",)


@pytest.mark.parametrize(
    ("text", "purpose"),
    [
        ("24 copper 1 x 4: petals", "petals"),
        ("24 copper 1 x 4 for the petals", "the petals"),
        ("Petals: 24 copper 1 x 4", "Petals"),
        ("1 x box for earrings", "earrings"),
    ],
)
def test_what_a_part_is_for_stands_after_a_colon_or_for(text: str, purpose: str) -> None:
    assert only(text).purpose == purpose


@pytest.mark.parametrize(
    "text", ["1 gift box (optional)", "optional 1 gift box", "1 gift box, optional", "optional: 1 gift box"]
)
def test_a_part_may_be_optional(text: str) -> None:
    line = only(text)
    assert line.optional
    assert line.name == "gift box"
    assert not line.purpose


def test_alternatives_on_one_line_are_a_choice() -> None:
    first, second, other = read_lines(
        "Blue: 24 blue niobium 0.8 x 2.8 | Green: 24 green niobium 0.8 x 2.8 for the petals\n1 ear wire"
    )
    assert (first.choice_group, first.choice_name, first.purpose) == ("choice 1", "Blue", "the petals")
    assert (second.choice_group, second.choice_name, second.purpose) == ("choice 1", "Green", "the petals")
    assert other.choice_group == ""


def test_alternatives_without_a_name_are_lettered_and_a_new_choice_takes_a_free_name() -> None:
    lines = read_lines("1 red bead | 1 blue bead: centre\n1 tag | 1 card", groups=("choice 1",))
    assert [line.choice_name for line in lines] == ["A", "B", "A", "B"]
    assert [line.choice_group for line in lines] == ["choice 2", "choice 2", "choice 3", "choice 3"]


@pytest.mark.parametrize("text", ["48 bronze 16ga x 1/4 in", "48 bronze 16g x 1/4 in", "48 bronze 16 gauge x 1/4"])
def test_a_gauge_without_its_system_is_asked_and_nothing_is_lost(text: str) -> None:
    line = read_line(text)
    assert line.gauge == "16"
    assert "16 AWG or 16 SWG" in line.fault
    assert (line.text, line.quantity_milli) == (text, 48_000)
    answered = only(with_gauge_system(text, line.gauge, "SWG"))
    assert answered.wire is not None
    assert answered.wire.nm == swg_nm(16)
    assert answered.inner is not None
    assert answered.inner.nm == QUARTER_INCH_NM


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("bronze 1.2 x 4.0", "How many?"),
        ("1.2 x 4.0 bronze", "How many?"),
        ("4 mm bead", "How many?"),
        ("asdf", "How many?"),
        ("0 ear wire", "above zero"),
        ("1e5 ear wire", "How many?"),
        ("48", "What is it?"),
        ("48 bronze 4.0 x 1.2", "thicker than its opening"),
        ("48 bronze 30 x 60", "20 mm"),
        ("20 g bronze 1.2 x 4.0", "counted"),
        ("2.5 ear wire", "whole number"),
        ("48 bronze rings", "both sizes"),
        ("999999999 ear wire", "more than"),
        ("1 " + "ear wire " * 60, "300 characters"),
    ],
)
def test_a_line_that_cannot_be_read_says_what_would_be_right_and_keeps_its_text(text: str, says: str) -> None:
    line = read_line(text)
    assert says in line.fault
    assert line.text == " ".join(text.split())


def test_blank_lines_say_nothing_and_too_many_lines_say_so() -> None:
    assert read_lines("\n  \n") == ()
    many = read_lines("1 ear wire\n" * (MOST_LINES + 5))
    assert len(many) == MOST_LINES + 1
    assert "200 lines" in many[-1].fault


@given(st.text(max_size=120))
def test_no_text_at_all_breaks_the_reading(text: str) -> None:
    for line in read_lines(text):
        assert line.fault or line.quantity_milli
        line.as_typed()


pieces = st.sampled_from(
    [
        "48",
        "1.2",
        "x",
        "4.0",
        "16",
        "ga",
        "SWG",
        "1/4",
        "in",
        "mm",
        "bronze",
        "blue",
        "chain",
        "wire",
        "m",
        "g",
        ":",
        "|",
        "for",
        "optional",
        "1 1/2",
        ",",
    ]
)


@given(st.lists(pieces, max_size=12))
def test_no_jumble_of_the_words_it_knows_breaks_the_reading(words: list[str]) -> None:
    for line in read_lines(" ".join(words)):
        assert line.fault or line.quantity_milli


sizes = st.tuples(st.integers(200_000, 3_000_000), st.integers(2_000_000, 6_000_000), st.integers(0, 999_999)).map(
    lambda three: (three[0], three[0] * 2 + three[1] // 2 + three[2])
)


rings = st.builds(
    lambda count, size, metal, colour, optional, purpose: PartDraft(
        quantity_milli=count * 1000,
        typed_kind="ring",
        typed_metal=metal,
        typed_colour=colour,
        typed_wire_nm=size[0],
        typed_inner_nm=size[1],
        optional=optional,
        purpose=purpose,
    ),
    st.integers(1, 100_000),
    sizes,
    st.sampled_from(sorted(METALS)),
    st.sampled_from(["", "blue", "dark green"]),
    st.booleans(),
    st.sampled_from(["", "the chain", "petals"]),
)


@given(rings)
def test_any_ring_written_as_a_line_reads_back_the_same(part: PartDraft) -> None:
    assert only(line_of(part)).as_typed() == part


PIECES = [
    "1 ", "1", "1 1/", "1, ", ",", "(", "silver ", "au ", "14 k ", "1 x ", "1x", "18 ga ", "awg 1 ", "1mm x ", "optional ", "for a ", "a|", "a: 1 b|",
    "\t", "1\t", "- ", " - 1", "1/2 in ", "1 wire ", "ar 1 ", "x", ". ", "\uFDFA", "\u338F ", "\u2460", "\u00A0", '" ', "bronze 1.2 x 4.0 ", "]", "#1 ",
]  # fmt: skip
"""What rules look for, to be said over and over: the worst that a line can be."""


@given(st.lists(st.sampled_from(PIECES), min_size=1, max_size=3).map("".join))
@example("1 ")
@example("1")
@example("a|")
def test_two_hundred_lines_of_anything_are_read_at_once(piece: str) -> None:
    whole = piece * (MOST_LINE_CHARACTERS // len(piece))
    lines = "\n".join(f"{number} {whole}"[:MOST_LINE_CHARACTERS] for number in range(MOST_LINES))
    began = process_time()
    found = read_lines(lines)
    assert process_time() - began < 1.5
    assert found


@pytest.mark.parametrize("piece", PIECES)
def test_a_line_as_long_as_a_file_is_read_at_once(piece: str) -> None:
    began = process_time()
    read_lines(piece * (1_000_000 // len(piece)))
    assert process_time() - began < 1.5


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("1 " + "w " * MOST_LINE_WORDS, "60 words"),
        ("1 " + "c\t" * (MOST_LINE_WORDS + 1), "60 words"),
        ("1 bead \ufdfa" + "\ufdfa" * 40, "60 words"),
        ("1 bead number 1234567890123", "12 digits"),
        ("1 " + "a" * MOST_LINE_CHARACTERS, "300 characters"),
        ("|".join(["1 bead"] * (MOST_ALTERNATIVES + 1)), "26 choices"),
    ],
)
def test_more_than_is_read_is_said_and_kept(line: str, words: str) -> None:
    (found,) = read_lines(line)
    assert words in found.fault
    assert found.text == " ".join(line.split())


def test_what_is_just_within_the_bounds_is_read() -> None:
    assert not read_line("1 " + " ".join(["word"] * (MOST_LINE_WORDS - 1))).fault
    assert not read_line("1 bead number 123456789012").fault
    assert len(read_lines("|".join(["1 bead"] * MOST_ALTERNATIVES))) == MOST_ALTERNATIVES
