"""The rows that a design is laid out in, and the shop's measured swatches.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0004
Follows: 0003
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    _make_layouts()
    _make_swatches()
    with op.batch_alter_table("part", schema=None) as batch_op:
        batch_op.add_column(sa.Column("layout_key", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("closed_milli", sa.BigInteger(), nullable=True))
        batch_op.create_check_constraint(
            batch_op.f("ck_part_closed_within"),
            "closed_milli IS NULL OR (closed_milli >= 0 AND closed_milli <= quantity_milli)",
        )

    with op.batch_alter_table("design", schema=None) as batch_op:
        batch_op.add_column(sa.Column("kit_of_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("kit_of_revision", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("kit_spare_percent", sa.Text(), nullable=True))
        batch_op.add_column(sa.Column("kit_prepared", sa.Boolean(), server_default=sa.false(), nullable=False))
        batch_op.create_index(batch_op.f("ix_design_kit_of_id"), ["kit_of_id"], unique=False)
        batch_op.create_foreign_key(batch_op.f("fk_design_kit_of_id_design"), "design", ["kit_of_id"], ["id"])
        batch_op.create_check_constraint(
            batch_op.f("ck_design_kit_of_revision_at_least_1"), "kit_of_revision IS NULL OR kit_of_revision >= 1"
        )


def downgrade() -> None:
    # An older program counts parts without their rows: the parts stay as a plain list.
    with op.batch_alter_table("design", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_design_kit_of_revision_at_least_1"), type_="check")
        batch_op.drop_constraint(batch_op.f("fk_design_kit_of_id_design"), type_="foreignkey")
        batch_op.drop_index(batch_op.f("ix_design_kit_of_id"))
        batch_op.drop_column("kit_prepared")
        batch_op.drop_column("kit_spare_percent")
        batch_op.drop_column("kit_of_revision")
        batch_op.drop_column("kit_of_id")

    with op.batch_alter_table("part", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_part_closed_within"), type_="check")
        batch_op.drop_column("closed_milli")
        batch_op.drop_column("layout_key")

    with op.batch_alter_table("swatch", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_swatch_weave"))
        batch_op.drop_index(batch_op.f("ix_swatch_item_id"))

    op.drop_table("swatch")
    op.drop_table("layout")


def _make_layouts() -> None:
    op.create_table(
        "layout",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("plan", sa.String(), nullable=False),
        sa.Column("palette", sa.String(), nullable=False),
        sa.Column("route", sa.String(), nullable=False),
        sa.Column("closed", sa.String(), nullable=True),
        sa.CheckConstraint("kind IN ('sheet', 'chain')", name=op.f("ck_layout_kind_known")),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name=op.f("fk_layout_revision_id_revision")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_layout")),
        sa.UniqueConstraint("revision_id", name=op.f("uq_layout_revision_id")),
    )


def _make_swatches() -> None:
    op.create_table(
        "swatch",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("weave", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("wire_nm", sa.BigInteger(), nullable=False),
        sa.Column("inner_nm", sa.BigInteger(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=True),
        sa.Column("rows", sa.Integer(), nullable=True),
        sa.Column("rings", sa.Integer(), nullable=False),
        sa.Column("along_nm", sa.BigInteger(), nullable=True),
        sa.Column("across_nm", sa.BigInteger(), nullable=True),
        sa.Column("length_nm", sa.BigInteger(), nullable=True),
        sa.Column("measured_on", sa.Date(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("across_nm IS NULL OR across_nm >= 1", name=op.f("ck_swatch_across_nm_at_least_1")),
        sa.CheckConstraint("along_nm IS NULL OR along_nm >= 1", name=op.f("ck_swatch_along_nm_at_least_1")),
        sa.CheckConstraint("inner_nm >= 1", name=op.f("ck_swatch_inner_nm_at_least_1")),
        sa.CheckConstraint("kind IN ('sheet', 'chain')", name=op.f("ck_swatch_kind_known")),
        sa.CheckConstraint("length_nm IS NULL OR length_nm >= 1", name=op.f("ck_swatch_length_nm_at_least_1")),
        sa.CheckConstraint("rings >= 1", name=op.f("ck_swatch_rings_at_least_1")),
        sa.CheckConstraint("rows IS NULL OR rows >= 1", name=op.f("ck_swatch_rows_at_least_1")),
        sa.CheckConstraint("wire_nm >= 1", name=op.f("ck_swatch_wire_nm_at_least_1")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_swatch_item_id_item")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_swatch")),
    )
    with op.batch_alter_table("swatch", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_swatch_item_id"), ["item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_swatch_weave"), ["weave"], unique=False)
