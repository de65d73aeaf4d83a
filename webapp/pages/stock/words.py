"""The words of the Stock room for what the ledger keeps: movements, acts, and how sure a count is."""

from __future__ import annotations

KIND_WORDS = {
    "ring": "Ring",
    "scale": "Scale",
    "bead": "Bead",
    "finding": "Finding",
    "chain": "Chain",
    "wire": "Wire",
    "packaging": "Packaging",
    "consumable": "Consumable",
}
"""What a person adds to the stock; finished pieces and scrap come by themselves."""

MOVEMENT_WORDS = {
    "receipt": "came in",
    "issue": "taken out",
    "return": "put back",
    "scrap": "left",
    "count": "counted",
    "sale": "sold",
    "transfer": "moved",
    "reversal": "taken back",
    "revalue": "revalued",
    "correction": "cost corrected",
    "carried": "of it, left already",
}
REASON_WORDS = {"spoiled": "spoiled", "lost": "lost", "gift": "given away", "sample": "given as a sample"}

SHELF_WORDS = (
    ("", "any"),
    ("there", "in stock"),
    ("low", "low: at or under the reorder point"),
    ("out", "none left"),
    ("rough", "roughly counted"),
    ("dead", "lying dead"),
)
PROCESS_LABELS = (
    ("anodise", "Anodise"),
    ("dye", "Dye"),
    ("patina", "Give a patina"),
    ("tumble", "Tumble"),
    ("pickle", "Pickle"),
    ("heat", "Heat"),
    ("other", "Something else"),
)
LEAVING_LABELS = (
    ("spoiled", "Spoiled"),
    ("lost", "Lost"),
    ("gift", "Given away"),
    ("sample", "Given as a sample"),
    ("sold", "Sold as it is"),
)


def movement_word(kind: str, reason: str) -> str:
    """What a movement was, in a word or two: 'came in', 'spoiled', 'moved'."""
    return REASON_WORDS.get(reason, MOVEMENT_WORDS[kind]) if kind == "scrap" else MOVEMENT_WORDS[kind]
