"""Words that a studio's needs add to are no longer listed in the database: outlets, fees, price endings, pack units.

The program refuses words that it does not know when it writes them, so that a new word needs no migration.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0009
Follows: 0008
"""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

_ENDINGS = "'any', 'x.00', 'x.50', 'x.90', 'x.95', 'x.99', '5'"
_PACK_UNITS = "'piece', 'm', 'cm', 'ft', 'in', 'g', 'kg', 'oz', 'lb', 'ozt', 'dwt'"
_CHECKS = (
    ("shop", "ending", _ENDINGS),
    ("outlet", "kind", "'online', 'market', 'direct', 'consignment', 'wholesale'"),
    ("outlet", "ending", f"'', {_ENDINGS}"),
    ("outlet_fee", "base", "'price', 'price+shipping', 'price+shipping+tax'"),
    ("offer", "pack_unit", _PACK_UNITS),
    ("purchase_line", "pack_unit", _PACK_UNITS),
)
_SUMS = (("outlet_fee", "base"), ("offer", "pack_unit"), ("purchase_line", "pack_unit"))
"""Where another word would be another sum of money."""


def upgrade() -> None:
    for table in dict.fromkeys(table for table, _, _ in _CHECKS):
        with op.batch_alter_table(table, schema=None) as batch_op:
            for column in (column for each, column, _ in _CHECKS if each == table):
                batch_op.drop_constraint(batch_op.f(f"ck_{table}_{column}_known"), type_="check")


def downgrade() -> None:
    _refuse_what_no_older_word_says()
    # An older program knows fewer words: an outlet of another kind is one that sells straight to the buyer, and
    # prices that end by another rule end by none, or by the shop's own.
    op.execute(f"UPDATE outlet SET kind = 'direct' WHERE kind NOT IN ({_listed('outlet', 'kind')})")  # noqa: S608
    op.execute(f"UPDATE outlet SET ending = '' WHERE ending NOT IN ({_listed('outlet', 'ending')})")  # noqa: S608
    op.execute(f"UPDATE shop SET ending = 'any' WHERE ending NOT IN ({_listed('shop', 'ending')})")  # noqa: S608
    for table in dict.fromkeys(table for table, _, _ in _CHECKS):
        with op.batch_alter_table(table, schema=None) as batch_op:
            for column, listed in ((column, listed) for each, column, listed in _CHECKS if each == table):
                batch_op.create_check_constraint(batch_op.f(f"ck_{table}_{column}_known"), f"{column} IN ({listed})")


def _refuse_what_no_older_word_says() -> None:
    """Raise where a word counts money that an older program has no word for, before anything is changed."""
    connection = op.get_bind()
    for table, column in _SUMS:
        wanted = f"SELECT {column} FROM {table} WHERE {column} NOT IN ({_listed(table, column)})"  # noqa: S608
        word = connection.execute(sa.text(wanted)).scalar()
        if word is not None:
            raise ValueError(f"an older program does not know '{word}', which {table}.{column} holds: change it first")


def _listed(table: str, column: str) -> str:
    return next(listed for each, name, listed in _CHECKS if (each, name) == (table, column))
