"""Buying: terms of suppliers, price breaks, what is needed, purchases and what came in for them.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0005
Follows: 0004
"""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    _widen_suppliers_and_shop()
    _widen_offers()
    _make_prices()
    _make_purchases()
    _make_receipts()


def downgrade() -> None:
    for table in ("purchase_receipt", "purchase_line", "purchase", "need", "price_change", "offer_break"):
        op.drop_table(table)
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_offer_what_costs_follow_stands"), type_="check")
        batch_op.drop_constraint(batch_op.f("ck_offer_lead_days_at_least_0"), type_="check")
        batch_op.drop_column("lead_days")
        batch_op.drop_column("standing")

    with op.batch_alter_table("supplier", schema=None) as batch_op:
        for column in ("minimum_micros", "free_from_micros", "postage_micros"):
            batch_op.drop_constraint(batch_op.f(f"ck_supplier_{column}_at_least_0"), type_="check")
            batch_op.drop_column(column)
        batch_op.drop_column("exchange_rate")
        batch_op.drop_column("currency")

    with op.batch_alter_table("shop", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_shop_reorder_days_at_least_28"), type_="check")
        batch_op.drop_constraint(batch_op.f("ck_shop_order_cost_micros_at_least_1"), type_="check")
        batch_op.drop_column("reorder_days")
        batch_op.drop_column("holding_percent")
        batch_op.drop_column("order_cost_micros")
        batch_op.drop_column("service_percent")


def _widen_suppliers_and_shop() -> None:
    with op.batch_alter_table("supplier", schema=None) as batch_op:
        batch_op.add_column(sa.Column("postage_micros", sa.BigInteger(), server_default="0", nullable=False))
        batch_op.add_column(sa.Column("free_from_micros", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("minimum_micros", sa.BigInteger(), server_default="0", nullable=False))
        batch_op.add_column(sa.Column("currency", sa.String(), server_default="", nullable=False))
        batch_op.add_column(sa.Column("exchange_rate", sa.Text(), server_default="1", nullable=False))
        batch_op.create_check_constraint(batch_op.f("ck_supplier_postage_micros_at_least_0"), "postage_micros >= 0")
        batch_op.create_check_constraint(
            batch_op.f("ck_supplier_free_from_micros_at_least_0"), "free_from_micros IS NULL OR free_from_micros >= 0"
        )
        batch_op.create_check_constraint(batch_op.f("ck_supplier_minimum_micros_at_least_0"), "minimum_micros >= 0")

    with op.batch_alter_table("shop", schema=None) as batch_op:
        batch_op.add_column(sa.Column("service_percent", sa.Text(), server_default="95", nullable=False))
        batch_op.add_column(sa.Column("order_cost_micros", sa.BigInteger(), server_default="2000000", nullable=False))
        batch_op.add_column(sa.Column("holding_percent", sa.Text(), server_default="20", nullable=False))
        batch_op.add_column(sa.Column("reorder_days", sa.Integer(), server_default="365", nullable=False))
        batch_op.create_check_constraint(batch_op.f("ck_shop_order_cost_micros_at_least_1"), "order_cost_micros >= 1")
        batch_op.create_check_constraint(batch_op.f("ck_shop_reorder_days_at_least_28"), "reorder_days >= 28")


def _widen_offers() -> None:
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.add_column(sa.Column("standing", sa.Boolean(), server_default=sa.true(), nullable=False))
        batch_op.add_column(sa.Column("lead_days", sa.Integer(), nullable=True))
    # Until now one offer of an item stood, and the others were what was asked before.
    op.execute("UPDATE offer SET standing = current")
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.create_check_constraint(
            batch_op.f("ck_offer_lead_days_at_least_0"), "lead_days IS NULL OR lead_days >= 0"
        )
        batch_op.create_check_constraint(batch_op.f("ck_offer_what_costs_follow_stands"), "standing OR NOT current")


def _make_prices() -> None:
    op.create_table(
        "offer_break",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("offer_id", sa.Integer(), nullable=False),
        sa.Column("from_packs", sa.Integer(), nullable=False),
        sa.Column("price_micros", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("from_packs >= 2", name=op.f("ck_offer_break_from_packs_at_least_2")),
        sa.CheckConstraint("price_micros >= 0", name=op.f("ck_offer_break_price_micros_at_least_0")),
        sa.ForeignKeyConstraint(["offer_id"], ["offer.id"], name=op.f("fk_offer_break_offer_id_offer")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_offer_break")),
        sa.UniqueConstraint("offer_id", "from_packs", name=op.f("uq_offer_break_offer_id_from_packs")),
    )
    op.create_table(
        "price_change",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("before_id", sa.Integer(), nullable=False),
        sa.Column("after_id", sa.Integer(), nullable=False),
        sa.Column("changed_at", sa.DateTime(), nullable=False),
        sa.ForeignKeyConstraint(["after_id"], ["offer.id"], name=op.f("fk_price_change_after_id_offer")),
        sa.ForeignKeyConstraint(["before_id"], ["offer.id"], name=op.f("fk_price_change_before_id_offer")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_price_change_item_id_item")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_price_change")),
    )
    with op.batch_alter_table("price_change", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_price_change_changed_at"), ["changed_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_price_change_item_id"), ["item_id"], unique=False)


def _make_purchases() -> None:
    op.create_table(
        "need",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("quantity_milli", sa.BigInteger(), nullable=False),
        sa.Column("purpose", sa.String(), nullable=False),
        sa.Column("struck", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("quantity_milli >= 1", name=op.f("ck_need_quantity_milli_at_least_1")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_need_item_id_item")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_need")),
    )
    with op.batch_alter_table("need", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_need_item_id"), ["item_id"], unique=False)

    op.create_table(
        "purchase",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("supplier_id", sa.Integer(), nullable=True),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("currency", sa.String(), nullable=False),
        sa.Column("exchange_rate", sa.Text(), nullable=False),
        sa.Column("postage_micros", sa.BigInteger(), nullable=False),
        sa.Column("reference", sa.String(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("sent_on", sa.Date(), nullable=True),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("closed_on", sa.Date(), nullable=True),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "state IN ('draft', 'sent', 'part', 'received', 'cancelled')", name=op.f("ck_purchase_state_known")
        ),
        sa.CheckConstraint("postage_micros >= 0", name=op.f("ck_purchase_postage_micros_at_least_0")),
        sa.ForeignKeyConstraint(["supplier_id"], ["supplier.id"], name=op.f("fk_purchase_supplier_id_supplier")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_purchase")),
    )
    with op.batch_alter_table("purchase", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_purchase_state"), ["state"], unique=False)
        batch_op.create_index(batch_op.f("ix_purchase_supplier_id"), ["supplier_id"], unique=False)

    op.create_table(
        "purchase_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("purchase_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("offer_id", sa.Integer(), nullable=True),
        sa.Column("packs", sa.Integer(), nullable=False),
        sa.Column("received_packs", sa.Integer(), nullable=False),
        sa.Column("pack_milli", sa.BigInteger(), nullable=False),
        sa.Column("pack_unit", sa.String(), nullable=False),
        sa.Column("unit_milli", sa.BigInteger(), nullable=False),
        sa.Column("price_micros", sa.BigInteger(), nullable=False),
        sa.CheckConstraint(
            "pack_unit IN ('piece', 'm', 'cm', 'ft', 'in', 'g', 'kg', 'oz', 'lb', 'ozt', 'dwt')",
            name=op.f("ck_purchase_line_pack_unit_known"),
        ),
        sa.CheckConstraint("pack_milli >= 1", name=op.f("ck_purchase_line_pack_milli_at_least_1")),
        sa.CheckConstraint("packs >= 1", name=op.f("ck_purchase_line_packs_at_least_1")),
        sa.CheckConstraint("price_micros >= 0", name=op.f("ck_purchase_line_price_micros_at_least_0")),
        sa.CheckConstraint("received_packs <= packs", name=op.f("ck_purchase_line_no_more_comes_than_was_ordered")),
        sa.CheckConstraint("received_packs >= 0", name=op.f("ck_purchase_line_received_packs_at_least_0")),
        sa.CheckConstraint("unit_milli >= 1", name=op.f("ck_purchase_line_unit_milli_at_least_1")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_purchase_line_item_id_item")),
        sa.ForeignKeyConstraint(["offer_id"], ["offer.id"], name=op.f("fk_purchase_line_offer_id_offer")),
        sa.ForeignKeyConstraint(["purchase_id"], ["purchase.id"], name=op.f("fk_purchase_line_purchase_id_purchase")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_purchase_line")),
        sa.UniqueConstraint("purchase_id", "position", name=op.f("uq_purchase_line_purchase_id_position")),
    )
    with op.batch_alter_table("purchase_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_purchase_line_item_id"), ["item_id"], unique=False)


def _make_receipts() -> None:
    op.create_table(
        "purchase_receipt",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("line_id", sa.Integer(), nullable=False),
        sa.Column("act_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("packs", sa.Integer(), nullable=False),
        sa.Column("quantity_milli", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("packs >= 1", name=op.f("ck_purchase_receipt_packs_at_least_1")),
        sa.CheckConstraint("quantity_milli >= 1", name=op.f("ck_purchase_receipt_quantity_milli_at_least_1")),
        sa.ForeignKeyConstraint(["act_id"], ["act.id"], name=op.f("fk_purchase_receipt_act_id_act")),
        sa.ForeignKeyConstraint(
            ["line_id"], ["purchase_line.id"], name=op.f("fk_purchase_receipt_line_id_purchase_line")
        ),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_purchase_receipt_lot_id_lot")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_purchase_receipt")),
        sa.UniqueConstraint("lot_id", name=op.f("uq_purchase_receipt_lot_id")),
    )
    with op.batch_alter_table("purchase_receipt", schema=None) as batch_op:
        batch_op.create_index("ix_purchase_receipt_act_id", ["act_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_purchase_receipt_line_id"), ["line_id"], unique=False)
