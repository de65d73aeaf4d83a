"""What all acts on a build share: its row with a guard against stale pages, its lines, and its name.

What was said of bags is worked out in `build_bags`; what a person does with a build stands in `build`, `build_finish`,
`build_made`, `build_undo` and `unpick`.
"""

from __future__ import annotations

from collections.abc import Sequence

from sqlmodel import Session, col, select

from models.errors import Conflict, Stale
from models.queries.fetch import fetch
from models.tables import Build, BuildLine, Design
from models.trade.vocabulary.bench import BUILD_STATES


def build_row(session: Session, build_id: int, version: int | None, states: Sequence[str], doing: str) -> Build:
    """A build that is in one of these states; its version counts up, so that a page shown before now is stale.

    Raises: Missing; Stale when it changed since `version`; Conflict in another state. `doing` says what was wanted.
    """
    build = fetch(session, Build, build_id, "build")
    if version is not None and build.version != version:
        raise Stale("build", (("This build", BUILD_STATES.term(build.state).sentence, doing),))
    if build.state not in states:
        raise Conflict(f"This build {BUILD_STATES.term(build.state).sentence}, so you cannot {doing} now.")
    build.version += 1
    return build


def line_rows(session: Session, build_id: int) -> list[BuildLine]:
    """The lines of a build in their order."""
    return list(session.exec(select(BuildLine).where(BuildLine.build_id == build_id).order_by(col(BuildLine.position))))


def name_of(session: Session, build: Build) -> str:
    """What is made, in words; rings that were taken out first have no design yet."""
    found = session.exec(select(Design.name).where(Design.id == build.design_id)).first()
    return f"“{found}”" if found is not None else "no design yet"


def many_pieces(count: int) -> str:
    """'1 piece' or '3 pieces'."""
    return "1 piece" if count == 1 else f"{count} pieces"
