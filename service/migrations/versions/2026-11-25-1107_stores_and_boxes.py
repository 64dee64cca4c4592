"""Stores and boxes."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261125_07_storage"
down_revision = "20261125_06_tags"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "box",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("code", sa.String(length=8), nullable=True),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_box")),
        sa.UniqueConstraint("code", name=op.f("uq_box_code")),
        sa.UniqueConstraint("name", name=op.f("uq_box_name")),
    )
    op.create_table(
        "store",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("code", sa.String(length=8), nullable=True),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("kind", sa.String(length=24), nullable=False),
        sa.Column("host_id", sa.Uuid(), nullable=False),
        sa.Column("whereabouts", sa.String(length=500), nullable=False),
        sa.Column("fruit_inside", sa.Boolean(), nullable=True),
        sa.Column("closed_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(["host_id"], ["party.id"], name=op.f("fk_store_host_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_store")),
        sa.UniqueConstraint("code", name=op.f("uq_store_code")),
        sa.UniqueConstraint("name", name=op.f("uq_store_name")),
    )
    with op.batch_alter_table("store", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_store_host_id"), ["host_id"], unique=False)
    op.create_table(
        "place",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("store_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.String(length=100), nullable=False),
        sa.ForeignKeyConstraint(["store_id"], ["store.id"], name=op.f("fk_place_store_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_place")),
        sa.UniqueConstraint("store_id", "name", name=op.f("uq_place_store_id_name")),
    )
    op.create_table(
        "bundle_check",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("bundle_id", sa.Uuid(), nullable=False),
        sa.Column("buds", sa.String(length=24), nullable=False),
        sa.Column("wrinkled", sa.Boolean(), nullable=True),
        sa.Column("mould", sa.Boolean(), nullable=True),
        sa.Column("green_under_scratch", sa.Boolean(), nullable=True),
        sa.Column("bag_grams", sa.Float(), nullable=True),
        sa.Column("seen_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=False),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_bundle_check_bundle_id")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_bundle_check_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_bundle_check_for_party_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bundle_check")),
    )
    with op.batch_alter_table("bundle_check", schema=None) as batch_op:
        batch_op.create_index("ix_bundle_check_bundle_seen", ["bundle_id", "seen_at"], unique=False)
    op.create_table(
        "put_away",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("bundle_id", sa.Uuid(), nullable=True),
        sa.Column("box_id", sa.Uuid(), nullable=True),
        sa.Column("into_box_id", sa.Uuid(), nullable=True),
        sa.Column("place_id", sa.Uuid(), nullable=True),
        sa.Column("done_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("note", sa.String(length=1000), nullable=False),
        sa.CheckConstraint("(bundle_id is null) <> (box_id is null)", name=op.f("ck_put_away_one_thing")),
        sa.ForeignKeyConstraint(["box_id"], ["box.id"], name=op.f("fk_put_away_box_id")),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_put_away_bundle_id")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_put_away_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_put_away_for_party_id")),
        sa.ForeignKeyConstraint(["into_box_id"], ["box.id"], name=op.f("fk_put_away_into_box_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_put_away_place_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_put_away")),
        sa.UniqueConstraint("id", name=op.f("uq_put_away_id")),
    )
    with op.batch_alter_table("put_away", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_put_away_box_id"), ["box_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_put_away_bundle_id"), ["bundle_id"], unique=False)
    op.create_table(
        "stay",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bundle_id", sa.Uuid(), nullable=True),
        sa.Column("box_id", sa.Uuid(), nullable=True),
        sa.Column("into_box_id", sa.Uuid(), nullable=True),
        sa.Column("place_id", sa.Uuid(), nullable=True),
        sa.Column("from_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("until_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["box_id"], ["box.id"], name=op.f("fk_stay_box_id")),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_stay_bundle_id")),
        sa.ForeignKeyConstraint(["into_box_id"], ["box.id"], name=op.f("fk_stay_into_box_id")),
        sa.ForeignKeyConstraint(["place_id"], ["place.id"], name=op.f("fk_stay_place_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stay")),
    )
    with op.batch_alter_table("stay", schema=None) as batch_op:
        batch_op.create_index("ix_stay_box_from", ["box_id", "from_at"], unique=False)
        batch_op.create_index("ix_stay_bundle_from", ["bundle_id", "from_at"], unique=False)
        batch_op.create_index("ix_stay_into_box_from", ["into_box_id", "from_at"], unique=False)
        batch_op.create_index("ix_stay_place_from", ["place_id", "from_at"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("stay", schema=None) as batch_op:
        batch_op.drop_index("ix_stay_place_from")
        batch_op.drop_index("ix_stay_into_box_from")
        batch_op.drop_index("ix_stay_bundle_from")
        batch_op.drop_index("ix_stay_box_from")
    op.drop_table("stay")
    with op.batch_alter_table("put_away", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_put_away_bundle_id"))
        batch_op.drop_index(batch_op.f("ix_put_away_box_id"))
    op.drop_table("put_away")
    with op.batch_alter_table("bundle_check", schema=None) as batch_op:
        batch_op.drop_index("ix_bundle_check_bundle_seen")
    op.drop_table("bundle_check")
    op.drop_table("place")
    with op.batch_alter_table("store", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_store_host_id"))
    op.drop_table("store")
    op.drop_table("box")
