"""The owner's one password, the sessions it opened, the keys of programs, and recent tries at the password."""

from datetime import datetime

from sqlmodel import Field

from models.tables.columns import Row, moment


class Owner(Row, table=True):
    """The one owner: an Argon2id hash; one row with id 1 once a password is set."""

    __tablename__ = "owner"

    id: int = Field(default=1, primary_key=True)
    password_hash: str
    set_at: datetime = moment()


class SignedIn(Row, table=True):
    """One open session: the SHA-256 of its random token, never the token."""

    __tablename__ = "signed_in"

    id: int | None = Field(default=None, primary_key=True)
    token_hash: str = Field(unique=True)
    device: str = ""
    opened_at: datetime = moment()
    seen_at: datetime = moment()


class ProgramKey(Row, table=True):
    """What a program shows instead of a session: the SHA-256 of its random key, never the key."""

    __tablename__ = "program_key"

    id: int | None = Field(default=None, primary_key=True)
    key_hash: str = Field(unique=True)
    name: str
    made_at: datetime = moment()
    used_at: datetime | None = moment(nullable=True, default=None)


class SignInTry(Row, table=True):
    """A failed try at the password, kept for the throttle."""

    __tablename__ = "sign_in_try"

    id: int | None = Field(default=None, primary_key=True)
    address: str = ""
    tried_at: datetime = moment(index=True)
