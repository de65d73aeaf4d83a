"""The bags that rings can be taken from before there is a design, for a choice by name and place."""

from __future__ import annotations

from dataclasses import dataclass

from sqlmodel import Session

from models.intake.builds.build import bag_value
from models.queries.stock.lot import DrawerLine, drawer


@dataclass(frozen=True, slots=True)
class SourceBag:
    """One bag in a choice, in words: its item, where it lies, and what is free of it."""

    value: str
    words: str
    line: DrawerLine


def bags_to_take(session: Session) -> tuple[SourceBag, ...]:
    """Every bag with something free in it but finished pieces and scrap, in the order of a well-kept drawer."""
    found = []
    for line in drawer(session):
        if line.bag.free_milli <= 0 or line.item.kind in {"piece", "scrap"}:
            continue
        counted = line.item.counted(line.bag.free_milli)
        where = ", ".join(word for word in (line.bag.place, f"lot {line.bag.lot_id}", line.batch) if word)
        found.append(
            SourceBag(bag_value(line.bag.lot_id, line.bag.place), f"{line.item.name} ({where}: {counted})", line)
        )
    return tuple(sorted(found, key=lambda one: (one.line.item.kind != "ring", one.line.item.name.casefold())))
