"""Cost and prices of a design under /api: the same view as the pages, as nested lines; listing a price.

Money is exact decimal text with its currency. Unrounded figures (a unit cost, a density) are told to twelve decimals.
"""

from __future__ import annotations

from collections.abc import Sequence
from decimal import ROUND_HALF_EVEN, Context, Decimal
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Query, Request
from pydantic import BaseModel, Field
from sqlmodel import Session
from starlette.responses import JSONResponse, Response

from models.costing.lines import Impossible, Line
from models.costing.prices import OnePrice, Price
from models.costing.sale import Sale
from models.intake.costing.cost_question import PRICE_FIELD, read_cost_question
from models.intake.costing.listed_price import read_listed_price
from models.intake.faults import Fault, Faults
from models.operations.costing.listed_price import list_price
from models.queries.costing.basis import CostBasis
from models.queries.costing.costing import CostView, view_asked
from models.queries.costing.price_view import OutletView
from models.queries.shop.shop import currency_of
from models.trade.money import millionth
from webapp.api.amounts import MONEY_SCHEMA, plain_amounts
from webapp.web.json_api import Answer, faulty, json_body, money_json, plain, problem, problems, read_json, write_once
from webapp.web.numbers import Whole

router = APIRouter(prefix="/api", tags=["costs and prices"])
Body = Annotated[dict[str, Any], Depends(read_json)]

FINE = Decimal("0.000000000001")
_CONTEXT = Context(prec=60)


class CostQuery(BaseModel):
    """How a design is asked to be costed."""

    quantity: str = Field("", description="How many are made together, 1 to 10000; empty means one.")
    choice: list[str] = Field([], description="Picked alternatives as 'group=choice', one each time.")
    optional: list[str] = Field([], alias="with", description="Places of the optional parts that are counted in.")

    by: str = Field("", description="What materials count at: again (what they cost to buy again) or stock.")

    def raw(self) -> dict[str, object]:
        """The fields as they are read."""
        return {"quantity": self.quantity, "choice": self.choice, "with": self.optional, "by": self.by}


class PriceQuery(CostQuery):
    """The same with a price to try."""

    price: str = Field("", description="A price to try, at one outlet or at all.")
    outlet: Whole | None = Field(None, description="Only this outlet.")


_LINE: dict[str, object] = {
    "type": "object",
    "description": (
        "`lines` add up to `amount` exactly; `because` are the facts behind it. An amount is money, or a value with "
        "its unit."
    ),
    "properties": {
        "label": {"type": "string"},
        "amount": {"type": "object"},
        "quantity": {"type": ["number", "null"]},
        "unit": {"type": "string"},
        "unit_amount": {"type": ["object", "null"]},
        "reason": {"type": "string"},
        "source": {"type": "string"},
        "provisional": {"type": "boolean"},
        "lines": {"type": "array", "items": {"type": "object"}},
        "because": {"type": "array", "items": {"type": "object"}},
    },
}


def _answers(description: str, **fields: object) -> dict[int | str, dict[str, Any]]:
    schema = {"type": "object", "properties": fields}
    return {200: {"description": description, "content": {"application/json": {"schema": schema}}}}


@router.get(
    "/designs/{design_id}/cost",
    responses={
        **_answers(
            "Materials, labour, overhead and total of all the pieces, and of one, with all their lines.",
            materials=_LINE,
            labour=_LINE,
            overhead=_LINE,
            total=_LINE,
        ),
        **problems(404, 422),
    },
)
def show_cost(request: Request, design_id: int, query: Annotated[CostQuery, Query()]) -> Response:
    """What a design costs to make, down to its reasons."""
    view = _asked(request, design_id, query.raw())
    return view if isinstance(view, Response) else JSONResponse(cost_json(view))


@router.get(
    "/designs/{design_id}/prices",
    responses={
        **_answers(
            "Per outlet break-even, target, suggested and listed price, and the sale at the price tried, listed or "
            "suggested.",
            outlets={"type": "array", "items": {"type": "object"}},
            one_price={"type": ["object", "null"]},
        ),
        **problems(404, 422),
    },
)
def show_prices(request: Request, design_id: int, query: Annotated[PriceQuery, Query()]) -> Response:
    """What to ask for a design at each outlet, and what is earned there."""
    view = _asked(request, design_id, query.raw(), price=query.price, outlet=query.outlet)
    if isinstance(view, Response):
        return view
    if query.outlet is not None and query.outlet not in {one.outlet_id for one in view.outlets}:
        return problem(404, f"There is no outlet {query.outlet} in use.")
    return JSONResponse(prices_json(view, only=query.outlet))


@router.post(
    "/designs/{design_id}/prices",
    responses={**_answers("The outlet's prices as they are now."), **problems(400, 404, 409, 415, 422)},
    openapi_extra=json_body(
        {
            "outlet": {"type": "integer"},
            "price": {
                **MONEY_SCHEMA,
                "description": "What is asked there from now on; null or left out takes the design off.",
            },
            "version": {
                "type": "integer",
                "description": "The `listed_version` that was read, 0 where nothing was listed; else 409.",
            },
        },
        ("outlet", "version"),
    ),
)
def list_at(request: Request, design_id: int, body: Body) -> Response:
    """List a design at a price at one outlet, or take it off there."""

    def act(session: Session) -> Answer | Faults:
        currency = currency_of(session)
        sent = plain_amounts(body, currency)
        draft = sent if isinstance(sent, Faults) else read_listed_price(sent, currency=currency, may_be_empty=True)
        if isinstance(draft, Faults):
            return draft
        version = body.get("version")
        if not isinstance(version, int) or isinstance(version, bool):
            return Faults.of("version", "Give the listed_version that you read, a whole number.")
        list_price(session, design_id, draft, version)
        question, _ = read_cost_question({}, currency=currency)
        view, _ = view_asked(session, design_id, question)
        return Answer(prices_json(view, only=draft.outlet_id))

    return write_once(request, body, act)


def _asked(
    request: Request, design_id: int, raw: dict[str, object], *, price: str = "", outlet: int | None = None
) -> CostView | Response:
    """The view that was asked for, or the refusal; a price is tried at the outlet named, else at all of them."""
    with request.app.state.store.reading() as session:
        currency = currency_of(session)
        question, faults = read_cost_question(raw | {"retail": price}, currency=currency, pieces_field="quantity")
        if faults is not None:
            named = (Fault("price", fault.message) if fault.field == "retail" else fault for fault in faults)
            return faulty(Faults(tuple(named)))
        view, strange = view_asked(session, design_id, question)
        if strange is None and question.retail is not None:
            tried = {f"{PRICE_FIELD}{one.outlet_id}": price for one in view.outlets if outlet in {None, one.outlet_id}}
            question, _ = read_cost_question(
                raw | {"retail": price} | tried, currency=currency, pieces_field="quantity"
            )
            view, strange = view_asked(session, design_id, question)
    return view if strange is None else faulty(strange)


def cost_json(view: CostView) -> dict[str, object]:
    """A cost as the API sends it: the tree of all the pieces, the amounts of one, and what is not sure yet."""
    cost, currency = view.cost, view.currency
    trees = (cost.materials, cost.labour, cost.overhead)
    minutes = cost.minutes
    return {
        **_head(view),
        "materials": line_json(trees[0].times(cost.pieces), currency),
        "labour": line_json(trees[1].times(cost.pieces), currency),
        "overhead": line_json(trees[2].times(cost.pieces), currency),
        "total": line_json(cost.batch, currency),
        "per_piece": {
            "materials": _money(trees[0].amount, currency),
            "labour": _money(trees[1].amount, currency),
            "overhead": _money(trees[2].amount, currency),
            "total": _money(cost.per_piece, currency),
        },
        "minutes_per_piece": {
            "likely": _number(minutes.likely),
            "low": _number(minutes.low),
            "high": _number(minutes.high),
            "kinds": [
                {
                    "kind": kind.kind,
                    "label": kind.label,
                    "likely": _number(kind.likely),
                    "low": _number(kind.low),
                    "high": _number(kind.high),
                    "source": kind.source,
                }
                for kind in minutes.kinds
            ],
        },
        "mass_g": _number(view.mass_g),
        "mass_measured": view.measured,
        "unweighed": list(dict.fromkeys(cost.unweighed)),
        "fits": [
            {
                "part": one.part.thing.name,
                "weave": one.fit.weave.code,
                "verdict": one.fit.verdict,
                "aspect_ratio": _number(one.fit.aspect_ratio),
                "deciding": _number(one.fit.deciding),
                "reason": one.fit.reason,
                "own_record": one.fit.own_record,
            }
            for one in view.fits
        ],
    }


def prices_json(view: CostView, only: int | None = None) -> dict[str, object]:
    """Prices as the API sends them, of all outlets in use or of one."""
    return {
        **_head(view),
        "outlets": [_outlet_json(one, view.currency) for one in view.outlets if only is None or one.outlet_id == only],
        "one_price": _one_price_json(view.everywhere, view.currency),
    }


def line_json(line: Line, currency: str) -> dict[str, object]:
    """A line with everything beneath it."""
    return {
        "label": line.label,
        "amount": _amount(line, currency),
        "quantity": None if line.quantity is None else _number(line.quantity),
        "unit": line.unit,
        "unit_amount": None if line.unit_amount is None else money_json(_fine(line.unit_amount), currency),
        "reason": line.reason,
        "source": line.source,
        "provisional": line.provisional,
        "lines": _lines(line.lines, currency),
        "because": _lines(line.because, currency),
    }


def _head(view: CostView) -> dict[str, object]:
    return {
        "design": view.design_id,
        "name": view.name,
        "revision": view.inputs.number,
        "quantity": view.pieces,
        "currency": view.currency,
        "choices": [
            {"group": choice.group, "options": [{"choice": one.name, "picked": one.picked} for one in choice.options]}
            for choice in view.choices
        ],
        "optional": [
            {"place": one.part.position, "part": one.part.thing.name, "counted": one.counted} for one in view.optional
        ],
        "provisional": view.provisional,
        "unpriced": [{"part": one.name, "why": one.why, "item": one.item_id} for one in view.unpriced],
        "guessed": list(view.guessed),
        "basis": _basis_json(view.basis, view.currency),
        "untimed": list(view.cost.untimed),
    }


def _basis_json(basis: CostBasis | None, currency: str) -> dict[str, object] | None:
    """What one piece costs to buy again beside what the stock cost; null where none of its parts is in stock."""
    if basis is None:
        return None
    return {
        "by": basis.by,
        "again": _money(basis.again, currency),
        "stock": _money(basis.stock, currency),
        "parts": basis.parts,
        "parts_in_stock": basis.in_stock,
    }


def _outlet_json(view: OutletView, currency: str) -> dict[str, object]:
    prices, sale = view.prices, view.sale
    return {
        "outlet": view.outlet_id,
        "name": view.name,
        "kind": view.outlet.kind,
        "impossible": view.no_price or None,
        "break_even": _price(prices.break_even, currency),
        "for_margin": _price(prices.for_margin, currency),
        "for_wage": _price(prices.for_wage, currency),
        "target": _money(view.target, currency),
        "suggested": _money(view.suggested, currency),
        "decided_by": prices.decided_by,
        "listed": None if view.listed is None else _money(view.listed.price, currency),
        "listed_version": 0 if view.listed is None else view.listed.version,
        "standing": view.standing,
        "retail": _money(view.retail, currency),
        "at": "tried" if view.typed_sale else "listed" if view.listed_sale else "suggested" if sale else None,
        **(_sale_json(sale, currency) if sale else _NO_SALE),
    }


_SALE_FIELDS = (
    "price", "buyer_pays", "fees", "fee_lines", "tax", "postage", "period_share", "profit", "margin",
    "earned_per_hour", "sales_to_cover", "lines",
)  # fmt: skip
_NO_SALE: dict[str, object] = dict.fromkeys(_SALE_FIELDS)


def _sale_json(sale: Sale, currency: str) -> dict[str, object]:
    """A sale: the price and where the buyer's money goes; the margin is a share of the price without tax."""
    earned = sale.earned
    return {
        "price": _money(sale.price_shown, currency),
        "buyer_pays": _money(sale.buyer_pays, currency),
        "fees": _money(sale.fees_total, currency),
        "fee_lines": _lines(sale.fees, currency),
        "tax": _money(sale.tax, currency),
        "postage": _money(sale.postage, currency),
        "period_share": _money(sale.period_share, currency),
        "profit": _money(sale.profit, currency),
        "margin": None if sale.margin is None else _number(sale.margin),
        "earned_per_hour": None
        if earned is None
        else {
            "low": _money(earned.low, currency),
            "likely": _money(earned.likely, currency),
            "high": _money(earned.high, currency),
        },
        "sales_to_cover": sale.sales_to_cover,
        "lines": _lines(sale.line.lines, currency),
    }


def _one_price_json(found: OnePrice | Impossible | None, currency: str) -> dict[str, object] | None:
    if found is None:
        return None
    if isinstance(found, Impossible):
        return {"impossible": found.reason}
    return {
        "retail": _money(found.retail, currency),
        "decided_by": found.decided_by or None,
        "earns_least_at": found.earns_least_at,
        "profits": [{"outlet": name, "profit": _money(sale.profit, currency)} for name, sale in found.sales],
        "impossible": [{"outlet": name, "reason": reason} for name, reason in found.impossible],
    }


def _lines(lines: Sequence[Line], currency: str) -> list[dict[str, object]]:
    return [line_json(line, currency) for line in lines]


def _amount(line: Line, currency: str) -> dict[str, object]:
    if line.is_money:
        return {**money_json(_fine(line.amount), currency)}
    if line.amount_unit == "an hour":
        return {**money_json(_fine(line.amount), currency), "per": "hour"}
    return {"value": _number(line.amount), "unit": line.amount_unit}


def _money(amount: Decimal | None, currency: str) -> dict[str, str] | None:
    """Money to a millionth, as costs are kept."""
    return None if amount is None else money_json(_short(millionth(amount)), currency)


def _price(price: Price | Impossible | None, currency: str) -> dict[str, str] | None:
    return _money(price.shown, currency) if isinstance(price, Price) else None


def _fine(amount: Decimal) -> Decimal:
    return _short(amount.quantize(FINE, rounding=ROUND_HALF_EVEN, context=_CONTEXT))


def _short(amount: Decimal) -> Decimal:
    """Without zeros at its end beyond two decimals."""
    bare = amount.normalize(_CONTEXT)
    exponent = bare.as_tuple().exponent
    return bare if isinstance(exponent, int) and exponent < -2 else amount.quantize(Decimal("0.01"), context=_CONTEXT)


def _number(value: Decimal) -> object:
    return plain(value.quantize(FINE, rounding=ROUND_HALF_EVEN, context=_CONTEXT))
