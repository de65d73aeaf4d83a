"""What people ask of a plan: hours, outlet, goal, how many of what, money for rings; and the question as it is kept.

Whether designs, outlets and items exist is checked where the shop is known.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import Final

from models.costing.learning import MOST_TOGETHER
from models.intake.faults import Faults
from models.intake.planning.makeable import MOST_KEY
from models.intake.raw import Raw, Reader
from models.intake.worktime import work_time
from models.kept import KeptDocument
from models.trade.money import to_micros
from models.trade.vocabulary.plans import ALLOWANCES, GOALS

MOST_ROWS: Final = 400
MOST_SEARCH_S: Final = 60
USUAL_SEARCH_S: Final = 10
MOST_DAYS: Final = 365
MOST_DIFFERENT: Final = 1000


@dataclass(frozen=True, slots=True)
class Cap:
    """How many of one design (and choice) are wanted at the least and at the most, by the key of its recipe."""

    key: str
    at_least: int = 0
    at_most: int | None = None


@dataclass(frozen=True, slots=True)
class KeepBack:
    """How much of an item stays in stock, in thousandths of its unit."""

    item_id: int
    milli: int


@dataclass(frozen=True, slots=True)
class PlanRequest:
    """What is asked: seconds of work (None: no limit), an outlet (None: each piece where it earns most), and wishes.

    `most_each` holds for every design without a cap of its own. `spend_micros` may be spent on rings that are here
    within `lead_days` (None: whenever). The search ends after `search_s` seconds at the latest.
    """

    seconds: int | None = None
    outlet_id: int | None = None
    goal: str = "profit"
    caps: tuple[Cap, ...] = ()
    most_each: int | None = None
    different: int = 0
    keep_back: tuple[KeepBack, ...] = ()
    spend_micros: int = 0
    lead_days: int | None = None
    allowance: bool = True
    search_s: int = USUAL_SEARCH_S


PLAN_QUESTION: Final[KeptDocument[PlanRequest]] = KeptDocument(PlanRequest)
"""The question as a plan keeps it."""


def read_plan_request(raw: Raw) -> PlanRequest | Faults:
    """Read a question; rows that name nothing are passed over."""
    reader = Reader(raw)
    for rows in ("caps", "keep_back"):
        sent = reader.raw.get(rows)
        if isinstance(sent, (list, tuple)) and len(sent) > MOST_ROWS:
            reader.fault(rows, f"At most {MOST_ROWS} rows can be read at once.")
            return reader.faults() or Faults(())
    spend = reader.money("spend", default=Decimal(0))
    ask = PlanRequest(
        seconds=_seconds(reader),
        outlet_id=reader.identity("outlet", required=False),
        goal=reader.choice("goal", GOALS.codes, default="profit"),
        caps=tuple(cap for cap in reader.each("caps", _cap) if cap is not None),
        most_each=reader.integer("most_each", most=MOST_TOGETHER, required=False),
        different=reader.integer("different", most=MOST_DIFFERENT, default=0) or 0,
        keep_back=tuple(one for one in reader.each("keep_back", _keep_back) if one is not None),
        spend_micros=to_micros(spend or Decimal(0)),
        lead_days=reader.integer("lead_days", most=MOST_DAYS, required=False),
        allowance=reader.choice("allowance", ALLOWANCES.codes, default="with") == "with",
        search_s=reader.integer("search", least=1, most=MOST_SEARCH_S, default=USUAL_SEARCH_S) or USUAL_SEARCH_S,
    )
    return reader.faults() or ask


def _seconds(reader: Reader) -> int | None:
    """Hours such as '10', '2.5', '9:30' or '2 h 30'; a bare number is hours."""
    typed = reader.text("hours", most=30)
    if not typed:
        return None
    if not typed.strip("+-0123456789.,"):
        hours = reader.decimal("hours", most=Decimal(MOST_TOGETHER), places=4)
        return None if hours is None else int(hours * 3600)
    minutes_milli = work_time(reader, "hours")
    return None if minutes_milli is None else minutes_milli * 60 // 1000


def _cap(reader: Reader) -> Cap | None:
    key = reader.text("key", most=MOST_KEY)
    if not key:
        design_id = reader.identity("design_id", required=False)
        key = "" if design_id is None else str(design_id)
    at_least = reader.integer("at_least", most=MOST_TOGETHER, required=False)
    at_most = reader.integer("at_most", most=MOST_TOGETHER, required=False)
    if not key:
        if at_least is not None or at_most is not None:
            reader.fault("key", "Choose the design that this is about.")
        return None
    if at_least is None and at_most is None:
        return None
    if at_most is not None and (at_least or 0) > at_most:
        reader.fault("at_least", f"At least {at_least} and at most {at_most} contradict each other.")
    return Cap(key, at_least or 0, at_most)


def _keep_back(reader: Reader) -> KeepBack | None:
    item_id = reader.identity("item_id", required=False)
    quantity = reader.quantity("quantity", required=False)
    if item_id is None:
        if quantity:
            reader.fault("item_id", "Choose what is kept back.")
        return None
    return KeepBack(item_id, int(quantity * 1000)) if quantity else None


def raw_of(ask: PlanRequest) -> Mapping[str, object]:
    """A question as a form shows it, so that it can be asked again in another way."""
    return {
        "hours": "" if ask.seconds is None else _hours(ask.seconds),
        "outlet": ask.outlet_id or "",
        "goal": ask.goal,
        "caps": [
            {"key": cap.key, "at_least": cap.at_least or "", "at_most": "" if cap.at_most is None else cap.at_most}
            for cap in ask.caps
        ],
        "most_each": "" if ask.most_each is None else ask.most_each,
        "different": ask.different or "",
        "keep_back": [{"item_id": one.item_id, "quantity": Decimal(one.milli) / 1000} for one in ask.keep_back],
        "spend": Decimal(ask.spend_micros) / 1_000_000 if ask.spend_micros else "",
        "lead_days": "" if ask.lead_days is None else ask.lead_days,
        "allowance": "with" if ask.allowance else "without",
        "search": ask.search_s,
    }


def _hours(seconds: int) -> str:
    hours, rest = divmod(seconds, 3600)
    return f"{hours}:{rest // 60:02d}" if rest else str(hours)
