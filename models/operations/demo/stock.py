"""The invented studio's suppliers and stock items, as a person would type them.

Every name and price is invented. Sizes are real trade sizes (common practice, no source).
"""

from __future__ import annotations

from typing import NamedTuple

WIREWORKS = "Ostrel Wireworks (invented)"
RINGS = "Quillby Rings (invented)"
FINDINGS = "Marrow Lane Findings (invented)"
BARN = "Tarn Ring Barn (invented)"
BOXES = "Pennant Paper & Box (invented)"

SUPPLIERS: tuple[dict[str, str], ...] = (
    {
        "name": WIREWORKS,
        "lead_days": "9",
        "postage": "6.80",
        "free_from": "250",
        "minimum": "40",
        "note": "Wire by weight and cut rings in silver. Not a real firm.",
    },
    {
        "name": RINGS,
        "lead_days": "5",
        "postage": "4.50",
        "free_from": "60",
        "note": "Rings in bags of 100 and by weight. Not a real firm.",
    },
    {
        "name": BARN,
        "lead_days": "12",
        "postage": "2.90",
        "minimum": "15",
        "note": "Large bags, slow post. Not a real firm.",
    },
    {"name": FINDINGS, "lead_days": "4", "postage": "2.90", "note": "Clasps, ear wires and chain. Not a real firm."},
    {"name": BOXES, "lead_days": "7", "postage": "3.20", "note": "Boxes, cards and bags. Not a real firm."},
)


class Ring(NamedTuple):
    """One bag of rings as typed, with the pack that is bought: 'pack unit price'."""

    metal: str
    wire: str
    inner: str
    pack: str
    colour: str = ""
    finish: str = ""
    label: str = ""
    arrives: str = "open"
    tint: str = ""
    supplier: str = RINGS


RING_BAGS: tuple[Ring, ...] = (
    Ring("bronze-c226", "0.8 mm", "2.8 mm", "100 piece 3.10"),
    Ring("bronze-c226", "1.0 mm", "3.6 mm", "100 piece 3.40"),
    Ring("bronze-c226", "1.2 mm", "4.0 mm", "100 piece 3.95"),
    Ring("bronze-c226", "1.2 mm", "5.0 mm", "50 g 6.80"),
    Ring("bronze-c226", "1.6 mm", "6.5 mm", "50 g 6.40", label="16 SWG"),
    Ring("copper", "1.0 mm", "3.6 mm", "100 piece 2.70"),
    Ring("copper", "1.2 mm", "4.0 mm", "100 piece 3.05"),
    Ring("copper", "18 AWG", "5/32 in", "50 g 5.20"),
    Ring("brass-c260", "1.0 mm", "3.6 mm", "100 piece 2.60"),
    Ring("brass-c260", "1.0 mm", "4.0 mm", "100 piece 2.75"),
    Ring("brass-c260", "1.2 mm", "5.0 mm", "100 piece 3.20"),
    Ring("sterling-925", "20 AWG", "3.5 mm", "1 ozt 62.00", supplier=WIREWORKS),
    Ring("sterling-925", "0.8 mm", "3.0 mm", "1 ozt 63.50", supplier=WIREWORKS),
    Ring("sterling-925", "1.0 mm", "3.6 mm", "1 ozt 61.00", supplier=WIREWORKS),
    Ring("sterling-925", "1.2 mm", "5.0 mm", "1 ozt 60.00", supplier=WIREWORKS),
    Ring("sterling-925", "1.0 mm", "6.0 mm", "10 piece 7.80", finish="soldered", arrives="closed", supplier=WIREWORKS),
    Ring(
        "aluminium-5356", "1.0 mm", "3.6 mm", "100 piece 2.20", colour="leaf green", finish="anodised", tint="#3f8f5b"
    ),
    Ring("aluminium-5356", "1.0 mm", "3.6 mm", "100 piece 2.20", colour="violet", finish="anodised", tint="#7a58a6"),
    Ring("aluminium-5356", "1.0 mm", "3.6 mm", "100 piece 2.20", colour="sky blue", finish="anodised", tint="#4f93c4"),
    Ring("aluminium-5356", "1.2 mm", "5.0 mm", "100 piece 2.60", colour="black", finish="anodised", tint="#3b3d42"),
    Ring("aluminium-5356", "16 SWG", "1/4 in", "50 g 3.90", finish="bright"),
    Ring("niobium", "0.8 mm", "2.8 mm", "50 piece 6.20", colour="teal", finish="anodised", tint="#2f8f8f"),
    Ring("niobium", "0.8 mm", "2.8 mm", "50 piece 6.20", colour="plum", finish="anodised", tint="#7b3f6d"),
    Ring("niobium", "0.8 mm", "3.6 mm", "50 piece 6.90", colour="teal", finish="anodised", tint="#2f8f8f"),
    Ring("titanium", "0.8 mm", "2.8 mm", "100 piece 7.40"),
    Ring("titanium", "1.0 mm", "4.0 mm", "100 piece 8.10"),
    Ring("stainless-304", "1.0 mm", "3.6 mm", "100 piece 2.90"),
    Ring("stainless-304", "1.2 mm", "5.0 mm", "100 piece 3.30"),
    Ring("stainless-304", "1.6 mm", "8.0 mm", "50 g 4.10"),
    Ring("rubber-epdm", "1.6 mm", "6.4 mm", "50 piece 3.60", colour="black", arrives="closed", tint="#2f3033"),
    Ring("gold-filled-14-20", "0.8 mm", "3.0 mm", "50 piece 21.50", supplier=WIREWORKS),
)

OTHERS: tuple[dict[str, str], ...] = (
    {
        "kind": "scale",
        "name": "small scale, sky blue",
        "metal": "aluminium-1100",
        "colour": "sky blue",
        "tint": "#4f93c4",
        "hole": "3.4 mm",
        "mass": "0.16 g",
        "pack": "50 piece 7.50",
        "supplier": RINGS,
    },
    {
        "kind": "bead",
        "name": "glass bead 6 mm, amber",
        "colour": "amber",
        "tint": "#c98a2b",
        "hole": "1.4 mm",
        "mass": "0.29 g",
        "pack": "100 piece 4.80",
        "supplier": FINDINGS,
    },
    {
        "kind": "finding",
        "name": "ear wire, titanium",
        "metal": "titanium",
        "mass": "0.11 g",
        "pack": "20 piece 9.60",
        "supplier": FINDINGS,
    },
    {
        "kind": "finding",
        "name": "ear wire, bronze",
        "metal": "bronze-c226",
        "mass": "0.19 g",
        "pack": "20 piece 4.20",
        "supplier": FINDINGS,
    },
    {
        "kind": "finding",
        "name": "lobster clasp, bronze",
        "metal": "bronze-c226",
        "mass": "1.1 g",
        "pack": "10 piece 6.50",
        "supplier": FINDINGS,
    },
    {
        "kind": "finding",
        "name": "toggle clasp, sterling",
        "metal": "sterling-925",
        "mass": "2.6 g",
        "pack": "1 piece 7.90",
        "supplier": FINDINGS,
    },
    {
        "kind": "finding",
        "name": "key ring 24 mm, steel",
        "metal": "stainless-304",
        "mass": "4.2 g",
        "pack": "25 piece 5.00",
        "supplier": FINDINGS,
    },
    {
        "kind": "chain",
        "name": "fine chain, bronze",
        "metal": "bronze-c226",
        "unit": "m",
        "mass": "7.8 g",
        "pack": "5 m 14.50",
        "supplier": FINDINGS,
    },
    {
        "kind": "chain",
        "name": "fine chain, steel",
        "metal": "stainless-304",
        "unit": "m",
        "mass": "6.1 g",
        "pack": "10 m 15.00",
        "supplier": FINDINGS,
    },
    {
        "kind": "wire",
        "name": "sterling wire",
        "metal": "sterling-925",
        "wire": "0.8 mm",
        "unit": "m",
        "pack": "1 ozt 48.00",
        "supplier": WIREWORKS,
    },
    {
        "kind": "wire",
        "name": "copper wire",
        "metal": "copper",
        "wire": "1.2 mm",
        "unit": "m",
        "pack": "500 g 13.80",
        "supplier": WIREWORKS,
    },
    {"kind": "packaging", "name": "gift box, small", "mass": "21 g", "pack": "50 piece 32.00", "supplier": BOXES},
    {"kind": "packaging", "name": "backing card", "mass": "2 g", "pack": "100 piece 9.00", "supplier": BOXES},
    {"kind": "packaging", "name": "padded bag", "mass": "14 g", "pack": "25 piece 7.25", "supplier": BOXES},
    {"kind": "consumable", "name": "tumbling soap", "unit": "g", "pack": "500 g 6.00", "supplier": WIREWORKS},
    {"kind": "consumable", "name": "polishing cloth", "mass": "8 g", "pack": "10 piece 8.50", "supplier": FINDINGS},
    {
        "kind": "ring",
        "name": "Bright aluminium 5356 ring 1.6 × 6.35 mm",
        "metal": "aluminium-5356",
        "finish": "bright",
        "wire": "1.6 mm",
        "inner": "6.35 mm",
        "arrives": "open",
        "pack": "50 g 3.70",
        "supplier": RINGS,
        "near_ok": "yes",
    },
)
