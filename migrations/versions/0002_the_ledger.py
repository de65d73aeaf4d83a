"""The ledger of stock, and the builds that take from it.

Before this is released: read every line; check that rows that are already there survive, both ways; one intention only.

Revision: 0002
Follows: 0001
"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

KINDS = "kind IN ('ring', 'scale', 'bead', 'finding', 'chain', 'wire', 'packaging', 'consumable', 'piece', 'scrap')"
ACT_KINDS = (
    "kind IN ('receive', 'count', 'scrap', 'sell', 'move', 'take_out', 'finish', 'abandon', 'make_rings', 'process', "
    "'unpick', 'give', 'revalue', 'undo')"
)
KINDS_BEFORE = "kind IN ('ring', 'scale', 'bead', 'finding', 'chain', 'wire', 'packaging', 'consumable')"


def upgrade() -> None:
    _make_builds()
    _make_balances()
    _make_build_lines()
    _make_bags()
    _make_jobs()
    _make_movements()
    _widen_items_and_shop()


def downgrade() -> None:
    _narrow_items_and_shop()
    op.drop_table("movement")
    op.drop_table("job")
    op.drop_table("bag_count")
    op.drop_table("weighing")
    op.drop_table("lot_place")
    op.drop_table("design_pace")
    op.drop_table("learned_rate")
    op.drop_table("build_time")
    op.drop_table("build_line")
    op.drop_table("act")
    op.drop_table("lot")
    op.drop_table("item_balance")
    op.drop_table("build")


def _make_builds() -> None:
    op.create_table(
        "build",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("design_id", sa.Integer(), nullable=True),
        sa.Column("revision_id", sa.Integer(), nullable=True),
        sa.Column("state", sa.String(), nullable=False),
        sa.Column("pieces", sa.Integer(), nullable=False),
        sa.Column("choices", sa.String(), nullable=False),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("good", sa.Integer(), nullable=True),
        sa.Column("spoiled", sa.Integer(), nullable=True),
        sa.Column("minutes_milli", sa.BigInteger(), nullable=True),
        sa.Column("timing", sa.String(), nullable=False),
        sa.Column("materials_micros", sa.BigInteger(), nullable=True),
        sa.Column("labour_micros", sa.BigInteger(), nullable=True),
        sa.Column("overhead_micros", sa.BigInteger(), nullable=True),
        sa.Column("paid_minutes_milli", sa.BigInteger(), nullable=True),
        sa.Column("wage_micros", sa.BigInteger(), nullable=True),
        sa.Column("estimate_micros", sa.BigInteger(), nullable=True),
        sa.Column("estimate_minutes_milli", sa.BigInteger(), nullable=True),
        sa.Column("timer_started_at", sa.DateTime(), nullable=True),
        sa.Column("timed_milli", sa.BigInteger(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "state IN ('started', 'making', 'finished', 'abandoned')", name=op.f("ck_build_state_known")
        ),
        sa.CheckConstraint("timing IN ('', 'right', 'odd')", name=op.f("ck_build_timing_known")),
        sa.CheckConstraint("good IS NULL OR good >= 0", name=op.f("ck_build_good_at_least_0")),
        sa.CheckConstraint(
            "minutes_milli IS NULL OR minutes_milli >= 0", name=op.f("ck_build_minutes_milli_at_least_0")
        ),
        sa.CheckConstraint(
            "paid_minutes_milli IS NULL OR paid_minutes_milli >= 0", name=op.f("ck_build_paid_minutes_milli_at_least_0")
        ),
        sa.CheckConstraint("pieces >= 1", name=op.f("ck_build_pieces_at_least_1")),
        sa.CheckConstraint("spoiled IS NULL OR spoiled >= 0", name=op.f("ck_build_spoiled_at_least_0")),
        sa.ForeignKeyConstraint(["design_id"], ["design.id"], name=op.f("fk_build_design_id_design")),
        sa.ForeignKeyConstraint(["revision_id"], ["revision.id"], name=op.f("fk_build_revision_id_revision")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_build")),
    )
    with op.batch_alter_table("build", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_build_design_id"), ["design_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_build_revision_id"), ["revision_id"], unique=False)
        batch_op.create_index("ix_build_state_made_on", ["state", "made_on"], unique=False)


def _make_balances() -> None:
    op.create_table(
        "item_balance",
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("on_hand_milli", sa.BigInteger(), nullable=False),
        sa.Column("value_micros", sa.BigInteger(), nullable=False),
        sa.Column("reserved_milli", sa.BigInteger(), nullable=False),
        sa.Column("last_moved_on", sa.Date(), nullable=True),
        sa.CheckConstraint(
            "on_hand_milli > 0 OR value_micros = 0", name=op.f("ck_item_balance_nothing_is_worth_nothing")
        ),
        sa.CheckConstraint("on_hand_milli >= 0", name=op.f("ck_item_balance_on_hand_milli_at_least_0")),
        sa.CheckConstraint(
            "reserved_milli <= on_hand_milli", name=op.f("ck_item_balance_no_more_is_reserved_than_is_there")
        ),
        sa.CheckConstraint("reserved_milli >= 0", name=op.f("ck_item_balance_reserved_milli_at_least_0")),
        sa.CheckConstraint("value_micros >= 0", name=op.f("ck_item_balance_value_micros_at_least_0")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_item_balance_item_id_item")),
        sa.PrimaryKeyConstraint("item_id", name=op.f("pk_item_balance")),
    )
    op.create_table(
        "lot",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("supplier_id", sa.Integer(), nullable=True),
        sa.Column("batch", sa.String(), nullable=False),
        sa.Column("received_on", sa.Date(), nullable=False),
        sa.Column("quantity_milli", sa.BigInteger(), nullable=False),
        sa.Column("value_micros", sa.BigInteger(), nullable=False),
        sa.Column("received_milli", sa.BigInteger(), nullable=False),
        sa.Column("received_micros", sa.BigInteger(), nullable=False),
        sa.Column("paid_micros", sa.BigInteger(), nullable=True),
        sa.Column("currency", sa.String(), nullable=False),
        sa.Column("exchange_rate", sa.Text(), nullable=False),
        sa.Column("freight_micros", sa.BigInteger(), nullable=False),
        sa.Column("provisional", sa.Boolean(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("freight_micros >= 0", name=op.f("ck_lot_freight_micros_at_least_0")),
        sa.CheckConstraint("paid_micros IS NULL OR paid_micros >= 0", name=op.f("ck_lot_paid_micros_at_least_0")),
        sa.CheckConstraint("quantity_milli > 0 OR value_micros = 0", name=op.f("ck_lot_empty_lot_is_worth_nothing")),
        sa.CheckConstraint("quantity_milli >= 0", name=op.f("ck_lot_quantity_milli_at_least_0")),
        sa.CheckConstraint("received_micros >= 0", name=op.f("ck_lot_received_micros_at_least_0")),
        sa.CheckConstraint("received_milli >= 0", name=op.f("ck_lot_received_milli_at_least_0")),
        sa.CheckConstraint("value_micros >= 0", name=op.f("ck_lot_value_micros_at_least_0")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_lot_item_id_item")),
        sa.ForeignKeyConstraint(["supplier_id"], ["supplier.id"], name=op.f("fk_lot_supplier_id_supplier")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot")),
    )
    with op.batch_alter_table("lot", schema=None) as batch_op:
        batch_op.create_index("ix_lot_item_id_received_on", ["item_id", "received_on"], unique=False)
        batch_op.create_index(batch_op.f("ix_lot_supplier_id"), ["supplier_id"], unique=False)

    op.create_table(
        "act",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("at", sa.DateTime(), nullable=False),
        sa.Column("done_on", sa.Date(), nullable=False),
        sa.Column("words", sa.String(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=True),
        sa.Column("undoes_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(ACT_KINDS, name=op.f("ck_act_kind_known")),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_act_build_id_build")),
        sa.ForeignKeyConstraint(["undoes_id"], ["act.id"], name=op.f("fk_act_undoes_id_act")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_act")),
        sa.UniqueConstraint("undoes_id", name=op.f("uq_act_undoes_id")),
    )
    with op.batch_alter_table("act", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_act_at"), ["at"], unique=False)
        batch_op.create_index(batch_op.f("ix_act_build_id"), ["build_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_act_done_on"), ["done_on"], unique=False)


def _make_build_lines() -> None:
    op.create_table(
        "build_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("purpose", sa.String(), nullable=False),
        sa.Column("planned_milli", sa.BigInteger(), nullable=False),
        sa.Column("taken_milli", sa.BigInteger(), nullable=False),
        sa.Column("extra_milli", sa.BigInteger(), nullable=False),
        sa.Column("returned_milli", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("extra_milli >= 0", name=op.f("ck_build_line_extra_milli_at_least_0")),
        sa.CheckConstraint("planned_milli >= 0", name=op.f("ck_build_line_planned_milli_at_least_0")),
        sa.CheckConstraint("returned_milli >= 0", name=op.f("ck_build_line_returned_milli_at_least_0")),
        sa.CheckConstraint("taken_milli >= 0", name=op.f("ck_build_line_taken_milli_at_least_0")),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_build_line_build_id_build")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_build_line_item_id_item")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_build_line_lot_id_lot")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_build_line")),
        sa.UniqueConstraint("build_id", "position", name=op.f("uq_build_line_build_id_position")),
    )
    with op.batch_alter_table("build_line", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_build_line_build_id"), ["build_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_build_line_item_id"), ["item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_build_line_lot_id"), ["lot_id"], unique=False)

    op.create_table(
        "build_time",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("build_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("units", sa.Text(), nullable=False),
        sa.Column("minutes_milli", sa.BigInteger(), nullable=True),
        sa.CheckConstraint(
            "minutes_milli IS NULL OR minutes_milli >= 1", name=op.f("ck_build_time_minutes_milli_at_least_1")
        ),
        sa.ForeignKeyConstraint(["build_id"], ["build.id"], name=op.f("fk_build_time_build_id_build")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_build_time")),
        sa.UniqueConstraint("build_id", "kind", name=op.f("uq_build_time_build_id_kind")),
    )
    with op.batch_alter_table("build_time", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_build_time_build_id"), ["build_id"], unique=False)
    op.create_table(
        "learned_rate",
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("seconds", sa.Text(), nullable=False),
        sa.Column("low_factor", sa.Text(), nullable=False),
        sa.Column("high_factor", sa.Text(), nullable=False),
        sa.Column("source", sa.String(), nullable=False),
        sa.PrimaryKeyConstraint("kind", name=op.f("pk_learned_rate")),
    )
    op.create_table(
        "design_pace",
        sa.Column("design_id", sa.Integer(), nullable=False),
        sa.Column("factor", sa.Text(), nullable=False),
        sa.Column("builds", sa.Integer(), nullable=False),
        sa.CheckConstraint("builds >= 1", name=op.f("ck_design_pace_builds_at_least_1")),
        sa.ForeignKeyConstraint(["design_id"], ["design.id"], name=op.f("fk_design_pace_design_id_design")),
        sa.PrimaryKeyConstraint("design_id", name=op.f("pk_design_pace")),
    )


def _make_bags() -> None:
    op.create_table(
        "lot_place",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("quantity_milli", sa.BigInteger(), nullable=False),
        sa.Column("reserved_milli", sa.BigInteger(), nullable=False),
        sa.Column("tare_ug", sa.BigInteger(), nullable=True),
        sa.Column("rough", sa.String(), nullable=False),
        sa.Column("counted_on", sa.Date(), nullable=True),
        sa.CheckConstraint("rough IN ('', 'about', 'plenty')", name=op.f("ck_lot_place_rough_known")),
        sa.CheckConstraint("quantity_milli >= 0", name=op.f("ck_lot_place_quantity_milli_at_least_0")),
        sa.CheckConstraint(
            "reserved_milli <= quantity_milli", name=op.f("ck_lot_place_no_more_is_reserved_than_lies_here")
        ),
        sa.CheckConstraint("reserved_milli >= 0", name=op.f("ck_lot_place_reserved_milli_at_least_0")),
        sa.CheckConstraint("tare_ug IS NULL OR tare_ug >= 0", name=op.f("ck_lot_place_tare_ug_at_least_0")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_lot_place_lot_id_lot")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lot_place")),
        sa.UniqueConstraint("lot_id", "place", name=op.f("uq_lot_place_lot_id_place")),
    )
    with op.batch_alter_table("lot_place", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_lot_place_place"), ["place"], unique=False)

    op.create_table(
        "weighing",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=True),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("rings", sa.Integer(), nullable=True),
        sa.Column("gross_ug", sa.BigInteger(), nullable=False),
        sa.Column("tare_ug", sa.BigInteger(), nullable=False),
        sa.Column("step_ug", sa.BigInteger(), nullable=False),
        sa.Column("weighed_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("gross_ug >= 1", name=op.f("ck_weighing_gross_ug_at_least_1")),
        sa.CheckConstraint("rings IS NULL OR rings >= 1", name=op.f("ck_weighing_rings_at_least_1")),
        sa.CheckConstraint("step_ug >= 1", name=op.f("ck_weighing_step_ug_at_least_1")),
        sa.CheckConstraint("tare_ug >= 0", name=op.f("ck_weighing_tare_ug_at_least_0")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_weighing_item_id_item")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_weighing_lot_id_lot")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_weighing")),
    )
    with op.batch_alter_table("weighing", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_weighing_item_id"), ["item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_weighing_lot_id"), ["lot_id"], unique=False)

    op.create_table(
        "bag_count",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("act_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("expected_milli", sa.BigInteger(), nullable=False),
        sa.Column("found_milli", sa.BigInteger(), nullable=False),
        sa.Column("rough", sa.String(), nullable=False),
        sa.Column("rough_before", sa.String(), nullable=False),
        sa.Column("counted_before", sa.Date(), nullable=True),
        sa.CheckConstraint("rough IN ('', 'about', 'plenty')", name=op.f("ck_bag_count_rough_known")),
        sa.CheckConstraint("rough_before IN ('', 'about', 'plenty')", name=op.f("ck_bag_count_rough_before_known")),
        sa.CheckConstraint("expected_milli >= 0", name=op.f("ck_bag_count_expected_milli_at_least_0")),
        sa.CheckConstraint("found_milli >= 0", name=op.f("ck_bag_count_found_milli_at_least_0")),
        sa.ForeignKeyConstraint(["act_id"], ["act.id"], name=op.f("fk_bag_count_act_id_act")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_bag_count_lot_id_lot")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bag_count")),
    )
    with op.batch_alter_table("bag_count", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_bag_count_act_id"), ["act_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bag_count_lot_id"), ["lot_id"], unique=False)


def _make_jobs() -> None:
    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("process", sa.String(), nullable=False),
        sa.Column("from_item_id", sa.Integer(), nullable=False),
        sa.Column("to_item_id", sa.Integer(), nullable=False),
        sa.Column("act_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("used_milli", sa.BigInteger(), nullable=False),
        sa.Column("made_milli", sa.BigInteger(), nullable=False),
        sa.Column("mandrel_nm", sa.BigInteger(), nullable=True),
        sa.Column("measured_inner_nm", sa.BigInteger(), nullable=True),
        sa.Column("minutes_milli", sa.BigInteger(), nullable=False),
        sa.Column("cost_micros", sa.BigInteger(), nullable=False),
        sa.Column("note", sa.String(), nullable=False),
        sa.Column("done_on", sa.Date(), nullable=False),
        sa.Column("created_at", sa.DateTime(), nullable=False),
        sa.CheckConstraint("kind IN ('coil', 'process')", name=op.f("ck_job_kind_known")),
        sa.CheckConstraint("made_milli >= 0", name=op.f("ck_job_made_milli_at_least_0")),
        sa.CheckConstraint("mandrel_nm IS NULL OR mandrel_nm >= 1", name=op.f("ck_job_mandrel_nm_at_least_1")),
        sa.CheckConstraint(
            "measured_inner_nm IS NULL OR measured_inner_nm >= 1", name=op.f("ck_job_measured_inner_nm_at_least_1")
        ),
        sa.CheckConstraint("minutes_milli >= 0", name=op.f("ck_job_minutes_milli_at_least_0")),
        sa.ForeignKeyConstraint(["act_id"], ["act.id"], name=op.f("fk_job_act_id_act")),
        sa.ForeignKeyConstraint(["from_item_id"], ["item.id"], name=op.f("fk_job_from_item_id_item")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_job_lot_id_lot")),
        sa.ForeignKeyConstraint(["to_item_id"], ["item.id"], name=op.f("fk_job_to_item_id_item")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job")),
    )
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_job_act_id"), ["act_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_job_from_item_id"), ["from_item_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_job_to_item_id"), ["to_item_id"], unique=False)


def _make_movements() -> None:
    op.create_table(
        "movement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("act_id", sa.Integer(), nullable=False),
        sa.Column("item_id", sa.Integer(), nullable=False),
        sa.Column("lot_id", sa.Integer(), nullable=False),
        sa.Column("place", sa.String(), nullable=False),
        sa.Column("kind", sa.String(), nullable=False),
        sa.Column("quantity_milli", sa.BigInteger(), nullable=False),
        sa.Column("value_micros", sa.BigInteger(), nullable=False),
        sa.Column("after_milli", sa.BigInteger(), nullable=False),
        sa.Column("labour_micros", sa.BigInteger(), nullable=False),
        sa.Column("price_micros", sa.BigInteger(), nullable=True),
        sa.Column("reason", sa.String(), nullable=False),
        sa.Column("reverses_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(
            "kind IN ('receipt', 'issue', 'return', 'scrap', 'count', 'sale', 'transfer', 'reversal', 'revalue')",
            name=op.f("ck_movement_kind_known"),
        ),
        sa.CheckConstraint("after_milli >= 0", name=op.f("ck_movement_after_milli_at_least_0")),
        sa.CheckConstraint(
            "price_micros IS NULL OR price_micros >= 0", name=op.f("ck_movement_price_micros_at_least_0")
        ),
        sa.ForeignKeyConstraint(["act_id"], ["act.id"], name=op.f("fk_movement_act_id_act")),
        sa.ForeignKeyConstraint(["item_id"], ["item.id"], name=op.f("fk_movement_item_id_item")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_movement_lot_id_lot")),
        sa.ForeignKeyConstraint(["reverses_id"], ["movement.id"], name=op.f("fk_movement_reverses_id_movement")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_movement")),
        sa.UniqueConstraint("reverses_id", name=op.f("uq_movement_reverses_id")),
    )
    with op.batch_alter_table("movement", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_movement_act_id"), ["act_id"], unique=False)
        batch_op.create_index("ix_movement_item_id_id", ["item_id", "id"], unique=False)
        batch_op.create_index("ix_movement_lot_id_id", ["lot_id", "id"], unique=False)


def _widen_items_and_shop() -> None:
    with op.batch_alter_table("item", schema=None) as batch_op:
        batch_op.add_column(sa.Column("design_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("reorder_milli", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("target_milli", sa.BigInteger(), nullable=True))
        batch_op.add_column(sa.Column("batch_colour", sa.Boolean(), server_default=sa.false(), nullable=False))
        batch_op.create_unique_constraint(batch_op.f("uq_item_design_id"), ["design_id"])
        batch_op.create_foreign_key(batch_op.f("fk_item_design_id_design"), "design", ["design_id"], ["id"])
        batch_op.create_check_constraint(
            batch_op.f("ck_item_reorder_milli_at_least_0"), "reorder_milli IS NULL OR reorder_milli >= 0"
        )
        batch_op.create_check_constraint(
            batch_op.f("ck_item_target_milli_at_least_0"), "target_milli IS NULL OR target_milli >= 0"
        )
        batch_op.drop_constraint(batch_op.f("ck_item_kind_known"), type_="check")
        batch_op.create_check_constraint(batch_op.f("ck_item_kind_known"), KINDS)

    with op.batch_alter_table("shop", schema=None) as batch_op:
        batch_op.add_column(sa.Column("valuation", sa.String(), server_default="fifo", nullable=False))
        batch_op.add_column(sa.Column("scale_step_ug", sa.BigInteger(), server_default="10000", nullable=False))
        batch_op.create_check_constraint(batch_op.f("ck_shop_valuation_known"), "valuation IN ('fifo', 'average')")


def _narrow_items_and_shop() -> None:
    # An older program knows no finished pieces and no scrap; what they are called and what points at them stays.
    op.execute("UPDATE item SET kind = 'finding' WHERE kind = 'piece'")
    op.execute("UPDATE item SET kind = 'consumable' WHERE kind = 'scrap'")
    with op.batch_alter_table("shop", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_shop_valuation_known"), type_="check")
        batch_op.drop_column("scale_step_ug")
        batch_op.drop_column("valuation")

    with op.batch_alter_table("item", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_item_kind_known"), type_="check")
        batch_op.create_check_constraint(batch_op.f("ck_item_kind_known"), KINDS_BEFORE)
        batch_op.drop_constraint(batch_op.f("ck_item_target_milli_at_least_0"), type_="check")
        batch_op.drop_constraint(batch_op.f("ck_item_reorder_milli_at_least_0"), type_="check")
        batch_op.drop_constraint(batch_op.f("fk_item_design_id_design"), type_="foreignkey")
        batch_op.drop_constraint(batch_op.f("uq_item_design_id"), type_="unique")
        batch_op.drop_column("batch_colour")
        batch_op.drop_column("target_milli")
        batch_op.drop_column("reorder_milli")
        batch_op.drop_column("design_id")
