"""The first tables.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0001
Follows:
"""

import sqlalchemy as sa
import sqlmodel
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "design",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("piece", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("photo", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("copied_from_id", sa.Integer(), nullable=True),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["copied_from_id"], ["design.id"], name=op.f("fk_design_copied_from_id_design")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_design")),
    )
    with op.batch_alter_table("design", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_design_name"), ["name"], unique=False)

    op.create_table(
        "fit_record",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("weave", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("wire_nm", sa.BigInteger(), nullable=False),
        sa.Column("inner_nm", sa.BigInteger(), nullable=False),
        sa.Column("metal", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("verdict", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("noted_on", sa.Date(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint(
            "verdict IN ('comfortable', 'tight', 'loose', 'too small')", name=op.f("ck_fit_record_verdict_known")
        ),
        sa.CheckConstraint("inner_nm >= 1", name=op.f("ck_fit_record_inner_nm_at_least_1")),
        sa.CheckConstraint("wire_nm >= 1", name=op.f("ck_fit_record_wire_nm_at_least_1")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fit_record")),
    )
    with op.batch_alter_table("fit_record", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_fit_record_weave"), ["weave"], unique=False)

    op.create_table(
        "item",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("metal", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("finish", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("colour", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("tint", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("wire_nm", sa.BigInteger(), nullable=True),
        sa.Column("inner_nm", sa.BigInteger(), nullable=True),
        sa.Column("wire_label", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("inner_label", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("hole_nm", sa.BigInteger(), nullable=True),
        sa.Column("unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("mass_ug", sa.BigInteger(), nullable=True),
        sa.Column("can_open", sa.Boolean(), nullable=False),
        sa.Column("arrives", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("arrives IN ('', 'open', 'closed')", name=op.f("ck_item_arrives_known")),
        sa.CheckConstraint(
            "kind IN ('ring', 'scale', 'bead', 'finding', 'chain', 'wire', 'packaging', 'consumable')",
            name=op.f("ck_item_kind_known"),
        ),
        sa.CheckConstraint("unit IN ('piece', 'm', 'g')", name=op.f("ck_item_unit_known")),
        sa.CheckConstraint("hole_nm IS NULL OR hole_nm >= 1", name=op.f("ck_item_hole_nm_at_least_1")),
        sa.CheckConstraint("inner_nm IS NULL OR inner_nm >= 1", name=op.f("ck_item_inner_nm_at_least_1")),
        sa.CheckConstraint("mass_ug IS NULL OR mass_ug >= 1", name=op.f("ck_item_mass_ug_at_least_1")),
        sa.CheckConstraint("wire_nm IS NULL OR wire_nm >= 1", name=op.f("ck_item_wire_nm_at_least_1")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_item")),
    )
    with op.batch_alter_table("item", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_item_kind"), ["kind"], unique=False)
        batch_op.create_index(batch_op.f("ix_item_metal"), ["metal"], unique=False)
        batch_op.create_index(batch_op.f("ix_item_name"), ["name"], unique=False)
        batch_op.create_index(batch_op.f("ix_item_wire_nm"), ["wire_nm"], unique=False)

    op.create_table(
        "once",
        sa.Column("key", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("body_hash", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("result", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("used_at", sa.DateTime(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_once")),
    )
    with op.batch_alter_table("once", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_once_used_at"), ["used_at"], unique=False)

    op.create_table(
        "outlet",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("tax_percent", sa.Text(), nullable=False),
        sa.Column("prices_include_tax", sa.Boolean(), nullable=False),
        sa.Column("shipping_micros", sa.BigInteger(), nullable=False),
        sa.Column("postage_micros", sa.BigInteger(), nullable=False),
        sa.Column("period_micros", sa.BigInteger(), nullable=False),
        sa.Column("period_sales", sa.Integer(), nullable=False),
        sa.Column("wanted_margin_percent", sa.Text(), nullable=True),
        sa.Column("wanted_wage_micros", sa.BigInteger(), nullable=True),
        sa.Column("retail_multiple", sa.Text(), nullable=False),
        sa.Column("ending", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("retired", sa.Boolean(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "ending IN ('', 'any', 'x.00', 'x.50', 'x.90', 'x.95', 'x.99', '5')", name=op.f("ck_outlet_ending_known")
        ),
        sa.CheckConstraint(
            "kind IN ('online', 'market', 'direct', 'consignment', 'wholesale')", name=op.f("ck_outlet_kind_known")
        ),
        sa.CheckConstraint("period_micros >= 0", name=op.f("ck_outlet_period_micros_at_least_0")),
        sa.CheckConstraint("period_sales >= 1", name=op.f("ck_outlet_period_sales_at_least_1")),
        sa.CheckConstraint("postage_micros >= 0", name=op.f("ck_outlet_postage_micros_at_least_0")),
        sa.CheckConstraint("shipping_micros >= 0", name=op.f("ck_outlet_shipping_micros_at_least_0")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outlet")),
        sa.UniqueConstraint("name", name=op.f("uq_outlet_name")),
    )
    op.create_table(
        "own_metal",
        sa.Column("code", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("density", sa.Text(), nullable=False),
        sa.Column("source", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("tint", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("code", name=op.f("pk_own_metal")),
        sa.UniqueConstraint("name", name=op.f("uq_own_metal_name")),
    )
    op.create_table(
        "shop",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("currency", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("currency_locked", sa.Boolean(), nullable=False),
        sa.Column("locale", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("time_zone", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("length_unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("gauge_system", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("wage_micros", sa.BigInteger(), nullable=False),
        sa.Column("overhead_mode", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("overhead_micros", sa.BigInteger(), nullable=False),
        sa.Column("overhead_percent", sa.Text(), nullable=False),
        sa.Column("allowance_percent", sa.Text(), nullable=False),
        sa.Column("learning_percent", sa.Text(), nullable=False),
        sa.Column("wanted_margin_percent", sa.Text(), nullable=False),
        sa.Column("ending", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("one_price", sa.Boolean(), nullable=False),
        sa.Column("once_pieces", sa.Integer(), nullable=False),
        sa.Column("kerf_nm", sa.BigInteger(), nullable=False),
        sa.Column("near_nm", sa.BigInteger(), nullable=False),
        sa.Column("demo", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "ending IN ('any', 'x.00', 'x.50', 'x.90', 'x.95', 'x.99', '5')", name=op.f("ck_shop_ending_known")
        ),
        sa.CheckConstraint("gauge_system IN ('AWG', 'SWG')", name=op.f("ck_shop_gauge_system_known")),
        sa.CheckConstraint("length_unit IN ('mm', 'in')", name=op.f("ck_shop_length_unit_known")),
        sa.CheckConstraint("overhead_mode IN ('hour', 'percent')", name=op.f("ck_shop_overhead_mode_known")),
        sa.CheckConstraint("near_nm >= 0", name=op.f("ck_shop_near_nm_at_least_0")),
        sa.CheckConstraint("once_pieces >= 1", name=op.f("ck_shop_once_pieces_at_least_1")),
        sa.CheckConstraint("overhead_micros >= 0", name=op.f("ck_shop_overhead_micros_at_least_0")),
        sa.CheckConstraint("wage_micros >= 0", name=op.f("ck_shop_wage_micros_at_least_0")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shop")),
    )
    op.create_table(
        "supplier",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("lead_days", sa.Integer(), nullable=True),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("lead_days IS NULL OR lead_days >= 0", name=op.f("ck_supplier_lead_days_at_least_0")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier")),
        sa.UniqueConstraint("name", name=op.f("uq_supplier_name")),
    )
    op.create_table(
        "weave_band",
        sa.Column("weave", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("smallest", sa.Text(), nullable=False),
        sa.Column("low", sa.Text(), nullable=False),
        sa.Column("high", sa.Text(), nullable=False),
        sa.Column("largest", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("weave", name=op.f("pk_weave_band")),
    )
    op.create_table(
        "work_rate",
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("seconds", sa.Text(), nullable=False),
        sa.Column("low_factor", sa.Text(), nullable=False),
        sa.Column("high_factor", sa.Text(), nullable=False),
        sa.Column("source", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("kind", name=op.f("pk_work_rate")),
    )
    op.create_table(
        "design_figure",
        sa.Column("design_id", sa.Integer(), nullable=False),
        sa.Column("materials_micros", sa.BigInteger(), nullable=False),
        sa.Column("labour_micros", sa.BigInteger(), nullable=False),
        sa.Column("overhead_micros", sa.BigInteger(), nullable=False),
        sa.Column("total_micros", sa.BigInteger(), nullable=False),
        sa.Column("minutes_milli", sa.BigInteger(), nullable=False),
        sa.Column("low_minutes_milli", sa.BigInteger(), nullable=False),
        sa.Column("high_minutes_milli", sa.BigInteger(), nullable=False),
        sa.Column("mass_ug", sa.BigInteger(), nullable=False),
        sa.Column("provisional", sa.Boolean(), nullable=False),
        sa.Column("unpriced", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.ForeignKeyConstraint(["design_id"], ["design.id"], name=op.f("fk_design_figure_design_id_design")),
        sa.PrimaryKeyConstraint("design_id", name=op.f("pk_design_figure")),
    )
    op.create_table(
        "listed_price",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("design_id", sa.Integer(), nullable=False),
        sa.Column("outlet_id", sa.Integer(), nullable=False),
        sa.Column("price_micros", sa.BigInteger(), nullable=False),
        sa.Column("changed_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("price_micros >= 0", name=op.f("ck_listed_price_price_micros_at_least_0")),
        sa.ForeignKeyConstraint(["design_id"], ["design.id"], name=op.f("fk_listed_price_design_id_design")),
        sa.ForeignKeyConstraint(["outlet_id"], ["outlet.id"], name=op.f("fk_listed_price_outlet_id_outlet")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_listed_price")),
        sa.UniqueConstraint("design_id", "outlet_id", name=op.f("uq_listed_price_design_id_outlet_id")),
    )
    with op.batch_alter_table("listed_price", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_listed_price_design_id"), ["design_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_listed_price_outlet_id"), ["outlet_id"], unique=False)

    op.create_table(
        "offer",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("supplier_id", sa.Integer(), nullable=True),
        sa.Column("pack_milli", sa.BigInteger(), nullable=False),
        sa.Column("pack_unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("price_micros", sa.BigInteger(), nullable=False),
        sa.Column("currency", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("exchange_rate", sa.Text(), nullable=False),
        sa.Column("current", sa.Boolean(), nullable=False),
        sa.Column("note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "pack_unit IN ('piece', 'm', 'cm', 'ft', 'in', 'g', 'kg', 'oz', 'lb', 'ozt', 'dwt')",
            name=op.f("ck_offer_pack_unit_known"),
        ),
        sa.CheckConstraint("pack_milli >= 1", name=op.f("ck_offer_pack_milli_at_least_1")),
        sa.CheckConstraint("price_micros >= 0", name=op.f("ck_offer_price_micros_at_least_0")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_offer_item_id_item")),
        sa.ForeignKeyConstraint(["supplier_id"], ["supplier.id"], name=op.f("fk_offer_supplier_id_supplier")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_offer")),
    )
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_offer_item_id"), ["item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_offer_supplier_id"), ["supplier_id"], unique=False)

    op.create_table(
        "outlet_fee",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("outlet_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("label", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("percent", sa.Text(), nullable=False),
        sa.Column("base", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("fixed_micros", sa.BigInteger(), nullable=False),
        sa.CheckConstraint(
            "base IN ('price', 'price+shipping', 'price+shipping+tax')", name=op.f("ck_outlet_fee_base_known")
        ),
        sa.CheckConstraint("fixed_micros >= 0", name=op.f("ck_outlet_fee_fixed_micros_at_least_0")),
        sa.ForeignKeyConstraint(["outlet_id"], ["outlet.id"], name=op.f("fk_outlet_fee_outlet_id_outlet")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outlet_fee")),
        sa.UniqueConstraint("outlet_id", "position", name=op.f("uq_outlet_fee_outlet_id_position")),
    )
    with op.batch_alter_table("outlet_fee", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_outlet_fee_outlet_id"), ["outlet_id"], unique=False)

    op.create_table(
        "price_figure",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("design_id", sa.Integer(), nullable=False),
        sa.Column("outlet_id", sa.Integer(), nullable=False),
        sa.Column("break_even_micros", sa.BigInteger(), nullable=True),
        sa.Column("target_micros", sa.BigInteger(), nullable=True),
        sa.Column("suggested_micros", sa.BigInteger(), nullable=True),
        sa.Column("price_micros", sa.BigInteger(), nullable=True),
        sa.Column("profit_micros", sa.BigInteger(), nullable=True),
        sa.Column("hourly_micros", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(["design_id"], ["design.id"], name=op.f("fk_price_figure_design_id_design")),
        sa.ForeignKeyConstraint(["outlet_id"], ["outlet.id"], name=op.f("fk_price_figure_outlet_id_outlet")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_price_figure")),
        sa.UniqueConstraint("design_id", "outlet_id", name=op.f("uq_price_figure_design_id_outlet_id")),
    )
    with op.batch_alter_table("price_figure", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_price_figure_design_id"), ["design_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_price_figure_outlet_id"), ["outlet_id"], unique=False)

    op.create_table(
        "revision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("design_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("weave", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("skill", sa.Integer(), nullable=False),
        sa.Column("width_nm", sa.BigInteger(), nullable=True),
        sa.Column("height_nm", sa.BigInteger(), nullable=True),
        sa.Column("length_nm", sa.BigInteger(), nullable=True),
        sa.Column("measured_mass_ug", sa.BigInteger(), nullable=True),
        sa.Column("allowance_percent", sa.Text(), nullable=True),
        sa.Column("once_pieces", sa.Integer(), nullable=False),
        sa.Column("change_note", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("made_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("height_nm IS NULL OR height_nm >= 1", name=op.f("ck_revision_height_nm_at_least_1")),
        sa.CheckConstraint("length_nm IS NULL OR length_nm >= 1", name=op.f("ck_revision_length_nm_at_least_1")),
        sa.CheckConstraint(
            "measured_mass_ug IS NULL OR measured_mass_ug >= 1", name=op.f("ck_revision_measured_mass_ug_at_least_1")
        ),
        sa.CheckConstraint("number >= 1", name=op.f("ck_revision_number_at_least_1")),
        sa.CheckConstraint("once_pieces >= 1", name=op.f("ck_revision_once_pieces_at_least_1")),
        sa.CheckConstraint("skill >= 1", name=op.f("ck_revision_skill_at_least_1")),
        sa.CheckConstraint("width_nm IS NULL OR width_nm >= 1", name=op.f("ck_revision_width_nm_at_least_1")),
        sa.ForeignKeyConstraint(["design_id"], ["design.id"], name=op.f("fk_revision_design_id_design")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_revision")),
        sa.UniqueConstraint("design_id", "number", name=op.f("uq_revision_design_id_number")),
    )
    with op.batch_alter_table("revision", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_revision_design_id"), ["design_id"], unique=False)

    op.create_table(
        "part",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=True),
        sa.Column("typed_kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("typed_name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("typed_metal", sqlmodel.sql.sqltypes.AutoString(), nullable=True),
        sa.Column("typed_colour", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("typed_wire_nm", sa.BigInteger(), nullable=True),
        sa.Column("typed_inner_nm", sa.BigInteger(), nullable=True),
        sa.Column("typed_unit", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("guess_micros", sa.BigInteger(), nullable=True),
        sa.Column("quantity_milli", sa.BigInteger(), nullable=False),
        sa.Column("purpose", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("optional", sa.Boolean(), nullable=False),
        sa.Column("choice_group", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("choice_name", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("allowance_percent", sa.Text(), nullable=True),
        sa.Column("joined", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "typed_kind IN ('', 'ring', 'scale', 'bead', 'finding', 'chain', 'wire', 'packaging', 'consumable')",
            name=op.f("ck_part_typed_kind_known"),
        ),
        sa.CheckConstraint("guess_micros IS NULL OR guess_micros >= 0", name=op.f("ck_part_guess_micros_at_least_0")),
        sa.CheckConstraint("quantity_milli >= 1", name=op.f("ck_part_quantity_milli_at_least_1")),
        sa.CheckConstraint(
            "typed_inner_nm IS NULL OR typed_inner_nm >= 1", name=op.f("ck_part_typed_inner_nm_at_least_1")
        ),
        sa.CheckConstraint(
            "typed_wire_nm IS NULL OR typed_wire_nm >= 1", name=op.f("ck_part_typed_wire_nm_at_least_1")
        ),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_part_item_id_item")),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name=op.f("fk_part_revision_id_revision")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
        sa.UniqueConstraint("revision_id", "position", name=op.f("uq_part_revision_id_position")),
    )
    with op.batch_alter_table("part", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_part_item_id"), ["item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_part_revision_id"), ["revision_id"], unique=False)

    op.create_table(
        "work",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("revision_id", sa.Integer(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(), nullable=False),
        sa.Column("count", sa.Integer(), nullable=True),
        sa.Column("minutes_milli", sa.BigInteger(), nullable=True),
        sa.CheckConstraint("count IS NULL OR count >= 0", name=op.f("ck_work_count_at_least_0")),
        sa.CheckConstraint(
            "minutes_milli IS NULL OR minutes_milli >= 0", name=op.f("ck_work_minutes_milli_at_least_0")
        ),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name=op.f("fk_work_revision_id_revision")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_work")),
        sa.UniqueConstraint("revision_id", "kind", name=op.f("uq_work_revision_id_kind")),
    )
    with op.batch_alter_table("work", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_work_revision_id"), ["revision_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("work", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_work_revision_id"))

    op.drop_table("work")
    with op.batch_alter_table("part", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_part_revision_id"))
        batch_op.drop_index(batch_op.f("ix_part_item_id"))

    op.drop_table("part")
    with op.batch_alter_table("revision", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_revision_design_id"))

    op.drop_table("revision")
    with op.batch_alter_table("price_figure", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_price_figure_outlet_id"))
        batch_op.drop_index(batch_op.f("ix_price_figure_design_id"))

    op.drop_table("price_figure")
    with op.batch_alter_table("outlet_fee", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_outlet_fee_outlet_id"))

    op.drop_table("outlet_fee")
    with op.batch_alter_table("offer", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_offer_supplier_id"))
        batch_op.drop_index(batch_op.f("ix_offer_item_id"))

    op.drop_table("offer")
    with op.batch_alter_table("listed_price", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_listed_price_outlet_id"))
        batch_op.drop_index(batch_op.f("ix_listed_price_design_id"))

    op.drop_table("listed_price")
    op.drop_table("design_figure")
    op.drop_table("work_rate")
    op.drop_table("weave_band")
    op.drop_table("supplier")
    op.drop_table("shop")
    op.drop_table("own_metal")
    op.drop_table("outlet")
    with op.batch_alter_table("once", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_once_used_at"))

    op.drop_table("once")
    with op.batch_alter_table("item", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_item_wire_nm"))
        batch_op.drop_index(batch_op.f("ix_item_name"))
        batch_op.drop_index(batch_op.f("ix_item_metal"))
        batch_op.drop_index(batch_op.f("ix_item_kind"))

    op.drop_table("item")
    with op.batch_alter_table("fit_record", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_fit_record_weave"))

    op.drop_table("fit_record")
    with op.batch_alter_table("design", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_design_name"))

    op.drop_table("design")
