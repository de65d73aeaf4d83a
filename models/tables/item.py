"""Stock items: anything that is counted in. Quantities live in the ledger, not here."""

from datetime import datetime

from sqlmodel import Field

from models.tables.columns import Row, at_least, big, moment, one_of
from models.trade.vocabulary.things import ARRIVALS, ITEM_KINDS, UNITS


class Item(Row, table=True):
    """One stock item; sizes in nanometres, the mass of one unit in micrograms.

    A ring's metal and size freeze once a design uses it. A gauge label may differ from the real wire: both are kept and
    the real size computes. `mass_ug` is a measured mass that overrides the computed one. A 'piece' is what a design
    makes, 'scrap' is metal kept by weight. `reorder_milli` and `target_milli` are in thousandths of the unit;
    `batch_colour` says that lots of this colour differ, so that one piece should come from one lot.
    """

    __tablename__ = "item"
    __table_args__ = (
        one_of("kind", ITEM_KINDS.codes),
        one_of("unit", UNITS.codes),
        one_of("arrives", ("", *ARRIVALS)),
        at_least("wire_nm", 1, or_null=True),
        at_least("inner_nm", 1, or_null=True),
        at_least("hole_nm", 1, or_null=True),
        at_least("mass_ug", 1, or_null=True),
        at_least("reorder_milli", 0, or_null=True),
        at_least("target_milli", 0, or_null=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    kind: str = Field(index=True)
    name: str = Field(index=True)
    metal: str | None = Field(default=None, index=True)
    finish: str = ""
    colour: str = ""
    tint: str = ""
    wire_nm: int | None = big(nullable=True, default=None, index=True)
    inner_nm: int | None = big(nullable=True, default=None)
    wire_label: str = ""
    inner_label: str = ""
    hole_nm: int | None = big(nullable=True, default=None)
    unit: str = "piece"
    mass_ug: int | None = big(nullable=True, default=None)
    can_open: bool = True
    arrives: str = ""
    note: str = ""
    design_id: int | None = Field(default=None, foreign_key="design.id", unique=True)
    reorder_milli: int | None = big(nullable=True, default=None)
    target_milli: int | None = big(nullable=True, default=None)
    batch_colour: bool = False
    retired: bool = False
    created_at: datetime = moment()
    version: int = 1
