"""The owner's password, the sessions that it opens, and the keys of programs. Nothing here knows cookies or pages."""

from __future__ import annotations

import secrets
import threading
from dataclasses import dataclass
from datetime import datetime, timedelta

from argon2 import PasswordHasher, Type
from argon2.exceptions import InvalidHashError, VerificationError
from sqlmodel import Session, col, delete, select

from models.errors import Conflict
from models.operations.shop.acting import acting_person
from models.operations.shop.clock import now
from models.queries.fetch import fetch
from models.queries.shop.sign_in import OWNER_ID, TRIES_KEPT, has_password, hashed, seconds_to_wait
from models.tables import Owner, ProgramKey, SignedIn, SignInTry

# Source: RFC 9106 for Argon2id; 19 MiB, two rounds, one lane is common practice for small machines.
_HASHER = PasswordHasher(time_cost=2, memory_cost=19 * 1024, parallelism=1, type=Type.ID)
# Each check takes its 19 MiB, so that a small board is never asked for many at once.
_CHECKS = threading.BoundedSemaphore(2)

SEEN_EVERY = timedelta(minutes=5)
"""How exactly the last visit is kept; every request writing it would make every reading page a write."""

MOST_DEVICE_SIGNS = 80
KEY_MARK = "rb_"


@dataclass(frozen=True, slots=True)
class Try:
    """A try at the password that was counted, or that must wait first. `password_hash` is what to check it against."""

    wait_s: int
    password_hash: str


def set_password(session: Session, password: str, *, stays: int | None = None) -> None:
    """Set or change the password; every device but `stays` is signed out, and failed tries are forgotten. Keys stay."""
    owner = session.get(Owner, OWNER_ID) or Owner(id=OWNER_ID, password_hash="", set_at=now())
    owner.password_hash = hash_password(password)
    owner.set_at = now()
    session.add(owner)
    session.exec(delete(SignedIn).where(col(SignedIn.id) != (stays or 0)))
    session.exec(delete(SignInTry))


def change_password(session: Session, password: str, *, checked_hash: str, stays: int | None = None) -> None:
    """Set the password where there was none, or another one after the old one was found right.

    Raises `Conflict` when the password was set or changed since it was checked (`checked_hash` is '' for none).
    """
    owner = session.get(Owner, OWNER_ID)
    if (owner.password_hash if owner else "") != checked_hash:
        raise Conflict("The password was changed a moment ago, so yours was not set.")
    set_password(session, password, stays=stays)


def count_try(session: Session, address: str) -> Try:
    """Count a try at the password before it is checked, so that many at once are each counted.

    A try that must wait is not counted, or somebody who goes on trying could keep the owner out for good.
    Raises `Conflict` when the shop has no password.
    """
    owner = session.get(Owner, OWNER_ID)
    if owner is None:
        raise Conflict("This shop has no password, so nobody has to sign in.")
    at = now()
    seconds = seconds_to_wait(session, address, at)
    if not seconds:
        # Those of a clock that ran ahead would start to count one day.
        tried_at = col(SignInTry.tried_at)
        session.exec(delete(SignInTry).where((tried_at <= at - TRIES_KEPT) | (tried_at > at)))
        session.add(SignInTry(address=address, tried_at=at))
        session.flush()
    return Try(seconds, owner.password_hash)


def is_right(password: str, password_hash: str) -> bool:
    """Whether this is the password, by Argon2's own comparison; takes its time, so hold no transaction meanwhile."""
    with _CHECKS:
        try:
            return _HASHER.verify(password_hash, password)
        except (VerificationError, InvalidHashError):
            return False


def sign_in(
    session: Session, *, address: str, device: str, password: str, checked_hash: str, instead_of: int | None = None
) -> str:
    """Open a session after the password was found right, and answer its token; this address's tries are forgotten.

    `instead_of` is the session that the device had, which ends.
    Raises `Conflict` when the password was changed since it was checked.
    """
    owner = session.get(Owner, OWNER_ID)
    if owner is None or owner.password_hash != checked_hash:
        raise Conflict("The password was changed a moment ago. Sign in with the new one.")
    if _HASHER.check_needs_rehash(owner.password_hash):
        owner.password_hash = hash_password(password)
        session.add(owner)
    session.exec(delete(SignInTry).where(col(SignInTry.address) == address))
    if instead_of is not None:
        end_session(session, instead_of)
    return open_session(session, device)


def open_session(session: Session, device: str) -> str:
    """Open a session of a device, and answer its token, which is kept nowhere."""
    token = secrets.token_urlsafe(32)
    at = now()
    session.add(
        SignedIn(token_hash=hashed(token), device=device[:MOST_DEVICE_SIGNS], opened_at=at, seen_at=at),
    )
    session.flush()
    return token


def end_session(session: Session, session_id: int) -> None:
    """End one session, if it has not ended already."""
    session.exec(delete(SignedIn).where(col(SignedIn.id) == session_id))


def sign_out(session: Session, session_id: int) -> str:
    """End one session; answer what its device is called. Raises `Missing` when it is ended already."""
    row = fetch(session, SignedIn, session_id, "device that is signed in as number")
    session.delete(row)
    session.flush()
    return row.device


def sign_out_everywhere(session: Session) -> None:
    """End every session."""
    session.exec(delete(SignedIn))


def make_key(session: Session, name: str) -> str:
    """Make a key for a program, and answer it; it is kept nowhere, so it can be shown only now.

    Raises `Conflict` while the shop has no password: without one every program on this machine is let in anyway.
    """
    if not has_password(session):
        raise Conflict("Set a password first. Without one every program on this machine is let in without a key.")
    key = KEY_MARK + secrets.token_urlsafe(32)
    session.add(ProgramKey(key_hash=hashed(key), name=name, person_id=acting_person(), made_at=now()))
    session.flush()
    return key


def revoke_key(session: Session, key_id: int) -> str:
    """Make a key worthless; answer what it was called. Raises `Missing` when it is gone already."""
    row = fetch(session, ProgramKey, key_id, "key with the number")
    session.delete(row)
    session.flush()
    return row.name


def seen(session: Session, *, kind: str, visitor_id: int) -> None:
    """Keep that a device or a program came by just now; one that was signed out meanwhile stays out."""
    if kind == "program":
        key = session.exec(select(ProgramKey).where(ProgramKey.id == visitor_id)).first()
        if key is not None:
            key.used_at = now()
            session.add(key)
        return
    device = session.exec(select(SignedIn).where(SignedIn.id == visitor_id)).first()
    if device is not None:
        device.seen_at = now()
        session.add(device)


def is_worth_keeping(seen_at: datetime | None) -> bool:
    """Whether the last visit is long enough ago to be written anew, or of a clock that ran ahead."""
    return seen_at is None or abs(now() - seen_at) >= SEEN_EVERY


def hash_password(password: str) -> str:
    """The Argon2id hash of a password, with a salt of its own."""
    with _CHECKS:
        return _HASHER.hash(password)
