"""Whatever is handed in about the shop and its outlets is read or refused in words; nothing makes the reading break."""

from __future__ import annotations

from collections.abc import Callable
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.costing.rates import STARTING_RATES
from models.intake.buying.need import BuyRequest, NeedDraft, read_buy_request, read_need, read_picks
from models.intake.buying.price_watch import PriceWatchRequest, read_watch_request
from models.intake.buying.purchase import GoodsReceiptDraft, PurchaseDraft, read_came, read_purchase
from models.intake.buying.reorder import ReorderWishes, read_accepted, read_reorder_wishes
from models.intake.costing.outlet import OUTLET_COLUMNS, OutletDraft, read_outlet, read_outlet_row, read_sample
from models.intake.costing.rate import read_rates
from models.intake.csv_file import Sheet, read_csv
from models.intake.faults import Faults
from models.intake.planning.make_plan import PlanRequest, read_plan_request
from models.intake.planning.makeable import MakeFilter, read_make_filter
from models.intake.shop.shop import Founding, SettingsDraft, read_founding, read_settings
from models.intake.stock.offer import OfferDraft, read_offer
from models.intake.stock.stand_in import StandInDraft, read_stand_in
from models.intake.stock.supplier import SupplierDraft, read_supplier

words = st.one_of(
    st.text(max_size=20),
    st.sampled_from(["", " ", "0", "-1", "1e9", "NaN", "Infinity", "1,234", "1/0", "20 AWG", "16ga", "9" * 70, "\0", "٣", "½", "yes", "price"]),
)  # fmt: skip
numbers = st.one_of(
    st.integers(),
    st.decimals(allow_nan=True, allow_infinity=True),
    st.sampled_from([Decimal("1E+30"), Decimal("1E-30"), 10**40, -(10**40)]),
)
values = st.recursive(
    st.one_of(st.none(), st.booleans(), words, numbers),
    lambda inner: st.one_of(st.lists(inner, max_size=3), st.dictionaries(words, inner, max_size=3)),
    max_leaves=6,
)


def body_of(*names: str) -> st.SearchStrategy[dict[str, object]]:
    return st.dictionaries(st.sampled_from(names), values, max_size=len(names))


OUTLET_FIELDS = (*OutletDraft.__slots__, "price")
fee = body_of("label", "percent", "base", "fixed")
outlet_bodies = st.builds(
    lambda body, fees, kind: {**body, "kind": kind, "name": "x", "fees": fees},
    body_of(*OUTLET_FIELDS),
    st.lists(st.one_of(fee, values), max_size=3),
    st.sampled_from(["online", "wholesale", "x"]),
)
READERS: dict[str, tuple[st.SearchStrategy[dict[str, object]], Callable[[dict[str, object]], object], tuple[type, ...]]] = {
    "an outlet": (outlet_bodies, read_outlet, (OutletDraft, Faults)),
    "any fields of an outlet": (body_of(*OUTLET_FIELDS), read_outlet, (OutletDraft, Faults)),
    "settings": (body_of(*SettingsDraft.__slots__, "kerf", "near"), read_settings, (SettingsDraft, Faults)),
    "a new shop": (body_of(*Founding.__slots__), read_founding, (Founding, Faults)),
    "times": (
        st.fixed_dictionaries({"rates": st.one_of(values, st.lists(body_of("kind", "seconds", "low_factor", "high_factor"), max_size=3))}),
        lambda raw: read_rates(raw, tuple(STARTING_RATES)),
        (tuple, Faults),
    ),
    "what can be made": (
        body_of("find", "outlet", "minutes", "skill", "metal", "weave", "now", "allowance", "order", "making", "pieces", "page"),
        read_make_filter,
        (MakeFilter, Faults),
    ),
    "a plan": (
        st.builds(
            lambda body, caps, kept: {**body, "caps": caps, "keep_back": kept},
            body_of("hours", "outlet", "goal", "most_each", "different", "spend", "lead_days", "allowance", "search"),
            st.one_of(values, st.lists(st.one_of(body_of("key", "design_id", "at_least", "at_most"), values), max_size=3)),
            st.one_of(values, st.lists(st.one_of(body_of("item_id", "quantity"), values), max_size=3)),
        ),
        read_plan_request,
        (PlanRequest, Faults),
    ),
    "a stand-in": (body_of("stand_in_id", "both_ways"), read_stand_in, (StandInDraft, Faults)),
    "a purchase": (
        st.builds(
            lambda body, lines: {**body, "lines": lines},
            body_of("supplier", "supplier_id", "postage", "reference", "note", "due_on"),
            st.one_of(values, st.lists(st.one_of(body_of("item", "item_id", "packs", "offer_id", "pack", "price"), values), max_size=3)),
        ),
        read_purchase,
        (PurchaseDraft, Faults),
    ),
    "what came": (
        st.builds(
            lambda body, lines: {**body, "lines": lines},
            body_of("received_on", "freight", "note"),
            st.one_of(values, st.lists(st.one_of(body_of("line_id", "packs", "quantity", "place", "batch"), values), max_size=3)),
        ),
        read_came,
        (GoodsReceiptDraft, Faults),
    ),
    "an offer": (
        body_of("supplier", "supplier_id", "pack", "pack_unit", "price", "currency", "exchange_rate", "breaks", "lead_days", "current"),
        lambda raw: read_offer(raw, currency="EUR"),
        (OfferDraft, Faults),
    ),
    "a supplier": (
        body_of("name", "note", "lead_days", "postage", "free_from", "minimum", "currency", "exchange_rate"),
        read_supplier,
        (SupplierDraft, Faults),
    ),
    "what to buy": (body_of("needs", "lead_days", "seconds"), read_buy_request, (BuyRequest, Faults)),
    "a need": (body_of("item", "item_id", "quantity", "purpose"), read_need, (NeedDraft, Faults)),
    "packs to draft": (body_of("packs"), read_picks, (tuple, Faults)),
    "proposals": (body_of("items"), read_accepted, (tuple, Faults)),
    "wishes of buying": (body_of("service", "order_cost", "holding", "days"), read_reorder_wishes, (ReorderWishes, Faults)),
    "a question to the price watch": (body_of("days", "metal", "percent"), read_watch_request, (PriceWatchRequest, Faults)),
    "a sample price": (body_of("price"), read_sample, (Decimal, Faults, type(None))),
}  # fmt: skip


@pytest.mark.parametrize("what", READERS)
@given(data=st.data())
def test_any_body_is_read_or_refused(what: str, data: st.DataObject) -> None:
    bodies, read, answers = READERS[what]
    found = read(data.draw(bodies))
    assert isinstance(found, answers)
    if isinstance(found, Faults):
        assert all(fault.field and fault.message for fault in found)


@given(st.dictionaries(st.sampled_from([column.name for column in OUTLET_COLUMNS]), words, max_size=12))
def test_any_line_of_a_file_of_outlets_is_read_or_refused(row: dict[str, str]) -> None:
    found = read_outlet_row(row)
    if isinstance(found, Faults):
        assert {fault.field for fault in found} <= {column.name for column in OUTLET_COLUMNS}


@given(st.one_of(st.binary(max_size=200), st.text(alphabet='ab,;"\r\n\t=\ufeff', max_size=200).map(str.encode)))
def test_any_bytes_are_a_file_or_are_refused(content: bytes) -> None:
    found = read_csv(content, OUTLET_COLUMNS)
    assert isinstance(found, Sheet | Faults)


@given(st.text(alphabet="xy,;\"\r\n\t=-' ", max_size=120))
def test_any_text_under_a_header_is_read_line_by_line_or_refused(text: str) -> None:
    found = read_csv(f"name,kind,note\n{text}".encode(), OUTLET_COLUMNS)
    if isinstance(found, Sheet):
        assert all(row.line > 1 for row in found.rows)
        assert all(set(row.cells) <= {"name", "kind", "note"} for row in found.rows)
