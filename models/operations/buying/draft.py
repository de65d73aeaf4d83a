"""Turning what was shown as the cheapest packs into draft purchases."""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import Session

from models.errors import Conflict
from models.intake.buying.need import PackPick
from models.operations.buying.purchase import cancel_purchase, draft_purchases, find_purchase
from models.planning.offers import orders_of
from models.queries.buying.market import planning_offers


def draft_packs(session: Session, picks: Sequence[PackPick], note: str = "") -> tuple[int, ...]:
    """Draft these packs, one purchase for each supplier; answer their ids.

    Raises: Conflict when an offer among them does not stand any more.
    """
    offers, suppliers = planning_offers(session)
    known = {offer.key for offer in offers}
    if any(str(pick.offer_id) not in known for pick in picks):
        raise Conflict("A price among these changed since you looked. Look again, and draft what it says then.")
    packs: dict[str, int] = {}
    for pick in picks:
        packs[str(pick.offer_id)] = packs.get(str(pick.offer_id), 0) + pick.packs
    return draft_purchases(session, orders_of(packs, offers, {each.key: each for each in suppliers}), note)


def drop_drafts(session: Session, purchase_ids: Sequence[int]) -> None:
    """Take drafting back: each that is still a draft is cancelled. Raises: Missing, Conflict when one was sent."""
    for purchase_id in purchase_ids:
        if find_purchase(session, purchase_id).state != "draft":
            raise Conflict(f"Purchase {purchase_id} is no draft any more. Cancel it there.")
        cancel_purchase(session, purchase_id)
