"""What a maker is told to look at, with the reason and the offer."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from models.layouts.engine.attach import Attachment, Selection
from models.layouts.engine.chain_weaves import ONE
from models.layouts.engine.chains import Chain, Stretch
from models.layouts.engine.checks import Check, check
from models.layouts.engine.edits import drop_rings
from models.layouts.engine.items import Item, items_of
from models.layouts.engine.links import net_of
from models.layouts.engine.patterns import checks as checked
from models.layouts.engine.piece import difference, work_out, work_out_chain
from models.layouts.engine.rows import GAP, Layout, Row
from models.layouts.engine.shapes import lozenge, rectangle
from models.layouts.engine.through import how_many_hang, least_opening_nm, squeezed
from models.layouts.weaves.sheets import EUROPEAN_4, EUROPEAN_6, JAPANESE_12
from models.trade.rings import RingSize
from models.trade.weaves import Band, FitNote
from tests.layouts.layouts import BLUE, BRONZE, CHAIN, ITEMS, LARGE, SIZE, rect, rows_of, sheet


def found(layout: Layout, kind: str, **more: object) -> list[Check]:
    items = more.pop("items", ITEMS)
    return [each for each in check(net_of(layout), items, layout=layout, **more) if each.kind == kind]  # type: ignore[arg-type]


def with_hung(*attachments: Attachment, rows: int = 3) -> Layout:
    return Layout(EUROPEAN_4, sheet(lozenge(EUROPEAN_4, rows, "a")).rows, attachments)


def test_a_lozenge_is_sound() -> None:
    assert check(net_of(with_hung()), ITEMS, layout=with_hung()) == ()


def test_corners_of_a_rectangle_hang_by_one_link_and_may_be_dropped() -> None:
    layout = rect(4, 5)
    (only,) = found(layout, "few links")
    net = net_of(layout)
    assert [net.names[index] for index in only.rings] == ["1.1", "4.5"]
    assert (only.level, only.offer) == ("warning", "drop")
    assert only.words == "Rings 1.1, 4.5 pass through only one other ring. Drop them, or add what holds them."
    dropped = drop_rings(layout, ["1.1", "4.5"])
    assert isinstance(dropped, Layout)
    assert found(dropped, "few links") == []


def test_a_ring_that_links_nothing_is_told_apart() -> None:
    layout = Layout(EUROPEAN_4, (Row(0, ("a",)), Row(1, ("a",) + (GAP,) * 4 + ("a",))))
    words = [each.words for each in found(layout, "few links")]
    assert words[0].startswith("Ring 2.6 passes through no other ring. Drop it")


def test_many_rings_are_counted_rather_than_named() -> None:
    (only,) = found(Layout(EUROPEAN_4, rows_of((0, 9))), "few links")
    assert only.words.startswith("9 rings pass")


def test_ties_to_a_chain_are_exempt_and_hung_rings_only_noted() -> None:
    tied = with_hung(Attachment("tie", "join", Selection("first row"), ring="b", finding="f"))
    assert found(tied, "few links") == []
    fringe = with_hung(Attachment("fringe", "hang", Selection("last row"), ring="b", each=2))
    (only,) = found(fringe, "few links")
    assert only.level == "note"
    assert only.words.startswith("2 rings hang by one link")


def test_findings_count_as_links() -> None:
    single = Layout(
        EUROPEAN_4, rows_of((0, 1), (1, 1)), (Attachment("b", "bail", Selection("every ring"), finding="f"),)
    )
    assert found(single, "few links") == []


def test_a_row_that_does_not_nest_is_named_with_an_offer() -> None:
    layout = Layout(EUROPEAN_4, rows_of((0, 3), (0, 3), (1, 3)))
    (only,) = found(layout, "does not nest")
    assert (only.row, only.offer, len(only.rings)) == (2, "nest", 3)
    assert found(Layout(EUROPEAN_6, rows_of((0, 3), (0, 3))), "does not nest") == []


def test_a_row_that_hangs_on_nothing_is_named() -> None:
    layout = Layout(EUROPEAN_4, rows_of((0, 3), (11, 3)))
    (only,) = found(layout, "loose row")
    assert "fall apart" in only.words


def test_two_linked_rings_that_never_open_are_found() -> None:
    soldered = {**ITEMS, "a": Item("a", "soldered bronze", SIZE, opens=False)}
    (only,) = found(with_hung(), "never opens", items=soldered)
    assert "12 times" in only.words
    mixed = checked(rect(3, 3), ["a", "b"], rows=1, rings=9)
    assert isinstance(mixed, Layout)
    assert found(mixed, "never opens", items=soldered) == []
    solid = {**soldered, "f": Item("f", "cast bail", finding=True, opens=False)}
    bailed = with_hung(Attachment("b", "bail", Selection("first row"), finding="f"))
    words = [each.words for each in found(bailed, "never opens", items=solid)]
    assert any("cast bail" in each and "soldered bronze" in each for each in words)


def test_a_gathering_ring_that_is_too_small_for_its_rings() -> None:
    many = Layout(
        EUROPEAN_4,
        rect(3, 20).rows,
        (
            Attachment("h", "hang", Selection("last row"), ring="b"),
            Attachment("g", "gather", Selection("attachment", of="h"), ring="c"),
        ),
    )
    # 15 rings of 1 mm hang side by side inside 6 mm: floor(pi / asin(1 / 5)).
    (only,) = found(many, "too small")
    assert only.level == "note"
    assert "15 rings hang side by side" in only.words
    tight = {**ITEMS, "c": Item("c", "small gather", RingSize(1_000_000, 4_000_000))}
    (warned,) = found(many, "too small", items=tight)
    assert warned.level == "warning"
    assert warned.words.startswith("20 wires do not pass through small gather")


def test_a_ring_that_does_not_go_round_a_wire() -> None:
    thick = {**ITEMS, "c": Item("c", "heavy ring", RingSize(4_000_000, 12_000_000))}
    layout = with_hung(Attachment("h", "hang", Selection("first row"), ring="c"))
    words = [each.words for each in found(layout, "too small", items=thick)]
    assert any("bronze does not go round the wire of heavy ring" in each for each in words)
    assert any("A wire of 4.0 mm does not pass through bronze" in each for each in words)


def test_a_chain_that_does_not_pass_through_its_ring() -> None:
    wide = {**ITEMS, "f": Item("f", "cable chain", finding=True, width_nm=4_200_000, thick_nm=900_000)}
    layout = with_hung(Attachment("j", "join", Selection("first row"), ring="b", finding="f"))
    (only,) = found(layout, "too small", items=wide)
    assert "4.2 mm wide at its widest and the opening is 4.0 mm" in only.words
    assert found(layout, "too small") == []


def test_crowded_host_rings_are_noted_before_they_are_impossible() -> None:
    crowded = with_hung(Attachment("h", "hang", Selection("first row"), ring="c", each=9))
    # 2 wires of 1.0 mm and 9 of 1.2 mm: eleven of the thin ones would fit, eleven of the thick ones would not.
    (only,) = found(crowded, "too small")
    assert only.level == "note"
    assert only.words.startswith("11 wires may be too many for bronze")
    assert least_opening_nm(11, 1_000_000) < 4_000_000 < least_opening_nm(12, 1_000_000)


def test_how_many_hang_and_the_area_bound_past_the_known_packings() -> None:
    assert how_many_hang(RingSize(1_000_000, 5_000_000), RingSize(1_000_000, 4_000_000)) == 12
    assert how_many_hang(RingSize(1_000_000, 5_000_000), RingSize(1_000_000, 1_000_000)) == 0
    assert least_opening_nm(16, 1_000_000) == 4_000_000
    assert list(squeezed(LARGE, LARGE.size or SIZE, [])) == []


def test_aspect_ratios_outside_the_range_are_warned_of_with_the_reason() -> None:
    small = {**ITEMS, "a": Item("a", "tight bronze", RingSize(1_000_000, 2_900_000))}
    (only,) = found(with_hung(), "ratio", items=small)
    assert only.level == "warning"
    assert "too small for European 4-in-1" in only.words
    tight = {**ITEMS, "a": Item("a", "snug bronze", RingSize(1_000_000, 3_200_000))}
    assert [each.level for each in found(with_hung(), "ratio", items=tight)] == ["note"]
    own = Band(Decimal("2.5"), Decimal("2.7"), Decimal("4"), Decimal("5"))
    assert found(with_hung(), "ratio", items=small, band=own) == []
    record = FitNote(EUROPEAN_4, RingSize(1_000_000, 2_900_000), "comfortable", "Worked well.")
    assert found(with_hung(), "ratio", items=small, records=[record]) == []


def test_a_hub_weave_is_judged_by_hub_over_connecting_wire() -> None:
    layout = sheet(rectangle(JAPANESE_12, 2, 3, "a"), JAPANESE_12)
    items = items_of(
        [Item("a", "hub", RingSize(1_500_000, 6_000_000)), Item("c", "joiner", RingSize(1_000_000, 4_000_000))]
    )
    assert found(layout, "ratio", items=items) == []
    narrow = items_of(
        [Item("a", "hub", RingSize(1_500_000, 6_000_000)), Item("c", "joiner", RingSize(1_500_000, 6_000_000))]
    )
    assert [each.level for each in found(layout, "ratio", items=narrow)] == ["warning"]


def test_a_colour_whose_single_lots_are_too_small() -> None:
    layout = checked(rect(6, 6), ["a", "b"])
    assert isinstance(layout, Layout)
    (only,) = found(layout, "one lot", lots={"b": [10, 12], "a": [1]})
    assert "takes 18 of blue niobium, and the largest single lot holds 12" in only.words
    assert "All lots together hold 22." in only.words
    assert only.item == "b"
    assert found(layout, "one lot", lots={"b": [18]}) == []
    assert found(layout, "one lot") == []
    (none,) = found(layout, "one lot", lots={"b": []})
    assert "hold 0 only" in none.words


def test_a_chain_is_checked_too() -> None:
    worked = work_out_chain(Chain(ONE, (Stretch(5, ("a",)),)), ITEMS)
    (few,) = [each for each in worked.checks if each.kind == "few links"]
    assert [worked.net.names[index] for index in few.rings] == ["1", "5"]
    assert few.words == "Rings 1, 5 pass through only one other ring. Add a clasp, or what else holds them."
    assert few.offer == ""


def test_a_gathering_ring_through_one_ring_is_named_by_what_it_is() -> None:
    alone = with_hung(Attachment("neck ring", "gather", Selection("first row", every=9), ring="c"))
    (only,) = found(alone, "few links")
    assert only.words == "“neck ring” goes through only one ring. Take it away, or hang something on it."
    assert only.offer == "drop"


def test_everything_of_a_piece_in_one_go() -> None:
    worked = work_out(with_hung(), ITEMS, lots={"b": [3]})
    assert worked.net.counts == {"a": 9}
    assert worked.totals.rings == 9
    assert worked.checks == ()
    assert work_out(with_hung(), {}).size.source == "measure"
    assert {BRONZE.key, BLUE.key, CHAIN.key} <= set(ITEMS)


@pytest.mark.parametrize("weave", ["knit", ""])
def test_a_weave_without_a_window_is_not_judged(weave: str) -> None:
    net = net_of(rect(2, 2))
    assert [each for each in check(net, ITEMS, weave=weave) if each.kind == "ratio"] == []


def test_the_layout_modules_import_nothing_but_the_trade() -> None:
    folder = Path(__file__).parents[3] / "models" / "trade" / "layout"
    for module in folder.glob("*.py"):
        for line in module.read_text().splitlines():
            if line.startswith(("import ", "from ")):
                word = line.split()[1].split(".")[0]
                assert word in {
                    "__future__", "bisect", "collections", "dataclasses", "decimal", "functools", "html", "itertools", "math",
                    "models", "re", "typing",
                }, f"{module.name}: {line}"  # fmt: skip
                assert word != "models" or line.split()[1].startswith("models.trade"), line


def test_a_changed_piece_says_what_differs() -> None:
    before = work_out(rect(4, 4), ITEMS)
    changed = checked(rect(4, 5), ["a", "b"])
    assert isinstance(changed, Layout)
    found = difference(before, work_out(changed, ITEMS), ITEMS)
    assert [(each.label, each.before, each.after) for each in found.items] == [
        ("bronze", 16, 10),
        ("blue niobium", 0, 10),
    ]
    assert float(found.mass_g) == pytest.approx(10 * float(BLUE.one_mass_g or 0) - 6 * float(BRONZE.one_mass_g or 0))
    assert float(found.wire_mm) == pytest.approx(4 * 15.70796, rel=1e-6)
    assert difference(before, before, ITEMS).items == ()
