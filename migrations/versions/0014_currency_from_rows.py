"""Whether the shop's currency stands follows from the rows that keep money; the mark of it is no more.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0014
Follows: 0013
"""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("shop", schema=None) as batch_op:
        batch_op.drop_column("currency_locked")


def downgrade() -> None:
    with op.batch_alter_table("shop", schema=None) as batch_op:
        batch_op.add_column(sa.Column("currency_locked", sa.Boolean(), nullable=False, server_default=sa.false()))
    # What else keeps money an older program asks itself.
    op.execute(
        sa.text(
            "UPDATE shop SET currency_locked = :yes WHERE order_cost_micros <> 2000000 "
            "OR EXISTS (SELECT 1 FROM movement WHERE value_micros <> 0 OR price_micros <> 0) "
            "OR EXISTS (SELECT 1 FROM purchase) "
            "OR EXISTS (SELECT 1 FROM supplier "
            "WHERE postage_micros + minimum_micros + coalesce(free_from_micros, 0) > 0)"
        ).bindparams(yes=True)
    )
    with op.batch_alter_table("shop", schema=None) as batch_op:
        batch_op.alter_column("currency_locked", existing_type=sa.Boolean(), server_default=None)
