"""A noun declared once: the fields of a draft, each with its label, bounds, help and example.

A draft is a frozen dataclass whose fields are annotated with one of the kinds below, as in
`tax_percent: Annotated[Decimal, Percent("Tax", default=Decimal(0))]`. From that one line follow the reader, the columns
of a file, the JSON schema, the values of a form (`webapp/web/forms`), the answer of a call (`webapp/api/answers`), the
list of differences and the columns of a row that share its name. The kinds themselves live in `kinds`, how text becomes
a value in `raw`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, TypeVar, get_type_hints

from models.intake.csv_file import Column
from models.intake.faults import Fault, Faults
from models.intake.kinds import (
    ANY_NUMBER,
    DAY_OR_NULL,
    MONEY_SCHEMA,
    NUMBER_OR_NULL,
    RATE_OF_EXCHANGE,
    Choice,
    Day,
    Declared,
    Flag,
    Identity,
    Mass,
    Money,
    Number,
    Own,
    Percent,
    Size,
    Text,
    Whole,
    no_currency,
)
from models.intake.raw import Raw, Reader

D = TypeVar("D")


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

    def text(self, value: Any) -> object:
        return [raw_of(self.of, row) for row in value]

    @property
    def numbered(self) -> Iterator[tuple[str, int, str, Declared]]:
        """The columns of a file: name, number of the row, name of its field, and the field."""
        for number in range(1, self.most + 1):
            for name, field in fields_of(self.of).items():
                yield f"{self.one}_{number}_{name}", number, name, field


@dataclass(frozen=True, slots=True, kw_only=True)
class Beside(Declared):
    """A smaller draft whose fields stand among those of the larger one, none of them needed.

    `only` names those that do; `otherwise` declares one that is handed in differently there.
    """

    of: type[Any]
    only: tuple[str, ...]
    otherwise: Mapping[str, Declared]

    @property
    def beside(self) -> Iterator[tuple[str, Declared]]:
        """The fields that stand there, by the name under which they are handed in."""
        fields = fields_of(self.of)
        for name in self.only:
            field = self.otherwise.get(name, fields[name])
            yield field.typed or name, field


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


def read_fields(draft: type[D], reader: Reader, **known: object) -> D:
    """A draft of what the reader holds; ask the reader for faults before the draft is used.

    What is `known` is not read: the noun has read it together with other fields.
    """
    values = {
        name: known[name] if name in known else field.read(reader, field.typed or name)
        for name, field in fields_of(draft).items()
    }
    return draft(**{**known, **values})


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
    needed = needed_of(draft)
    schema: dict[str, object] = {"type": "object", "properties": properties_of(draft)}
    return {**schema, "required": list(needed)} if needed else schema


def list_of(draft: type[Any]) -> dict[str, object]:
    """A JSON schema of a list of such drafts."""
    return {"type": "array", "items": schema_of(draft)}


def needed_of(draft: type[Any]) -> tuple[str, ...]:
    """The fields that a call must bring, by the names of forms, files and JSON."""
    return tuple(field.typed or name for name, field in fields_of(draft).items() if field.needed)


def properties_of(draft: type[Any]) -> dict[str, object]:
    """The properties of that schema, each with its help where there is some."""
    return {name: field.described() for name, field in _handed_in(draft) if field.in_body}


def _handed_in(draft: type[Any]) -> Iterator[tuple[str, Declared]]:
    """The fields by the names under which they are handed in, with those that stand beside them."""
    for name, field in fields_of(draft).items():
        if isinstance(field, Beside):
            yield from field.beside
        else:
            yield field.typed or name, field


def kept_fields(draft: type[Any]) -> dict[str, Declared]:
    """The plain fields that a row of a table keeps under the same names, without those of nested drafts."""
    return {
        name: field for name, field in fields_of(draft).items() if field.in_row and not isinstance(field, Rows | Beside)
    }


def differences(saved: object, typed: object) -> tuple[tuple[str, str, str], ...]:
    """What differs between what is saved and a draft: label, saved and typed words, in the order of the fields.

    Saved may be a draft, a row of a table or a view: whatever has the names.
    """
    return tuple(
        (field.label, field.words(getattr(saved, name)), field.words(getattr(typed, name)))
        for name, field in fields_of(type(typed)).items()
        if field.in_row and not isinstance(field, Beside) and getattr(saved, name) != getattr(typed, name)
    )


def columns_of(draft: type[Any]) -> tuple[Column, ...]:
    """The columns of a file of such drafts, those of rows numbered and last."""
    own = {field.typed or name for name, field in fields_of(draft).items()}
    plain = [
        replace(field.column(name), required=field.needed and name in own)
        for name, field in _handed_in(draft)
        if field.in_file and not isinstance(field, Rows)
    ]
    rows = [field for field in fields_of(draft).values() if isinstance(field, Rows)]
    for field in rows:
        for column, number, _, part in field.numbered:
            shown = part.column(column)
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
            line[field.typed or name] = field.text(value) if isinstance(field, Size | Mass) else value
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
    return {name: getattr(draft, name) for name in kept_fields(type(draft))}


def draft_from(draft: type[D], row: object, **rows: Sequence[object]) -> D:
    """A draft from a row of a table that shares its names; what is nested is handed in by name."""
    return draft(**values_in_row(draft, row), **{name: tuple(values) for name, values in rows.items()})


def values_in_row(draft: type[Any], row: object) -> dict[str, Any]:
    """The plain values of a row of a table, by the names that it shares with the draft."""
    return {name: getattr(row, name) for name in kept_fields(draft)}


def raw_of(draft: type[Any], kept: object, **named: object) -> dict[str, object]:
    """What is kept as it is handed in, by the names of forms, files and JSON: reading it gives it back.

    Kept may be a draft, a row of a table or a view: whatever has the names. What it has under others is `named`.
    """
    return {
        field.typed or name: field.text(named[name] if name in named else getattr(kept, name))
        for name, field in kept_fields(draft).items()
    }


__all__ = [
    "ANY_NUMBER",
    "DAY_OR_NULL",
    "MONEY_SCHEMA",
    "NUMBER_OR_NULL",
    "RATE_OF_EXCHANGE",
    "Beside",
    "Choice",
    "Day",
    "Declared",
    "Flag",
    "Identity",
    "Mass",
    "Money",
    "Number",
    "Own",
    "Percent",
    "Rows",
    "Size",
    "Text",
    "Whole",
    "cells_of",
    "columns_of",
    "differences",
    "draft_from",
    "fields_of",
    "in_columns",
    "kept_fields",
    "kept_places",
    "list_of",
    "needed_of",
    "no_currency",
    "properties_of",
    "raw_of",
    "raw_of_cells",
    "read_fields",
    "schema_of",
    "starting",
    "values_in_row",
    "values_of",
]
