"""The invented studio's designs and outlets: shapes and counts of our own, as a person would type them.

Designs that are laid out in rows have only their other parts here; their rows are in `layouts`.
"""

from __future__ import annotations

from typing import NamedTuple

from models.intake.designs.design import USUAL_WORK


class P(NamedTuple):
    """One part: how many of which item (by the key that `stock_key` gives it), for what."""

    quantity: str
    item: str
    purpose: str = ""
    optional: bool = False
    group: str = ""
    choice: str = ""
    joined: bool = True


class D(NamedTuple):
    """One design; work is a list of kinds, or kind=minutes."""

    name: str
    piece: str
    weave: str
    skill: int
    note: str
    parts: tuple[P, ...]
    work: tuple[str, ...]
    width: str = ""
    height: str = ""
    length: str = ""
    once_pieces: int = 10
    listed: tuple[tuple[str, str], ...] = ()


BASIC = USUAL_WORK
WEB, STALL, GALLERY, SHOPS = "Web shop", "Saturday market", "Harbour gallery", "Wholesale"

DESIGNS: tuple[D, ...] = (
    D("Saltmarsh pendant", "pendant", "european-4-in-1", 2,
      "A lozenge of eleven rows, green in the middle; hangs from one gathering ring.",
      (P("2", "bronze-c226 1.2 4.0", "chain ends"), P("1", "lobster clasp, bronze"), P("1", "gift box, small"),
       P("1", "backing card")),
      (*BASIC, "tumble", "polish"), listed=((WEB, "42.00"), (STALL, "38.00"))),
    D("Tideline bracelet", "bracelet", "byzantine", 3, "Byzantine in silver with a toggle.",
      (P("1", "gift box, small"), P("2", "tumbling soap")),
      (*BASIC, "tumble", "polish"), once_pieces=6, listed=((WEB, "148.00"), (GALLERY, "215.00"))),
    D("Rook earrings", "earrings", "box-chain", 3, "Two short box chains in titanium, very light.",
      (P("56", "titanium 0.8 2.8", "chains"), P("2", "ear wire, titanium"), P("1", "backing card")),
      (*BASIC,), height="31 mm", listed=((WEB, "36.00"), (STALL, "34.00"))),
    D("Thistle earrings", "earrings", "shaggy-loops", 1, "A loose cluster on each ear; comes in two colours.",
      (P("44", "niobium 0.8 2.8 teal", "cluster", group="colour", choice="teal"),
       P("44", "niobium 0.8 2.8 plum", "cluster", group="colour", choice="plum"),
       P("10", "niobium 0.8 3.6 teal", "core"), P("2", "ear wire, titanium"), P("1", "backing card")),
      (*BASIC,), height="26 mm", listed=((WEB, "37.00"),)),
    D("Bracken bracelet", "bracelet", "spiral-4-in-1", 2, "A brass spiral, twisted once round.",
      (P("128", "brass-c260 1.0 4.0", "spiral"), P("2", "brass-c260 1.2 5.0", "ends"), P("1", "lobster clasp, bronze"),
       P("1", "backing card"), P("1", "polishing cloth", "goes with it", optional=True)),
      (*BASIC, "tumble"), length="185 mm", listed=((STALL, "36.00"),)),
    D("Gatehouse bracelet", "bracelet", "half-persian-3-in-1", 4, "A flat steel chain that lies like cloth.",
      (P("146", "stainless-304 1.2 5.0", "chain"), P("1", "lobster clasp, bronze"), P("1", "gift box, small")),
      (*BASIC, "tumble"), length="195 mm", once_pieces=8, listed=((WEB, "64.00"),)),
    D("Quarry cuff", "bracelet", "european-4-in-1", 2, "Stretches over the hand: rubber rows between bright ones.",
      (P("78", "rubber-epdm 1.6 6.4 black", "stretching rows"), P("156", "aluminium-5356 16-SWG 1/4", "bright rows"),
       P("1", "backing card")),
      (*BASIC,), width="48 mm", length="180 mm", listed=((STALL, "45.00"),)),
    D("Ferry key ring", "key ring", "chain-2-in-2", 1, "Two rings on two rings; the first thing we teach.",
      (P("24", "aluminium-5356 16-SWG 1/4", "chain"), P("4", "aluminium-5356 1.2 5.0 black", "accents"),
       P("1", "key ring 24 mm, steel")),
      BASIC, length="85 mm", once_pieces=40, listed=((STALL, "9.00"),)),
    D("Moonwheel pendant", "pendant", "flower-5", 2, "Five silver rings lie through one another; on a silver ring.",
      (P("5", "sterling-925 1.2 5.0", "wheel"), P("1", "sterling-925 1.0 6.0", "bail"),
       P("1", "gift box, small"), P("1", "polishing cloth", "goes with it", optional=True)),
      (*BASIC, "polish"), height="17 mm", listed=((WEB, "28.00"), (GALLERY, "36.00"))),
    D("Minnow earrings", "earrings", "chain-1-in-1", 1, "One small scale on a short chain of three rings.",
      (P("2", "small scale, sky blue"), P("6", "aluminium-5356 1.0 3.6 sky blue", "chain"), P("2", "ear wire, bronze"),
       P("1", "backing card")),
      (*BASIC,), height="38 mm", once_pieces=20, listed=((STALL, "16.00"),)),
    D("Cockle earring", "earring", "european-4-in-1", 2,
      "One fan with a straight edge, striped, worn on one ear; make two for a pair.",
      (P("1", "backing card"),), (*BASIC,), once_pieces=16, listed=((STALL, "24.00"),)),
    D("Estuary necklace", "necklace", "japanese-12-in-2", 4, "A patch of double rings in copper on a bronze chain.",
      (P("96", "copper 1.2 4.0", "connectors"), P("38", "copper 18-AWG 5/32", "hubs"),
       P("0.5", "fine chain, bronze", "neck chain"), P("1", "lobster clasp, bronze"), P("1", "gift box, small")),
      (*BASIC, "tumble", "polish", "seal"), width="70 mm", height="38 mm", once_pieces=4),
)  # fmt: skip

OUTLETS: tuple[dict[str, object], ...] = (
    {"name": WEB, "kind": "online", "tax_percent": "0", "prices_include_tax": "yes", "shipping_charged": "3.90",
     "postage_paid": "3.40", "wanted_margin_percent": "30", "ending": "x.00", "note": "Invented fees.",
     "fees": ({"label": "selling fee", "percent": "6.5", "base": "price+shipping"},
              {"label": "payment", "percent": "3.4", "base": "price+shipping+tax", "fixed": "0.30"},
              {"label": "listing", "fixed": "0.20"})},
    {"name": STALL, "kind": "market", "tax_percent": "0", "prices_include_tax": "yes", "period_fee": "45.00",
     "period_sales": "14", "wanted_margin_percent": "25", "ending": "x.00", "note": "One table, once a week; invented.",
     "fees": ({"label": "card reader", "percent": "1.7"},)},
    {"name": GALLERY, "kind": "consignment", "tax_percent": "0", "prices_include_tax": "yes",
     "wanted_margin_percent": "20", "ending": "5", "note": "Invented commission.",
     "fees": ({"label": "commission", "percent": "40"},)},
    {"name": SHOPS, "kind": "wholesale", "tax_percent": "0", "prices_include_tax": "no", "postage_paid": "1.10",
     "wanted_margin_percent": "15", "retail_multiple": "2.2", "ending": "x.50", "note": "Six pieces or more; invented.",
     "fees": ({"label": "bank transfer", "fixed": "0.15"},)},
)  # fmt: skip
