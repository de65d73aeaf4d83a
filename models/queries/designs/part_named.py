"""A part of a file that names its stock item: which item that is, or what is wrong with the name.

How a typed line finds its item stands in `part_match`; a file says names in full, so nothing is guessed here.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from models.intake.costing.part import PartDraft, PartRow
from models.intake.faults import Faults
from models.queries.stock.material import Material


def named_item(items: Sequence[Material], row: PartRow) -> PartRow | Faults:
    """The row with its item's id; kind, metal, colour and size tell items of one name apart, then retired ones go."""
    named = [item for item in items if item.name.casefold() == row.item.casefold()]
    if not named:
        words = (
            f"There is no stock item called {row.item}. Import the items first, or leave this empty and give a kind."
        )
        return Faults.of("item", words)
    fitting = [item for item in named if _agrees(item, row.part)]
    if not fitting:
        return Faults.of(
            "item", f"{row.item} is in stock, but with another kind, metal, colour or size than this row says."
        )
    if len(fitting) > 1:
        fitting = [item for item in fitting if not item.retired] or fitting
    if len(fitting) > 1:
        words = f"{len(fitting)} stock items are called {row.item}. Give metal, colour and size as well, to say which."
        return Faults.of("item", words)
    return replace(row, part=replace(_bare(row.part), item_id=fitting[0].id))


def _agrees(item: Material, part: PartDraft) -> bool:
    """Whether everything that the row says of the item is so; a metal may be given by its name."""
    said = (
        (part.typed_kind, item.kind),
        ((part.typed_colour or "").casefold(), item.colour.casefold()),
        (part.typed_wire_nm, item.wire_nm),
        (part.typed_inner_nm, item.inner_nm),
    )
    if any(wanted and wanted != found for wanted, found in said):
        return False
    return not part.typed_metal or part.typed_metal.casefold() in {
        (item.metal or "").casefold(),
        item.metal_name.casefold(),
    }


def _bare(part: PartDraft) -> PartDraft:
    return replace(
        part,
        typed_kind="",
        typed_name="",
        typed_metal=None,
        typed_colour="",
        typed_wire_nm=None,
        typed_inner_nm=None,
        typed_unit="piece",
    )
