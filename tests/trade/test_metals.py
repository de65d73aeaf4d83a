"""Metals: every one has a density with its source, words find them, and cautions are given without promises."""

import re
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.trade.metals import (
    ELEMENT_DENSITIES,
    METALS,
    Metal,
    alloy_density,
    cautions_for,
    match_metal,
    metal,
    names_metal,
)

OWN = Metal("own-shibuichi", "shibuichi 80/20", Decimal("9.2"), "weighed in the shop", "copper", "#8a7f78")


def test_every_metal_is_complete() -> None:
    assert len(METALS) >= 30
    for code, each in METALS.items():
        assert code == each.code
        assert code == code.lower().replace(" ", "-")
        assert isinstance(each.density, Decimal)
        assert Decimal("0.8") < each.density < Decimal(22)
        assert each.source
        assert each.name
        assert each.family
        assert len(each.tint) == 7
        int(each.tint[1:], 16)


def test_codes_of_the_trade_are_there() -> None:
    for code in (
        "copper",
        "brass-c260",
        "bronze-c220",
        "sterling-925",
        "stainless-304",
        "aluminium-5356",
        "titanium",
        "niobium",
        "rubber-epdm",
    ):
        assert metal(code).code == code


def test_names_codes_and_aliases_are_each_one_metal_only() -> None:
    seen: dict[str, str] = {}
    for each in METALS.values():
        for name in {each.code, each.name, *each.aliases}:
            assert seen.setdefault(name.lower(), each.code) == each.code, name


def test_every_name_in_full_finds_its_metal_and_nothing_else() -> None:
    for each in METALS.values():
        for name in (each.code, each.name, *each.aliases):
            assert match_metal(name) == [each], name
            assert match_metal(name.upper()) == [each], name


@pytest.mark.parametrize(
    ("words", "codes"),
    [
        ("bronze", {"bronze-c220", "bronze-c226", "phosphor-bronze-c510", "silicon-bronze-c655"}),
        ("sterling", {"sterling-925"}),
        ("alu", {"aluminium-1100", "aluminium-5052", "aluminium-5154", "aluminium-5356"}),
        ("aluminum", {"aluminium-1100", "aluminium-5052", "aluminium-5154", "aluminium-5356"}),
        ("ss", {"stainless-304", "stainless-302", "stainless-316"}),
        ("ss 316", {"stainless-316"}),
        ("copper", {"copper"}),
        ("rubber", {"rubber-epdm", "rubber-silicone", "rubber-natural"}),
        ("14 k gold filled", {"gold-filled-14-20"}),
        ("nickel silver 752", {"nickel-silver-c752"}),
        ("brass 260", {"brass-c260", "gold-filled-14-20", "silver-filled-1-10", "silver-filled-1-20"}),
        ("nickel silver 754", set()),
        ("unobtainium", set()),
        ("", set()),
        ("   ", set()),
        ("x" * 10_000, set()),
    ],
)
def test_words_find_the_metals_that_they_may_mean(words: str, codes: set[str]) -> None:
    assert {each.code for each in match_metal(words)} == codes


def test_a_plain_word_prefers_metals_whose_name_begins_with_it() -> None:
    assert match_metal("brass")[0].code == "brass-c260"
    assert match_metal("gold")[0].family == "gold"


def test_a_shops_own_metal_is_found_and_comes_first() -> None:
    assert match_metal("shibuichi", [OWN]) == [OWN]
    assert metal("own-shibuichi", {"own-shibuichi": OWN}) is OWN
    own_copper = Metal("copper", "copper", Decimal("8.9"), "weighed", "copper", "#c5754f")
    assert metal("copper", {"copper": own_copper}) is own_copper
    assert match_metal("copper", [own_copper])[0] is own_copper
    with pytest.raises(KeyError):
        metal("own-shibuichi")


def test_the_rule_of_mixtures_takes_elements_and_alloys() -> None:
    sterling = alloy_density({"Ag": Decimal("0.925"), "Cu": Decimal("0.075")})
    assert round(sterling, 4) == Decimal("10.3664")
    filled = alloy_density({"gold-14k-yellow": Decimal("0.05"), "brass-c260": Decimal("0.95")})
    assert round(filled, 5) == Decimal("8.68077")


@pytest.mark.parametrize(
    "parts",
    [
        {},
        {"Cu": Decimal("0.9")},
        {"Cu": Decimal("0.7"), "Zn": Decimal("0.31")},
        {"Cu": Decimal("1.1"), "Zn": Decimal("-0.1")},
        {"Cu": Decimal(1), "Zn": Decimal(0)},
    ],
)
def test_the_shares_of_an_alloy_are_above_zero_and_add_up_to_one(parts: dict[str, Decimal]) -> None:
    with pytest.raises(ValueError, match="add up to 1"):
        alloy_density(parts)


def test_an_unknown_part_of_an_alloy_raises() -> None:
    with pytest.raises(KeyError):
        alloy_density({"Xx": Decimal(1)})


@given(
    st.sampled_from(sorted(ELEMENT_DENSITIES)),
    st.sampled_from(sorted(ELEMENT_DENSITIES)),
    st.decimals("0.001", "0.999", places=3),
)
def test_a_mixture_lies_between_its_parts(first: str, second: str, share: Decimal) -> None:
    if first == second:
        return
    low, high = sorted((ELEMENT_DENSITIES[first], ELEMENT_DENSITIES[second]))
    assert low <= alloy_density({first: share, second: 1 - share}) <= high


def test_cautions_come_once_and_defer_to_local_law() -> None:
    told = cautions_for(["titanium", "nickel-silver-c752", "nickel-silver-c770", "sterling-925", "stainless-304"])
    assert len(told) == len(set(told))
    text = " ".join(told)
    for topic in ("Titanium", "Nickel", "Lead", "Precious"):
        assert topic in text
    assert "check your local law" in text.lower()


def test_no_caution_claims_that_a_piece_complies() -> None:
    text = " ".join(cautions_for(METALS)).lower()
    for claim in ("complies", "compliant", "is safe", "safe for", "nickel-free", "lead-free", "hypoallergenic"):
        assert claim not in text


def test_a_metal_without_a_caution_has_none() -> None:
    assert cautions_for(["niobium", "aluminium-5356"]) == []
    assert cautions_for([]) == []
    with pytest.raises(KeyError):
        cautions_for(["unobtainium"])


def test_notes_say_what_a_name_hides() -> None:
    assert any("18 % nickel and no silver" in note for note in METALS["nickel-silver-c752"].notes)
    assert any("burn" in note for note in METALS["titanium"].notes)
    assert any("brass" in note for note in METALS["bronze-c220"].notes)
    assert all(each.weigh_first for each in METALS.values() if each.family == "rubber")
    assert not any(each.weigh_first for each in METALS.values() if each.family != "rubber")
    assert {each.family for each in METALS.values() if each.precious} == {"silver", "gold", "platinum"}


PARTS = sorted({part for each in METALS.values() for name in (each.code, each.name, *each.aliases) for part in re.findall(r"[a-z0-9./]+", name.lower())})  # fmt: skip
beginnings = st.sampled_from(PARTS).flatmap(
    lambda part: st.integers(1, len(part)).map(lambda length: part[:length])
) | st.sampled_from(["14 k", "260", "c260", "k", "zzz", "'copper'"])


@given(st.lists(beginnings, min_size=1, max_size=4).map(" ".join), st.booleans())
def test_a_metal_is_found_by_the_beginnings_of_its_words_as_if_each_were_tried(words: str, ours: bool) -> None:
    def said(text: str) -> list[str]:
        return re.findall(r"[a-z0-9./]+", re.sub(r"\b(\d+) k\b", r"\1k", text.lower().replace("'", "")))

    def names(each: Metal) -> list[list[str]]:
        return [said(name) for name in (each.code, each.name, *each.aliases)]

    def begins(word: str, each: Metal) -> bool:
        return any(
            part.startswith(word) or (part == f"c{word}" and word.isdigit()) for name in names(each) for part in name
        )

    own = (OWN,) if ours else ()
    known = [*own, *METALS.values()]
    certain = [each.code for each in known if said(words) in names(each)]
    possible = [each.code for each in known if all(begins(word, each) for word in said(words))]
    found = [each.code for each in match_metal(words, own)]
    assert sorted(found) == sorted(certain[:1] or possible)
    assert names_metal(words) == bool(match_metal(words))
