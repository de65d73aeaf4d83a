"""Outlets as handed in: by a form, a JSON body or a line of a file, with the same words for what is wrong."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.costing.prices import Price, price_outlet
from models.intake.costing.outlet import (
    MOST_FEES,
    NOTHING,
    OUTLET_COLUMNS,
    FeeDraft,
    OutletDraft,
    outlet_input,
    read_outlet,
    read_outlet_row,
)
from models.intake.csv_file import Sheet, read_csv, write_csv
from models.intake.faults import Faults


def raw(**changes: object) -> dict[str, object]:
    return {"name": "Own web shop", "kind": "online", "prices_include_tax": "yes"} | changes


def fee(percent: str = "", base: str = "price", fixed: str = "", label: str = "Commission") -> dict[str, str]:
    return {"label": label, "percent": percent, "base": base, "fixed": fixed}


def faults(**changes: object) -> dict[str, str]:
    found = read_outlet(raw(**changes))
    assert isinstance(found, Faults), found
    return found.by_field()


def outlet(**changes: object) -> OutletDraft:
    found = read_outlet(raw(**changes))
    assert isinstance(found, OutletDraft), found
    return found


def test_an_outlet_needs_only_a_name_and_a_kind() -> None:
    assert outlet() == OutletDraft(
        "Own web shop",
        "online",
        Decimal(0),
        True,
        Decimal(0),
        Decimal(0),
        (),
        Decimal(0),
        1,
        None,
        None,
        Decimal(2),
        "",
        "",
    )


def test_an_empty_row_of_fees_is_no_fee_and_keeps_the_places_of_the_others() -> None:
    rows = [fee(label=""), fee("6.5")]
    assert outlet(fees=rows).fees == (FeeDraft("Commission", Decimal("6.5"), "price", Decimal(0)),)
    assert list(faults(fees=[fee(label=""), fee("6.5", label="")])) == ["fees.1.label"]


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("name", "", "name"),
        ("kind", "", "online"),
        ("kind", "auction", "online"),
        ("tax_percent", "101", "at most 100"),
        ("tax_percent", "-1", "negative"),
        ("shipping_charged", "free", "number"),
        ("postage_paid", "-2", "too small"),
        ("period_sales", "0", "1 or more"),
        ("wanted_margin_percent", "100", "under 100"),
        ("wanted_wage", "lots", "number"),
        ("retail_multiple", "0.5", "1 or more"),
        ("ending", "x.42", "any"),
        ("fees", "6.5", "list"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(field: str, typed: str, says: str) -> None:
    found = faults(**{field: typed})
    assert list(found) == [field]
    assert says in found[field]


def test_fees_of_a_hundred_per_cent_are_refused_beside_the_last_of_them() -> None:
    found = faults(fees=[fee("60"), fee("40", base="price+shipping+tax"), fee(fixed="0.20", label="Payment")])
    assert list(found) == ["fees.1.percent"]
    assert "100 % together" in found["fees.1.percent"]


def test_fees_that_take_the_whole_price_once_the_tax_is_paid_are_refused() -> None:
    # A fee of 85 % of a price that holds 20 % tax is 102 % of what the maker sees of it.
    found = faults(tax_percent="20", fees=[fee("85")])
    assert list(found) == ["fees.0.percent"]
    assert "102 %" in found["fees.0.percent"]
    assert isinstance(read_outlet(raw(tax_percent="20", fees=[fee("83")])), OutletDraft)


def test_a_margin_that_the_fees_leave_no_room_for_is_refused_beside_the_margin() -> None:
    found = faults(wanted_margin_percent="60", fees=[fee("40")])
    assert list(found) == ["wanted_margin_percent"]


def test_an_outlet_has_a_limit_of_fees() -> None:
    assert list(faults(fees=[fee("1")] * (MOST_FEES + 1))) == [f"fees.{MOST_FEES}.label"]
    assert len(outlet(fees=[fee("1")] * MOST_FEES).fees) == MOST_FEES


percents = st.decimals(min_value=0, max_value=60, places=2)


@given(
    percents,
    percents,
    st.decimals(min_value=0, max_value=40, places=1),
    st.booleans(),
    st.sampled_from(["price", "price+shipping", "price+shipping+tax"]),
)
def test_an_outlet_that_is_taken_always_has_a_break_even_price(
    first: Decimal, second: Decimal, tax: Decimal, included: bool, base: str
) -> None:
    body = raw(tax_percent=tax, prices_include_tax=included, fees=[fee(str(first)), fee(str(second), base=base)])
    found = read_outlet(body)
    if isinstance(found, OutletDraft):
        assert isinstance(price_outlet(NOTHING, outlet_input(found, code="x"), currency="EUR").break_even, Price)
    else:
        rate = 1 + tax / 100
        taken = (first + second) * (rate if included or base == "price+shipping+tax" else 1)
        assert taken >= 100 or first + second >= 100


def test_a_line_of_a_file_is_read_with_the_names_of_its_columns() -> None:
    row = {
        "name": "Fair",
        "kind": "market",
        "period_fee": "60",
        "period_sales": "15",
        "fee_2_label": "Card",
        "fee_2_percent": "1.7",
    }
    found = read_outlet_row(row)
    assert isinstance(found, OutletDraft)
    assert found.fees == (FeeDraft("Card", Decimal("1.7"), "price", Decimal(0)),)
    assert found.prices_include_tax
    wrong = read_outlet_row(row | {"fee_2_percent": "lots", "fee_4_fixed": "1"})
    assert isinstance(wrong, Faults)
    assert set(wrong.by_field()) == {"fee_2_percent", "fee_4_label"}


money = st.decimals(min_value=0, max_value=10_000, places=6)
fees = st.builds(
    FeeDraft,
    st.text("abc =-+@';,\"", min_size=1).map(lambda text: f"f{text}".strip()),
    st.decimals(min_value=0, max_value=5, places=3),
    st.sampled_from(["price", "price+shipping", "price+shipping+tax"]),
    money,
)
outlets = st.builds(
    OutletDraft,
    name=st.text("abc =-+@';,\"", min_size=1, max_size=20).map(lambda text: f"{text}x".strip()),
    kind=st.sampled_from(["online", "market", "consignment", "wholesale", "direct"]),
    tax_percent=st.decimals(min_value=0, max_value=30, places=2),
    prices_include_tax=st.booleans(),
    shipping_charged=money,
    postage_paid=money,
    fees=st.lists(fees, max_size=3).map(tuple),
    period_fee=money,
    period_sales=st.integers(1, 1000),
    wanted_margin_percent=st.none() | st.decimals(min_value=0, max_value=40, places=1),
    wanted_wage=st.none() | money,
    retail_multiple=st.decimals(min_value=1, max_value=20, places=2),
    ending=st.sampled_from(["", "any", "x.90", "5"]),
    note=st.sampled_from(["", "two\nlines", "=SUM(A1)", "-", "'+", "a;b,c\"d"]),
)  # fmt: skip


@given(outlets, st.sampled_from([",", ";"]))
def test_any_outlet_written_to_a_file_reads_back_the_same(draft: OutletDraft, delimiter: str) -> None:
    line: dict[str, object] = {column.name: getattr(draft, column.name, None) for column in OUTLET_COLUMNS}
    for number, one in enumerate(draft.fees, start=1):
        line |= {f"fee_{number}_label": one.label, f"fee_{number}_percent": one.percent}
        line |= {f"fee_{number}_base": one.base, f"fee_{number}_fixed": one.fixed}
    text = write_csv([column.name for column in OUTLET_COLUMNS], [line], delimiter=delimiter)
    sheet = read_csv(text.encode(), OUTLET_COLUMNS)
    assert isinstance(sheet, Sheet)
    assert read_outlet_row(dict(sheet.rows[0].cells)) == draft
