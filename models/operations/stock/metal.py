"""Adding metals of the shop's own, changing them, and taking out what nothing is made of."""

from __future__ import annotations

import re
import unicodedata

from sqlmodel import Session

from models.errors import Conflict, Stale, Unfit
from models.intake.faults import Faults
from models.intake.fields import differences, values_of
from models.intake.stock.metal import MetalDraft
from models.operations.figures import refresh_figures
from models.operations.shop.clock import now
from models.queries.fetch import fetch
from models.queries.stock.metal import all_metals, metal_in_use
from models.tables import OwnMetal


def add_metal(session: Session, draft: MetalDraft) -> str:
    """Write a metal of the shop's own; answer its code. Raises: Unfit when there is one of this name."""
    metals = all_metals(session)
    _refuse_twin(session, draft.name, except_code=None)
    code = base = _code(draft.name)
    number = 2
    while code in metals:
        code, number = f"{base}-{number}", number + 1
    session.add(OwnMetal(code=code, created_at=now(), **values_of(draft)))
    session.flush()
    return code


def edit_metal(session: Session, code: str, draft: MetalDraft, version: int) -> None:
    """Change a metal of the shop's own; what is made of it is weighed and costed anew.

    Raises: Missing, Stale, Unfit when another metal has this name.
    """
    metal = fetch(session, OwnMetal, code, "metal of your own")
    if metal.version != version:
        raise Stale("metal", differences(metal, draft))
    _refuse_twin(session, draft.name, except_code=code)
    metal.sqlmodel_update(values_of(draft))
    metal.version += 1
    session.flush()
    refresh_figures(session)


def remove_metal(session: Session, code: str) -> None:
    """Take out a metal of the shop's own. Raises: Missing, Conflict while something is made of it."""
    metal = fetch(session, OwnMetal, code, "metal of your own")
    if metal_in_use(session, code):
        raise Conflict(f"Something in your stock or designs is made of {metal.name}, so it stays.")
    session.delete(metal)
    session.flush()


def _refuse_twin(session: Session, name: str, *, except_code: str | None) -> None:
    for code, metal in all_metals(session).items():
        if code != except_code and metal.name.casefold() == name.casefold():
            raise Unfit(Faults.of("name", f"There is a metal called '{metal.name}' already."))


def _code(name: str) -> str:
    """A short code from a name, in plain letters: 'Ärzte-Stahl 2' becomes 'arzte-stahl-2'."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:40] or "metal"
