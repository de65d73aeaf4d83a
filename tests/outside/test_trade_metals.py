"""Densities against the outside world: elements, alloys, and where the rule of mixtures may be trusted."""

from decimal import Decimal

import periodictable
import pytest

from models.trade.metals import ELEMENT_DENSITIES, METALS, alloy_density


@pytest.mark.parametrize("symbol", sorted(ELEMENT_DENSITIES))
def test_elements_agree_with_the_periodictable_library(symbol: str) -> None:
    # Source: periodictable; on tantalum it prints 16.654 where another element library prints 16.4.
    published = getattr(periodictable, symbol).density
    assert float(ELEMENT_DENSITIES[symbol]) == pytest.approx(published, rel=0.007)


@pytest.mark.parametrize(
    ("code", "symbol"),
    [
        ("copper", "Cu"),
        ("titanium", "Ti"),
        ("niobium", "Nb"),
        ("tantalum", "Ta"),
        ("fine-silver", "Ag"),
        ("fine-gold", "Au"),
        ("platinum", "Pt"),
        ("palladium", "Pd"),
    ],
)
def test_pure_metals_are_their_elements(code: str, symbol: str) -> None:
    # Source: periodictable.
    assert float(METALS[code].density) == pytest.approx(getattr(periodictable, symbol).density, rel=0.007)
    assert METALS[code].density == ELEMENT_DENSITIES[symbol]


@pytest.mark.parametrize(
    ("code", "density"),
    [
        # Source: Kissell & Ferry, Aluminum Structures, Table 4.3 (nominal densities).
        ("aluminium-1100", "2.71"),
        ("aluminium-5052", "2.68"),
        ("aluminium-5154", "2.66"),
        ("aluminium-5356", "2.64"),
        # Source: published data sheets, 0.308 lb/in3.
        ("brass-c260", "8.53"),
        ("silicon-bronze-c655", "8.53"),
        # Source: from memory of Copper Development Association data.
        ("copper-c110", "8.94"),
        ("brass-c230", "8.75"),
        ("bronze-c220", "8.80"),
        ("bronze-c226", "8.78"),
        ("phosphor-bronze-c510", "8.86"),
        ("nickel-silver-c752", "8.73"),
        ("nickel-silver-c770", "8.70"),
        # Source: from memory of EN 10088-1 and data sheets.
        ("stainless-302", "7.93"),
        ("stainless-304", "7.93"),
        ("stainless-316", "7.98"),
        # Source: from memory of EN 1991-1-1.
        ("mild-steel", "7.85"),
        # Source: from memory of data sheets of precious metals.
        ("sterling-925", "10.36"),
        ("coin-silver-900", "10.31"),
        ("gold-14k-yellow", "13.07"),
        ("gold-18k-yellow", "15.5"),
    ],
)
def test_alloys_have_their_standard_densities(code: str, density: str) -> None:
    assert METALS[code].density == Decimal(density)


@pytest.mark.parametrize(
    ("code", "pounds_per_cubic_inch"),
    [("brass-c260", "0.308"), ("silicon-bronze-c655", "0.308"), ("phosphor-bronze-c510", "0.320")],
)
def test_copper_alloys_agree_with_their_pounds_per_cubic_inch(code: str, pounds_per_cubic_inch: str) -> None:
    # Source: published data sheets; for C510 from memory. One lb/in3 is 453.59237 g / 16.387064 cm3.
    density = Decimal(pounds_per_cubic_inch) * Decimal("453.59237") / Decimal("16.387064")
    assert abs(METALS[code].density - density) < Decimal("0.014")


def of(text: str) -> dict[str, Decimal]:
    """'Cu 70 Zn 30' as mass fractions."""
    words = text.split()
    return {symbol: Decimal(share) / 100 for symbol, share in zip(words[::2], words[1::2], strict=True)}


@pytest.mark.parametrize(
    ("code", "composition", "mixture"),
    [
        # Source: nominal compositions (from memory of the alloy designations); mixtures worked out with another program, which
        # took zinc as 7.134 and nickel as 8.902; 7.13 and 8.90 move the third decimal by up to 2.
        ("sterling-925", "Ag 92.5 Cu 7.5", "10.3664"),
        ("coin-silver-900", "Ag 90 Cu 10", "10.3226"),
        ("silver-935-germanium", "Ag 93.5 Cu 5.3 Ge 1.2", "10.2862"),
        ("brass-c260", "Cu 70 Zn 30", "8.321"),
        ("brass-c230", "Cu 85 Zn 15", "8.6287"),
        ("bronze-c220", "Cu 90 Zn 10", "8.7364"),
        ("phosphor-bronze-c510", "Cu 94.8 Sn 5 P 0.2", "8.7901"),
        ("nickel-silver-c752", "Cu 65 Ni 18 Zn 17", "8.5767"),
    ],
)
def test_the_rule_of_mixtures_gives_the_worked_values(code: str, composition: str, mixture: str) -> None:
    assert abs(alloy_density(of(composition)) - Decimal(mixture)) < Decimal("0.002")


@pytest.mark.parametrize(
    ("code", "composition", "low_per_cent", "high_per_cent"),
    [
        # Source: the standard densities above; the rule is good for sterling and for aluminium, low for the rest.
        ("sterling-925", "Ag 92.5 Cu 7.5", "-0.1", "0.1"),
        ("aluminium-5356", "Al 94.75 Mg 5.0 Mn 0.125 Cr 0.125", "-0.6", "0.6"),
        ("brass-c260", "Cu 70 Zn 30", "-3.7", "-0.7"),
        ("brass-c230", "Cu 85 Zn 15", "-3.7", "-0.7"),
        ("bronze-c220", "Cu 90 Zn 10", "-3.7", "-0.7"),
        ("silicon-bronze-c655", "Cu 97 Si 3", "-3.7", "-0.7"),
        ("phosphor-bronze-c510", "Cu 94.8 Sn 5 P 0.2", "-3.7", "-0.7"),
        ("nickel-silver-c752", "Cu 65 Ni 18 Zn 17", "-3.7", "-0.7"),
        ("stainless-304", "Fe 72 Cr 19 Ni 9", "-3.7", "-0.7"),
        ("stainless-316", "Fe 68.5 Cr 17 Ni 12 Mo 2.5", "-3.7", "-0.7"),
    ],
)
def test_the_rule_of_mixtures_is_only_trusted_where_it_holds(
    code: str, composition: str, low_per_cent: str, high_per_cent: str
) -> None:
    off = (alloy_density(of(composition)) / METALS[code].density - 1) * 100
    assert Decimal(low_per_cent) <= off <= Decimal(high_per_cent)


@pytest.mark.parametrize(
    ("code", "parts", "worked"),
    [
        # Source: worked out with another program; on a C230 core 14/20 would be 8.89704.
        ("gold-filled-14-20", {"gold-14k-yellow": "0.05", "brass-c260": "0.95"}, "8.68077"),
        ("silver-filled-1-10", {"sterling-925": "0.1", "brass-c260": "0.9"}, "8.68338"),
        ("silver-filled-1-20", {"sterling-925": "0.05", "brass-c260": "0.95"}, "8.60601"),
    ],
)
def test_filled_metals_are_layers_and_do_mix_by_the_rule(code: str, parts: dict[str, str], worked: str) -> None:
    mixed = alloy_density({part: Decimal(share) for part, share in parts.items()})
    assert abs(mixed - Decimal(worked)) < Decimal("0.000006")
    assert abs(METALS[code].density - mixed) < Decimal("0.005")


def test_galvanised_wire_is_steel_with_a_skin_of_zinc() -> None:
    # Source: area-weighted by hand, 20 um of zinc (7.14) on 7.85 steel, 1.6 mm finished: 7.8149.
    core = (Decimal("1.56") / Decimal("1.6")) ** 2
    weighed = core * Decimal("7.85") + (1 - core) * Decimal("7.14")
    assert abs(weighed - Decimal("7.8149")) < Decimal("0.0001")
    assert abs(METALS["galvanised-steel"].density - weighed) < Decimal("0.006")


@pytest.mark.parametrize(
    ("code", "low", "high"),
    [("rubber-epdm", "1.10", "1.40"), ("rubber-silicone", "1.10", "1.25"), ("rubber-natural", "0.92", "1.10")],
)
def test_rubbers_are_mid_values_that_say_so(code: str, low: str, high: str) -> None:
    # Source: from memory of polymer handbooks.
    assert Decimal(low) <= METALS[code].density <= Decimal(high)
    assert "mid value" in METALS[code].source
    assert any("Weigh" in note for note in METALS[code].notes)
