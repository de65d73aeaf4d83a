"""Kits of a design: keeping one for sale as a design of its own, bringing it up to date, and taking either back."""

from __future__ import annotations

from dataclasses import dataclass, replace

from sqlmodel import Session

from models.errors import Conflict, Unfit
from models.intake.designs.kit import KitDraft, KitRequest
from models.intake.faults import Faults
from models.operations.designs.design import add_design, change_design, discard_fresh
from models.queries.costing.inputs import load_shop_facts
from models.queries.designs.design import design_view, draft_of
from models.queries.designs.kit import KeptKit, bags_of_draft, bags_of_revision, kit_origin, kit_view
from models.queries.designs.kit_bags import kit_again, kit_draft
from models.queries.fetch import fetch
from models.tables import Design


@dataclass(frozen=True, slots=True)
class KitChanged:
    """What bringing a kit up to date did: the revision of the kit before and after, and of the design before it."""

    kit_id: int
    name: str
    revision_before: int
    of_before: int
    of_now: int
    version: int


def make_kit(session: Session, design_id: int, draft: KitDraft) -> int:
    """Keep the kit of a design's latest revision as a design of its own, to be sold and built; answer its id.

    Raises: Missing; Conflict for a design that is itself a kit; Unfit for a name that is taken, or nothing to pack.
    """
    view = kit_view(session, design_id, draft.question)
    if not view.bags:
        raise Unfit(Faults.of("", "This design has no parts yet, so there is nothing to pack. Give it parts first."))
    minutes = int(view.pack_minutes * 1000) if draft.pack_minutes_milli is None else draft.pack_minutes_milli
    kit = kit_draft(view.design.draft, draft.name or view.name, view.bags, draft.question, minutes)
    kit_id = add_design(session, kit, photo=view.design.photo)
    _remember(session, kit_id, draft.question, of=design_id, revision=view.design.newest)
    return kit_id


def bring_kit_up_to_date(session: Session, kit_id: int, version: int | None) -> KitChanged:
    """Pack a kit by its design's latest revision from now on; what else was put in it, and its packing time, stay.

    Raises: Missing; Conflict for a design that is no kit; Stale when the kit was changed since that version.
    """
    of, kit = _kit(session, kit_id)
    shop = load_shop_facts(session)
    latest = draft_of(session, of)
    after, _ = bags_of_draft(session, latest, kit.question, shop)
    if not after:
        raise Conflict("The design has no parts any more, so there is nothing to pack.")
    before = bags_of_revision(session, of, kit.revision, kit.question, shop)
    kept = draft_of(session, kit_id)
    again = kit_again(kept, before, after, kit.question)
    note = f"Packed by revision {kit.newest} of {latest.name}."
    revision_before = design_view(session, kit_id).newest
    change_design(session, kit_id, version, replace(again, weave=latest.weave, change_note=note))
    _remember(session, kit_id, kit.question, of=of, revision=kit.newest)
    return KitChanged(kit_id, kept.name, revision_before, kit.revision, kit.newest, _design(session, kit_id).version)


def take_kit_back(session: Session, kit_id: int, version: int | None, *, number: int, of_revision: int) -> str:
    """Pack a kit as it was packed in one of its own revisions, of a revision of its design; answer its name.

    Raises: Missing; Conflict for a design that is no kit; Stale.
    """
    of, kit = _kit(session, kit_id)
    draft_of(session, of, of_revision)
    before = draft_of(session, kit_id, number)
    change_design(session, kit_id, version, replace(before, change_note=f"Packed as in revision {number} again."))
    _remember(session, kit_id, kit.question, of=of, revision=of_revision)
    return before.name


def discard_kit(session: Session, kit_id: int) -> str:
    """Take a kit that was just made back; answer its name. Raises: Missing; Conflict when it was worked on since."""
    _kit(session, kit_id)
    return discard_fresh(session, kit_id)


def _kit(session: Session, kit_id: int) -> tuple[int, KeptKit]:
    _design(session, kit_id)
    found = kit_origin(session, kit_id)
    if found is None:
        raise Conflict("This design is no kit of another one.")
    return found[0], found[2]


def _remember(session: Session, kit_id: int, question: KitRequest, *, of: int, revision: int) -> None:
    design = _design(session, kit_id)
    design.kit_of_id, design.kit_of_revision = of, revision
    design.kit_spare_percent, design.kit_prepared = question.spare_percent, question.prepared
    session.flush()


def _design(session: Session, design_id: int) -> Design:
    return fetch(session, Design, design_id, "design")
