"""Forms: what a browser sent, unchanged, and what a page shows in its fields.

Every text of a page knows how its shop writes numbers (`Typed`): `read_form` and `read_address` are the two doors
through which typed text comes in. What the fields mean is read in `models/intake`; acting once and answering is
`webapp/web/submit_once.py`.
"""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType
from typing import Annotated, Any

from fastapi import Depends, Request
from python_multipart.multipart import parse_options_header
from starlette.datastructures import UploadFile

from models.intake.faults import Faults
from models.trade.number_shape import PLAIN, NumberShape, Typed, number_shape, shape_of
from webapp.web.json_api import Problem
from webapp.web.prefs import prefs_of

MOST_FIELDS = 4000
MOST_FILES = 20
MOST_FIELD_BYTES = 4 * 1024 * 1024
MOST_FILE_BYTES = 10 * 1024 * 1024 + 1
"""So much of a file is read; no file is kept that has more than ten megabytes, and whoever keeps one says so."""
TOKEN_FIELD = "token"  # noqa: S105  (the name of a field)
SECRET_FIELDS = frozenset({"password", "password_again", "old_password"})
"""Never shown again in a page, and left out of the digest that is stored of a form."""
VERSION_FIELD = "version"


def fresh_token() -> str:
    """A one-time token nobody can guess."""
    return secrets.token_urlsafe(18)


@dataclass(frozen=True, slots=True)
class SentFile:
    """One file that was sent with a form; of one that is too large to be kept, as much as shows that it is."""

    name: str
    content_type: str
    content: bytes = field(repr=False)


@dataclass(frozen=True, slots=True)
class RawForm:
    """What a form sent: every field in order, empty ones too. Rows (`parts.0.quantity`) are numbered without gaps."""

    items: tuple[tuple[str, str], ...] = ()
    files: Mapping[str, SentFile] = field(default_factory=lambda: MappingProxyType({}))

    def get(self, name: str, default: str = "") -> str:
        """The first value of a field."""
        return next((value for key, value in self.items if key == name), default)

    def all(self, name: str) -> tuple[str, ...]:
        """Every value of a field, as ticked boxes of one name send them."""
        return tuple(value for key, value in self.items if key == name)

    def __contains__(self, name: object) -> bool:
        return any(key == name for key, _ in self.items)

    def number_of(self, name: str) -> int | None:
        """The number of a thing in a field; None where it holds none."""
        text = self.get(name)
        return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None

    @property
    def shape(self) -> NumberShape:
        """How whoever sent the form writes numbers."""
        return next((shape_of(value) for _, value in self.items), PLAIN)

    @property
    def token(self) -> str:
        """The one-time token of the form."""
        return self.get(TOKEN_FIELD)

    @property
    def version(self) -> int | None:
        """The version that the edit is based on; None where the form carries none, or nonsense."""
        text = self.get(VERSION_FIELD)
        return int(text) if text.isascii() and text.isdigit() and len(text) < 18 else None

    def raw(self) -> dict[str, object]:
        """The fields as `models/intake` reads them: rows become lists of mappings, the last value of a field wins."""
        found: dict[str, Any] = {}
        for key, value in self.items:
            if key == TOKEN_FIELD:
                continue
            group, place, name = _row_name(key)
            if name:
                rows: list[dict[str, object]] = found.setdefault(group, [])
                if isinstance(rows, list):
                    while len(rows) <= place:
                        rows.append({})
                    rows[place][name] = value
            else:
                found[key] = value
        return found

    def digest_source(self) -> list[object]:
        """What tells this form from another one sent under the same token."""
        files = [[name, sent.name, hashlib.sha256(sent.content).hexdigest()] for name, sent in self.files.items()]
        return [[list(item) for item in self.items if item[0] != TOKEN_FIELD and item[0] not in SECRET_FIELDS], files]


@dataclass(frozen=True, slots=True)
class Conflict:
    """One value that was saved by somebody else while the form was open."""

    label: str
    saved: str
    typed: str


@dataclass(frozen=True, slots=True)
class Form:
    """What a page shows in its fields: values, faults by field, the one-time token and the version edited.

    `status` is the status that the page should be answered with; `general` are faults that belong to no single field.
    """

    values: Mapping[str, tuple[str, ...]] = field(default_factory=lambda: MappingProxyType({}))
    faults: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    token: str = field(default_factory=fresh_token)
    version: int | None = None
    general: tuple[str, ...] = ()
    conflicts: tuple[Conflict, ...] = ()
    status: int = 200

    @classmethod
    def blank(cls, values: Mapping[str, object] | None = None, *, version: int | None = None) -> Form:
        """A form before anything was typed, filled with what is known; None counts as empty, a list as several values.

        A list of mappings becomes numbered rows: `{"parts": [{"quantity": 4}]}` is the field `parts.0.quantity`.
        """
        return cls(values=MappingProxyType(dict(_flat(values or {}))), version=version)

    @classmethod
    def sent(cls, raw: RawForm, faults: Faults | None = None, *, status: int | None = None) -> Form:
        """A form that was sent and is shown again: all typed is kept but passwords, each fault beside its field."""
        values: dict[str, tuple[str, ...]] = {}
        for key, value in raw.items:
            if key in SECRET_FIELDS:
                continue
            values[key] = (*values.get(key, ()), value)
        by_field = faults.by_field() if faults else {}
        general = tuple(message for name, message in by_field.items() if not name)
        return cls(
            values=MappingProxyType(values),
            faults=MappingProxyType({name: message for name, message in by_field.items() if name}),
            version=raw.version,
            general=general,
            status=status if status is not None else 422 if faults else 200,
        )

    def value(self, name: str, default: str = "") -> str:
        """What stands in a field."""
        found = self.values.get(name)
        return found[-1] if found else default

    def has(self, name: str) -> bool:
        """Whether the field is filled from this form (also with nothing), so that a default would be wrong."""
        return name in self.values

    def ticked(self, name: str, value: str = "yes") -> bool:
        """Whether a box is ticked."""
        return value in self.values.get(name, ())

    def fault(self, name: str) -> str:
        """What is wrong with a field; empty when nothing is."""
        return self.faults.get(name, "")

    def rows(self, group: str) -> range:
        """The places of the rows of a group, for a loop in a template: `{% for n in form.rows("parts") %}`."""
        places = [place for key in self.values for found, place, name in (_row_name(key),) if name and found == group]
        return range(max(places) + 1 if places else 0)

    @property
    def trouble(self) -> bool:
        """Whether anything has to be said above the form."""
        return bool(self.faults or self.general or self.conflicts)


async def _sent_form(request: Request) -> RawForm:
    """Read the body.

    Empty fields are kept, line ends are made single. A body that is not a form has no fields.
    Raises `Problem`: 415 for letters in another code than UTF-8, in which text could be what no text is.
    """
    kind, options = parse_options_header(request.headers.get("content-type", ""))
    if kind == b"multipart/form-data" and options.get(b"charset", b"utf-8").lower() not in {b"utf-8", b"utf8"}:
        raise Problem(415, "Send forms in UTF-8.")
    items: list[tuple[str, str]] = []
    files: dict[str, SentFile] = {}
    async with request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS, max_part_size=MOST_FIELD_BYTES) as sent:
        for key, value in sent.multi_items():
            if isinstance(value, UploadFile):
                # A file field that was left empty is sent as a nameless file of no bytes.
                if value.filename:
                    files[key] = SentFile(value.filename, value.content_type or "", await value.read(MOST_FILE_BYTES))
            else:
                items.append((key, value.replace("\r\n", "\n").replace("\r", "\n")))
    return RawForm(tuple(_renumbered(items)), MappingProxyType(files))


def read_form(request: Request, sent: Annotated[RawForm, Depends(_sent_form)]) -> RawForm:
    """A dependency for `def` routes: `form: Annotated[RawForm, Depends(read_form)]`."""
    return RawForm(_typed_here(request, sent.items), sent.files)


def read_address(request: Request, *names: str) -> RawForm:
    """What the address of a page asks, as the form that made it; only the named fields where there are names."""
    asked = request.query_params.multi_items()
    return RawForm(_typed_here(request, [item for item in asked if not names or item[0] in names]))


def _typed_here(request: Request, items: Iterable[tuple[str, str]]) -> tuple[tuple[str, str], ...]:
    shape = _shape_here(request, items)
    return tuple((name, Typed(value, shape)) for name, value in items)


def _shape_here(request: Request, items: Iterable[tuple[str, str]]) -> NumberShape:
    prefs = prefs_of(request)
    # A shop that is just being founded writes as the form says that it will.
    locale = prefs.locale if prefs.founded else dict(items).get("locale", prefs.locale)
    return number_shape(locale, prefs.currency)


def _row_name(key: str) -> tuple[str, int, str]:
    """Split 'parts.3.quantity' into its group, place and field; the field is empty when it is no row."""
    parts = key.split(".", 2)
    if len(parts) == 3 and parts[1].isascii() and parts[1].isdigit() and len(parts[1]) < 6 and parts[2]:
        return parts[0], int(parts[1]), parts[2]
    return key, 0, ""


def _renumbered(items: Iterable[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """Close the gaps that removed rows leave, so that the faults' places are the places on the page."""
    items = list(items)
    places: dict[str, set[int]] = {}
    for key, _ in items:
        group, place, name = _row_name(key)
        if name:
            places.setdefault(group, set()).add(place)
    order = {group: {old: new for new, old in enumerate(sorted(found))} for group, found in places.items()}
    for key, value in items:
        group, place, name = _row_name(key)
        yield (f"{group}.{order[group][place]}.{name}" if name else key), value


def _flat(values: Mapping[str, object], prefix: str = "") -> Iterator[tuple[str, tuple[str, ...]]]:
    for key, value in values.items():
        name = prefix + key
        if value is None:
            yield name, ("",)
        elif isinstance(value, bool):
            yield name, (("yes",) if value else ())
        elif isinstance(value, (list, tuple)):
            rows = [row for row in value if isinstance(row, Mapping)]
            if rows:
                for place, row in enumerate(rows):
                    yield from _flat(row, f"{name}.{place}.")
            else:
                yield name, tuple(_typed(one) for one in value)
        else:
            yield name, (_typed(value),)


def _typed(value: object) -> str:
    if isinstance(value, str):
        return value
    return format(value, "f") if isinstance(value, Decimal) else str(value)
