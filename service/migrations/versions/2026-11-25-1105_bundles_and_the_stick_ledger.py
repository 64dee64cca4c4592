"""Bundles and the stick ledger."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_05_bundles"
down_revision = "20261125_04_collection"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "bundle",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("code", sa.String(length=8), nullable=True),
        sa.Column("collection_id", sa.Uuid(), nullable=False),
        sa.Column("parent_id", sa.Uuid(), nullable=True),
        sa.Column("holder_id", sa.Uuid(), nullable=True),
        sa.Column("is_flag", sa.Boolean(), nullable=False),
        sa.Column("came_in", sa.Integer(), nullable=False),
        sa.Column("passed_on", sa.Integer(), nullable=False),
        sa.Column("grafted", sa.Integer(), nullable=False),
        sa.Column("discarded", sa.Integer(), nullable=False),
        sa.Column("promised", sa.Integer(), nullable=False),
        sa.Column("claimed", sa.Integer(), nullable=False),
        sa.Column("open_stops", sa.Integer(), nullable=False),
        sa.Column("sticks_at_start", sa.Integer(), nullable=False),
        sa.Column("length_mm", sa.Integer(), nullable=True),
        sa.Column("diameter_mm", sa.Float(), nullable=True),
        sa.Column("unfinished", sa.Boolean(), nullable=False),
        sa.Column("made_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "came_in - passed_on - grafted - discarded - promised - claimed >= 0", name=op.f("ck_bundle_free")
        ),
        sa.CheckConstraint("came_in - passed_on - grafted - discarded >= 0", name=op.f("ck_bundle_on_hand")),
        sa.CheckConstraint("open_stops >= 0", name=op.f("ck_bundle_open_stops")),
        sa.CheckConstraint(
            "passed_on >= 0 and grafted >= 0 and discarded >= 0 and promised >= 0 and claimed >= 0",
            name=op.f("ck_bundle_counters"),
        ),
        sa.ForeignKeyConstraint(["collection_id"], ["collection.id"], name=op.f("fk_bundle_collection_id")),
        sa.ForeignKeyConstraint(["holder_id"], ["party.id"], name=op.f("fk_bundle_holder_id")),
        sa.ForeignKeyConstraint(["parent_id"], ["bundle.id"], name=op.f("fk_bundle_parent_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bundle")),
        sa.UniqueConstraint("code", name=op.f("uq_bundle_code")),
    )
    with op.batch_alter_table("bundle", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_bundle_collection_id"), ["collection_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bundle_holder_id"), ["holder_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_bundle_made_at"), ["made_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_bundle_parent_id"), ["parent_id"], unique=False)
    op.create_table(
        "bundle_stop",
        sa.Column("stop_id", sa.Uuid(), nullable=False),
        sa.Column("bundle_id", sa.Uuid(), nullable=False),
        sa.Column("why", sa.String(length=24), nullable=False),
        sa.Column("placed_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("lifted_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_bundle_stop_bundle_id")),
        sa.ForeignKeyConstraint(["stop_id"], ["stop.id"], name=op.f("fk_bundle_stop_stop_id")),
        sa.PrimaryKeyConstraint("stop_id", "bundle_id", name=op.f("pk_bundle_stop")),
    )
    with op.batch_alter_table("bundle_stop", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_bundle_stop_bundle_id"), ["bundle_id"], unique=False)
    op.create_table(
        "stick_move",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("bundle_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("sticks", sa.Integer(), nullable=False),
        sa.Column("came_in", sa.Integer(), nullable=False),
        sa.Column("passed_on", sa.Integer(), nullable=False),
        sa.Column("grafted", sa.Integer(), nullable=False),
        sa.Column("discarded", sa.Integer(), nullable=False),
        sa.Column("promised", sa.Integer(), nullable=False),
        sa.Column("claimed", sa.Integer(), nullable=False),
        sa.Column("other_bundle_id", sa.Uuid(), nullable=True),
        sa.Column("party_id", sa.Uuid(), nullable=True),
        sa.Column("form", sa.String(length=24), nullable=False),
        sa.Column("done_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("reason", sa.String(length=1000), nullable=False),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_stick_move_bundle_id")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_stick_move_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_stick_move_for_party_id")),
        sa.ForeignKeyConstraint(
            ["other_bundle_id"], ["bundle.id"], name=op.f("fk_stick_move_other_bundle_id")
        ),
        sa.ForeignKeyConstraint(["party_id"], ["party.id"], name=op.f("fk_stick_move_party_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_stick_move")),
        sa.UniqueConstraint("id", name=op.f("uq_stick_move_id")),
    )
    with op.batch_alter_table("stick_move", schema=None) as batch_op:
        batch_op.create_index("ix_stick_move_bundle_seq", ["bundle_id", "seq"], unique=False)
        batch_op.create_index(batch_op.f("ix_stick_move_done_at"), ["done_at"], unique=False)
        batch_op.create_index(batch_op.f("ix_stick_move_other_bundle_id"), ["other_bundle_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_stick_move_party_id"), ["party_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("stick_move", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_stick_move_party_id"))
        batch_op.drop_index(batch_op.f("ix_stick_move_other_bundle_id"))
        batch_op.drop_index(batch_op.f("ix_stick_move_done_at"))
        batch_op.drop_index("ix_stick_move_bundle_seq")
    op.drop_table("stick_move")
    with op.batch_alter_table("bundle_stop", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_bundle_stop_bundle_id"))
    op.drop_table("bundle_stop")
    with op.batch_alter_table("bundle", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_bundle_parent_id"))
        batch_op.drop_index(batch_op.f("ix_bundle_made_at"))
        batch_op.drop_index(batch_op.f("ix_bundle_holder_id"))
        batch_op.drop_index(batch_op.f("ix_bundle_collection_id"))
    op.drop_table("bundle")
