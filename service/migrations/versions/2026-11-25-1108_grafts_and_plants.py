"""Grafts and plants."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_08_grafting"
down_revision = "20261125_07_storage"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "graft",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("method", sa.String(length=60), nullable=False),
        sa.Column("grafts", sa.Integer(), nullable=False),
        sa.Column("rootstock_id", sa.Uuid(), nullable=True),
        sa.Column("stock_tree_id", sa.Uuid(), nullable=True),
        sa.Column("stock_as_told", sa.String(length=300), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=True),
        sa.Column("verdict", sa.String(length=24), nullable=False),
        sa.Column("verdict_on", sa.Date(), nullable=True),
        sa.Column("done_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("grafts > 0", name=op.f("ck_graft_grafts")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_graft_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_graft_for_party_id")),
        sa.ForeignKeyConstraint(["rootstock_id"], ["rootstock.id"], name=op.f("fk_graft_rootstock_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_graft_site_id")),
        sa.ForeignKeyConstraint(["stock_tree_id"], ["source_tree.id"], name=op.f("fk_graft_stock_tree_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_graft")),
        sa.UniqueConstraint("number", name=op.f("uq_graft_number")),
    )
    with op.batch_alter_table("graft", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_graft_done_at"), ["done_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_graft_for_party_id"), ["for_party_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_graft_stock_tree_id"), ["stock_tree_id"], unique=False)
    op.create_table(
        "plant",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=8), nullable=True),
        sa.Column("graft_id", sa.Uuid(), nullable=False),
        sa.Column("holder_id", sa.Uuid(), nullable=True),
        sa.Column("source_tree_id", sa.Uuid(), nullable=True),
        sa.Column("state", sa.String(length=24), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["graft_id"], ["graft.id"], name=op.f("fk_plant_graft_id")),
        sa.ForeignKeyConstraint(["holder_id"], ["party.id"], name=op.f("fk_plant_holder_id")),
        sa.ForeignKeyConstraint(["source_tree_id"], ["source_tree.id"], name=op.f("fk_plant_source_tree_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plant")),
        sa.UniqueConstraint("code", name=op.f("uq_plant_code")),
        sa.UniqueConstraint("number", name=op.f("uq_plant_number")),
    )
    with op.batch_alter_table("plant", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plant_graft_id"), ["graft_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_plant_holder_id"), ["holder_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_plant_source_tree_id"), ["source_tree_id"], unique=False)
    op.create_table(
        "graft_on_plant",
        sa.Column("graft_id", sa.Uuid(), nullable=False),
        sa.Column("plant_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["graft_id"], ["graft.id"], name=op.f("fk_graft_on_plant_graft_id")),
        sa.ForeignKeyConstraint(["plant_id"], ["plant.id"], name=op.f("fk_graft_on_plant_plant_id")),
        sa.PrimaryKeyConstraint("graft_id", name=op.f("pk_graft_on_plant")),
    )
    with op.batch_alter_table("graft_on_plant", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_graft_on_plant_plant_id"), ["plant_id"], unique=False)
    op.create_table(
        "graft_wood",
        sa.Column("graft_id", sa.Uuid(), nullable=False),
        sa.Column("bundle_id", sa.Uuid(), nullable=False),
        sa.Column("part", sa.String(length=24), nullable=False),
        sa.Column("sticks", sa.Integer(), nullable=False),
        sa.Column("scions", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_graft_wood_bundle_id")),
        sa.ForeignKeyConstraint(["graft_id"], ["graft.id"], name=op.f("fk_graft_wood_graft_id")),
        sa.PrimaryKeyConstraint("graft_id", "bundle_id", "part", name=op.f("pk_graft_wood")),
    )
    with op.batch_alter_table("graft_wood", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_graft_wood_bundle_id"), ["bundle_id"], unique=False)
    op.create_table(
        "plant_stop",
        sa.Column("stop_id", sa.Uuid(), nullable=False),
        sa.Column("plant_id", sa.Uuid(), nullable=False),
        sa.Column("placed_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("lifted_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["plant_id"], ["plant.id"], name=op.f("fk_plant_stop_plant_id")),
        sa.ForeignKeyConstraint(["stop_id"], ["stop.id"], name=op.f("fk_plant_stop_stop_id")),
        sa.PrimaryKeyConstraint("stop_id", "plant_id", name=op.f("pk_plant_stop")),
    )
    with op.batch_alter_table("plant_stop", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_plant_stop_plant_id"), ["plant_id"], unique=False)
    op.create_table(
        "take_check",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("graft_id", sa.Uuid(), nullable=False),
        sa.Column("plant_id", sa.Uuid(), nullable=True),
        sa.Column("alive", sa.Integer(), nullable=False),
        sa.Column("looked_at", sa.Integer(), nullable=False),
        sa.Column("doubtful", sa.Integer(), nullable=False),
        sa.Column("is_verdict", sa.Boolean(), nullable=False),
        sa.Column("seen_on", sa.Date(), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_take_check_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_take_check_for_party_id")),
        sa.ForeignKeyConstraint(["graft_id"], ["graft.id"], name=op.f("fk_take_check_graft_id")),
        sa.ForeignKeyConstraint(["plant_id"], ["plant.id"], name=op.f("fk_take_check_plant_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_take_check")),
    )
    with op.batch_alter_table("take_check", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_take_check_graft_id"), ["graft_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("take_check", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_take_check_graft_id"))
    op.drop_table("take_check")
    with op.batch_alter_table("plant_stop", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_plant_stop_plant_id"))
    op.drop_table("plant_stop")
    with op.batch_alter_table("graft_wood", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_graft_wood_bundle_id"))
    op.drop_table("graft_wood")
    with op.batch_alter_table("graft_on_plant", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_graft_on_plant_plant_id"))
    op.drop_table("graft_on_plant")
    with op.batch_alter_table("plant", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_plant_source_tree_id"))
        batch_op.drop_index(batch_op.f("ix_plant_holder_id"))
        batch_op.drop_index(batch_op.f("ix_plant_graft_id"))
    op.drop_table("plant")
    with op.batch_alter_table("graft", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_graft_stock_tree_id"))
        batch_op.drop_index(batch_op.f("ix_graft_for_party_id"))
        batch_op.drop_index(batch_op.f("ix_graft_done_at"))
    op.drop_table("graft")
