"""The days of a build: when it was started, by when it is wanted, and when it was finished, in the place of one day.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0012
Follows: 0011
"""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with op.batch_alter_table("build", schema=None) as batch_op:
        batch_op.add_column(sa.Column("started_on", sa.Date(), nullable=True))
        batch_op.add_column(sa.Column("due_on", sa.Date(), nullable=True))
        batch_op.add_column(sa.Column("finished_on", sa.Date(), nullable=True))
    op.execute("UPDATE build SET finished_on = made_on WHERE state = 'finished'")
    # The day of finishing was written over the day of starting. When its rings were taken out is the nearest to it that
    # is still known.
    op.execute(
        "UPDATE build SET started_on = coalesce("
        "(SELECT min(act.done_on) FROM act WHERE act.build_id = build.id AND act.kind = 'take_out' "
        "AND act.done_on < build.made_on AND act.id NOT IN (SELECT undoes_id FROM act WHERE undoes_id IS NOT NULL)), "
        "made_on)"
    )
    with op.batch_alter_table("build", schema=None) as batch_op:
        batch_op.alter_column("started_on", existing_type=sa.Date(), nullable=False)
        batch_op.drop_index("ix_build_state_made_on")
        batch_op.create_index("ix_build_state_finished_on", ["state", "finished_on"], unique=False)
        batch_op.drop_column("made_on")


def downgrade() -> None:
    with op.batch_alter_table("build", schema=None) as batch_op:
        batch_op.add_column(sa.Column("made_on", sa.Date(), nullable=True))
    op.execute("UPDATE build SET made_on = coalesce(finished_on, started_on)")
    with op.batch_alter_table("build", schema=None) as batch_op:
        batch_op.alter_column("made_on", existing_type=sa.Date(), nullable=False)
        batch_op.drop_index("ix_build_state_finished_on")
        batch_op.create_index("ix_build_state_made_on", ["state", "made_on"], unique=False)
        batch_op.drop_column("finished_on")
        batch_op.drop_column("due_on")
        batch_op.drop_column("started_on")
