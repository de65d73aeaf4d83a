"""Words of pieces that are laid out: edges, what hangs where, whole shapes, and the way through a piece."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from models.trade.vocabulary.terms import Term, Vocabulary, closed

LayoutKind = Literal["sheet", "chain"]
Edge = Literal["first row", "last row", "row starts", "row ends"]
Where = Literal[Edge, "outline", "every ring", "attachment"]
Hanging = Literal["hang", "gather", "join", "bail", "clasp"]
Side = Literal["top", "right", "bottom", "left"]
ShapeName = Literal["lozenge", "rectangle", "strip", "triangle", "trapezium", "fan", "disc", "edges"]
Method = Literal["single rings", "adding closed rings"]
Sides = Literal["rows after first", "rows before first", "in turn"]
Turn = Literal["none", "sideways", "end over end", "round"]
When = Literal["each row", "each side"]
Way = Literal["left to right", "right to left", "back and forth"]
Whose = Literal["way", "own"]

LAYOUT_KINDS: Vocabulary[LayoutKind, Term] = closed(
    "kind of layout", {"sheet": Term(says="sheet"), "chain": Term(says="chain")}
)

EDGES: tuple[Edge, ...] = ("first row", "last row", "row starts", "row ends")
"""The edges of a piece of rows."""
ROUND: tuple[Edge, ...] = ("first row", "row ends", "last row", "row starts")
"""The edges in the order in which they follow one another, clockwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceOfHanging(Term):
    """Where something hangs; whether what is gathered there draws the piece in along its rows, or across them."""

    along: bool = False
    across: bool = False


WHERES: Vocabulary[Where, PlaceOfHanging] = closed(
    "where something hangs",
    {
        "first row": PlaceOfHanging(says="the first row", along=True),
        "last row": PlaceOfHanging(says="the last row", along=True),
        "row starts": PlaceOfHanging(says="where rows start", across=True),
        "row ends": PlaceOfHanging(says="where rows end", across=True),
        "outline": PlaceOfHanging(says="the outline", along=True, across=True),
        "every ring": PlaceOfHanging(says="every ring"),
        "attachment": PlaceOfHanging(says="what hangs there"),
    },
)

SIDES: tuple[Side, ...] = ("top", "right", "bottom", "left")
"""The sides of a piece as it hangs, clockwise."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KindOfHanging(Term):
    """Something that hangs on a piece; `of` says what is chosen for it: its ring, or its finding."""

    of: Literal["ring", "finding"]


HANGINGS: Vocabulary[Hanging, KindOfHanging] = closed(
    "what hangs on a piece",
    {
        "hang": KindOfHanging(says="hung rings", offered="rings, hung on each", of="ring"),
        "gather": KindOfHanging(says="gathering ring", offered="one ring through all", of="ring"),
        "join": KindOfHanging(says="chain", offered="a chain, tied on", of="finding"),
        "bail": KindOfHanging(says="bail", offered="a bail", of="finding"),
        "clasp": KindOfHanging(says="clasp", offered="a clasp", of="finding"),
    },
)


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedShape(Term):
    """A whole shape that a piece is laid out as; `main` is the field that says how large it is."""

    main: str


SHAPES: Vocabulary[ShapeName, NamedShape] = closed(
    "shape",
    {
        "lozenge": NamedShape(says="lozenge", main="lozenge_middle"),
        "rectangle": NamedShape(says="rectangle", main="rectangle_rows"),
        "strip": NamedShape(says="strip", main="strip_long"),
        "triangle": NamedShape(says="triangle", main="triangle_widest"),
        "trapezium": NamedShape(says="trapezium", main="trapezium_first"),
        "fan": NamedShape(says="fan", main="fan_rows"),
        "disc": NamedShape(says="disc", main="disc_rows"),
        "edges": NamedShape(says="own edges", main="edges_rows"),
    },
)

METHODS: Vocabulary[Method, Term] = closed(
    "method of work",
    {
        "single rings": Term(says="one open ring at a time"),
        "adding closed rings": Term(says="open rings that each bring in closed ones"),
    },
)
ROW_ORDERS: Vocabulary[Sides, Term] = closed(
    "order of rows",
    {
        "rows after first": Term(says="the rows after it first, then those before"),
        "rows before first": Term(says="the rows before it first, then those after"),
        "in turn": Term(says="one after and one before, in turn"),
    },
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TurnOfPiece(Term):
    """A turn of the piece on the bench; `order` asks for it, and nothing where it stays."""

    order: str = ""


TURNS: Vocabulary[Turn, TurnOfPiece] = closed(
    "turn of the piece",
    {
        "none": TurnOfPiece(says="leave it as it lies"),
        "sideways": TurnOfPiece(says="over sideways, like a page", order="Turn the piece over sideways, like a page."),
        "end over end": TurnOfPiece(says="over, end over end", order="Turn the piece over end over end."),
        "round": TurnOfPiece(
            says="round by half a turn, face up", order="Turn the piece round by half a turn, face up."
        ),
    },
)
WHENS: Vocabulary[When, Term] = closed(
    "when it is turned",
    {
        "each row": Term(says="before each row"),
        "each side": Term(says="when the side changes"),
    },
)
WAYS: Vocabulary[Way, Term] = closed(
    "way along a row",
    {
        "left to right": Term(says="left to right"),
        "right to left": Term(says="right to left"),
        "back and forth": Term(says="back and forth"),
    },
)
WHOSE: Vocabulary[Whose, Term] = closed(
    "whose choice of closed rings",
    {"way": Term(says="those that the way gives"), "own": Term(says="my own choice")},
)
