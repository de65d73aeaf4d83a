"""Which inputs move the price most: each one raised by a tenth, everything costed anew, the change in the price told.

The price is the unrounded one before the ending rule, so that small changes show. Nothing is stored or guessed here.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import NamedTuple

from models.costing.design_cost import cost_design
from models.costing.exact import ZERO, exactly
from models.costing.inputs import OutletInput, PartInput, ShopRates, UnitCost, WorkInput
from models.costing.lines import Impossible
from models.costing.prices import Price, price_outlet

MORE = Decimal("1.1")


class Moved(NamedTuple):
    """By how much the price rises when one input rises by a tenth; None when no price is possible any more."""

    label: str
    delta: Decimal | None


@dataclass(frozen=True, slots=True)
class _Case:
    """Everything that a price follows from."""

    parts: tuple[PartInput, ...]
    work: WorkInput
    rates: ShopRates
    outlet: OutletInput
    allowance: Decimal | None


@exactly
def sensitivity(
    parts: Sequence[PartInput],
    work: WorkInput,
    rates: ShopRates,
    outlet: OutletInput,
    *,
    currency: str,
    weave_difficulty: int | None = None,
    pieces: int = 1,
    allowance: Decimal | None = None,
) -> list[Moved] | Impossible:
    """How much each input, a tenth higher, moves the price at one outlet, the largest move first.

    The price is the highest of break-even and the wishes. Inputs that are nothing or move nothing are left out.
    Impossible when there is no price to move.
    """
    case = _Case(tuple(parts), work, rates, outlet, allowance)

    def price_of(varied: _Case) -> Decimal | Impossible:
        return _price_of(varied, currency=currency, weave_difficulty=weave_difficulty, pieces=pieces)

    before = price_of(case)
    if isinstance(before, Impossible):
        return before
    moves = []
    for label, varied in _varied(case):
        after = price_of(varied)
        if isinstance(after, Impossible):
            moves.append(Moved(label, None))
        elif after != before:
            moves.append(Moved(label, after - before))
    return sorted(moves, key=lambda move: (move.delta is not None, -abs(move.delta or ZERO), move.label))


def _price_of(case: _Case, *, currency: str, weave_difficulty: int | None, pieces: int) -> Decimal | Impossible:
    """The highest of break-even and the wishes, unrounded."""
    cost = cost_design(
        case.parts,
        case.work,
        case.rates,
        weave_difficulty=weave_difficulty,
        pieces=pieces,
        allowance=case.allowance,
    )
    prices = price_outlet(cost, case.outlet, currency=currency)
    highest = ZERO
    for price in (prices.break_even, prices.for_margin, prices.for_wage):
        if isinstance(price, Impossible):
            return price
        if isinstance(price, Price):
            highest = max(highest, price.shown)
    return highest


def _varied(case: _Case) -> Iterator[tuple[str, _Case]]:
    """Every input a tenth higher, one at a time."""
    yield from _dearer_parts(case)
    rates, outlet = case.rates, case.outlet
    yield "Wage", replace(case, rates=replace(rates, wage_per_hour=rates.wage_per_hour * MORE))
    yield "Minutes of work", _slower(case)
    overhead = replace(
        rates, overhead_per_hour=rates.overhead_per_hour * MORE, overhead_percent=rates.overhead_percent * MORE
    )
    yield "Overhead", replace(case, rates=overhead)
    yield "Allowance for spoiled parts", _more_spoiled(case)
    for index, fee in enumerate(outlet.fees):
        fees = list(outlet.fees)
        fees[index] = replace(fee, share=fee.share * MORE, fixed=fee.fixed * MORE)
        yield fee.label, replace(case, outlet=replace(outlet, fees=tuple(fees)))
    named = {
        "postage_paid": "Postage you pay",
        "shipping_charged": "Shipping charged",
        "period_fee": "Fee for the event or month",
        "tax": "Tax",
        "wanted_margin": "Margin you want",
        "wanted_wage": "Wage you want",
    }
    for name, label in named.items():
        value = getattr(outlet, name)
        if value:
            yield label, replace(case, outlet=replace(outlet, **{name: value * MORE}))


def _dearer_parts(case: _Case) -> Iterator[tuple[str, _Case]]:
    """The cost of each thing, wherever it is used, and the price of each metal that several things share."""
    names: dict[str, set[int]] = {}
    metals: dict[str, set[int]] = {}
    for index, part in enumerate(case.parts):
        if part.unit_cost is not None:
            names.setdefault(part.name, set()).add(index)
            if part.metal:
                metals.setdefault(part.metal, set()).add(index)
    for name, indices in names.items():
        yield f"Cost of {name}", replace(case, parts=_dearer(case.parts, indices))
    for metal, indices in metals.items():
        if indices not in names.values():
            yield f"Price of {metal}", replace(case, parts=_dearer(case.parts, indices))


def _dearer(parts: tuple[PartInput, ...], indices: set[int]) -> tuple[PartInput, ...]:
    return tuple(
        replace(
            part, unit_cost=UnitCost(part.unit_cost.amount * MORE, part.unit_cost.lines, part.unit_cost.provisional)
        )
        if index in indices and part.unit_cost is not None
        else part
        for index, part in enumerate(parts)
    )


def _slower(case: _Case) -> _Case:
    """All work takes a tenth longer: the rates, and the minutes that the design says."""
    rates = {kind: replace(rate, seconds=rate.seconds * MORE) for kind, rate in case.rates.rates.items()}
    work = replace(case.work, finish=_longer(case.work.finish), once=_longer(case.work.once))
    return replace(case, work=work, rates=replace(case.rates, rates=rates))


def _longer(minutes: Mapping[str, Decimal | None]) -> dict[str, Decimal | None]:
    return {kind: None if value is None else value * MORE for kind, value in minutes.items()}


def _more_spoiled(case: _Case) -> _Case:
    """The design's allowance, and those that parts have of their own."""
    parts = tuple(
        part if part.allowance is None else replace(part, allowance=part.allowance * MORE) for part in case.parts
    )
    own = None if case.allowance is None else case.allowance * MORE
    return replace(case, parts=parts, allowance=own, rates=replace(case.rates, allowance=case.rates.allowance * MORE))
