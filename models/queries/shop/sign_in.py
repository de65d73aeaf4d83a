"""Who is signed in, and how long a try at the password must wait. What opens and ends sessions is in `operations`."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import ip_address
from typing import Literal

from sqlalchemy import ColumnElement, func
from sqlmodel import Session, col, select

from models.tables import FIRST_PERSON, Owner, ProgramKey, SignedIn, SignInTry

OWNER_ID = 1
IDLE_DAYS = 60
"""After so many days without a visit a device must sign in again."""

TRIES_KEPT = timedelta(hours=24)


@dataclass(frozen=True, slots=True)
class Throttle:
    """How failed tries slow down the next one: `free` ones cost nothing, then the wait doubles from `first_s` up."""

    free: int
    first_s: int
    most_s: int
    remembered: timedelta


PER_ADDRESS = Throttle(free=5, first_s=5, most_s=15 * 60, remembered=TRIES_KEPT)
SLOW_AFTER = 30
"""After so many failed tries of an hour, wherever they came from, further ones are answered late; none is refused."""
SLOW_S = 2
SLOW_FOR = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Visitor:
    """Who sends a request. `guarded` says whether the shop has a password; `id` is the session's or the key's row.

    `person_id` is whose session or key it is; the owner's where nobody is asked.
    """

    guarded: bool
    kind: Literal["", "device", "program"] = ""
    id: int | None = None
    seen_at: datetime | None = None
    person_id: int = FIRST_PERSON

    @property
    def may_enter(self) -> bool:
        """Whether the pages are open to them."""
        return bool(self.kind) or not self.guarded


@dataclass(frozen=True, slots=True)
class DeviceView:
    """One device that is signed in."""

    id: int
    device: str
    opened_at: datetime
    seen_at: datetime
    this_one: bool


@dataclass(frozen=True, slots=True)
class KeyView:
    """One key of a program; `used_at` is None while it was never used."""

    id: int
    name: str
    made_at: datetime
    used_at: datetime | None


@dataclass(frozen=True, slots=True)
class SignInPage:
    """The page of the password: when it was set (None while there is none), the devices and the keys."""

    set_at: datetime | None
    devices: tuple[DeviceView, ...]
    keys: tuple[KeyView, ...]


def hashed(token: str) -> str:
    """What is stored of a random token. It has 256 bits of chance, so one round of SHA-256 is enough."""
    return hashlib.sha256(token.encode()).hexdigest()


def has_password(session: Session) -> bool:
    """Whether the shop asks who somebody is."""
    return session.exec(select(Owner.id).where(Owner.id == OWNER_ID)).first() is not None


def visitor(session: Session, *, token: str, key: str, at: datetime) -> Visitor:
    """Who shows this token of a session or key of a program ('' for none), in one query.

    Looking a token up by its hash leaks nothing by the time that it takes: who tries tokens does not choose hashes.
    """
    if key:
        row = session.exec(
            select(Owner.id, ProgramKey.id, ProgramKey.used_at, ProgramKey.person_id)
            .select_from(Owner)
            .outerjoin(ProgramKey, col(ProgramKey.key_hash) == hashed(key))
            .where(Owner.id == OWNER_ID)
        ).first()
        if row is None or row[1] is None:
            return Visitor(guarded=row is not None)
        return Visitor(True, "program", row[1], row[2], row[3])
    known = select(Owner.id, SignedIn.id, SignedIn.seen_at, SignedIn.person_id).select_from(Owner)
    known = known.outerjoin(SignedIn, col(SignedIn.token_hash) == hashed(token))
    found = session.exec(known.where(Owner.id == OWNER_ID)).first()
    if found is None or found[1] is None or found[2] < at - timedelta(days=IDLE_DAYS):
        return Visitor(guarded=found is not None)
    return Visitor(True, "device", found[1], found[2], found[3])


def sign_in_page(session: Session, *, at: datetime, this_device: int | None) -> SignInPage:
    """What the page of the password shows; devices that must sign in again anyway are left out."""
    set_at = session.exec(select(Owner.set_at).where(Owner.id == OWNER_ID)).first()
    open_since = at - timedelta(days=IDLE_DAYS)
    devices = session.exec(
        select(SignedIn).where(col(SignedIn.seen_at) >= open_since).order_by(col(SignedIn.seen_at).desc())
    )
    keys = session.exec(select(ProgramKey).order_by(col(ProgramKey.id)))
    return SignInPage(
        set_at=set_at,
        devices=tuple(
            DeviceView(row.id or 0, row.device, row.opened_at, row.seen_at, row.id == this_device) for row in devices
        ),
        keys=tuple(KeyView(row.id or 0, row.name, row.made_at, row.used_at) for row in keys),
    )


def seconds_to_wait(session: Session, address: str, at: datetime) -> int:
    """How long a try from this address must wait, by its own failed tries; this very machine never must.

    So nobody in the network, however many addresses they have, keeps the owner out everywhere. Tries of all addresses
    together only slow the next one down (`seconds_late`).
    """
    if is_this_machine(address):
        return 0
    rows = session.exec(
        select(SignInTry.tried_at)
        .where(SignInTry.address == address, *_lately(at, TRIES_KEPT))
        .order_by(col(SignInTry.id))
    ).all()
    return wait(PER_ADDRESS, rows, at)


def seconds_late(session: Session, address: str, at: datetime) -> int:
    """How late a try is answered, because there were many: of all addresses, or of this machine, which never waits."""
    count = select(func.count()).select_from(SignInTry).where(*_lately(at, SLOW_FOR))
    if is_this_machine(address):
        own = session.exec(count.where(SignInTry.address == address)).one()
        if own >= PER_ADDRESS.free:
            return SLOW_S
    return SLOW_S if session.exec(count).one() >= SLOW_AFTER else 0


def is_this_machine(address: str) -> bool:
    """Whether an address is this machine's own (127.0.0.0/8, ::1)."""
    try:
        return ip_address(address).is_loopback
    except ValueError:
        return False


def _lately(at: datetime, span: timedelta) -> tuple[ColumnElement[bool], ...]:
    # A stamp of the future is one of a clock that was wrong; it says nothing of how long ago the try was.
    return col(SignInTry.tried_at) > at - span, col(SignInTry.tried_at) <= at


def wait(rule: Throttle, tried: Sequence[datetime], at: datetime) -> int:
    """Whole seconds, rounded up, until the next try may be made; tries are in the order in which they were made.

    Tries of the future, from before a clock was set back, do not count.
    """
    counting = [moment for moment in tried if at - rule.remembered < moment <= at]
    over = len(counting) - rule.free
    if over < 0:
        return 0
    # 2**over of a large `over` would be a number of many digits, for a wait that is cut anyway.
    pause = min(rule.first_s * 2 ** min(over, 20), rule.most_s)
    left = counting[-1] + timedelta(seconds=pause) - at
    return min(max(0, -(-left // timedelta(seconds=1))), rule.most_s)
