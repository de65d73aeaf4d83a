"""A noun declared once: the fields of a draft, each with its label, bounds, help and example.

A draft is a frozen dataclass whose fields are annotated with one of the kinds below, as in
`tax_percent: Annotated[Decimal, Percent("Tax", default=Decimal(0))]`. From that one line follow the reader, the columns
of a file, the JSON schema, the values of a form (`webapp/web/forms`), the answer of a call (`webapp/api/answers`), the
list of differences and the columns of a row that share its name. How text becomes a value lives in `raw`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, TypeVar, get_type_hints

from models.intake.csv_file import Column, Holds
from models.intake.faults import Fault, Faults
from models.intake.raw import LARGEST_COUNT, LARGEST_MONEY, Raw, Reader

D = TypeVar("D")

ANY_NUMBER: dict[str, object] = {"anyOf": [{"type": "string"}, {"type": "number"}]}
"""The JSON schema of what is read from text or from a JSON number alike."""
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
    sent without it (a box that is not ticked) means the reader's own default instead.
    """

    label: str
    says: str = ""
    example: str = ""
    starts: Any = None
    in_file: bool = True

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


@dataclass(frozen=True, slots=True, kw_only=True)
class Text(Declared):
    """Trimmed text of at most `most` characters; `required` is what is said when it is missing."""

    required: str = ""
    most: int = 200
    lines: bool = False

    def read(self, reader: Reader, name: str) -> str:
        return reader.text(name, required=self.required, most=self.most, lines=self.lines)

    @property
    def needed(self) -> bool:
        return bool(self.required)


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice(Declared):
    """One word of a vocabulary; with `default` it may be left out, and '' as default means that none is chosen."""

    among: Mapping[str, str]
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
        return {"type": "integer", "minimum": self.least}


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
    """A percentage as a number like 6.5; `below` refuses `most` itself."""

    most: Decimal = Decimal(100)
    default: Decimal | None = None
    required: bool = True
    below: bool = False

    def read(self, reader: Reader, name: str) -> Decimal | None:
        found = reader.percent(name, most=self.most, default=self.default, required=self.required, below=self.below)
        return self.default if found is None else found

    @property
    def needed(self) -> bool:
        return self.required and self.default is None


@dataclass(frozen=True, slots=True, kw_only=True)
class Money(_Numeric):
    """An amount in the shop's currency, exact to a millionth."""

    least: Decimal = Decimal(0)
    default: Decimal | None = None
    required: bool = True

    def read(self, reader: Reader, name: str) -> Decimal | None:
        found = reader.money(name, default=self.default, required=self.required, least=self.least)
        return self.default if found is None else found

    @property
    def needed(self) -> bool:
        return self.required and self.default is None

    def schema(self) -> dict[str, object]:
        return dict(MONEY_SCHEMA)


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
        return {"type": "integer", "minimum": 1}


@dataclass(frozen=True, slots=True, kw_only=True)
class Rows(Declared):
    """A list of smaller drafts, at most `most`; a row with nothing in the fields `asks` was left empty and is skipped.

    In a file its fields stand in numbered columns: `fee_1_label`, where `one` is 'fee'.
    """

    of: type[Any]
    one: str
    most: int
    asks: tuple[str, ...]
    too_many: str

    def read(self, reader: Reader, name: str) -> tuple[object, ...]:
        rows = reader.each(name, lambda row: read_fields(self.of, row) if self.kept(row) else None)
        if len(rows) > self.most:
            reader.fault(f"{name}.{self.most}.{self.asks[0]}", self.too_many)
        return tuple(row for row in rows if row is not None)

    def kept(self, row: Reader) -> bool:
        """Whether anything stands in a row: one that was added and left empty is none."""
        return any(row.has(field) for field in self.asks)

    def schema(self) -> dict[str, object]:
        return {"type": "array", "maxItems": self.most, "items": schema_of(self.of)}

    def words(self, value: Any) -> str:
        fields = fields_of(self.of)
        return "; ".join(
            ", ".join(f"{field.label} {field.words(getattr(row, name))}" for name, field in fields.items())
            for row in value
        )

    @property
    def numbered(self) -> Iterator[tuple[str, int, str, Declared]]:
        """The columns of a file: name, number of the row, name of its field, and the field."""
        for number in range(1, self.most + 1):
            for name, field in fields_of(self.of).items():
                yield f"{self.one}_{number}_{name}", number, name, field


def fields_of(draft: type[Any]) -> Mapping[str, Declared]:
    """The declared fields of a draft by name, in their order; one that is not declared has no entry."""
    found = _FIELDS.get(draft)
    if found is None:
        found = _FIELDS[draft] = _declared(draft)
    return found


_FIELDS: dict[type[Any], Mapping[str, Declared]] = {}


def _declared(draft: type[Any]) -> Mapping[str, Declared]:
    hints = get_type_hints(draft, include_extras=True)
    found: dict[str, Declared] = {}
    for name, hint in hints.items():
        declared = [one for one in getattr(hint, "__metadata__", ()) if isinstance(one, Declared)]
        if declared:
            found[name] = declared[-1]
    return found


def read_fields(draft: type[D], reader: Reader) -> D:
    """A draft of what the reader holds; ask the reader for faults before the draft is used."""
    return draft(**{name: field.read(reader, name) for name, field in fields_of(draft).items()})


def kept_places(draft: type[Any], name: str, raw: Raw) -> tuple[int, ...]:
    """Where in the list that was handed in each kept row of a nested field stood, for faults beside it."""
    field, rows = fields_of(draft)[name], raw.get(name, ())
    if not isinstance(field, Rows) or not isinstance(rows, Iterable):
        return ()
    return tuple(place for place, row in enumerate(rows) if isinstance(row, Mapping) and field.kept(Reader(row)))


def starting(draft: type[Any]) -> dict[str, object]:
    """What fields mean that a program or a file leaves out, where that is said."""
    return {name: field.starts for name, field in fields_of(draft).items() if field.starts is not None}


def schema_of(draft: type[Any]) -> dict[str, object]:
    """A JSON schema of the draft, an object with its required fields named."""
    fields = fields_of(draft)
    needed = [name for name, field in fields.items() if field.needed]
    schema: dict[str, object] = {"type": "object", "properties": properties_of(draft)}
    return {**schema, "required": needed} if needed else schema


def properties_of(draft: type[Any]) -> dict[str, object]:
    """The properties of that schema, each with its help where there is some."""
    return {
        name: {"description": field.says, **field.schema()} if field.says else field.schema()
        for name, field in fields_of(draft).items()
    }


def differences(saved: object, typed: object) -> tuple[tuple[str, str, str], ...]:
    """What differs between two drafts of one kind: label, saved and typed words, in the order of the fields."""
    return tuple(
        (field.label, field.words(getattr(saved, name)), field.words(getattr(typed, name)))
        for name, field in fields_of(type(saved)).items()
        if getattr(saved, name) != getattr(typed, name)
    )


def columns_of(draft: type[Any]) -> tuple[Column, ...]:
    """The columns of a file of such drafts, those of rows numbered and last."""
    plain = [
        _column(name, field)
        for name, field in fields_of(draft).items()
        if field.in_file and not isinstance(field, Rows)
    ]
    rows = [field for field in fields_of(draft).values() if isinstance(field, Rows)]
    for field in rows:
        for column, number, _, part in field.numbered:
            shown = _column(column, part)
            says = f"{field.one.capitalize()} {number}: {shown.says[:1].lower()}{shown.says[1:]}"
            plain.append(replace(shown, says=says, required=False, example=shown.example if number == 1 else ""))
    return tuple(plain)


def cells_of(draft: object) -> dict[str, object]:
    """A draft as one line of a file, by column."""
    line: dict[str, object] = {}
    for name, field in fields_of(type(draft)).items():
        value = getattr(draft, name)
        if isinstance(field, Rows):
            for number, row in enumerate(value, start=1):
                line |= {f"{field.one}_{number}_{part}": getattr(row, part) for part in fields_of(field.of)}
        elif field.in_file:
            line[name] = value
    return line


def raw_of_cells(draft: type[Any], cells: Mapping[str, str]) -> tuple[dict[str, object], Mapping[str, str]]:
    """One line of a file as the reader takes it, and for each nested field's name the column that it stands in."""
    raw: dict[str, object] = dict(cells)
    column_of: dict[str, str] = {}
    for name, field in fields_of(draft).items():
        if isinstance(field, Rows):
            numbered = tuple(field.numbered)
            for column, *_ in numbered:
                raw.pop(column, None)
            used = sorted({number for column, number, *_ in numbered if cells.get(column, "").strip()})
            raw[name] = [
                {part: cells.get(column, "") for column, row, part, _ in numbered if row == number} for number in used
            ]
            column_of |= {
                f"{name}.{used.index(row)}.{part}": column for column, row, part, _ in numbered if row in used
            }
        elif field.starts is not None and not cells.get(name, "").strip():
            raw[name] = field.starts
    return raw, column_of


def in_columns(faults: Faults, column_of: Mapping[str, str]) -> Faults:
    """Faults of one line with the names of its columns in the place of nested fields."""
    return Faults(tuple(Fault(column_of.get(fault.field, fault.field), fault.message) for fault in faults))


def values_of(draft: object) -> dict[str, Any]:
    """The plain values of a draft by name, without its rows: the columns of a table that share its names."""
    return {name: getattr(draft, name) for name, field in fields_of(type(draft)).items() if not isinstance(field, Rows)}


def draft_from(draft: type[D], row: object, **rows: Sequence[object]) -> D:
    """A draft from a row of a table that shares its names; what is nested is handed in by name."""
    plain = {name: getattr(row, name) for name, field in fields_of(draft).items() if not isinstance(field, Rows)}
    return draft(**plain, **{name: tuple(values) for name, values in rows.items()})


def _column(name: str, field: Declared) -> Column:
    says = field.says or f"{field.label}."
    if isinstance(field, Choice):
        says = f"{says} One of: {', '.join(field.among)}."
    return Column(name, says, required=field.needed, example=field.example, holds=field.holds)
