"""What people hand in about what they need: an item, how much of it, and what for; and which packs to draft."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from models.intake.faults import Faults
from models.intake.how_much import HowMuch, how_much
from models.intake.raw import Raw, Reader
from models.intake.stock.supplier import MOST_LEAD_DAYS

MOST_SECONDS: Final = 60
MOST_PACKS: Final = 100_000


@dataclass(frozen=True, slots=True)
class NeedDraft:
    """So much of an item, by its number or its name; `at` is where its fields stand among what was handed in."""

    how: HowMuch
    item_id: int | None = None
    item: str = ""
    purpose: str = ""
    at: str = ""


@dataclass(frozen=True, slots=True)
class BuyRequest:
    """What to plan for: these needs, or None for all that the shop needs; no later than in `lead_days`."""

    needs: tuple[NeedDraft, ...] | None
    lead_days: int | None = None
    seconds: int = 5


@dataclass(frozen=True, slots=True)
class PackPick:
    """So many packs of one offer."""

    offer_id: int
    packs: int


def read_need(raw: Raw) -> NeedDraft | Faults:
    """Read one thing that is needed."""
    reader = Reader(raw)
    draft = _need(reader)
    return reader.faults() or draft or Faults.of("item", "Say which item.")


def read_buy_request(raw: Raw) -> BuyRequest | Faults:
    """Read what to plan for: `needs` as a list, where it is there."""
    reader = Reader(raw)
    needs = None
    if raw.get("needs") is not None:
        needs = tuple(need for need in reader.each("needs", _need) if need is not None)
    ask = BuyRequest(
        needs=needs,
        lead_days=reader.integer("lead_days", most=MOST_LEAD_DAYS, required=False),
        seconds=reader.integer("seconds", least=1, most=MOST_SECONDS, default=5) or 5,
    )
    return reader.faults() or ask


def read_picks(raw: Raw) -> tuple[PackPick, ...] | Faults:
    """Read which packs to draft: `packs` as a list of offers and numbers."""
    reader = Reader(raw)
    picks = reader.each("packs", _pick)
    if not picks and not reader.faults():
        reader.fault("packs", "There is nothing to draft.")
    return reader.faults() or tuple(pick for pick in picks if pick is not None)


def _pick(reader: Reader) -> PackPick | None:
    offer_id = reader.identity("offer")
    packs = reader.integer("packs", least=1, most=MOST_PACKS)
    return None if offer_id is None or packs is None else PackPick(offer_id, packs)


def _need(reader: Reader) -> NeedDraft | None:
    item_id, item = reader.identity("item_id", required=False), reader.text("item", most=120)
    if item_id is None and not item and not reader.has("item_id"):
        reader.fault("item", "Say which item.")
    how = how_much(reader, "quantity", missing="Say how much is needed, such as 300 or 20 g.")
    if how is None:
        return None
    return NeedDraft(how, item_id, "" if item_id is not None else item, reader.text("purpose", most=120), reader.prefix)
