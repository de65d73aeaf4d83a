"""How a revision's rows are laid, and the shop's own measured swatches of weaves."""

from datetime import date

from sqlmodel import Field

from models.tables.columns import Row, at_least, big, day, kept_text, one_of
from models.trade.vocabulary.pieces import LAYOUT_KINDS


class Layout(Row, table=True):
    """The rows (or the chain) of one revision, as kept documents. Never changed once written, but for guesses.

    `plan` holds the weave, its rows or stretches and what hangs there, `palette` what each key of them is, `route` the
    maker's way through it, `closed` the names of the rings closed beforehand where the maker chose them.
    """

    __tablename__ = "layout"
    __table_args__ = (one_of("kind", LAYOUT_KINDS.codes),)

    id: int | None = Field(default=None, primary_key=True)
    revision_id: int = Field(foreign_key="revision.id", unique=True)
    kind: str
    plan: str = kept_text()
    palette: str = kept_text()
    route: str = kept_text()
    closed: str | None = kept_text(nullable=True, default=None)


class Swatch(Row, table=True):
    """A measured piece of a weave: a sheet of rows by rings opened flat, or a length of chain pulled taut.

    Sizes are nanometres: `along_nm` along the rows, `across_nm` across them, `length_nm` of a chain.
    """

    __tablename__ = "swatch"
    __table_args__ = (
        one_of("kind", LAYOUT_KINDS.codes),
        at_least("wire_nm", 1),
        at_least("inner_nm", 1),
        at_least("rows", 1, or_null=True),
        at_least("rings", 1),
        at_least("along_nm", 1, or_null=True),
        at_least("across_nm", 1, or_null=True),
        at_least("length_nm", 1, or_null=True),
    )

    id: int | None = Field(default=None, primary_key=True)
    weave: str = Field(index=True)
    kind: str
    wire_nm: int = big()
    inner_nm: int = big()
    item_id: int | None = Field(default=None, foreign_key="item.id", index=True)
    rows: int | None = None
    rings: int
    along_nm: int | None = big(nullable=True, default=None)
    across_nm: int | None = big(nullable=True, default=None)
    length_nm: int | None = big(nullable=True, default=None)
    measured_on: date = day()
    note: str = ""
    version: int = 1
