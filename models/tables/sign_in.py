"""Who works in the shop, the owner's one password, sessions that it opened, keys of programs, tries at the password."""

from datetime import datetime
from typing import Any

from sqlmodel import Field

from models.tables.columns import Row, moment

FIRST_PERSON = 1
"""The owner, who is there from the first day on."""


class Person(Row, table=True):
    """Somebody who works in the shop; the first one is its owner."""

    __tablename__ = "person"

    id: int | None = Field(default=None, primary_key=True)
    name: str


def person_id() -> Any:
    """A column that says who did something, or whose it is; the owner where nobody else is named."""
    return Field(default=FIRST_PERSON, foreign_key="person.id", sa_column_kwargs={"server_default": str(FIRST_PERSON)})


class Owner(Row, table=True):
    """The one owner: an Argon2id hash; one row with id 1 once a password is set."""

    __tablename__ = "owner"

    id: int = Field(default=1, primary_key=True)
    password_hash: str
    set_at: datetime = moment()


class SignedIn(Row, table=True):
    """One open session of a person: the SHA-256 of its random token, never the token."""

    __tablename__ = "signed_in"

    id: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(unique=True)
    person_id: int = person_id()
    device: str = ""
    opened_at: datetime = moment()
    seen_at: datetime = moment()


class ProgramKey(Row, table=True):
    """What a program of a person shows instead of a session: the SHA-256 of its random key, never the key."""

    __tablename__ = "program_key"

    id: int | None = Field(default=None, primary_key=True)
    key_hash: str = Field(unique=True)
    name: str
    person_id: int = person_id()
    made_at: datetime = moment()
    used_at: datetime | None = moment(nullable=True, default=None)


class SignInTry(Row, table=True):
    """A failed try at the password, kept for the throttle."""

    __tablename__ = "sign_in_try"

    id: int | None = Field(default=None, primary_key=True)
    address: str = ""
    tried_at: datetime = moment(index=True)
