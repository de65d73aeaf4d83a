"""The usual cautions of the bench: the right ones for the work and the metal, and never a promise."""

from __future__ import annotations

import re

import pytest

from models.trade.metals import metal
from models.trade.workshop import CHECK_LOCALLY, workshop_cautions

WORKS = ("coil", "saw", "cut", "tumble", "anodise", "dye", "patina", "pickle", "heat", "other")


def test_sawing_titanium_warns_of_burning_dust_first() -> None:
    found = workshop_cautions(("coil", "saw"), (metal("titanium"),))
    assert found[0].startswith("Fine chips and dust of titanium burn")
    assert any("eye protection" in line for line in found)
    assert not any("burn:" in line for line in workshop_cautions(("saw",), (metal("copper"),)))
    assert "beryllium" in workshop_cautions(("saw",), (metal("silicon-bronze-c655"),))[0]
    assert not any("beryllium" in line for line in workshop_cautions(("saw",), (metal("copper"),)))
    assert not any("burn:" in line for line in workshop_cautions(("anodise",), (metal("titanium"),)))


def test_anodising_warns_of_shock_and_acid() -> None:
    words = " ".join(workshop_cautions(("anodise",), (metal("niobium"),)))
    assert "Electric shock" in words
    assert "Add acid to water" in words


def test_heating_zinc_coated_steel_says_what_its_fumes_do() -> None:
    words = " ".join(workshop_cautions(("heat",), (metal("galvanised-steel"),)))
    assert "Zinc fumes are harmful" in words


@pytest.mark.parametrize("work", WORKS)
def test_every_kind_of_work_has_cautions_and_none_promises_anything(work: str) -> None:
    lines = workshop_cautions((work,))
    assert lines
    assert len(set(lines)) == len(lines)
    assert not re.search(r"complies|is safe|approved", " ".join(lines))


def test_the_closing_words_defer_to_local_law() -> None:
    assert "local law" in CHECK_LOCALLY
    assert "licensed person" in CHECK_LOCALLY
    with pytest.raises(KeyError):
        workshop_cautions(("juggle",))
