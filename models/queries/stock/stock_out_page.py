"""The pages that take stock out or move it: which bags there are to take from, and the scrap that is put by."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import select
from sqlmodel import Session, col

from models.errors import Missing
from models.intake.builds.build import bag_value
from models.intake.stock.place import place_word
from models.queries.stock.bag_choice import bags_meant, from_bags
from models.queries.stock.balance import Balance, balance_of, balances
from models.queries.stock.item import item_view, load_materials
from models.queries.stock.lot import Bag, LotView, lot_view, lots_of
from models.queries.stock.material import Material
from models.queries.stock.metal import all_metals
from models.tables import Item


@dataclass(frozen=True, slots=True)
class BagChoice:
    """One bag to take from, as a page offers it: its lot with its place, and what is free in it."""

    lot: LotView
    bag: Bag

    @property
    def value(self) -> str:
        """How a form names the bag."""
        return bag_value(self.bag.lot_id, self.bag.place)


@dataclass(frozen=True, slots=True)
class StockOutPage:
    """An item that is taken out: its balance, and the bags that hold any of it, oldest lots first."""

    item: Material
    balance: Balance
    bags: tuple[BagChoice, ...]


@dataclass(frozen=True, slots=True)
class MovePage:
    """A bag that is moved."""

    item: Material
    lot: LotView
    bag: Bag

    @property
    def gone(self) -> bool:
        """Whether nothing lies in the bag any more."""
        return not self.bag.quantity_milli

    @property
    def elsewhere(self) -> tuple[Bag, ...]:
        """Where the lot lies when nothing of it lies in this bag any more."""
        return bags_meant(self.lot, None) if self.gone else ()


@dataclass(frozen=True, slots=True)
class ScrapPage:
    """Scrap that is put by, metal by metal, and the precious metals as (code, name)."""

    rows: tuple[tuple[Material, Balance], ...]
    metals: tuple[tuple[str, str], ...]


def stock_out_page(session: Session, item_id: int) -> StockOutPage:
    """An item that is taken out. Raises: Missing."""
    item = item_view(session, item_id)
    bags = tuple(
        BagChoice(lot, bag) for lot in lots_of(session, (item_id,))[item_id] for bag in lot.bags if bag.free_milli
    )
    return StockOutPage(item, balance_of(session, item_id), bags)


def bag_to_take(lot: LotView, place: str | None) -> str:
    """The bag of a lot that a page of what leaves begins with, as its form names it; empty where nothing is free.

    It is the one in the place that was named, where anything is free there, else the fullest.
    """
    free = [bag for bag in lot.bags if bag.free_milli]
    meant = None if place is None else bags_meant(lot, place)[0].place
    there = [bag for bag in free if bag.place == meant] or free
    takings = from_bags(there, 1)
    return bag_value(*takings[0].bag) if takings else ""


def move_page(session: Session, lot_id: int, place: str) -> MovePage:
    """A bag that is moved, also one that was emptied since. Raises: Missing where none of the lot ever lay."""
    lot = lot_view(session, lot_id)
    bag = next((bag for bag in lot.bags if bag.place == place), None)
    if bag is None:
        raise Missing("bag", f"of lot {lot_id} in {place_word(place)}")
    return MovePage(item_view(session, lot.item_id), lot, bag)


def scrap_page(session: Session) -> ScrapPage:
    """Scrap that is put by."""
    found = session.scalars(select(col(Item.id)).where(col(Item.kind) == "scrap").order_by(col(Item.name)))
    ids = [item_id for item_id in found if item_id is not None]
    held, items = balances(session, ids), load_materials(session, ids)
    metals = tuple((metal.code, metal.name) for metal in all_metals(session).values() if metal.precious)
    return ScrapPage(tuple((items[item_id], held[item_id]) for item_id in ids), metals)
