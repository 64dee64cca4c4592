"""The lowest and highest air temperature of each day at a site, and what owners said of their trees."""

import sqlalchemy as sa
from alembic import op

import service.lib.database

revision = "20261128_01_air_at_sites"
down_revision = "20261127_18_gates"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "air_record",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("measured", sa.String(length=500), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_air_record_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_air_record_for_party_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_air_record_site_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_air_record")),
    )
    op.create_index(op.f("ix_air_record_site_id"), "air_record", ["site_id"])
    op.create_table(
        "air_day",
        sa.Column("site_id", sa.Uuid(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("lowest_c", sa.Float(), nullable=False),
        sa.Column("highest_c", sa.Float(), nullable=False),
        sa.Column("record_id", sa.Uuid(), nullable=False),
        sa.CheckConstraint("lowest_c <= highest_c", name=op.f("ck_air_day_lowest_below_highest")),
        sa.ForeignKeyConstraint(["record_id"], ["air_record.id"], name=op.f("fk_air_day_record_id")),
        sa.ForeignKeyConstraint(["site_id"], ["site.id"], name=op.f("fk_air_day_site_id")),
        sa.PrimaryKeyConstraint("site_id", "day", name=op.f("pk_air_day")),
    )
    op.create_index(op.f("ix_air_day_record_id"), "air_day", ["record_id"])
    op.create_table(
        "owner_word",
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.Column("tree_id", sa.Uuid(), nullable=False),
        sa.Column("may_cut", sa.String(length=24), nullable=False),
        sa.Column("most_sticks", sa.Integer(), nullable=True),
        sa.Column("words", sa.String(length=500), nullable=False),
        sa.Column("recorded_at", service.lib.database.UtcInstant(timezone=True), nullable=False),
        sa.Column("by_party_id", sa.Uuid(), nullable=False),
        sa.Column("for_party_id", sa.Uuid(), nullable=False),
        sa.ForeignKeyConstraint(["by_party_id"], ["party.id"], name=op.f("fk_owner_word_by_party_id")),
        sa.ForeignKeyConstraint(["for_party_id"], ["party.id"], name=op.f("fk_owner_word_for_party_id")),
        sa.ForeignKeyConstraint(["tree_id"], ["source_tree.id"], name=op.f("fk_owner_word_tree_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_owner_word")),
    )
    op.create_index(op.f("ix_owner_word_tree_id"), "owner_word", ["tree_id"])


def downgrade() -> None:
    op.drop_table("owner_word")
    op.drop_table("air_day")
    op.drop_table("air_record")
