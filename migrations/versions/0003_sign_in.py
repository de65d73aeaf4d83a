"""The owner's password, its sessions, and the keys of programs.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0003
Follows: 0002
"""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "owner",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("password_hash", sa.String(), nullable=False),
        sa.Column("set_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_owner")),
    )
    op.create_table(
        "sign_in_try",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("address", sa.String(), nullable=False),
        sa.Column("tried_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in_try")),
    )
    with op.batch_alter_table("sign_in_try", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_sign_in_try_tried_at"), ["tried_at"], unique=False)

    op.create_table(
        "signed_in",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_hash", sa.String(), nullable=False),
        sa.Column("device", sa.String(), nullable=False),
        sa.Column("opened_at", sa.DateTime(), nullable=False),
        sa.Column("seen_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signed_in")),
        sa.UniqueConstraint("token_hash", name=op.f("uq_signed_in_token_hash")),
    )
    op.create_table(
        "program_key",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key_hash", sa.String(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=False),
        sa.Column("used_at", sa.DateTime(), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_program_key")),
        sa.UniqueConstraint("key_hash", name=op.f("uq_program_key_key_hash")),
    )


def downgrade() -> None:
    op.drop_table("program_key")
    op.drop_table("signed_in")
    with op.batch_alter_table("sign_in_try", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_sign_in_try_tried_at"))

    op.drop_table("sign_in_try")
    op.drop_table("owner")
