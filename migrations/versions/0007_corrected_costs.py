"""Receipts whose cost is corrected after some of them left: the acts, their movements, and what stood before.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0007
Follows: 0006
"""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None

_ACTS = (
    "'receive', 'count', 'scrap', 'sell', 'move', 'take_out', 'finish', 'abandon', 'make_rings', 'process', "
    "'unpick', 'give', 'revalue', "
)
_MOVEMENTS = "'receipt', 'issue', 'return', 'scrap', 'count', 'sale', 'transfer', 'reversal', 'revalue'"


def upgrade() -> None:
    with op.batch_alter_table("act", schema=None) as batch_op:
        batch_op.add_column(sa.Column("valued_by", sa.String(), server_default="fifo", nullable=False))
        batch_op.drop_constraint(batch_op.f("ck_act_kind_known"), type_="check")
        batch_op.create_check_constraint(batch_op.f("ck_act_kind_known"), f"kind IN ({_ACTS}'correct_cost', 'undo')")
        batch_op.create_check_constraint(batch_op.f("ck_act_valued_by_known"), "valued_by IN ('fifo', 'average')")
    # How each act was valued was not written down: today's way is taken, and where value moved between lots, which only
    # the average does, the average.
    op.execute("UPDATE act SET valued_by = coalesce((SELECT valuation FROM shop WHERE id = 1), 'fifo')")
    op.execute("UPDATE act SET valued_by = 'average' WHERE id IN (SELECT act_id FROM movement WHERE kind = 'revalue')")
    with op.batch_alter_table("movement", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_movement_kind_known"), type_="check")
        batch_op.create_check_constraint(
            batch_op.f("ck_movement_kind_known"), f"kind IN ({_MOVEMENTS}, 'correction', 'carried')"
        )

    op.create_table(
        "cost_correction",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("act_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("received_before", sa.BigInteger(), nullable=False),
        sa.Column("received_after", sa.BigInteger(), nullable=False),
        sa.Column("freight_before", sa.BigInteger(), nullable=False),
        sa.Column("freight_after", sa.BigInteger(), nullable=False),
        sa.Column("paid_before", sa.BigInteger(), nullable=True),
        sa.Column("paid_after", sa.BigInteger(), nullable=True),
        sa.Column("provisional_before", sa.Boolean(), nullable=False),
        sa.Column("provisional_after", sa.Boolean(), nullable=False),
        sa.CheckConstraint("received_before >= 0", name=op.f("ck_cost_correction_received_before_at_least_0")),
        sa.CheckConstraint("received_after >= 0", name=op.f("ck_cost_correction_received_after_at_least_0")),
        sa.CheckConstraint("freight_before >= 0", name=op.f("ck_cost_correction_freight_before_at_least_0")),
        sa.CheckConstraint("freight_after >= 0", name=op.f("ck_cost_correction_freight_after_at_least_0")),
        sa.CheckConstraint(
            "paid_before IS NULL OR paid_before >= 0", name=op.f("ck_cost_correction_paid_before_at_least_0")
        ),
        sa.CheckConstraint(
            "paid_after IS NULL OR paid_after >= 0", name=op.f("ck_cost_correction_paid_after_at_least_0")
        ),
        sa.ForeignKeyConstraint(["act_id"], ["act.id"], name=op.f("fk_cost_correction_act_id_act")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_cost_correction_lot_id_lot")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cost_correction")),
        sa.UniqueConstraint("act_id", "lot_id", name=op.f("uq_cost_correction_act_id_lot_id")),
    )
    with op.batch_alter_table("cost_correction", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_cost_correction_lot_id"), ["lot_id"], unique=False)


def downgrade() -> None:
    # An older program knows no corrections: their value stays in the lots, as something that came back or was taken
    # out without a quantity, so that what it adds up still holds. Lots keep what they really cost.
    op.execute(
        "UPDATE movement SET kind = CASE WHEN value_micros < 0 THEN 'issue' ELSE 'return' END "
        "WHERE kind IN ('correction', 'carried')"
    )
    op.execute("UPDATE act SET kind = 'take_out' WHERE kind = 'correct_cost'")
    with op.batch_alter_table("cost_correction", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_cost_correction_lot_id"))

    op.drop_table("cost_correction")
    with op.batch_alter_table("movement", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_movement_kind_known"), type_="check")
        batch_op.create_check_constraint(batch_op.f("ck_movement_kind_known"), f"kind IN ({_MOVEMENTS})")

    with op.batch_alter_table("act", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_act_valued_by_known"), type_="check")
        batch_op.drop_constraint(batch_op.f("ck_act_kind_known"), type_="check")
        batch_op.create_check_constraint(batch_op.f("ck_act_kind_known"), f"kind IN ({_ACTS}'undo')")
        batch_op.drop_column("valued_by")
