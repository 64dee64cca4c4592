"""Bags with their wood on a scale."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_0200_bags_weighed"
down_revision = "20261128_01_air_at_sites"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "bag_weighing",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("bundle_id", sa.Uuid(), nullable=False),
        sa.Column("tenths", sa.Integer(), nullable=False),
        sa.Column("empty_tenths", sa.Integer(), nullable=True),
        sa.Column("moment", sa.String(length=24), nullable=False),
        sa.Column("weighed_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.Column("note", sa.String(length=1000), nullable=False),
        sa.Column("taken_back_at", service.lib.database.UtcInstant(timezone=True), nullable=True),
        sa.Column("taken_back_by_party_id", sa.Uuid(), nullable=True),
        sa.Column("taken_back_why", sa.String(length=500), nullable=False),
        sa.CheckConstraint("tenths > 0", name=op.f("ck_bag_weighing_weighs_something")),
        sa.ForeignKeyConstraint(["bundle_id"], ["bundle.id"], name=op.f("fk_bag_weighing_bundle_id")),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_bag_weighing_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_bag_weighing_for_party_id")),
        sa.ForeignKeyConstraint(
            ["taken_back_by_party_id"], ["party.id"], name=op.f("fk_bag_weighing_taken_back_by_party_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bag_weighing")),
    )
    with op.batch_alter_table("bag_weighing", schema=None) as batch_op:
        batch_op.create_index("ix_bag_weighing_bundle_weighed", ["bundle_id", "weighed_at"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("bag_weighing", schema=None) as batch_op:
        batch_op.drop_index("ix_bag_weighing_bundle_weighed")

    op.drop_table("bag_weighing")
