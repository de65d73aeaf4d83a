"""Reservations: what each started build will take of which bag, in one table that other holders can use.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0010
Follows: 0009
"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "reservation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("holder_kind", sa.String(), nullable=False),
        sa.Column("holder_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("quantity_milli", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("holder_kind IN ('build')", name=op.f("ck_reservation_holder_kind_known")),
        sa.CheckConstraint("quantity_milli >= 1", name=op.f("ck_reservation_quantity_milli_at_least_1")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_reservation_lot_id_lot")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reservation")),
        sa.UniqueConstraint(
            "holder_kind",
            "holder_id",
            "lot_id",
            "place",
            name=op.f("uq_reservation_holder_kind_holder_id_lot_id_place"),
        ),
    )
    with op.batch_alter_table("reservation", schema=None) as batch_op:
        batch_op.create_index("ix_reservation_lot_id_place", ["lot_id", "place"], unique=False)
    # The counters of bags and items stay as they are: they are the sums of just these rows.
    op.execute(
        "INSERT INTO reservation (holder_kind, holder_id, lot_id, place, quantity_milli) "
        "SELECT 'build', build_line.build_id, build_line.lot_id, build_line.place, sum(build_line.planned_milli) "
        "FROM build_line JOIN build ON build.id = build_line.build_id "
        "WHERE build.state = 'started' AND build_line.planned_milli > 0 "
        "GROUP BY build_line.build_id, build_line.lot_id, build_line.place ORDER BY min(build_line.id)"
    )


def downgrade() -> None:
    # An older program reads what is reserved from the lines of started builds, which say it too.
    op.drop_table("reservation")
