"""Costs that were noted are kept: the postage of each receipt of a purchase, and the guessed parts of each build.

Postage is in the purchase's own currency. Builds that were finished before keep no guess: their pieces do not bear it.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0008
Follows: 0007
"""

from decimal import ROUND_HALF_EVEN, Context, Decimal

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

_EXACT = Context(prec=50, rounding=ROUND_HALF_EVEN)


def upgrade() -> None:
    with op.batch_alter_table("purchase_receipt", schema=None) as batch_op:
        batch_op.add_column(sa.Column("freight_micros", sa.BigInteger(), nullable=False, server_default="0"))
        batch_op.create_check_constraint(op.f("ck_purchase_receipt_freight_micros_at_least_0"), "freight_micros >= 0")
    _from_lots()
    with op.batch_alter_table("purchase_receipt", schema=None) as batch_op:
        batch_op.alter_column("freight_micros", server_default=None)
    with op.batch_alter_table("build", schema=None) as batch_op:
        batch_op.add_column(sa.Column("guessed_micros", sa.BigInteger(), nullable=True))


def _from_lots() -> None:
    """What the lots that came were given as freight, at the rate at which it was paid; exact in the shop's currency."""
    connection = op.get_bind()
    rows = connection.execute(
        sa.text(
            "SELECT purchase_receipt.id, lot.freight_micros, lot.exchange_rate FROM purchase_receipt "
            "JOIN lot ON lot.id = purchase_receipt.lot_id WHERE lot.freight_micros > 0"
        )
    ).all()
    for receipt_id, micros, rate in rows:
        own = _EXACT.divide(Decimal(micros), Decimal(str(rate)))
        connection.execute(
            sa.text("UPDATE purchase_receipt SET freight_micros = :micros WHERE id = :id"),
            {"micros": int(own.to_integral_value(ROUND_HALF_EVEN)), "id": receipt_id},
        )


def downgrade() -> None:
    # Pieces that bear a guess are worth it: an older program finds it among the overhead, so that its sums still hold.
    op.execute("UPDATE build SET overhead_micros = overhead_micros + guessed_micros WHERE guessed_micros > 0")
    with op.batch_alter_table("build", schema=None) as batch_op:
        batch_op.drop_column("guessed_micros")
    with op.batch_alter_table("purchase_receipt", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("ck_purchase_receipt_freight_micros_at_least_0"), type_="check")
        batch_op.drop_column("freight_micros")
