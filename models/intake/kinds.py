"""The kinds of fields that a draft declares: how each is read, what it holds in a file and in JSON, and its words.

What follows from a whole declaration stands in `fields`, lists of smaller drafts too. How text becomes a value lives in
`raw`.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Literal

from models.intake.csv_file import Column, Holds
from models.intake.raw import LARGEST_COUNT, LARGEST_MONEY, Reader
from models.trade.measures import exact_mass_text, exact_text
from models.trade.money import is_currency

ANY_NUMBER: dict[str, object] = {"anyOf": [{"type": "string"}, {"type": "number"}]}
"""The JSON schema of what is read from text or from a JSON number alike."""
NUMBER_OR_NULL: dict[str, object] = {"anyOf": [{"type": "string"}, {"type": "number"}, {"type": "null"}]}
DAY_OR_NULL: dict[str, object] = {"type": ["string", "null"], "format": "date"}
MONEY_SCHEMA: dict[str, object] = {
    "description": "An amount in the shop's currency: decimal text, or amount and currency as the API sends them.",
    "anyOf": [
        {"type": "string"},
        {
            "type": "object",
            "properties": {"amount": {"type": "string"}, "currency": {"type": "string"}},
            "required": ["amount", "currency"],
        },
    ],
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Declared:
    """What every declared field has: how people call it, what it is for, an example, and what nothing said means.

    `starts` is what a program or a file means that leaves the field out, and what a new form shows; a form that was
    sent without it (a box that is not ticked) means the reader's own default instead. `typed` is its name in forms,
    files and JSON where the draft's has a unit (`wire` for `wire_nm`). What is not `in_row` has no column in a table.
    `held` and `json` are what a column of a file and a JSON schema say where that is not what its kind says.
    """

    label: str
    says: str = ""
    example: str = ""
    starts: Any = None
    typed: str = ""
    in_row: bool = True
    in_file: bool = True
    in_body: bool = True
    held: Holds | None = None
    json: Mapping[str, object] | None = None

    def read(self, reader: Reader, name: str) -> object:
        """The value of the field, or something harmless beside a collected fault."""
        raise NotImplementedError(type(self).__name__)

    @property
    def holds(self) -> Holds:
        """What a column of a file holds."""
        return "text"

    @property
    def needed(self) -> bool:
        """Whether a file or a call must bring it."""
        return False

    def schema(self) -> dict[str, object]:
        """The field in a JSON schema."""
        return {"type": "string"}

    def words(self, value: Any) -> str:
        """The value as a list of differences shows it."""
        return "" if value is None else str(value)

    def text(self, value: Any) -> object:
        """The value as it is handed in: reading it gives it back."""
        return "" if value is None else value

    def column(self, name: str) -> Column:
        """The field as a column of a file."""
        says = self.says or f"{self.label}."
        holds = self.held or self.holds
        return Column(name, says, required=self.needed, example=self.example, holds=holds)

    def described(self) -> dict[str, object]:
        """The field in a JSON schema, with its help where there is some."""
        schema = dict(self.json) if self.json is not None else self.schema()
        return {"description": self.says, **schema} if self.says else schema


@dataclass(frozen=True, slots=True, kw_only=True)
class Text(Declared):
    """Trimmed text of at most `most` characters; `required` is what is said when it is missing.

    `tidy` writes it as it is kept; `wrong` says what is wrong with a tidied one, '' when nothing is.
    """

    required: str = ""
    most: int = 200
    lines: bool = False
    tidy: Callable[[str], str] | None = None
    wrong: Callable[[str], str] | None = None

    def read(self, reader: Reader, name: str) -> str:
        found = reader.text(name, required=self.required, most=self.most, lines=self.lines)
        found = self.tidy(found) if self.tidy else found
        if found and self.wrong and (words := self.wrong(found)):
            reader.fault(name, words)
            return ""
        return found

    @property
    def needed(self) -> bool:
        return bool(self.required)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice(Declared):
    """One word of a vocabulary; with `default` it may be left out, and '' as default means that none is chosen."""

    among: Collection[str]
    default: str | None = None

    @property
    def allowed(self) -> tuple[str, ...]:
        """The words that are taken, in the order in which they are offered."""
        return ("", *self.among) if self.default == "" else tuple(self.among)

    def read(self, reader: Reader, name: str) -> str:
        return reader.choice(name, self.allowed, default=self.default)

    @property
    def holds(self) -> Holds:
        return "choice"

    @property
    def needed(self) -> bool:
        return self.default is None

    def schema(self) -> dict[str, object]:
        return {"type": "string", "enum": list(self.allowed)}

    def column(self, name: str) -> Column:
        column = super(Choice, self).column(name)
        return replace(column, says=f"{column.says} One of: {', '.join(self.among)}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Flag(Declared):
    """Yes or no."""

    default: bool = False

    def read(self, reader: Reader, name: str) -> bool:
        return reader.flag(name, default=self.default)

    @property
    def holds(self) -> Holds:
        return "yes or no"

    def schema(self) -> dict[str, object]:
        return {"type": "boolean"}

    def words(self, value: Any) -> str:
        return "yes" if value else "no"


@dataclass(frozen=True, slots=True, kw_only=True)
class _Numeric(Declared):
    @property
    def holds(self) -> Holds:
        return "number"

    def schema(self) -> dict[str, object]:
        return dict(ANY_NUMBER)

    def words(self, value: Any) -> str:
        return "" if value is None else format(value, "f") if isinstance(value, Decimal) else str(value)

    def text(self, value: Any) -> object:
        return format(value, "f") if isinstance(value, Decimal) else super(_Numeric, self).text(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Whole(_Numeric):
    """A whole number within bounds."""

    least: int = 0
    most: int = LARGEST_COUNT
    default: int | None = None
    required: bool = True

    def read(self, reader: Reader, name: str) -> int | None:
        found = reader.integer(name, least=self.least, most=self.most, default=self.default, required=self.required)
        return self.default if found is None else found

    @property
    def needed(self) -> bool:
        return self.required and self.default is None

    def schema(self) -> dict[str, object]:
        if self.required or self.default is not None:
            return {"type": "integer", "minimum": self.least}
        return {"type": ["integer", "null"], "minimum": self.least, "maximum": self.most}


@dataclass(frozen=True, slots=True, kw_only=True)
class Number(_Numeric):
    """A decimal number within bounds, with at most `places` decimals."""

    least: Decimal = Decimal(0)
    most: Decimal = LARGEST_MONEY
    default: Decimal | None = None
    required: bool = True
    places: int = 6

    def read(self, reader: Reader, name: str) -> Decimal | None:
        found = reader.decimal(
            name, least=self.least, most=self.most, default=self.default, required=self.required, places=self.places
        )
        return self.default if found is None else found

    @property
    def needed(self) -> bool:
        return self.required and self.default is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Percent(_Numeric):
    """A percentage as a number like 6.5; `below` refuses `most` itself, `too_small` is said of one under `least`."""

    least: Decimal = Decimal(0)
    too_small: str = ""
    most: Decimal = Decimal(100)
    default: Decimal | None = None
    required: bool = True
    below: bool = False

    def read(self, reader: Reader, name: str) -> Decimal | None:
        found = reader.percent(name, most=self.most, default=self.default, required=self.required, below=self.below)
        if found is not None and found < self.least:
            reader.fault(name, self.too_small)
        return self.default if found is None else found

    @property
    def needed(self) -> bool:
        return self.required and self.default is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Money(_Numeric):
    """An amount, exact to a millionth: in the shop's currency, or in that which another field names (`foreign`)."""

    least: Decimal = Decimal(0)
    default: Decimal | None = None
    required: bool = True
    foreign: bool = False

    def read(self, reader: Reader, name: str) -> Decimal | None:
        found = reader.money(name, default=self.default, required=self.required, least=self.least)
        return self.default if found is None else found

    @property
    def needed(self) -> bool:
        return self.required and self.default is None

    def schema(self) -> dict[str, object]:
        return dict(ANY_NUMBER if self.foreign else MONEY_SCHEMA)


@dataclass(frozen=True, slots=True, kw_only=True)
class Day(Declared):
    """A calendar day."""

    required: bool = True

    def read(self, reader: Reader, name: str) -> object:
        return reader.date(name, required=self.required)

    @property
    def needed(self) -> bool:
        return self.required

    def schema(self) -> dict[str, object]:
        return {"type": "string", "format": "date"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Identity(Declared):
    """The number of a row that must exist; whether it does is asked where the database is."""

    required: bool = True
    in_file: bool = False

    def read(self, reader: Reader, name: str) -> int | None:
        return reader.identity(name, required=self.required)

    @property
    def needed(self) -> bool:
        return self.required

    def schema(self) -> dict[str, object]:
        return {"type": "integer"}

    @property
    def holds(self) -> Holds:
        return "number"


@dataclass(frozen=True, slots=True, kw_only=True)
class Size(_Numeric):
    """A length in nanometres: of a wire (a gauge too), of an opening, or any other.

    `none` is said of one that is zero, where zero is none; `too_large` of one over `most_nm`.
    """

    reads: Literal["wire", "inner", "length"] = "length"
    required: bool = True
    most_nm: int | None = None
    too_large: str = ""
    none: str = ""

    def read(self, reader: Reader, name: str) -> int | None:
        read = {"wire": reader.wire, "inner": reader.inner, "length": reader.length}[self.reads]
        found = read(name, required=self.required)
        if found is not None and self.most_nm is not None and found.nm > self.most_nm:
            reader.fault(name, self.too_large)
        if found is not None and self.none and found.nm <= 0:
            reader.fault(name, self.none)
            return None
        return None if found is None else found.nm

    @property
    def holds(self) -> Holds:
        return "size"

    @property
    def needed(self) -> bool:
        return self.required

    def words(self, value: Any) -> str:
        return "" if value is None else exact_text(value)

    def text(self, value: Any) -> object:
        return "" if value is None else exact_text(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Mass(_Numeric):
    """A mass in micrograms; `none` is said of one that is zero, where zero is none."""

    required: bool = True
    none: str = ""

    def read(self, reader: Reader, name: str) -> int | None:
        found = reader.mass(name, required=self.required)
        if found is not None and self.none and found <= 0:
            reader.fault(name, self.none)
            return None
        return found

    @property
    def holds(self) -> Holds:
        return "size"

    @property
    def needed(self) -> bool:
        return self.required

    def words(self, value: Any) -> str:
        return "" if value is None else exact_mass_text(value)

    def text(self, value: Any) -> object:
        return "" if value is None else exact_mass_text(value)


@dataclass(frozen=True, slots=True, kw_only=True)
class Own(Declared):
    """A field that its noun reads in its own way, by `by`; without one it is read together with others."""

    by: Callable[[Reader, str], object] | None = None
    required: bool = False

    def read(self, reader: Reader, name: str) -> object:
        if self.by is None:
            raise TypeError(f"'{name}' is read together with other fields")
        return self.by(reader, name)

    @property
    def needed(self) -> bool:
        return self.required


def no_currency(code: str) -> str:
    """What is wrong with a code that is no currency; '' for one that is."""
    if is_currency(code):
        return ""
    return f"'{code}' is not a currency of ISO 4217; give three letters such as EUR, GBP or USD."


RATE_OF_EXCHANGE = Number(
    label="Rate",
    says="What one unit of another currency costs in the shop's own.",
    example="0.92",
    required=False,
    least=Decimal("0.000001"),
    most=Decimal(1_000_000),
    places=10,
)
"""What another currency costs; None for the shop's own."""
