"""What lies in the invented studio's drawers: what was there, what came since, what was counted, what left.

Every figure is invented. Items are named by the keys of `stock_key`, or by their names.
"""

from __future__ import annotations

from typing import NamedTuple

from models.operations.demo.stock import BOXES, FINDINGS, RINGS, WIREWORKS


class DemoBag(NamedTuple):
    """One bag as a person would type it in: the item, how much, where it lies, and its batch."""

    item: str
    much: str
    place: str
    batch: str = ""


class Delivery(NamedTuple):
    """What came in together, so many days ago; `paid` is what it cost as a share of today's offers."""

    days: int
    supplier: str
    freight: str
    paid: str
    bags: tuple[DemoBag, ...]


class Found(NamedTuple):
    """A bag that was counted, so many days ago."""

    days: int
    item: str
    place: str
    found: str
    batch: str = ""


class Gone(NamedTuple):
    """What left without a build, so many days ago."""

    days: int
    item: str
    much: str
    reason: str
    note: str = ""
    price: str = ""


DELIVERIES: tuple[Delivery, ...] = (
    Delivery(118, "", "", "0.94", (
        DemoBag("bronze-c226 0.8 2.8", "about 350", "drawer A1"),
        DemoBag("bronze-c226 1.2 4.0", "260", "drawer A1"),
        DemoBag("bronze-c226 1.2 5.0", "about 180", "drawer A2"),
        DemoBag("bronze-c226 1.6 6.5", "60", "drawer A2"),
        DemoBag("copper 1.0 3.6", "about 400", "drawer A3"),
        DemoBag("copper 18-AWG 5/32", "120", "drawer A3"),
        DemoBag("brass-c260 1.0 3.6", "plenty 600", "drawer A4"),
        DemoBag("brass-c260 1.2 5.0", "90", "drawer A4"),
        DemoBag("titanium 1.0 4.0", "140", "drawer C2"),
        DemoBag("stainless-304 1.0 3.6", "about 500", "drawer C3"),
        DemoBag("stainless-304 1.6 8.0", "85", "drawer C3"),
        DemoBag("aluminium-5356 1.0 3.6 violet", "210", "drawer B2", "bath 27"),
        DemoBag("aluminium-5356 1.0 3.6 leaf green", "140", "drawer B1", "bath 31"),
        DemoBag("aluminium-5356 1.0 3.6 sky blue", "95", "drawer B3", "bath 29"),
        DemoBag("niobium 0.8 3.6 teal", "60", "drawer C1", "tank 4"),
        DemoBag("gold-filled-14-20 0.8 3.0", "44", "safe"),
        DemoBag("tumbling soap", "about 380 g", "shelf by the sink"),
        DemoBag("polishing cloth", "14", "shelf by the sink"),
        DemoBag("key ring 24 mm, steel", "31", "tin 2"),
        DemoBag("glass bead 6 mm, amber", "about 70", "tin 2"),
    )),
    Delivery(74, WIREWORKS, "6.80", "0.97", (
        DemoBag("sterling-925 1.0 3.6", "2 ozt", "safe"),
        DemoBag("sterling-925 1.2 5.0", "1 ozt", "safe"),
        DemoBag("sterling-925 20-AWG 3.5", "1 ozt", "safe"),
        DemoBag("sterling-925 0.8 3.0", "160", "safe"),
        DemoBag("sterling-925 1.0 6.0", "12", "safe"),
        DemoBag("sterling wire", "4.5 m", "wire rack"),
        DemoBag("copper wire", "500 g", "wire rack"),
    )),
    Delivery(41, RINGS, "4.50", "1", (
        DemoBag("bronze-c226 1.0 3.6", "500", "drawer A1", "K 118"),
        DemoBag("brass-c260 1.0 4.0", "300", "drawer A4", "K 118"),
        DemoBag("copper 1.2 4.0", "400", "drawer A3", "K 121"),
        DemoBag("aluminium-5356 1.0 3.6 leaf green", "200", "drawer B1", "bath 34"),
        DemoBag("aluminium-5356 1.0 3.6 sky blue", "200", "drawer B3", "bath 33"),
        DemoBag("aluminium-5356 1.2 5.0 black", "300", "drawer B4", "bath 30"),
        DemoBag("aluminium-5356 16-SWG 1/4", "100 g", "drawer B4"),
        DemoBag("niobium 0.8 2.8 teal", "150", "drawer C1", "tank 7"),
        DemoBag("niobium 0.8 2.8 plum", "100", "drawer C1", "tank 7"),
        DemoBag("titanium 0.8 2.8", "400", "drawer C2"),
        DemoBag("stainless-304 1.2 5.0", "300", "drawer C3"),
        DemoBag("rubber-epdm 1.6 6.4 black", "70", "tin 1"),
        DemoBag("small scale, sky blue", "50", "tin 1"),
    )),
    Delivery(19, FINDINGS, "2.90", "1", (
        DemoBag("ear wire, titanium", "40", "tin 3"),
        DemoBag("ear wire, bronze", "20", "tin 3"),
        DemoBag("lobster clasp, bronze", "20", "tin 3"),
        DemoBag("toggle clasp, sterling", "2", "safe"),
        DemoBag("fine chain, bronze", "5 m", "tin 4"),
        DemoBag("fine chain, steel", "10 m", "tin 4"),
    )),
    Delivery(19, BOXES, "3.20", "1", (
        DemoBag("gift box, small", "50", "shelf"),
        DemoBag("backing card", "100", "shelf"),
        DemoBag("padded bag", "25", "shelf"),
    )),
    Delivery(6, RINGS, "2.20", "1", (
        DemoBag("Bright aluminium 5356 ring 1.6 × 6.35 mm", "90", "drawer B4", "K 140"),
    )),
)  # fmt: skip

COUNTS: tuple[Found, ...] = (
    Found(33, "bronze-c226 1.2 4.0", "drawer A1", "252"),
    Found(33, "bronze-c226 0.8 2.8", "drawer A1", "about 340"),
    Found(12, "aluminium-5356 1.0 3.6 leaf green", "drawer B1", "136", "bath 31"),
    Found(12, "aluminium-5356 1.0 3.6 leaf green", "drawer B1", "200", "bath 34"),
    Found(4, "titanium 0.8 2.8", "drawer C2", "397"),
)

GONE: tuple[Gone, ...] = (
    Gone(30, "bronze-c226 1.0 3.6", "18", "lost", "Rolled under the bench."),
    Gone(26, "brass-c260 1.0 4.0", "30", "sample", "For the Thursday class."),
    Gone(15, "sterling-925 1.0 3.6", "9", "spoiled", "Closed with the wrong pliers."),
    Gone(8, "aluminium-5356 1.2 5.0 black", "50", "sold", "Loose, at the market.", "4.00"),
)

LEVELS: dict[str, tuple[str, str]] = {
    "bronze-c226 1.0 3.6": ("200", "600"),
    "aluminium-5356 1.0 3.6 leaf green": ("150", "400"),
    "titanium 0.8 2.8": ("200", "500"),
    "niobium 0.8 2.8 plum": ("120", "300"),
    "sterling-925 1.0 3.6": ("400", "900"),
    "ear wire, titanium": ("20", "60"),
    "toggle clasp, sterling": ("3", "6"),
    "gift box, small": ("15", "60"),
}
"""When to buy again, and up to how much."""

CHANGING = ("leaf green", "violet", "sky blue", "black", "teal", "plum")
"""The colours that differ from bath to bath."""

STAND_INS: tuple[tuple[str, str, bool], ...] = (
    ("copper 18-AWG 5/32", "copper 1.0 3.6", False),
    ("brass-c260 1.0 4.0", "brass-c260 1.0 3.6", True),
)
"""What may stand in for what, and whether each for the other."""
