"""Outlets as their pages, the price list and the API want them."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_CEILING, Decimal

from sqlmodel import Session, col, select

from models.costing.inputs import OutletInput
from models.costing.lines import Line
from models.costing.prices import retail_price
from models.costing.sale import Sale, sell
from models.errors import Missing
from models.intake.costing.outlet import NOTHING, FeeDraft, OutletDraft, outlet_input
from models.intake.fields import cells_of, draft_from
from models.queries.shop.shop import shop_settings
from models.tables import Outlet, OutletFee
from models.trade.money import minor_digits, round_to_pay
from models.trade.vocabulary.selling import FEE_BASES

LEFT_FOR = "Pays for the materials, your time and your overhead. What then remains is profit."
MOST_SAMPLE = Decimal(10_000_000)


@dataclass(frozen=True, slots=True)
class SaleExample:
    """One sale at a sample price, of a piece that costs nothing: its profit is what the outlet leaves to the maker."""

    draft: OutletDraft
    sale: Sale
    retail: Decimal | None
    """What a shop that buys at this price would ask; None at any other outlet."""

    @property
    def takes(self) -> Decimal:
        """Fees, postage and the share of the stall or month; tax is not the outlet's and stands apart."""
        return self.sale.fees_total + self.sale.postage + self.sale.period_share

    @property
    def leaves(self) -> Decimal:
        """What is left of the buyer's money for materials, wage, overhead and profit."""
        return self.sale.profit

    @property
    def shares(self) -> tuple[Line, ...]:
        """The buyer's money in three: what is left for you, what the outlet takes, and tax."""
        return (Line("left for you", self.leaves), Line("the outlet takes", self.takes), Line("tax", self.sale.tax))

    @property
    def lines(self) -> tuple[Line, ...]:
        """The buyer's money, what is left first; they add up to it exactly. Fees unfold to their parts."""
        # The piece costs nothing, so its three lines stand for nothing; profit comes last.
        *taken, left = self.sale.line.lines[3:]
        fees = self.draft.fees
        return (
            replace(left, label="Left for you", reason=LEFT_FOR, source=""),
            *(_with_parts(line, fees[place]) if place < len(fees) else line for place, line in enumerate(taken)),
        )


def _with_parts(line: Line, fee: FeeDraft) -> Line:
    """A fee that is both a percentage and a fixed sum, unfolding to both."""
    percent = f"{format(fee.percent.normalize() + 0, 'f')} % of {FEE_BASES[fee.base]}"
    if not fee.fixed:
        return replace(line, reason=f"{percent}.", source="", because=())
    if not fee.percent:
        return replace(line, reason="A fixed sum for each sale.", source="", because=())
    parts = (Line(percent, line.amount - fee.fixed), Line("a fixed sum for each sale", fee.fixed))
    return replace(line, reason="", source="", lines=parts, because=())


@dataclass(frozen=True, slots=True)
class OutletView:
    """One outlet: what was handed in about it, and what becomes of a sample price there."""

    id: int
    draft: OutletDraft
    input: OutletInput
    retired: bool
    version: int
    sale: Sale
    retail: Decimal | None

    @property
    def example(self) -> SaleExample:
        """The sale, with what it says of the outlet."""
        return SaleExample(self.draft, self.sale, self.retail)


@dataclass(frozen=True, slots=True)
class OutletsPage:
    """The outlets in their order, those in use and those retired, at one sample price."""

    sample: Decimal
    outlets: tuple[OutletView, ...]
    retired: tuple[OutletView, ...]
    ending: str
    wanted_margin_percent: Decimal

    @property
    def best(self) -> OutletView | None:
        """The outlet that leaves most of the sample price; None with fewer than two to choose from."""
        chosen = [view for view in self.outlets if view.draft.kind != "wholesale"]
        return max(chosen, key=lambda view: view.example.leaves) if len(chosen) > 1 else None


def usual_sample(session: Session) -> Decimal:
    """A price to show outlets by before one is typed: about two hours' wage, as a round figure."""
    settings = shop_settings(session)
    wanted = settings.wage_per_hour * 2
    if wanted <= 0:
        return Decimal(40) if minor_digits(settings.currency) else Decimal(4000)
    step = Decimal(5).scaleb(max(wanted.adjusted() - 1, 0))
    return min((wanted / step).to_integral_value(rounding=ROUND_CEILING) * step, MOST_SAMPLE)


def outlets_page(session: Session, sample: Decimal | None = None) -> OutletsPage:
    """All outlets with what each takes of one price."""
    settings = shop_settings(session)
    price = round_to_pay(sample if sample is not None else usual_sample(session), settings.currency)
    views = _views(session, session.exec(select(Outlet).order_by(col(Outlet.position), col(Outlet.id))).all(), price)
    return OutletsPage(
        sample=price,
        outlets=tuple(view for view in views if not view.retired),
        retired=tuple(view for view in views if view.retired),
        ending=settings.ending,
        wanted_margin_percent=settings.wanted_margin_percent,
    )


def outlet_view(session: Session, outlet_id: int, sample: Decimal | None = None) -> OutletView:
    """One outlet at one price. Raises `Missing`."""
    row = session.get(Outlet, outlet_id)
    if row is None:
        raise Missing("outlet", outlet_id)
    currency = shop_settings(session).currency
    price = round_to_pay(sample if sample is not None else usual_sample(session), currency)
    return _views(session, [row], price)[0]


def draft_example(session: Session, draft: OutletDraft, sample: Decimal | None = None) -> SaleExample:
    """What becomes of one price at an outlet that is not saved yet."""
    settings = shop_settings(session)
    price = round_to_pay(sample if sample is not None else usual_sample(session), settings.currency)
    outlet = outlet_input(draft, code="new", ending=settings.ending)
    sale = sell(NOTHING, outlet, price, settings.currency)
    return SaleExample(draft, sale, retail_price(outlet, price, settings.currency))


def outlet_inputs(session: Session) -> tuple[OutletInput, ...]:
    """The outlets in use as costing takes them, in their order; `code` is the outlet's number."""
    settings = shop_settings(session)
    rows = session.exec(
        select(Outlet).where(col(Outlet.retired).is_(False)).order_by(col(Outlet.position), col(Outlet.id))
    ).all()
    fees = _fees(session, rows)
    return tuple(
        outlet_input(
            _draft(row, fees.get(row.id or 0, ())),
            code=str(row.id),
            margin_percent=settings.wanted_margin_percent,
            ending=settings.ending,
        )
        for row in rows
    )


def export_outlets(session: Session) -> tuple[dict[str, object], ...]:
    """Every outlet in use as one line of a file; its fees stand in numbered columns."""
    return tuple(cells_of(view.draft) for view in outlets_page(session).outlets)


def _views(session: Session, rows: Sequence[Outlet], price: Decimal) -> list[OutletView]:
    settings = shop_settings(session)
    fees = _fees(session, rows)
    found = []
    for row in rows:
        draft = _draft(row, fees.get(row.id or 0, ()))
        outlet = outlet_input(
            draft, code=str(row.id), margin_percent=settings.wanted_margin_percent, ending=settings.ending
        )
        found.append(
            OutletView(
                id=row.id or 0,
                draft=draft,
                input=outlet,
                retired=row.retired,
                version=row.version,
                sale=sell(NOTHING, outlet, price, settings.currency),
                retail=retail_price(outlet, price, settings.currency),
            )
        )
    return found


def _fees(session: Session, rows: Sequence[Outlet]) -> dict[int, tuple[OutletFee, ...]]:
    ids = [row.id for row in rows]
    found: dict[int, tuple[OutletFee, ...]] = {}
    query = select(OutletFee).where(col(OutletFee.outlet_id).in_(ids)).order_by(col(OutletFee.position))
    for fee in session.exec(query):
        found[fee.outlet_id] = (*found.get(fee.outlet_id, ()), fee)
    return found


def _draft(row: Outlet, fees: Sequence[OutletFee]) -> OutletDraft:
    return draft_from(OutletDraft, row, fees=[draft_from(FeeDraft, fee) for fee in fees])
