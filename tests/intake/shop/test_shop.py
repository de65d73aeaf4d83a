"""What is handed in about the shop: read the same from a form and from JSON, and refused in words beside the field."""

from decimal import Decimal

import pytest

from models.intake.faults import Faults
from models.intake.shop.shop import Founding, SettingsDraft, read_founding, read_settings

GOOD = {
    "name": "Test bench",
    "currency": "eur",
    "locale": "de-AT",
    "time_zone": "Europe/Vienna",
    "length_unit": "in",
    "gauge_system": "SWG",
    "wage_per_hour": "18,50",
    "overhead_mode": "percent",
    "overhead_per_hour": "",
    "overhead_percent": "12,5 %",
    "allowance_percent": "3",
    "learning_percent": "90",
    "wanted_margin_percent": "30",
    "ending": "x.90",
    "one_price": "yes",
    "once_pieces": "12",
    "kerf": "1/64 in",
    "near": "0.03 mm",
}


def settings(**changes: object) -> SettingsDraft:
    found = read_settings(GOOD | changes)
    assert isinstance(found, SettingsDraft), found
    return found


def faults(**changes: object) -> dict[str, str]:
    found = read_settings(GOOD | changes)
    assert isinstance(found, Faults)
    return found.by_field()


def test_settings_are_read_as_people_type_them() -> None:
    draft = settings()
    assert draft.currency == "EUR"
    assert draft.locale == "de_AT"
    assert draft.wage_per_hour == Decimal("18.50")
    assert draft.overhead_percent == Decimal("12.5")
    assert draft.overhead_per_hour == 0
    assert draft.kerf_nm == 396_875
    assert draft.near_nm == 30_000
    assert draft.one_price is True


def test_json_says_the_same_as_a_form() -> None:
    body = GOOD | {"wage_per_hour": Decimal("18.50"), "once_pieces": 12, "one_price": True, "near": Decimal("0.03")}
    assert read_settings(body) == settings()


def test_a_box_that_is_not_ticked_is_no() -> None:
    assert read_settings({key: value for key, value in GOOD.items() if key != "one_price"}) == settings(one_price="no")


def test_a_bare_size_is_in_the_unit_of_the_shop() -> None:
    found = read_settings(GOOD | {"kerf": "0.01"}, length_unit="in")
    assert isinstance(found, SettingsDraft)
    assert found.kerf_nm == 254_000


@pytest.mark.parametrize(
    ("field", "typed", "says"),
    [
        ("name", "", "name"),
        ("name", "x" * 81, "80"),
        ("currency", "", "Choose the currency"),
        ("currency", "EURO", "ISO 4217"),
        ("currency", "XAU", "ISO 4217"),
        ("locale", "xx_yy", "en_GB"),
        ("locale", "../../etc", "en_GB"),
        ("time_zone", "Mars/Olympus", "Europe/Berlin"),
        ("time_zone", "../UTC", "Europe/Berlin"),
        ("length_unit", "furlong", "mm, in"),
        ("gauge_system", "16", "AWG, SWG"),
        ("wage_per_hour", "", "number"),
        ("wage_per_hour", "-3", "too small"),
        ("wage_per_hour", "1e9", "number"),
        ("wage_per_hour", "NaN", "number"),
        ("wage_per_hour", "0.0000001", "6 decimals"),
        ("overhead_mode", "both", "hour, percent"),
        ("overhead_percent", "1001", "at most 1000"),
        ("allowance_percent", "101", "at most 100"),
        ("learning_percent", "49", "50 to 100"),
        ("learning_percent", "", "percentage"),
        ("learning_percent", "101", "at most 100"),
        ("wanted_margin_percent", "100", "under 100"),
        ("ending", "x.42", "any, x.00"),
        ("one_price", "maybe", "yes or no"),
        ("once_pieces", "0", "1 or more"),
        ("once_pieces", "2.5", "whole"),
        ("kerf", "2 cm", "not wider"),
        ("kerf", "20 AWG", "gauge"),
        ("near", "1 mm", "not nearly the same"),
        ("near", "0.03 bananas", "not a unit"),
    ],
)
def test_what_is_wrong_is_said_beside_its_field(field: str, typed: str, says: str) -> None:
    found = faults(**{field: typed})
    assert list(found) == [field]
    assert says in found[field]


def test_all_that_is_wrong_is_said_at_once() -> None:
    assert set(faults(name="", currency="x", wage_per_hour="?")) == {"name", "currency", "wage_per_hour"}


def test_a_new_shop_needs_a_name_a_currency_a_wage_and_a_time_zone() -> None:
    found = read_founding({})
    assert isinstance(found, Faults)
    assert set(found.by_field()) == {"name", "currency", "wage_per_hour", "time_zone"}
    good = read_founding({"name": "Bench", "currency": "jpy", "wage_per_hour": "1500", "time_zone": "Asia/Tokyo"})
    assert good == Founding("Bench", "JPY", "en", "Asia/Tokyo", Decimal(1500))
