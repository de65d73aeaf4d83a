"""Planning: which items may stand in for others, and questions of what to make next with their answers.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0006
Follows: 0005
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

STATES = "'waiting', 'searching', 'done', 'failed'"


def upgrade() -> None:
    op.create_table(
        "stand_in",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("stand_in_id", sa.Integer(), nullable=False),
        sa.Column("both_ways", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("item_id <> stand_in_id", name=op.f("ck_stand_in_nothing_stands_in_for_itself")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_stand_in_item_id_item")),
        sa.ForeignKeyConstraint(["stand_in_id"], ["item.id"], name=op.f("fk_stand_in_stand_in_id_item")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stand_in")),
        sa.UniqueConstraint("item_id", "stand_in_id", name=op.f("uq_stand_in_item_id_stand_in_id")),
    )
    with op.batch_alter_table("stand_in", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stand_in_stand_in_id"), ["stand_in_id"], unique=False)

    op.create_table(
        "make_plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("question", sa.String(), nullable=False),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("stop_asked", sa.Boolean(), nullable=False),
        sa.Column("runner", sa.String(), nullable=False),
        sa.Column("beat_at", sa.DateTime(), nullable=True),
        sa.Column("searched_ms", sa.BigInteger(), nullable=False),
        sa.Column("value", sa.BigInteger(), nullable=True),
        sa.Column("bound", sa.BigInteger(), nullable=True),
        sa.Column("result", sa.String(), nullable=False),
        sa.Column("limits", sa.String(), nullable=False),
        sa.Column("limits_state", sa.String(), nullable=False),
        sa.Column("booked", sa.String(), nullable=False),
        sa.Column("booked_at", sa.DateTime(), nullable=True),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("ended_at", sa.DateTime(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(f"state IN ({STATES})", name=op.f("ck_make_plan_state_known")),
        sa.CheckConstraint(f"limits_state IN ('', {STATES})", name=op.f("ck_make_plan_limits_state_known")),
        sa.CheckConstraint("searched_ms >= 0", name=op.f("ck_make_plan_searched_ms_at_least_0")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_make_plan")),
    )


def downgrade() -> None:
    op.drop_table("make_plan")
    with op.batch_alter_table("stand_in", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stand_in_stand_in_id"))

    op.drop_table("stand_in")
