"""Many like acts against tables that are read once: what a file of thousands of rows is looked at and taken in with.

The acts are those of one row. Here what they ask is answered from rows that are held in memory, what they write is
gathered, and one `write` at the end takes a statement for each table; without it nothing was ever written. A query that
an act asks for each row says beside its statement how it is answered from what is held (`gathering_in`).
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Hashable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from functools import cache
from typing import Any, TypeVar, cast

from sqlalchemy import func, insert, inspect, text
from sqlalchemy import select as columns
from sqlalchemy.engine import Connection
from sqlalchemy.orm import Mapper
from sqlmodel import Session, SQLModel, select

T = TypeVar("T")
Row = TypeVar("Row", bound=SQLModel)
_Key = Callable[[Any], Hashable]


class Gathering(Session):
    """A session on the connection of another one, which holds rows and gathers new ones until `write`."""

    def __init__(self, connection: Connection) -> None:
        super().__init__(
            bind=connection, autoflush=False, expire_on_commit=False, join_transaction_mode="create_savepoint"
        )
        self._held: dict[type[SQLModel], dict[Any, SQLModel]] = {}
        self._whole: set[type[SQLModel]] = set()
        self._indexes: dict[type[SQLModel], dict[str, tuple[_Key, dict[Hashable, list[Any]]]]] = defaultdict(dict)
        self._added: list[SQLModel] = []
        self._known: set[int] = set()
        self._next: dict[type[SQLModel], int] = {}
        self._read: dict[str, Any] = {}

    # --- what is held ---

    def once(self, what: str, read: Callable[[], T]) -> T:
        """What is read once and stays as it is while the rows are gone through."""
        if what not in self._read:
            self._read[what] = read()
        return cast(T, self._read[what])

    def hold(self, table: type[Row], rows: Iterable[Row] | None = None) -> None:
        """Hold rows of a table, those that were read, or all of it, once."""
        if rows is None:
            if table in self._whole:
                return
            self._whole.add(table)
            rows = self.exec(select(table)).all()
        held = self._held.setdefault(table, {})
        for row in rows:
            key = _key_of(row)
            if key not in held:
                held[key] = row
                self._note(table, row)

    def held(self, table: type[Row]) -> Mapping[Any, Row]:
        """The rows of a table that are held, by their key; all of it where nobody said which."""
        if table not in self._held:
            self.hold(table)
        return cast(Mapping[Any, Row], self._held[table])

    def by(self, table: type[Row], name: str, key: Callable[[Row], Hashable]) -> Mapping[Hashable, list[Row]]:
        """The rows that are held by something else than their key, in their order; new ones are among them."""
        indexes = self._indexes[table]
        if name not in indexes:
            found: dict[Hashable, list[Any]] = defaultdict(list)
            for row in self.held(table).values():
                found[key(row)].append(row)
            indexes[name] = (key, found)
        return _Index(indexes[name][1])

    def get(self, entity: Any, ident: Any, **_options: Any) -> Any:
        """The row of a table by its key, from what is held."""
        return self.held(entity).get(ident)

    # --- what is gathered ---

    def add(self, instance: Any, _warn: bool = True) -> None:
        """Gather a new row, with its number; one that is held already is written with its changes as it is."""
        if id(instance) in self._known:
            return
        table: type[SQLModel] = type(instance)
        held = self._held.setdefault(table, {}) if table in self._held else cast(Any, self.held(table))
        if _key_of(instance) is None:
            setattr(instance, _key_name(table), self._number(table))
        held[_key_of(instance)] = instance
        self._note(table, instance)
        self._added.append(instance)

    def flush(self, objects: Sequence[Any] | None = None) -> None:
        """Nothing yet: rows have their numbers already, and what they are is written at the end."""

    def mark(self) -> int:
        """Where the gathered rows end now, for `back_to`."""
        return len(self._added)

    def back_to(self, mark: int) -> None:
        """Let go of the rows that were gathered since."""
        for row in reversed(self._added[mark:]):
            table = type(row)
            self._held[table].pop(_key_of(row))
            self._known.discard(id(row))
            for key, found in self._indexes[table].values():
                found[key(row)].remove(row)
            if table in self._next:
                self._next[table] = min(self._next[table], int(_key_of(row)))
        del self._added[mark:]

    def write(self) -> None:
        """Write what was changed and what was gathered, a statement for each table."""
        super().flush()
        by_table: dict[Any, list[SQLModel]] = defaultdict(list)
        for row in self._added:
            by_table[_mapper(type(row)).local_table].append(row)
        for table in SQLModel.metadata.sorted_tables:
            if rows := by_table.get(table):
                self.execute(insert(table), [_values(row) for row in rows])
        for kind in self._next:
            self._move_sequence(kind)
        self.commit()

    def _note(self, table: type[SQLModel], row: SQLModel) -> None:
        self._known.add(id(row))
        for key, found in self._indexes[table].values():
            found[key(row)].append(row)

    def _number(self, table: type[SQLModel]) -> int:
        """The next number of a table; its writer has the lock of all writers, or nothing of it is ever written."""
        if table not in self._next:
            newest = self.scalar(columns(func.max(getattr(table, _key_name(table)))))
            self._next[table] = int(newest or 0) + 1
        number = self._next[table]
        self._next[table] = number + 1
        return number

    def _move_sequence(self, table: type[SQLModel]) -> None:
        if self.connection().dialect.name == "postgresql":
            self.execute(
                text("SELECT setval(pg_get_serial_sequence(:name, :key), :newest)"),
                {"name": table.__tablename__, "key": _key_name(table), "newest": self._next[table] - 1},
            )


class _Index(Mapping[Hashable, list[Any]]):
    """Rows by a key; a key that nobody has answers none."""

    def __init__(self, found: Mapping[Hashable, list[Any]]) -> None:
        self._found = found

    def __getitem__(self, key: Hashable) -> list[Any]:
        return self._found.get(key, [])

    def __iter__(self) -> Iterator[Hashable]:
        return iter(self._found)

    def __len__(self) -> int:
        return len(self._found)


@contextmanager
def gathered(session: Session) -> Iterator[Gathering]:
    """A gathering on a session's own transaction. What the session holds itself is read anew afterwards."""
    session.flush()
    gathering = Gathering(session.connection())
    try:
        yield gathering
    finally:
        gathering.close()
    session.expire_all()


def gathering_in(session: Session) -> Gathering | None:
    """The session as a gathering, where it is one."""
    return session if isinstance(session, Gathering) else None


def _mapper(table: type[SQLModel]) -> Mapper[Any]:
    return cast(Mapper[Any], inspect(table))


@cache
def _key_name(table: type[SQLModel]) -> str:
    return str(_mapper(table).primary_key[0].key)


def _key_of(row: SQLModel) -> Any:
    return getattr(row, _key_name(type(row)))


@cache
def _columns(table: type[SQLModel]) -> tuple[tuple[str, str], ...]:
    # A column of money has another name in the database than its attribute has.
    return tuple((str(attribute.columns[0].key), attribute.key) for attribute in _mapper(table).column_attrs)


def _values(row: SQLModel) -> dict[str, Any]:
    return {column: getattr(row, attribute) for column, attribute in _columns(type(row))}
