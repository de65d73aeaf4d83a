"""Who did what: the owner as the first person, and a person for every act, every sign-in and every key.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0013
Follows: 0012
"""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None

_TABLES = ("act", "signed_in", "program_key")


def upgrade() -> None:
    op.create_table(
        "person",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
    )
    # The first of a new table has the number 1, which the columns below take for whatever was done before.
    op.execute("INSERT INTO person (name) VALUES ('Owner')")
    for table in _TABLES:
        with op.batch_alter_table(table, schema=None) as batch_op:
            batch_op.add_column(sa.Column("person_id", sa.Integer(), server_default="1", nullable=False))
            batch_op.create_foreign_key(batch_op.f(f"fk_{table}_person_id_person"), "person", ["person_id"], ["id"])


def downgrade() -> None:
    for table in _TABLES:
        with op.batch_alter_table(table, schema=None) as batch_op:
            batch_op.drop_constraint(batch_op.f(f"fk_{table}_person_id_person"), type_="foreignkey")
            batch_op.drop_column("person_id")
    op.drop_table("person")
