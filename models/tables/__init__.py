"""SQLModel tables, one file per noun: columns and constraints, no behaviour.

Importing this package registers every table on one metadata; migrations and the database compare against it.
"""

from models.tables.build import Build, BuildLine, BuildTime, DesignPace, Job, LearnedRate
from models.tables.columns import metadata
from models.tables.design import Design, Part, Revision, Work
from models.tables.figure import DesignFigure, PriceFigure
from models.tables.item import Item
from models.tables.layout import Layout, Swatch
from models.tables.lot import (
    BagCount,
    CostCorrection,
    ItemBalance,
    Lot,
    LotPlace,
    Movement,
    Reservation,
    StockTransaction,
    Weighing,
)
from models.tables.once import Once
from models.tables.outlet import ListedPrice, Outlet, OutletFee
from models.tables.plan import MakePlan, StandIn
from models.tables.purchase import Need, Purchase, PurchaseLine, PurchaseReceipt
from models.tables.shop import OwnMetal, Shop, WorkRate
from models.tables.sign_in import FIRST_PERSON, Owner, Person, ProgramKey, SignedIn, SignInTry
from models.tables.supplier import Offer, OfferBreak, PriceChange, Supplier
from models.tables.weave import FitRecord, WeaveBand

__all__ = [
    "FIRST_PERSON",
    "BagCount",
    "Build",
    "BuildLine",
    "BuildTime",
    "CostCorrection",
    "Design",
    "DesignFigure",
    "DesignPace",
    "FitRecord",
    "Item",
    "ItemBalance",
    "Job",
    "Layout",
    "LearnedRate",
    "ListedPrice",
    "Lot",
    "LotPlace",
    "MakePlan",
    "Movement",
    "Need",
    "Offer",
    "OfferBreak",
    "Once",
    "Outlet",
    "OutletFee",
    "OwnMetal",
    "Owner",
    "Part",
    "Person",
    "PriceChange",
    "PriceFigure",
    "ProgramKey",
    "Purchase",
    "PurchaseLine",
    "PurchaseReceipt",
    "Reservation",
    "Revision",
    "Shop",
    "SignInTry",
    "SignedIn",
    "StandIn",
    "StockTransaction",
    "Supplier",
    "Swatch",
    "WeaveBand",
    "Weighing",
    "Work",
    "WorkRate",
    "metadata",
]
